"""Sweeps as described: more cores, another place of the cable, by superposition.

Every sweep reuses the port basis of the study at the design frequency; nothing is solved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore
from pipeline.analysis.case_results import Solved, choke_series
from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit
from pipeline.analysis.many_cases import ReducedBasis, Transmitter, many, reduce, reference
from pipeline.chokes.kind import Choke
from pipeline.judgement.intervals import effect_intervals, with_ends
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, NONE, Case
from pipeline.solver.terminations import choke_at_frequencies, route_length, terminations
from pipeline.study.records import Study

Complex = NDArray[np.complex128]
# What changes as more cores are put on or a choke is moved.
SWEPT = ("pattern_max_db", "pattern_rms_db", "shield_ratio", "station_ratio")

# So many cores are moved along the cable where no choke is recommended that could be.
POSITION_COUNT = 4


@dataclass(frozen=True)
class SolvedStudy:
    """A study with its geometries at the design frequency, and how sure its cases are.

    ``evidence`` and ``uncertainty`` are by case; ``elevation_deg`` stands for the horizon.
    """

    study: Study
    solved: dict[str, Solved]
    evidence: dict[str, CaseEvidence]
    uncertainty: dict[str, Expanded]
    elevation_deg: float

    @cached_property
    def _reduced(self) -> dict[str, ReducedBasis]:
        return {n: reduce(s, self.study, self.elevation_deg) for n, s in self.solved.items()}

    def merit(self, case: Case, study: Study | None = None) -> Merit:
        """Figures of a case against the ideal choke, both under the same assumptions; one row."""
        assumed = study or self.study
        built, f = self.solved[case.geometry].structure, np.array([assumed.frequency])
        z_choke = choke_series(built, assumed, case.choke, f)
        return self.merits(case.geometry, z_choke, assumed)

    def merits(self, geometry: str, z_choke: Complex, study: Study | None = None) -> Merit:
        """The same for impedances in series with the ports of a geometry, (n, n_port) [ohm]."""
        assumed = study or self.study
        (own, cable), f = (self._reduced[g] for g in (geometry, CABLE)), [assumed.frequency]
        ends, best = (terminations(r.structure, assumed, np.array(f)) for r in (own, cable))
        line = assumed.cable.run(None, route_length(cable.structure))
        return many(own, ends, z_choke, reference(cable, best), Transmitter(line, assumed.power))


def _ferrites(study: Study) -> list[tuple[FerriteCore, Choke]]:
    """Each distinct core of a study with the choke that has it, the first place it is tried at."""
    found: dict[str, tuple[FerriteCore, Choke]] = {}
    for choke in study.chokes:
        if (core := choke.ferrite_core) is not None:
            found.setdefault(core.id, (core, choke.placed[0]))
    return list(found.values())


def core_count_rows(of: SolvedStudy) -> list[Row]:
    """Effect against the number of cores, from none to the most that the geometry has room for."""
    study, built = of.study, of.solved[CABLE].structure
    rows: list[Row] = []
    for core, choke in _ferrites(study):
        room = max(
            row.position + row.acts_over
            for c in study.chokes
            for row in c.placed
            if c.ferrite_core is not None and row.position <= choke.position
        )
        most = int((room - choke.position) / core.length + 1e-6)
        tried = [replace(choke, count=count) if count else None for count in range(most + 1)]
        f = np.array([study.frequency])
        z = np.concatenate([choke_series(built, study, c, f) for c in tried])
        merit = of.merits(CABLE, z)
        rows += [
            {
                "core": core.id,
                "label": core.name,
                "count": count,
                "choke_r_ohm": float(all_of_it.real),
                "choke_x_ohm": float(all_of_it.imag),
                **_effects(of, merit.row(count), (*SWEPT, "choke_power")),
            }
            for count, all_of_it in enumerate(z.sum(axis=1))
        ]
    return rows


def _effects(of: SolvedStudy, merit: Merit, names: tuple[str, ...] = SWEPT) -> Row:
    """Effect of a swept choke; it is as uncertain as the cable without one."""
    row: Row = {FIGURES[name].column: float(merit[name][0]) for name in names}
    ends = effect_intervals(merit, of.uncertainty[NONE], names)
    return with_ends(row | {"grade": of.evidence[NONE].grade}, ends)


def moved_choke(study: Study, recommended: Case) -> Choke | None:
    """The choke that is moved along the cable: the recommended, else a few of the first core.

    Nothing where neither is there.
    """
    if recommended.choke is not None and recommended.choke.can_be_moved:
        return recommended.choke
    return next((replace(c, count=POSITION_COUNT) for _, c in _ferrites(study)), None)


def moved_along(of: SolvedStudy, choke: Choke) -> tuple[list[float], Merit]:
    """A choke at every place that the geometry has a port for: distances [m], a row for each.

    All of its impedance is taken at that one place, the middle of a segment.
    """
    ports = of.solved[CABLE].structure.ports
    own = [k for k, p in enumerate(ports) if p.position is not None and p.name.startswith("shield")]
    z = choke_at_frequencies(choke, of.study, np.array([of.study.frequency]))[0]
    merit = of.merits(CABLE, z * np.eye(len(ports))[own])
    return [float(ports[k].position or 0.0) for k in own], merit


def choke_position_rows(of: SolvedStudy, recommended: Case) -> list[Row]:
    """A choke slid along the cable: where it helps and where it does not."""
    choke = moved_choke(of.study, recommended)
    if choke is None:
        return []
    core = choke.ferrite_core
    positions, merit = moved_along(of, choke)
    return [
        {
            "choke": core.id if core else choke.id,
            "kind": choke.kind,
            "label": choke.part,
            "count": choke.count,
            "position_m": at,
            "score": float(score),
            **_effects(of, merit.row(k)),
        }
        for k, (at, score) in enumerate(zip(positions, merit.score(), strict=True))
    ]
