"""Lengths at which an antenna is matched, its cable in place: a study in, numbers out.

One solve is one drawing at the design frequency with the ports that the case needs; chokes,
terminations and the antenna's own coils and capacitors are algebra on it.

Least squares bring both parts of the reflection at the feed to nothing. Lengths are bounded by the
antenna's own file and rounded to a tenth of a cutting error; the first two trims are free, any more
are held near their start. Slopes are those of the search, corrected by Broyden's rule, so what a
millimetre does costs nothing more; a test compares them with solves. A match is solved again over
the band, on a finer drawing and with the evidence of every study, and an unsound one is never
called tuned.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas import generators
from models.antennas.generator import Trim
from models.lengths import round_step
from models.wires.structure import Structure
from pipeline.circuit.line import reflection_coefficient
from pipeline.circuit.port_algebra import fed_voltages, port_currents
from pipeline.design.match_search import (
    OutOfSolvesError,
    Search,
    Values,
    Variable,
    gamma_of_swr,
    search,
    swr_of,
)
from pipeline.solver.cases import NO_FEEDLINE, Case, GeometryPlan, cases, geometry_plans
from pipeline.solver.field_solver import solved_currents
from pipeline.solver.port_basis import structure_data
from pipeline.solver.structures import sized_antenna, structure
from pipeline.solver.terminations import choke_series, terminations, with_ports_for
from pipeline.study.records import Study, marker_of, with_values
from pipeline.text.errors import Fault, StudyError

# How far a length may go from where it starts; beyond it is another antenna.
SHORTEST, LONGEST = 0.6, 1.6
# The search goes on until the reflection is this share of what the target allows, so that cutting
# errors find room; and never below what another drawing of the same thing would change.
_AIM_SHARE, _LARGEST_AIM = 0.25, 0.02


@dataclass(frozen=True)
class Step:
    """One set of lengths that was tried; ``solved`` where it took a field solve of its own."""

    values: Values
    z: complex
    swr: float
    solved: bool


@dataclass(frozen=True)
class Tuned:
    """The best lengths found, before they are verified.

    ``case`` and ``plan`` say with what on the cable; ``after`` is the study with the best lengths;
    ``refusals`` are the rules that forbade a step, in order and each once.
    """

    study: Study
    after: Study
    case: Case
    plan: GeometryPlan
    variables: tuple[Variable, ...]
    found: Search
    steps: tuple[Step, ...]
    refusals: tuple[str, ...]

    @property
    def solves(self) -> int:
        """Field solves that it took."""
        return sum(step.solved for step in self.steps)

    @property
    def best(self) -> Step:
        """The step with the best lengths."""
        return next(s for s in self.steps if s.values == self.found.best.values)

    @property
    def met(self) -> bool:
        """Whether the target is reached at the design frequency."""
        return self.best.swr <= self.study.tune.target_swr


def free_trims(study: Study) -> tuple[Trim, ...]:
    """Trims that the study frees, in the order in which a builder makes them."""
    generator = generators()[study.antenna.type]
    own = {field.name for field in fields(generator.parameters)}
    wanted = study.tune.free
    return tuple(
        trim
        for trim in generator.trims
        if trim.parameter in own and (not wanted or trim.parameter in wanted)
    )


def variables_of(study: Study) -> tuple[Variable, ...]:
    """Variables of the search: start, limits and cutting error of every free trim.

    Limits are those of the antenna's own file, and 0.6 to 1.6 times the start. A part that is not
    fitted, such as a stub of no length, stays away.

    Raises
    ------
    StudyError
        If nothing is left that may change.
    """
    sized = sized_antenna(study).antenna
    found = []
    for trim in free_trims(study):
        start, marker = float(getattr(sized, trim.parameter)), marker_of(study, trim.parameter)
        low, high = max(marker.low, SHORTEST * start), min(marker.high, LONGEST * start)
        step = round_step(trim.step, study.lengths) if marker.unit == "m" else trim.step
        if high - low > step:
            found.append(Variable(trim.parameter, start, low, high, step))
    if not found:
        place, value = study.place("antenna.type"), study.antenna.type
        rule = "has nothing here that can be tuned"
        remedy = "free a length that is not zero, or leave tune.free out"
        raise StudyError(Fault(place, value, rule, remedy, "tune-nothing"))
    return tuple(found)


def tuned_case(study: Study, choke: str = "") -> tuple[Case, GeometryPlan]:
    """The case with which an antenna is tuned, and the geometry that holds it.

    ``choke`` is the id of a case; by default the study names it.
    """
    known = {c.id: c for c in cases(study) if c.id != NO_FEEDLINE}
    wanted = choke or study.tune.choke
    case = known.get(wanted)
    if case is None:
        rule, remedy = "is no case of this study that has a cable", f"one of {', '.join(known)}"
        raise StudyError(Fault(study.place("tune.choke"), wanted, rule, remedy, "tune-choke"))
    return case, next(p for p in geometry_plans(study) if p.name == case.geometry)


def needed_ports(built: Structure, case: Case) -> Structure:
    """The same wires without the ports on the shield where the case has nothing."""
    return with_ports_for(built, () if case.choke is None else (case.choke,))


def solve_ports(study: Study, built: Structure, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Port admittance matrix over frequencies, shape (n_f, n_port, n_port). [S]"""
    currents = solved_currents(built, f, study.site.ground)
    return np.asarray(built.through_ports(currents).transpose(0, 2, 1))


