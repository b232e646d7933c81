"""Verification of tuned lengths: the whole band, the evidence, and the cost of a cutting error.

A tuned study in, numbers and grades out; the slopes are those that the search left behind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from models.antennas import generators
from models.wires.structure import Structure
from pipeline.analysis.case_results import CaseResult, Solved, evaluate
from pipeline.analysis.metrics import gain_at_elevation, horizon_elevation_deg
from pipeline.circuit.line import reflection_coefficient
from pipeline.design.match_search import Variable, expected_swr, match_shift, swr_of, worst_swr
from pipeline.design.tuning import Tuned, feed_impedance, needed_ports, solve_ports, tuned_case
from pipeline.mesh.evidence import (
    CaseEvidence,
    GeometryEvidence,
    case_evidence,
    convergence,
    quick_evidence,
)
from pipeline.solver.cases import ALONE, NONE, Case, GeometryPlan
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import frequency_grid, request
from pipeline.solver.structures import assembled, structure
from pipeline.study.records import Study, with_values

# Frequencies this far on either side of the design frequency give the slope there.
_NEAR = 0.001
# The first pipe is cut long by what makes up for this share of the frequency: the drawing is 0.12 %
# off the tubes (tests/validation/surface/README.md), the rest is for fittings and hands (common
# practice, no source).
START_LOW = 0.005
_FINE = 2001

# A member is cut to make the variable smaller, or larger; or it slides or is a part.
TrimKind = Literal["cut", "gap", "free"]


@dataclass(frozen=True)
class Range:
    """Frequencies [Hz] in which a standing-wave ratio is kept; ``open`` ends are the band's own."""

    swr: float
    low: float
    high: float
    open_low: bool
    open_high: bool


