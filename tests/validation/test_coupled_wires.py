"""Wires that act on one another: mutual impedance, folded and collinear dipoles."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from models.wires.structure import Port, Structure, Wire
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.published_rows import Published, Quantity, published
from tests.validation.wires import ONE_METRE, directivity_dbi, feed_currents, thin_limit, upright

TITLE = "Coupled wires in free space"


def half_wave(x: float, z: float, radius: float, n: int = 41) -> Wire:
    return Wire((x, 0.0, z - 0.25), (x, 0.0, z + 0.25), n, radius, "antenna")


def port_impedances(built: Structure) -> NDArray[np.complex128]:
    return np.asarray(np.linalg.inv(feed_currents(built)[:, built.port_segments]))


def pair(radius: float, x: float, z: float) -> Structure:
    wires = (half_wave(0.0, 0.0, radius), half_wave(x, z, radius))
    return Structure("pair", wires, (Port("one", 0, 20), Port("two", 1, 20)))


@cache
def mutual_impedance(x: float, z: float) -> complex:
    """Between two half-wave dipoles x beside and z above one another. [ohm]"""
    return thin_limit(lambda radius: complex(port_impedances(pair(radius, x, z))[0, 1]), 0.5)


@cache
def collinear_directivity(spacing: float) -> float:
    """Two half-waves end to end with the same current at their feeds. [dBi]"""
    built = pair(1e-9, 0.0, spacing)
    volts = port_impedances(built) @ np.ones(2)
    return directivity_dbi(built, volts @ feed_currents(built))


def resonance(built: Structure) -> tuple[float, float]:
    """Resonant frequency over that of a half wave, and the resistance there."""
    f = np.linspace(0.90, 0.98, 33)
    feed = built.port_segments[0]
    z = 1 / unit_source_currents(built, ONE_METRE * f, None)[:, 0, feed]
    at = float(np.interp(0.0, z.imag, f))
    return at, float(np.interp(at, f, z.real))


@cache
def folded_resistance(spacing: float, radius: float) -> float:
    # Segments as long as the wires are apart, so that a segment faces a segment.
    n = 2 * round(0.25 / spacing) + 1
    ends = [((0.0, 0.0, z), (spacing, 0.0, z)) for z in (-0.25, 0.25)]
    wires = (
        *(Wire((x, 0.0, -0.25), (x, 0.0, 0.25), n, radius, "x") for x in (0.0, spacing)),
        *(Wire(a, b, 1, radius, "x") for a, b in ends),
    )
    return resonance(Structure("folded", wires, (Port("feed", 0, n // 2),)))[1]


def step_up(row: Published) -> float:
    """Resonant R of the folded dipole over that of one wire as thick as the pair acts."""
    spacing, radius = row.number("spacing"), row.number("radius")
    single = upright(0.5, float(np.sqrt(spacing * radius)), 2 * round(0.25 / spacing) + 1)
    return folded_resistance(spacing, radius) / resonance(single)[1]


QUANTITIES = {
    "mutual_resistance": Quantity(
        "two half-waves side by side, {spacing} wavelengths apart: mutual R",
        lambda row: mutual_impedance(row.number("spacing"), 0.0).real,
    ),
    "mutual_reactance": Quantity(
        "two half-waves side by side, {spacing} wavelengths apart: mutual X",
        lambda row: mutual_impedance(row.number("spacing"), 0.0).imag,
    ),
    "collinear_resistance": Quantity(
        "two half-waves end to end, middles {spacing} wavelengths apart: mutual R",
        lambda row: mutual_impedance(0.0, row.number("spacing")).real,
    ),
    "collinear_reactance": Quantity(
        "two half-waves end to end, middles {spacing} wavelengths apart: mutual X",
        lambda row: mutual_impedance(0.0, row.number("spacing")).imag,
    ),
    "collinear_directivity": Quantity(
        "two half-waves end to end, middles {spacing} wavelengths apart: directivity",
        lambda row: collinear_directivity(row.number("spacing")),
    ),
    "step_up": Quantity(
        "folded dipole, wires {spacing} wavelengths apart: R over that of a single one", step_up
    ),
    "folded_resistance": Quantity(
        "folded dipole, wires {spacing} wavelengths apart: R at resonance",
        lambda row: folded_resistance(row.number("spacing"), row.number("radius")),
    ),
}


@pytest.mark.parametrize("row", published("coupled_wires"))
def test_coupled_wires_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)
