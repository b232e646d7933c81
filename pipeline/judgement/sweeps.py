"""What if: more cores, another place, another rod or radio end; all by superposition.

Every sweep reuses the port basis of the study at the design frequency; nothing is solved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.constants import speed_of_light

from models.catalogues.parts import FerriteCore
from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.chokes.kind import Choke
from pipeline.chokes.measured import TableChoke
from pipeline.judgement.case_facts import Judged, judge
from pipeline.judgement.choke_places import tried_places
from pipeline.judgement.intervals import at_end, effect_intervals, with_ends
from pipeline.judgement.verdict import OWN_ENDS, Moved, Variation, score
from pipeline.mesh.evidence import CaseEvidence
from pipeline.mesh.uncertainty import Expanded
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import (
    CABLE,
    IDEAL,
    NONE,
    Case,
    cases,
    ideal_choke,
    made_cases,
)
from pipeline.solver.terminations import choke_at_frequencies
from pipeline.study.records import Study

# What changes as more cores are put on or a choke is moved.
SWEPT = (
    "pattern_change_max_db",
    "pattern_change_rms_db",
    "shield_current_ratio_max",
    "station_current_ratio",
)

ROD_OHM = (10.0, 200.0)
# So many cores are moved along the cable where no choke is recommended that could be.
POSITION_COUNT = 4


@dataclass(frozen=True)
class Bench:
    """Everything a sweep needs: geometries at the design frequency, evidence, uncertainties.

    Among the geometries are those of coils that came out otherwise.
    """

    study: Study
    solved: dict[str, Solved]
    evidence: dict[str, CaseEvidence]
    uncertainty: dict[str, Expanded]
    elevation_deg: float

    def reference(self, study: Study) -> CaseResult:
        """The ideal choke."""
        return evaluate(self.solved[CABLE], study, Case(IDEAL, "ideal", CABLE, ideal_choke(study)))

    def judge(
        self,
        case: Case,
        study: Study | None = None,
        evidence_of: str = NONE,
        against: CaseResult | None = None,
    ) -> Judged:
        """A case against the ideal choke, both under the same assumptions.

        ``against`` is the ideal choke where it is known already.
        """
        assumed = self.study if study is None else study
        reference = self.reference(assumed) if against is None else against
        result: CaseResult = evaluate(self.solved[case.geometry], assumed, case)
        theta = self.solved[CABLE].basis.directions.theta
        evidence, limits = self.evidence[evidence_of], self.study.verdict
        return judge(result, reference, theta, self.elevation_deg, evidence, limits)


def _ferrites(study: Study) -> list[tuple[FerriteCore, Choke]]:
    """Each distinct core of a study with the choke that has it, the first place it is tried at."""
    found: dict[str, tuple[FerriteCore, Choke]] = {}
    for choke in study.chokes:
        if (core := choke.ferrite_core) is not None:
            found.setdefault(core.id, (core, choke))
    return list(found.values())


def core_count_rows(bench: Bench) -> list[Row]:
    """Effect against the number of cores, from none to the most that the geometry has room for."""
    study = bench.study
    rows: list[Row] = []
    for core, choke in _ferrites(study):
        room = max(
            c.position + c.acts_over
            for c in study.chokes
            if c.ferrite_core is not None and c.position <= choke.position
        )
        most = int((room - choke.position) / core.length + 1e-6)
        for count in range(most + 1):
            tried = replace(choke, count=count) if count else None
            j = bench.judge(Case("sweep", "", CABLE, tried))
            z = j.facts.choke_impedance or 0j
            rows.append(
                {
                    "core": core.id,
                    "label": core.name,
                    "count": count,
                    "choke_r_ohm": z.real,
                    "choke_x_ohm": z.imag,
                    **_effects(bench, j, ("choke_power_w",)),
                }
            )
    return rows


def _effects(bench: Bench, j: Judged, more: tuple[str, ...] = ()) -> Row:
    """What a swept case does; it is as uncertain as the cable without a choke."""
    known = {
        "pattern_change_max_db": j.change_max_db,
        "pattern_change_rms_db": j.change_rms_db,
        "shield_current_ratio_max": j.facts.shield_ratio,
        "station_current_ratio": j.facts.station_ratio,
        "choke_power_w": j.facts.choke_power,
    }
    row = {name: known[name] for name in (*SWEPT, *more)} | {"grade": j.facts.grade}
    return with_ends(row, effect_intervals(j, bench.uncertainty[NONE]))


def moved_choke(study: Study, recommended: Case) -> Choke | None:
    """What is moved along the cable: the recommended choke, else a few of the study's first core.

    Nothing where neither is there.
    """
    if recommended.choke is not None and recommended.choke.can_be_moved:
        return recommended.choke
    return next((replace(c, count=POSITION_COUNT) for _, c in _ferrites(study)), None)


def moved_along(bench: Bench, choke: Choke) -> list[tuple[float, Judged]]:
    """A choke at every place that the geometry has a port for, with its distance [m].

    All of its impedance is taken at that one place, the middle of a segment.
    """
    f = bench.study.frequency
    z = complex(choke_at_frequencies(choke, bench.study, np.array([f]))[0])
    found = []
    ideal = bench.reference(bench.study)
    for port in bench.solved[CABLE].structure.ports:
        if port.position is None or not port.name.startswith("shield"):
            continue
        # Two frequencies round the one that it is known at.
        place = TableChoke(
            id=choke.id,
            label=choke.label,
            position=port.position,
            file="",
            f=(0.99 * f, 1.01 * f),
            z_choke=(z, z),
        )
        found.append((port.position, bench.judge(Case("sweep", "", CABLE, place), against=ideal)))
    return found


def choke_position_rows(bench: Bench, recommended: Case) -> list[Row]:
    """A choke slid along the cable: where it helps and where it does not."""
    choke = moved_choke(bench.study, recommended)
    if choke is None:
        return []
    core = choke.ferrite_core
    return [
        {
            "choke": core.id if core else choke.id,
            "kind": choke.kind,
            "label": choke.part,
            "count": choke.count,
            "position_m": at,
            "score": score(j.facts),
            **_effects(bench, j),
        }
        for at, j in moved_along(bench, choke)
    ]


def places(bench: Bench, recommended: Case, rows: list[Row]) -> list[Moved]:
    """How the recommended choke would do elsewhere, by the rows of :func:`choke_position_rows`.

    Nothing for one that cannot be moved; without any, that of the cores that are moved instead.
    """
    if not rows or (recommended.choke is not None and not recommended.choke.can_be_moved):
        return []
    at, scores = ([float(row[name]) for row in rows] for name in ("position_m", "score"))
    return tried_places(at, scores, speed_of_light / bench.study.frequency)


def variations(bench: Bench, recommended: Case) -> list[Variation]:
    """Assumptions changed one at a time: does the advice hold?"""
    study = bench.study
    none = next(c for c in cases(study) if c.id == NONE)

    def scores(what: str, changed: Study) -> Variation:
        return Variation(
            what,
            score(bench.judge(none, changed).facts),
            score(bench.judge(recommended, changed).facts),
        )

    tried = [*_error_variations(bench, none, recommended), _station_variation(study, scores)]
    if study.bond is not None:
        tried += [
            scores(
                f"a ground rod of {ohm:g} ohm",
                replace(study, bond=replace(study.bond, rod_impedance=complex(ohm))),
            )
            for ohm in ROD_OHM
        ]
    bare = score(bench.judge(none).facts)
    return tried + [
        Variation(made.said, bare, score(bench.judge(case).facts), made=made.words)
        for made, case in made_cases(study, recommended, bench.solved)
    ]


def _error_variations(bench: Bench, none: Case, recommended: Case) -> list[Variation]:
    """Both cases at either end of what the computation itself may be off by."""
    pair = [(bench.judge(case).facts, bench.uncertainty[case.id]) for case in (none, recommended)]
    tried = []
    for end, what in enumerate(OWN_ENDS):
        bare, own = (score(at_end(facts, half, end)) for facts, half in pair)
        tried.append(Variation(what, bare, own))
    return tried


def _station_variation(study: Study, scores: Callable[[str, Study], Variation]) -> Variation:
    is_open = study.station.impedance is None
    other = replace(study.station, impedance=0j if is_open else None)
    what = "a radio whose case is bonded to its lead" if is_open else "a radio that floats"
    return scores(what, replace(study, station=other))
