"""Sweeps as described: more cores, another place of the cable, by superposition.

Every sweep reuses the port basis of the study at the design frequency; nothing is solved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore
from pipeline.analysis.case_results import Solved
from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit
from pipeline.analysis.many_cases import ReducedBasis, Transmitter, many, reduce, reference
from pipeline.chokes.kind import Choke
from pipeline.judgement.intervals import Interval, effect_intervals, wider, with_ends
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import CABLE, NONE, Case
from pipeline.solver.terminations import (
    choke_at_frequencies,
    choke_series,
    route_length,
    terminations,
)
from pipeline.study.records import Study
from pipeline.study.sections.unknowns import BY_CORE, quantile

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

    def off_by_core(
        self, geometry: str, z_choke: Complex, choke: Choke | None
    ) -> list[dict[str, Interval]]:
        """How far each figure may lie below and above for the scatter of a choke's core.

        By column, one entry a row of ``z_choke`` (n, n_port) [ohm], which all are of that core.
        """
        factors, n = core_factors(self.study, choke), len(z_choke)
        if len(factors) == 1:
            return [{} for _ in range(n)]
        merit = self.merits(geometry, np.concatenate([z_choke, *(f * z_choke for f in factors)]))
        found: list[dict[str, Interval]] = [{} for _ in range(n)]
        for figure in FIGURES.values():
            if figure.interval and figure.name in merit.values:
                values = np.asarray(merit[figure.name]).reshape(-1, n)
                below = values[0] - values.min(axis=0)
                above = values.max(axis=0) - values[0]
                for row, ends in zip(found, zip(below, above, strict=True), strict=True):
                    row[figure.column] = (float(ends[0]), float(ends[1]))
        return found


# Places in the scatter of a core between which 95 of 100 pieces lie.
_PLACES = np.linspace(0.025, 0.975, 5)


def core_factors(study: Study, choke: Choke | None) -> NDArray[np.float64]:
    """Factors on a choke's impedance over 95 of 100 pieces of its core, (n,); one where known.

    Those of its own print, measurement or class; of the study where that states them. Definition.
    """
    spread = study.unknowns.ferrite
    if choke is None or not choke.cores or spread is None:
        return np.ones(1)
    if spread.shape != BY_CORE:
        return quantile(spread, _PLACES, 1.0)
    low, high = choke.spread(study.host)
    return np.asarray(low * (high / low) ** _PLACES)


def core_ends(study: Study, one: Choke) -> tuple[float, float]:
    """Size of the impedance of one pass of a choke of one core, least and most of a piece. [ohm]

    Over what is known of the core, as :func:`least_and_most` has it, or of its own measurement;
    where the study states a spread, over 95 of 100 pieces of that. Its warmth is not in it.
    Definition.

    Examples
    --------
    >>> from importlib.resources import files
    >>> from models.catalogues.parts import ferrite_core
    >>> from pipeline.chokes.ferrite import FerriteChoke
    >>> from pipeline.circuit.choke_materials import least_and_most
    >>> from pipeline.study.reader import load_study
    >>> study = load_study(str(files("models") / "studies" / "orchard_shed.yaml"))
    >>> core = ferrite_core("mix-43-clamp-12-7")
    >>> one = FerriteChoke(id="one", label="", position=0.05, core=core)
    >>> core_ends(study, one) == least_and_most(core, study.frequency)
    True
    """
    size = float(abs(one.impedance(np.array([study.frequency]), study.host)[0]))
    spread = study.unknowns.ferrite
    if spread is not None and spread.shape == BY_CORE:
        low, high = one.spread(study.host)
    else:
        low, high = core_factors(study, one)[[0, -1]]
    return float(low) * size, float(high) * size


def _ferrites(study: Study) -> list[tuple[FerriteCore, Choke]]:
    """Each distinct core of a study with the choke that has it, the first place it is tried at."""
    found: dict[str, tuple[FerriteCore, Choke]] = {}
    for row in (row for choke in study.chokes for row in choke.placed):
        if (core := row.ferrite_core) is not None:
            found.setdefault(core.id, (core, row))
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
            if row.ferrite_core is not None and row.position <= choke.position
        )
        most = int((room - choke.position) / core.length + 1e-6)
        tried = [replace(choke, count=count) if count else None for count in range(most + 1)]
        f = np.array([study.frequency])
        z = np.concatenate([choke_series(built, study, c, f) for c in tried])
        merit, off = of.merits(CABLE, z), of.off_by_core(CABLE, z, choke)
        rows += [
            {
                "core": core.id,
                "label": core.name,
                "count": count,
                "choke_r_ohm": float(all_of_it.real),
                "choke_x_ohm": float(all_of_it.imag),
                **_effects(of, merit.row(count), off[count], (*SWEPT, "choke_power")),
            }
            for count, all_of_it in enumerate(z.sum(axis=1))
        ]
    return rows


def _effects(
    of: SolvedStudy, merit: Merit, off: Mapping[str, Interval], names: tuple[str, ...] = SWEPT
) -> Row:
    """Effect of a swept choke; as uncertain as the cable without one, and ``off`` by its core."""
    row: Row = {FIGURES[name].column: float(merit[name][0]) for name in names}
    ends = wider(effect_intervals(merit, of.uncertainty[NONE], names), merit, off)
    return with_ends(row | {"grade": of.evidence[NONE].grade}, ends)


def moved_choke(study: Study, recommended: Case) -> Choke | None:
    """The choke that is moved along the cable: the recommended, else a few of the first core.

    Nothing where neither is there.
    """
    if recommended.choke is not None and recommended.choke.can_be_moved:
        return recommended.choke
    return next((replace(c, count=POSITION_COUNT) for _, c in _ferrites(study)), None)


def moved_along(
    of: SolvedStudy, choke: Choke
) -> tuple[list[float], Merit, list[dict[str, Interval]]]:
    """A choke at every place that the geometry has a port for.

    Distances [m], figures with a row for each, and how far each row is off by its core. All of its
    impedance is taken at that one place, the middle of a segment.
    """
    ports = of.solved[CABLE].structure.ports
    own = [k for k, p in enumerate(ports) if p.position is not None and p.name.startswith("shield")]
    z = choke_at_frequencies(choke, of.study, np.array([of.study.frequency]))[0]
    rows = z * np.eye(len(ports))[own]
    at = [float(ports[k].position or 0.0) for k in own]
    return at, of.merits(CABLE, rows), of.off_by_core(CABLE, rows, choke)


def choke_position_rows(of: SolvedStudy, recommended: Case) -> list[Row]:
    """A choke slid along the cable: where it helps and where it does not."""
    choke = moved_choke(of.study, recommended)
    if choke is None:
        return []
    core = choke.ferrite_core
    positions, merit, off = moved_along(of, choke)
    return [
        {
            "choke": core.id if core else choke.id,
            "kind": choke.kind,
            "label": choke.part,
            "count": choke.count,
            "position_m": at,
            "score": float(score),
            **_effects(of, merit.row(k), off[k]),
        }
        for k, (at, score) in enumerate(zip(positions, merit.score(), strict=True))
    ]
