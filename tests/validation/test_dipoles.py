"""Straight dipoles, thin and as thick as pipe: impedance, resonance, directivity."""

from __future__ import annotations

import csv
from functools import cache

import numpy as np
import pytest

from tests.validation.published_rows import FOLDER, Published, Quantity, published
from tests.validation.wires import (
    ONE_METRE,
    directivity_dbi,
    feed_currents,
    impedance,
    thin_limit,
    tube_dipole,
    tube_impedance,
    upright,
)

TITLE = "Dipoles in free space"
# A hundred segments keep the source's gap below a hundredth of the length.
SEGMENTS = 101


@cache
def thin(length: float) -> complex:
    return thin_limit(lambda radius: impedance(upright(length, radius, SEGMENTS)), length)


def half_length(row: Published) -> float:
    """Length [wavelengths] of a dipole of given k h, h its half length."""
    return row.number("kh") / np.pi


def wire_reactance(row: Published) -> float:
    return impedance(upright(half_length(row), row.number("radius"), SEGMENTS)).imag


@cache
def tube(length: float, radius: float) -> complex:
    """A cage where the tube is over a thousandth of a wavelength thick, else one wire."""
    if radius <= 0.001:
        return impedance(upright(length, radius, 41))
    return complex(tube_impedance(tube_dipole(length, radius), np.array([ONE_METRE]))[0])


def tube_of(row: Published) -> complex:
    return tube(row.number("length"), row.number("radius"))


def zero_crossing(x: np.ndarray, z: np.ndarray) -> tuple[float, float]:
    """Where the reactance vanishes, and the resistance there."""
    at = float(np.interp(0.0, z.imag, x))
    return at, float(np.interp(at, x, z.real))


def resonance_of_tube(row: Published) -> tuple[float, float]:
    lengths = np.arange(0.44, 0.4901, 0.01)
    return zero_crossing(lengths, np.array([tube(x, row.number("radius")) for x in lengths]))


@cache
def resonance_of_shape(ratio: float) -> tuple[float, float]:
    """Resonant length [wavelengths] and resistance of a dipole ``ratio`` diameters long."""
    lengths = np.linspace(0.44, 0.5, 13)
    f, radius = ONE_METRE * lengths / 0.5, 0.25 / ratio
    if ratio > 200:
        z = np.array([impedance(upright(0.5, radius, 41), x) for x in f])
    else:
        z = tube_impedance(tube_dipole(0.5, radius), f)
    return zero_crossing(lengths, z)


def directivity(row: Published) -> float:
    built = upright(row.number("length"), 1e-9, 81)
    return directivity_dbi(built, feed_currents(built)[0])


QUANTITIES = {
    "thin_resistance": Quantity(
        "dipole {length} wavelengths long, vanishing radius: R",
        lambda row: thin(row.number("length")).real,
    ),
    "thin_reactance": Quantity(
        "dipole {length} wavelengths long, vanishing radius: X",
        lambda row: thin(row.number("length")).imag,
    ),
    "resistance_of_half_length": Quantity(
        "dipole of k h = {kh}, vanishing radius: R", lambda row: thin(half_length(row)).real
    ),
    "reactance_of_half_length": Quantity(
        "dipole of k h = {kh}, radius {radius} wavelengths: X", wire_reactance
    ),
    "tube_resistance": Quantity(
        "tube of radius {radius} and length {length} wavelengths: R", lambda row: tube_of(row).real
    ),
    "tube_reactance": Quantity(
        "tube of radius {radius} and length {length} wavelengths: X", lambda row: tube_of(row).imag
    ),
    "tube_resonant_length": Quantity(
        "tube of radius {radius} wavelengths: first resonant length",
        lambda row: resonance_of_tube(row)[0],
    ),
    "tube_resonant_resistance": Quantity(
        "tube of radius {radius} wavelengths: R at the first resonance",
        lambda row: resonance_of_tube(row)[1],
    ),
    "shape_resonant_length": Quantity(
        "dipole {ratio} diameters long: first resonant length",
        lambda row: resonance_of_shape(row.number("ratio"))[0],
    ),
    "shape_resonant_resistance": Quantity(
        "dipole {ratio} diameters long: R at the first resonance",
        lambda row: resonance_of_shape(row.number("ratio"))[1],
    ),
    "directivity": Quantity("dipole {length} wavelengths long: directivity", directivity),
}


# Published


@pytest.mark.parametrize("row", published("dipoles"))
def test_dipoles_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


@pytest.mark.parametrize(("wire_radius", "n_wires"), [(0.004, 4), (0.002, 6)])
def test_a_cage_conducts_as_the_tube_it_stands_for(wire_radius: float, n_wires: int) -> None:
    # Solution on the real capped tube, 0.96 m by 22 mm, good to 0.3 %. Conductance only: how a gap
    # is made is capacitance. Measured 0.08 % and 0.02 % of frequency, then 0.1 % of conductance.
    with (FOLDER / "surface" / "D1_feed.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    f = 1e6 * np.array([float(r["f_MHz"]) for r in rows])
    conductance = np.array([float(r["G_S"]) for r in rows])
    built = tube_dipole(0.96, 0.011, 61, wire_radius, n_wires)
    ours = (1 / tube_impedance(built, f)).real
    shifts = np.linspace(0.98, 1.02, 401)
    miss = [np.abs(np.interp(f, f * k, ours) / conductance - 1)[2:-2] for k in shifts]
    best = int(np.argmin([np.median(m) for m in miss]))
    assert shifts[best] == pytest.approx(1, abs=0.0012)
    assert miss[best].max() < 0.005
