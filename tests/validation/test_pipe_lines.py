"""Two pipes side by side as a transmission line, drawn as the project draws the legs of a stub.

The impedance comes from how the reactance of a shorted stub grows with its length, so that what
the bridges and open ends add drops out. The legs go on beyond both bridges, as those of an
antenna do, and the bridges are cut as finely as the legs are beside them.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from models.quantities import ETA_NEC, SPEED_OF_LIGHT_NEC
from models.wires.pipe_cage import (
    Cage,
    cage_ring_radius,
    choose_wire_count,
    node_point,
    ring,
    sweep,
)
from models.wires.pipe_cage import ring_nodes as nodes_along
from models.wires.segmentation import SegmentRule
from models.wires.structure import PERFECT, Port, Structure, Wire
from pipeline.circuit.line import input_impedance
from pipeline.solver.nec2 import unit_source_currents
from tests.validation.published_rows import Published, Quantity, published

TITLE = "Two pipes as a line"
# Low enough that nothing radiates and a stub of twelve spacings is short against a wave.
FREQUENCY = 2e6


def stub(spacing: float, diameters: tuple[float, float], length: float, wire: float) -> Structure:
    """Two cages with a bridge at z = 0 and the feed's bridge at z = length."""
    thick = max(diameters)
    fine = max(0.55 * thick, 2.5 * wire)
    rule = SegmentRule(fine, max(fine, 0.5 * spacing))
    wires: list[Wire] = []
    faces = []
    for x, diameter, side in ((0.0, diameters[0], -1.0), (spacing, diameters[1], 1.0)):
        n = choose_wire_count(diameter / 2, wire)
        cage = Cage(n, cage_ring_radius(diameter / 2, wire, n), wire, "leg", PERFECT)
        beyond = 2.5 * thick
        path = np.array([(x, 0.0, z) for z in (length + beyond, length, 0.0, -beyond)])
        nodes = nodes_along(path, np.array([0.0, side, 0.0]), cage)
        for station in range(3):
            wires += sweep(nodes[station : station + 2], np.full(2, fine), rule, cage)
        for station in range(4):
            wires += ring(nodes[station], cage)
        faces.append([node_point(nodes, station, 0) for station in (2, 1)])
    gap = faces[1][0][0] - faces[0][0][0]
    odd = max(1, 2 * round((gap / fine - 1) / 2) + 1)
    wires += [Wire(a, b, odd, wire, "bridge") for a, b in zip(*faces, strict=True)]
    return Structure("stub", tuple(wires), (Port("feed", len(wires) - 1, odd // 2),))


@cache
def impedance_of_line(spacing: float, diameters: tuple[float, float], wire: float) -> float:
    """Characteristic impedance [ohm] of two pipes; lengths in m."""
    tangents, reactances = [], []
    for length in (6 * spacing, 12 * spacing):
        built = stub(spacing, diameters, length, wire)
        feed = built.port_segment(built.ports[0])
        current = unit_source_currents(built, np.array([FREQUENCY]), None, sources=(feed,))
        reactances.append((1 / current[0, 0, feed]).imag)
        tangents.append(np.tan(2 * np.pi * FREQUENCY / SPEED_OF_LIGHT_NEC * length))
    return float(np.diff(reactances)[0] / np.diff(tangents)[0])


def equal_pipes(row: Published) -> float:
    d = 0.022
    return impedance_of_line(row.number("ratio") * d, (d, d), 0.004)


def unequal_pipes(row: Published) -> float:
    one, two, spacing = (1e-3 * row.number(k) for k in ("one_mm", "two_mm", "spacing_mm"))
    return impedance_of_line(spacing, (one, two), 0.003)


def shorted(row: Published) -> float:
    """Input reactance by the line room, of a stub of given Z0 and electrical length."""
    turn = 1j * np.radians(row.number("degrees"))
    return complex(input_impedance(0.0, row.number("z0"), turn, 1.0)).imag


QUANTITIES = {
    "equal_pipes": Quantity(
        "two 22 mm pipes, centres {ratio} diameters apart: impedance of the line", equal_pipes
    ),
    "unequal_pipes": Quantity(
        "pipes of {one_mm} and {two_mm} mm, centres {spacing_mm} mm apart: impedance of the line",
        unequal_pipes,
    ),
    "shorted_stub": Quantity("shorted stub of {degrees} degrees, {z0} ohm: X", shorted),
}


# Published


@pytest.mark.parametrize("row", published("pipe_lines"))
def test_pipes_side_by_side_agree_with_what_is_printed(row: Published) -> None:
    row.check(QUANTITIES)


# Laws


@pytest.mark.parametrize("ratio", [2.0, 2.5])
def test_the_cage_sees_the_crowding_of_current_that_filaments_do_not(ratio: float) -> None:
    # Two filaments on the axes: (eta / pi) ln(2 D / d), 5.3 % and 2.8 % above the pipes.
    filaments = ETA_NEC / np.pi * np.log(2 * ratio)
    assert impedance_of_line(ratio * 0.022, (0.022, 0.022), 0.004) < 0.97 * filaments
