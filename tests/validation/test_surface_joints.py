"""Joints of pipe antennas as their generators draw them against their tubes' walls.

What was found, drawing by drawing (finer segments move the scale by up to 0.1 %):

| case | segments | scale | gap | impedance, median and worst, scaled | unscaled |
|---|---|---|---|---|---|
| B1 hub with radials, rods | 124 | 0.00 % | -0.12 pF | 0.1 %, 0.2 % | 0.1 %, 0.3 % |
| B1 the same, cages | 452 | +0.16 % | +0.13 pF | 0.2 %, 0.5 % | 1.0 %, 1.1 % |
| B2 folded end | 308 | 0.00 % | -0.18 pF | 0.2 %, 0.4 % | 0.2 %, 0.3 % |
| B3 gamma arm | 191 | -0.13 % | +0.16 pF | 0.6 %, 0.9 % | 0.7 %, 0.7 % |
| B4 mouth of a sleeve | 80 | +0.11 % | +0.31 pF | 0.3 %, 1.2 % | 2.6 %, 3.4 % |

The gap is a capacitance across our feed, found with the scale: a strip of the tube's wall on one
side, segments of wires on the other. Without it the impedance is 1 to 3 % (B1, B3, B4) and 6 % (B2)
away. STRAP_OUT comes from B2 itself, so what that shows of its scale is a fit; what lies across the
mouth of B4 comes from other sleeves (sleeve_wires.mouth_capacitance). B1 and B3 have no term of
their own, but segments were chosen on them: three in B3's post and strap are 0.00 % in scale and
0.0 % in impedance, but radiate 3.7 % too much. A gamma arm of 6 mm, 35 mm from 15 mm at 435 MHz,
solved on its wall too (not stored), is 0.4 % high in scale and within 0.7 % in impedance.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares

from models.antennas.hub import HUB_ABOVE
from models.wires.pipe_cage import Cage, cage_ring_radius
from models.wires.pipe_parts import rod_spacing
from models.wires.structure import PERFECT, GeometryError
from pipeline.mesh.evidence import LIMITS
from tests.validation import joints
from tests.validation.joints import DRAW, Drawn
from tests.validation.published_rows import FOLDER
from tests.validation.surface.tubes import Turned, read_case

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# A single fit per case; the README of the tables puts their own error at 0.05 % and 1 %.
AIM_SCALE, AIM_IMPEDANCE = 0.003, 0.05


@dataclass(frozen=True)
class Comparison:
    """A drawing beside its tubes.

    ``scale`` is the factor on our frequencies, ``gap`` [F] the capacitance across our feed that
    bring the reflection nearest. ``error`` and ``raw`` are relative errors of the impedance at the
    tubes' frequencies with the gap, with and without the scale; ``plain`` is without either.
    """

    scale: float
    gap: float
    error: Real
    raw: Real
    plain: Real


def tubes_do(
    name: str, columns: tuple[str, str] = ("Y11_re_S", "Y11_im_S")
) -> tuple[Real, Complex]:
    """Frequencies [Hz] and feed admittance [S] of the tubes; the last mesh of the table."""
    with (FOLDER / "surface" / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    rows = [r for r in rows if r.get("mesh") == rows[-1].get("mesh")]
    f, g, b = (np.array([float(r[k]) for r in rows]) for k in ("f_MHz", *columns))
    return f * 1e6, g + 1j * b


def compare(drawn: Drawn, f: Real, theirs: Complex) -> Comparison:
    """Fit frequency scale and gap of a drawing to admittances [S] at frequencies [Hz]."""
    # A per cent beyond either end, where the scaled frequencies may reach.
    grid = np.linspace(0.988 * f[0], 1.012 * f[-1], 9)
    spline = CubicSpline(grid, joints.two_port(drawn, grid))
    # Reflections are taken in the middle of the tubes' own impedances.
    middle = float(np.median(np.abs(1 / theirs)))

    def ours(scale: float, picofarad: float) -> Complex:
        at = f / scale
        y = spline(at)
        loaded = y[:, 0, 0] + y[:, 0, 1] * joints.mouth_volts(drawn, y, at)
        return np.asarray(loaded + 2j * np.pi * f * picofarad * 1e-12)

    def miss(found: Real) -> Real:
        y, them = ours(1 + found[0] / 1e3, found[1]) * middle, theirs * middle
        difference = (1 - y) / (1 + y) - (1 - them) / (1 + them)
        return np.concatenate([difference.real, difference.imag])

    permille, picofarad = least_squares(miss, [0.0, 0.0], xtol=1e-10).x
    scale = 1 + permille / 1e3
    ways = ((scale, picofarad), (1.0, picofarad), (1.0, 0.0))
    return Comparison(scale, picofarad * 1e-12, *(np.abs(theirs / ours(*w) - 1) for w in ways))


@cache
def drawing(name: str, refine: float = 1.0) -> Drawn:
    return DRAW[name](read_case(name[:2]), refine)


@cache
def compared(name: str, refine: float = 1.0) -> Comparison:
    return compare(drawing(name, refine), *tubes_do(f"{name[:2]}_Y.csv"))


# Published


# Scale: twice what was found, but the reference itself is good to 0.05 %. Impedance at the same
# frequency with the gap's capacitance: twice the worst found; with nothing fitted: the aim, which
# B2 misses by what four sources in parallel have of capacitance too much.
@pytest.mark.parametrize(
    ("name", "scale", "raw", "plain"),
    [
        ("B1", 0.0018, 0.012, 0.05),
        ("B1 in cages", 0.0018, 0.012, 0.05),
        ("B2", 0.0005, 0.010, 0.07),
        ("B3", 0.0026, 0.015, 0.05),
        ("B4", 0.0013, 0.036, 0.055),
    ],
)
def test_a_joint_does_what_its_tubes_do(name, scale, raw, plain):
    found = compared(name)
    assert max(scale - AIM_SCALE, raw - AIM_IMPEDANCE) <= 0
    assert found.scale == pytest.approx(1, abs=scale)
    assert found.raw.max() < raw
    assert found.plain.max() < plain
    # After scaling nothing is left but the 1 % that the reference's admittance is good to; B4, fed
    # on its rod beside the plate, over a segment of five radii, has 1.2 %.
    assert found.error.max() < (0.013 if name == "B4" else 0.01)
    # README of the tables: a port on one segment lacks 0.2 to 0.4 pF, four driven together have too
    # much by as much.
    assert abs(found.gap) < 0.4e-12


def test_hub_of_the_solved_case_is_that_of_every_antenna():
    vertical, radial = (read_case("B1").tubes[k] for k in (0, 1))
    assert radial.axis[0, 2] == pytest.approx(-HUB_ABOVE * vertical.diameter)


def test_strap_drawn_on_its_axis_is_a_tenth_of_a_per_cent_high():
    # B2: -0.125 % with the strap on its axis; finer segments move B2 by 0.02 %.
    found = compare(joints.folded(read_case("B2"), out=0.0), *tubes_do("B2_Y.csv")).scale
    assert found - 1 == pytest.approx(-0.00125, abs=0.0003)


def test_mouth_without_its_capacitance_is_out_of_every_limit():
    # B4: 0.44 % in frequency, 10 % in impedance at the same frequency.
    drawn = drawing("B4")
    assert drawn.sleeve is not None
    found = compare(replace(drawn, sleeve=replace(drawn.sleeve, across=0.0)), *tubes_do("B4_Y.csv"))
    assert abs(found.scale - 1) > AIM_SCALE
    assert np.median(found.raw) > AIM_IMPEDANCE


@pytest.mark.parametrize(
    ("tip", "low", "high"), [(0.0, 0.004, 0.008), (joints.ROD_TIP, -0.001, 0.001)]
)
def test_rod_with_its_tips_back_has_the_frequency_of_the_tube(tip, low, high):
    # D1, 22 mm drawn as one wire: 0.56 % low with its tips on the caps, -0.05 % with them back;
    # 0.1 % is what the cage of the same tube is held to, 1 % what its admittance is good to.
    columns = ("G_S", "B_S")
    f, y = tubes_do("D1_feed.csv", columns)
    near = np.abs(f / 145e6 - 1) < 0.06
    found = compare(joints.rod_dipole(0.96, 0.011, tip), f[near], y[near])
    assert low < found.scale - 1 < high
    assert found.error.max() < 0.01


# Laws


# 0.3, 0.9, 0.2, 1.1 and 1.0 % found.
@pytest.mark.parametrize("name", DRAW)
def test_what_a_joint_radiates_is_what_goes_into_it(name):
    f = float(tubes_do(f"{name[:2]}_Y.csv")[0].mean())
    assert joints.average_gain(drawing(name), f) == pytest.approx(
        1, abs=LIMITS["average_gain"].sound
    )


def test_feed_and_mouth_are_reciprocal_within_a_per_cent():
    # 0.5 % found with segments of five rod radii on either side; the grade "sound" is 5 %.
    f = tubes_do("B4_Y.csv")[0]
    y = joints.two_port(drawing("B4"), f)
    assert (np.abs(y[:, 0, 1] - y[:, 1, 0]) / np.abs(y[:, 0, 1])).max() < 0.01


# 0.03, 0.02, 0.00 and 0.10 % found; the aim leaves 0.3 % for drawing and segments together.
@pytest.mark.parametrize("name", DRAW)
def test_segments_a_quarter_shorter_leave_a_joint_within_the_aim(name):
    coarse, fine = compared(name), compared(name, 0.75)
    assert len(drawing(name, 0.75).structure.segments) > len(drawing(name).structure.segments)
    assert abs(fine.scale - coarse.scale) < 0.0015
    assert abs(fine.scale - 1) < AIM_SCALE
    assert fine.raw.max() < AIM_IMPEDANCE


def test_rod_far_from_a_pipe_stands_where_it_is():
    # Far apart, a cage of the pipe's equivalent radius is the pipe; 0.03 mm is left at 1 m.
    cage = Cage(4, cage_ring_radius(0.011, 0.005, 4), 0.005, "antenna", PERFECT)
    assert rod_spacing(1.0, 0.011, 0.005, cage) == pytest.approx(1.0, abs=5e-5)


def test_mouth_of_a_sleeve_is_an_open_end_at_a_quarter_wave_and_z0_at_an_eighth():
    # Z = j Z0 tan(beta l), D. M. Pozar, "Microwave Engineering", ch. 2 (from memory); exact in a
    # lossless line, and Z0 = 59.96 ohm ln(b / a).
    inside = joints.Sleeve(0.013, 0.005, 0.479, 0.0)
    f = np.array([299_792_458.0 / (8 * 0.479)])
    np.testing.assert_allclose(inside.impedance(f), 1j * 59.96 * np.log(2.6), rtol=1e-4)
    assert abs(inside.impedance(2 * f)[0]) > 1e6


# Refusals


def test_sleeve_too_narrow_for_spokes_as_thick_as_its_rod_is_refused():
    # Rod of 10 mm in a sleeve of 22 mm: spokes of 9 mm are shorter than twice their radius.
    case = read_case("B4")
    points = case.turned[0].profile.copy()
    points[points[:, 0] == 0.014, 0], points[points[:, 0] == 0.013, 0] = 0.011, 0.010
    narrow = type(case)(**{**vars(case), "turned": (Turned("sleeve", points),)})
    with pytest.raises(GeometryError, match="touch or cross"):
        DRAW["B4"](narrow)