@dataclass(frozen=True)
class Response:
    """Feed impedance over the band, shapes (n_f,), the design frequency at ``centre``."""

    frequency: NDArray[np.float64]
    centre: int
    z: NDArray[np.complex128]
    z0: float

    @property
    def gamma(self) -> NDArray[np.complex128]:
        """Reflection coefficient in the cable's impedance."""
        return reflection_coefficient(self.z, self.z0)

    @property
    def swr(self) -> NDArray[np.float64]:
        """Standing-wave ratio in the cable."""
        return np.array([swr_of(complex(g)) for g in self.gamma])

    @property
    def swr_centre(self) -> float:
        """Standing-wave ratio at the design frequency."""
        return float(self.swr[self.centre])

    @property
    def slope(self) -> complex:
        """Derivative of the reflection coefficient at the design frequency. [1/Hz]"""
        a, b = self.centre - 1, self.centre + 1
        gamma, f = self.gamma, self.frequency
        return complex((gamma[b] - gamma[a]) / (f[b] - f[a]))

    def fine(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Frequencies close together and the magnitude of the reflection coefficient there."""
        from scipy.interpolate import CubicSpline

        f = np.linspace(self.frequency[0], self.frequency[-1], _FINE)
        return f, np.abs(CubicSpline(self.frequency, self.gamma)(f))

    def best_frequency(self) -> float:
        """Where in the band the match is best. [Hz]"""
        f, size = self.fine()
        return float(f[int(np.argmin(size))])

    def within(self, swr: float) -> Range | None:
        """Frequencies around the design frequency that keep a standing-wave ratio, if any."""
        f, size = self.fine()
        good = np.array([swr_of(complex(s)) <= swr for s in size])
        here = int(np.argmin(np.abs(f - self.frequency[self.centre])))
        if not good[here]:
            return None
        bad = np.flatnonzero(~good)
        low = int(max(bad[bad < here], default=-1)) + 1
        high = int(min(bad[bad > here], default=len(f))) - 1
        return Range(swr, float(f[low]), float(f[high]), low == 0, high == len(f) - 1)


@dataclass(frozen=True)
class Sensitivity:
    """Effect of one variable at the tuned lengths.

    ``shift`` [Hz] is how far one step more moves the best match; ``swr_more`` and ``swr_less``
    the standing-wave ratio a step either way; ``kind`` as :func:`trim_kind` says; ``start_long``
    how much longer to start, in its unit.
    """

    name: str
    step: float
    shift: float
    swr_more: float
    swr_less: float
    kind: TrimKind
    start_long: float


@dataclass(frozen=True)
class Errors:
    """Standing-wave ratios with every length off by its step: to expect, and at worst."""

    expected: float
    worst: float


@dataclass(frozen=True)
class Verification:
    """A tuned antenna checked by other solves than those that found it.

    ``bare`` responses are those without the choke, where it was tuned with one.
    """

    before: Response
    after: Response
    z_refined: complex
    geometry: GeometryEvidence
    evidence: CaseEvidence
    sensitivities: tuple[Sensitivity, ...]
    errors: Errors | None
    bare_before: Response | None = None
    bare_after: Response | None = None

    @property
    def swr_refined(self) -> float:
        """Standing-wave ratio of the drawing with shorter segments."""
        return swr_of(complex(reflection_coefficient(self.z_refined, self.after.z0)))

    @property
    def sound(self) -> bool:
        """Whether the drawing may be believed at all."""
        return self.evidence.grade != "unsound"


def responses(tuned: Tuned, study: Study) -> tuple[Response, Response | None]:
    """The band of a study with the tuned case on its cable, and with the cable bare.

    The latter is None where the cable is bare in the tuned case; a lumped choke is algebra on one
    solve. Two frequencies near the middle are added for the slope there.
    """
    grid, centre = frequency_grid(study)
    middle = grid[centre]
    f = np.unique(np.concatenate([grid, middle * (1 + _NEAR * np.array([-1, 1]))]))
    built = needed_ports(structure(study, tuned.plan), tuned.case)
    y_port = solve_ports(study, built, f)

    def of(case: Case) -> Response:
        z = feed_impedance(study, case, built, y_port, f)
        return Response(f, int(np.searchsorted(f, middle)), z, study.cable.type.z0)

    own = of(tuned.case)
    if tuned.case.id == NONE:
        return own, None
    bare, plan = tuned_case(study, NONE)
    if plan != tuned.plan:
        built = needed_ports(structure(study, plan), bare)
        y_port = solve_ports(study, built, f)
    return own, of(bare)


def _evaluated(tuned: Tuned, built: Structure) -> tuple[CaseResult, float]:
    """The case at the design frequency on one drawing, and its mean gain in the lowest lobe."""
    study = tuned.after
    built = needed_ports(built, tuned.case)
    basis = solve_basis(built, np.array([study.frequency]), 0, study.site.ground)
    result = evaluate(Solved(built, basis), study, tuned.case)
    theta = basis.directions.theta
    elevation = horizon_elevation_deg(result.gain, theta)
    return result, gain_at_elevation(result.gain, theta, elevation).mean


def _evidence(tuned: Tuned) -> tuple[GeometryEvidence, CaseEvidence, complex]:
    """Checks of the geometry, the grade of the case, and the impedance on the finer drawing."""
    wanted = request(tuned.after, tuned.plan)
    geometry = quick_evidence(wanted)
    alone = quick_evidence(request(tuned.after, GeometryPlan(ALONE, has_feedline=False)))
    (usual, gain), (finer, finer_gain) = (
        _evaluated(tuned, built) for built in (wanted.structure, wanted.refined)
    )
    z, z_refined = complex(usual.z_feed[0]), complex(finer.z_feed[0])
    moved = convergence(
        z, z_refined, usual.shield_ratio_max, finer.shield_ratio_max, gain, finer_gain
    )
    return geometry, case_evidence(geometry, alone, moved), z_refined


def trim_kind(study: Study, variable: Variable) -> TrimKind:
    """How a builder changes a variable, from what the members do as it grows.

    A member that grows with it is cut to make it smaller; one that shrinks borders on a gap, and
    is cut to make it larger. Anything else slides, as a trim may say of itself, or is a part.
    """

    def members(value: float) -> dict[str, float]:
        changed = with_values(study, [variable.name], (value,))
        made = assembled(changed)
        at = {joint.name: joint.point for joint in made.joints}
        return {m.name: math.dist(at[m.start], at[m.end]) for m in made.members}

    if generators()[study.antenna.type].trim(variable.name).slides:
        return "free"
    here = float(getattr(study.antenna.parameters, variable.name))
    before, after = members(here), members(here + variable.step)
    growth = [after[name] - before[name] for name in before]
    if max(growth, default=0.0) > 0.1 * variable.step:
        return "cut"
    return "gap" if min(growth, default=0.0) < -0.1 * variable.step else "free"


def sensitivities(tuned: Tuned, slope_f: complex) -> tuple[Sensitivity, ...]:
    """Effect of every variable, from the slopes of the search and that over frequency [1/Hz].

    The cut length that moves the match most, for its size, is the one to start long.
    """
    best = tuned.found.best
    found = [
        Sensitivity(
            name=variable.name,
            step=variable.step,
            shift=match_shift(slope, slope_f) * variable.step,
            swr_more=swr_of(best.gamma + slope * variable.step),
            swr_less=swr_of(best.gamma - slope * variable.step),
            kind=trim_kind(tuned.after, variable),
            start_long=0.0,
        )
        for variable, slope in zip(tuned.variables, tuned.found.slopes, strict=True)
        if np.isfinite(slope)
    ]
    size = dict(zip((v.name for v in tuned.variables), best.values, strict=True))
    strongest = max(
        (s for s in found if s.kind == "cut" and s.shift),
        key=lambda s: abs(s.shift) / s.step * size[s.name],
        default=None,
    )
    if strongest is not None:
        # In whole steps.
        steps = math.ceil(START_LOW * tuned.study.frequency / abs(strongest.shift))
        long = replace(strongest, start_long=steps * strongest.step)
        found[found.index(strongest)] = long
    return tuple(found)


def verify(tuned: Tuned) -> Verification:
    """The band before and after, checks of the geometry, and the cost of cutting errors."""
    before, bare_before = responses(tuned, tuned.study)
    after, bare_after = responses(tuned, tuned.after)
    geometry, evidence, z_refined = _evidence(tuned)
    found, slopes = tuned.found, tuned.found.slopes
    errors = None
    if np.isfinite(slopes).all():
        steps = [v.step for v in tuned.variables]
        errors = Errors(
            expected_swr(found.best.gamma, slopes, steps),
            worst_swr(found.best.gamma, slopes, steps),
        )
    return Verification(
        before,
        after,
        z_refined,
        geometry,
        evidence,
        sensitivities(tuned, after.slope),
        errors,
        bare_before,
        bare_after,
    )
