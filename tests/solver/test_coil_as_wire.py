"""A coil of coax drawn as the helix it is: what it is at low frequency, and what at 145 MHz."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
import pytest

from models.antennas.generator import Joint
from models.site.feedline_route import Helix, Step, lay_route
from models.wires.structure import Port, Structure, Wire, grid_point
from pipeline.circuit.coil import coil_self_resonance, helix_inductance
from pipeline.report.page import bounds
from pipeline.solver.nec2 import unit_source_currents

# The usual choke of a rule of thumb: nine turns, 0.3 m across. Common practice, no source.
TURNS, DIAMETER, PITCH = 9, 0.30, 0.012
RADIUS = 0.004065


@cache
def loop() -> Structure:
    """The coil with its ends joined by a wide loop of wire, fed in the middle of that."""
    joint = Joint((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), 0.0)
    helix = Helix(0.1, TURNS, DIAMETER, PITCH)
    route = lay_route(joint, (Step("down", 0.6),), helix)
    turns = [n.point for n in route.nodes if n.mark == "coil"]
    top, bottom = np.array(turns[0]), np.array(turns[-1])
    aside = np.array([-0.25, 0.0, 0.0])
    corners = [grid_point(p) for p in (bottom, bottom + aside, top + aside, top)]
    wires = [Wire(a, b, 1, RADIUS, "coil") for a, b in itertools.pairwise(turns)]
    wires += [
        Wire(a, b, n, RADIUS, "return")
        for a, b, n in zip(corners[:-1], corners[1:], (5, 3, 5), strict=True)
    ]
    return Structure("coil", tuple(wires), (Port("feed", len(wires) - 2, 1),))


def z(frequency: np.ndarray) -> np.ndarray:
    built = loop()
    return 1 / unit_source_currents(built, frequency, None, True)[:, 0, built.port_segments[0]]


# Published


def test_the_wire_model_has_the_inductance_of_the_handbook_at_low_frequency():
    # Wheeler (1928): r^2 n^2 / (9 r + 10 l) microhenry in inches, a few per cent low for so short
    # a coil; the loop that closes the circuit and the round wire account for the rest of 12 %.
    omega = 2 * np.pi * 0.5e6
    inductance = z(np.array([0.5e6]))[0].imag / omega
    r, length = 0.5 * DIAMETER / 0.0254, TURNS * PITCH / 0.0254
    wheeler = 1e-6 * r**2 * TURNS**2 / (9 * r + 10 * length)
    assert inductance == pytest.approx(wheeler, rel=bounds()["coil_inductance"].value)
    assert inductance == pytest.approx(helix_inductance(TURNS, DIAMETER, PITCH), rel=0.12)


def test_the_coil_resonates_with_itself_an_order_of_magnitude_below_the_two_metre_band():
    # Medhurst (1947) takes a coil with one end earthed and gives about 7 MHz; the free coil has
    # no earth to hold its charge, and turns that are short of half a wave resonate higher.
    f = np.linspace(5e6, 15e6, 201)
    x = z(f).imag
    crossings = f[1:][(x[:-1] > 0) & (x[1:] < 0)]
    formula = coil_self_resonance(TURNS, DIAMETER, PITCH)
    assert 6e6 < formula < 8e6
    assert len(crossings) >= 1
    assert 7e6 < crossings[0] < 12.5e6
    assert crossings[0] > formula


# Laws


def test_at_145_megahertz_the_coil_is_no_inductor():
    # An inductance of 29 microhenry would be 26 kiloohm there and grow with frequency. The real
    # coil is four wavelengths of wire: far below that, and falling or rising as lines do.
    f = np.array([140e6, 145e6, 150e6])
    found = z(f)
    reactance = 2 * np.pi * 145e6 * helix_inductance(TURNS, DIAMETER, PITCH)
    assert np.abs(found).max() < bounds()["coil_share"].value * reactance