def feed_impedance(
    study: Study,
    case: Case,
    built: Structure,
    y_port: NDArray[np.complex128],
    f: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """Impedance at the feed with terminations and the case's choke, shape (n_f,). [ohm]

    Definition: one volt behind the feed over the current there.
    """
    z = terminations(built, study, f) + choke_series(built, study, case.choke, f)
    feed = built.port_index("feed")
    return np.asarray(1 / port_currents(y_port, fed_voltages(y_port, z, feed))[:, feed])


def _digest(built: Structure) -> str:
    """Digest of the wires and ports alone: parts that are only circuit elements are not in it."""
    bare = replace(built, ports=tuple(replace(p, series_inductance=0.0) for p in built.ports))
    return hashlib.sha256(json.dumps(structure_data(bare)).encode()).hexdigest()


class FeedPoint:
    """Reflection coefficient at the feed of a study as a function of some of its lengths.

    Counts its field solves; what only a circuit element changes costs none.
    """

    def __init__(
        self, study: Study, names: Sequence[str], say: Callable[[Step], None], choke: str = ""
    ) -> None:
        self.study = study
        self.names = tuple(names)
        self.case, self.plan = tuned_case(study, choke)
        self.steps: list[Step] = []
        self.refusals: list[str] = []
        self._say = say
        self._solved: dict[str, NDArray[np.complex128]] = {}

    def gamma(self, values: Values) -> complex | None:
        """Reflection coefficient in the cable's impedance, or None where it cannot be built.

        Raises
        ------
        OutOfSolvesError
            If one more field solve is needed than the study allows.
        """
        study = with_values(self.study, self.names, values)
        try:
            built = needed_ports(structure(study, self.plan), self.case)
        except StudyError as error:
            self.refusals += [f"{f.place.split('  ')[-1]} {f.rule}" for f in error.faults]
            return None
        f = np.array([study.frequency])
        key = _digest(built)
        new = key not in self._solved
        if new:
            if len(self._solved) >= study.tune.solves:
                raise OutOfSolvesError
            self._solved[key] = solve_ports(study, built, f)
        z = complex(feed_impedance(study, self.case, built, self._solved[key], f)[0])
        gamma = complex(reflection_coefficient(z, study.cable.type.z0))
        self.steps.append(Step(values, z, swr_of(gamma), new))
        self._say(self.steps[-1])
        return gamma


def aim_of(target_swr: float) -> float:
    """Reflection coefficient at which the search may stop.

    Examples
    --------
    >>> round(aim_of(1.2), 4), round(aim_of(1.05), 4)
    (0.02, 0.0061)
    """
    return min(_LARGEST_AIM, _AIM_SHARE * gamma_of_swr(target_swr))


def tune(study: Study, say: Callable[[Step], None] = lambda step: None, choke: str = "") -> Tuned:
    """Lengths at which a study's antenna is matched with its cable in place.

    ``study.tune`` holds what may change, what is on the cable and the target; ``say`` is told of
    every step; ``choke`` as for :func:`tuned_case`. Where the target is not met it is the best
    that was found.

    Raises
    ------
    StudyError
        If the antenna cannot be drawn as the study has it, or has nothing to tune.
    """
    variables = variables_of(study)
    names = [v.name for v in variables]
    point = FeedPoint(study, names, say, choke)
    start = tuple(v.rounded(v.start) for v in variables)
    structure(with_values(study, names, start), point.plan)
    found = search(point.gamma, variables, aim_of(study.tune.target_swr))
    return Tuned(
        study=study,
        after=with_values(study, names, found.best.values),
        case=point.case,
        plan=point.plan,
        variables=variables,
        found=found,
        steps=tuple(point.steps),
        refusals=tuple(dict.fromkeys(point.refusals)),
    )
