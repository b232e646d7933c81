"""Fields near wires against closed forms, the solver's own near-field cards and conservation."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from models.quantities import ETA_NEC, SPEED_OF_LIGHT_NEC
from models.site.soil import Soil
from models.wires.structure import Port, Structure, Wire
from pipeline.solver.far_field import Directions, directive_power, far_field, radiated_power
from pipeline.solver.near_field import near_field, node_charges, power_density
from pipeline.solver.nec2 import engine_context, excite, set_loads, unit_source_currents

F = 145e6
K = 2 * np.pi * F / SPEED_OF_LIGHT_NEC
WAVELENGTH = SPEED_OF_LIGHT_NEC / F
AVERAGE = Soil(13.0, 0.005)


def upright(length: float, n: int, height: float = 0.0, radius: float = 1e-5) -> Structure:
    half = 0.5 * length
    wire = Wire((0, 0, height - half), (0, 0, height + half), n, radius, "x")
    return Structure("upright", (wire,), (Port("feed", 0, n // 2),))


@cache
def l_shaped() -> Structure:
    """An upright dipole with a wire that leaves sideways from its middle, like a shield."""
    wires = (
        Wire((0, 0, 3.0), (0, 0, 3.5), 11, 0.004, "antenna"),
        Wire((0, 0, 3.5), (0, 0, 4.0), 11, 0.004, "antenna"),
        Wire((0, 0, 3.5), (1.2, 0, 3.5), 25, 0.004, "shield"),
    )
    return Structure("L", wires, (Port("feed", 0, 5),))


@cache
def driven(over_ground: bool) -> NDArray[np.complex128]:
    soil = AVERAGE if over_ground else None
    return unit_source_currents(l_shaped(), np.array([F]), soil, lossless=True)[0]


def solver_near_field(
    structure: Structure, soil: Soil | None, points: NDArray[np.float64]
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Peak fields [V/m, A/m] of one volt at the first port by NEC-2's own NE and NH cards."""
    found = np.empty((2, len(points), 3), complex)
    context = engine_context(structure, soil)
    set_loads(context, structure, True, ())
    context.fr_card(0, 1, F / 1e6, 0.0)
    for i, point in enumerate(points):
        for which, card in enumerate((context.ne_card, context.nh_card)):
            # Without a source of its own a second card would not run.
            excite(context, structure, structure.port_groups[0])
            card(0, 1, 1, 1, *(float(x) for x in point), 1.0, 1.0, 1.0)
            field = context.get_near_field_pattern(2 * i + which)
            parts = field.get_field_x(), field.get_field_y(), field.get_field_z()
            found[which, i] = [part[0] for part in parts]
    return found[0], found[1]


def around(distance: float) -> NDArray[np.float64]:
    """Points at a distance from the segments of the L, none nearer to any of them."""
    centre = l_shaped().segments.centre
    way = np.random.default_rng(3).normal(size=(len(centre), 3))
    points = centre + distance * way / np.linalg.norm(way, axis=1)[:, None]
    gap = np.linalg.norm(points[:, None] - centre, axis=2).min(axis=1)
    return points[gap > 0.95 * distance]


def size(field: NDArray[np.complex128]) -> NDArray[np.float64]:
    return np.linalg.norm(field, axis=-1)


@pytest.mark.parametrize("kr", [0.3, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("theta_deg", [20.0, 90.0])
def test_a_short_current_has_the_fields_of_the_infinitesimal_dipole(
    kr: float, theta_deg: float
) -> None:
    # Balanis, "Antenna Theory", 3rd ed., 2005, eqs. 4-8 and 4-10 (from memory); a current that
    # falls to nothing at both ends has half the moment of an even one (section 4-3).
    length, theta, r = 0.036 * kr**0.5 / K, np.radians(theta_deg), kr / K
    element = upright(length, 61).segments
    current = (1 - 2 * abs(element.centre[:, 2]) / length)[None].astype(complex)
    point = r * np.array([[np.sin(theta), 0, np.cos(theta)]])
    e, h = near_field(element, current, F, None, point, length)
    turn = np.exp(-1j * kr) * (length / 2) / r
    e_r = ETA_NEC * np.cos(theta) / (2 * np.pi * r) * (1 + 1 / (1j * kr)) * turn
    e_theta = (
        1j * K * ETA_NEC * np.sin(theta) / (4 * np.pi) * (1 + 1 / (1j * kr) - 1 / kr**2) * turn
    )
    h_phi = 1j * K * np.sin(theta) / (4 * np.pi) * (1 + 1 / (1j * kr)) * turn
    ours_r = e[0, 0] @ [np.sin(theta), 0, np.cos(theta)]
    ours_theta = e[0, 0] @ [np.cos(theta), 0, -np.sin(theta)]
    total = np.hypot(abs(e_r), abs(e_theta))
    assert abs(ours_r - e_r) < 5e-3 * total
    assert abs(ours_theta - e_theta) < 5e-3 * total
    assert abs(h[0, 0, 1] - h_phi) < 5e-3 * abs(h_phi)


@pytest.mark.parametrize("across", [0.1, 0.3, 1.0, 5.0])
@pytest.mark.parametrize("height", [0.0, 0.25, 0.7])
def test_a_half_wave_of_sinusoidal_current_has_its_closed_form(
    across: float, height: float
) -> None:
    # Three spherical waves from ends and middle; Jordan and Balmain, 2nd ed., 1968, section 10-9
    # (from memory). For a half wave the middle one has no amplitude.
    n = 100
    built = upright(WAVELENGTH / 2, n)
    current = np.cos(K * built.segments.centre[:, 2])[None].astype(complex)
    rho, z = across * WAVELENGTH, height * WAVELENGTH
    e, h = near_field(built.segments, current, F, None, np.array([[rho, 0, z]]), 0.01)
    up, down = np.hypot(rho, z - WAVELENGTH / 4), np.hypot(rho, z + WAVELENGTH / 4)
    waves = np.exp(-1j * K * up), np.exp(-1j * K * down)
    scale = 1j * ETA_NEC / (4 * np.pi)
    e_z = -scale * (waves[0] / up + waves[1] / down)
    e_rho = (
        scale
        / rho
        * ((z - WAVELENGTH / 4) * waves[0] / up + (z + WAVELENGTH / 4) * waves[1] / down)
    )
    h_phi = 1j / (4 * np.pi * rho) * (waves[0] + waves[1])
    total = np.hypot(abs(e_z), abs(e_rho))
    assert abs(e[0, 0, 2] - e_z) < 0.01 * total
    assert abs(e[0, 0, 0] - e_rho) < 0.01 * total
    assert abs(h[0, 0, 1] - h_phi) < 0.01 * max(abs(h_phi), total / ETA_NEC)


@pytest.mark.parametrize("distance", [0.1, 0.2, 0.5, 2.0])
def test_fields_in_free_space_are_those_of_the_solver(distance: float) -> None:
    points = around(distance)
    ours = near_field(l_shaped().segments, driven(False), F, None, points, 0.5 * distance)
    theirs = solver_near_field(l_shaped(), None, points)
    for field, reference in zip(ours, theirs, strict=True):
        assert (abs(size(field[0]) / size(reference) - 1) < 0.02).all()


def test_fields_above_soil_are_those_of_the_solver_where_people_are_not_lying_on_it() -> None:
    # The solver's electric field is Sommerfeld's, its magnetic field that of reflection
    # coefficients. Ours is of reflection coefficients for both: a tenth off near the soil.
    across, height = np.meshgrid([0.5, 1.5, 3.0], [0.1, 1.0, 2.0, 4.5])
    points = np.stack([across.ravel(), np.full(12, 0.7), height.ravel()], axis=1)
    ours = near_field(l_shaped().segments, driven(True), F, AVERAGE, points, 0.05)
    theirs = solver_near_field(l_shaped(), AVERAGE, points)
    apart = [abs(size(a[0]) / size(b) - 1) for a, b in zip(ours, theirs, strict=True)]
    assert apart[0].max() < 0.12
    assert apart[0][points[:, 2] >= 1.0].max() < 0.05
    assert apart[1].max() < 0.01


def test_over_metal_the_field_along_the_ground_vanishes() -> None:
    metal = Soil(1.0, 1e9)
    points = np.array([[x, 0.4, 0.0] for x in (0.5, 1.0, 2.0)])
    e, h = near_field(l_shaped().segments, driven(False), F, metal, points, 0.05)
    assert (abs(e[..., :2]).max(axis=2) < 1e-3 * abs(e[..., 2])).all()
    assert (abs(h[..., 2]) < 1e-3 * size(h)).all()


def test_far_away_the_field_follows_from_power_and_gain() -> None:
    # E = sqrt(30 P G) / d of root-mean-square values; common practice, no source.
    built, distance = l_shaped(), 400.0
    sphere = Directions(np.radians(np.arange(0, 181, 4.0)), np.radians(np.arange(0, 360, 5.0)))
    power = radiated_power(far_field(built.segments, driven(False), F, None, sphere), sphere)[0]
    cut = Directions(np.radians([70.0]), np.radians([35.0]))
    field = far_field(built.segments, driven(False), F, None, cut)
    gain = 4 * np.pi * directive_power(field)[0, 0, 0] / power
    st, ct, sp, cp = (g(np.radians(a)) for a in (70.0, 35.0) for g in (np.sin, np.cos))
    point = distance * np.array([[st * cp, st * sp, ct]])
    e, h = near_field(built.segments, driven(False), F, None, point, 0.05)
    expected = np.sqrt(30 * power * gain) / distance
    assert size(e[0, 0]) / np.sqrt(2) == pytest.approx(expected, rel=0.01)
    assert size(e[0, 0]) / size(h[0, 0]) == pytest.approx(ETA_NEC, rel=1e-3)


def test_charge_is_conserved() -> None:
    charge = node_charges(l_shaped().segments, driven(False), F)
    assert abs(charge.sum()) < 1e-9 * abs(charge).sum()


def test_power_through_a_closed_surface_is_what_the_source_gives() -> None:
    # Poynting's theorem over a sphere that is well within the near field.
    theta, phi = np.radians(np.arange(2.5, 180, 5.0)), np.radians(np.arange(0, 360, 10.0))
    t, p = (g.ravel() for g in np.meshgrid(theta, phi, indexing="ij"))
    normal = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=1)
    radius, middle = 1.6, np.array([0.4, 0.0, 3.5])
    e, h = near_field(l_shaped().segments, driven(False), F, None, middle + radius * normal, 0.05)
    flux = 0.5 * np.real(np.cross(e[0], h[0].conj()))
    through = ((flux * normal).sum(axis=1) * np.sin(t)).sum() * np.radians(5.0) * np.radians(10.0)
    given = 0.5 * float(driven(False)[0, 5].real)
    assert through * radius**2 == pytest.approx(given, rel=0.02)


def test_cutting_segments_finer_changes_nothing_where_pieces_are_short_already() -> None:
    points = around(0.3)
    coarse, fine = (
        power_density(*near_field(l_shaped().segments, driven(True), F, AVERAGE, points, longest))
        for longest in (0.05, 0.0125)
    )
    assert (abs(coarse / fine - 1) < 0.01).all()


def test_power_density_takes_the_larger_of_the_two_fields() -> None:
    e, h = np.array([[3.0, 4.0j, 0]]), np.array([[0, 0, 0.01 + 0j]])
    assert power_density(e, 0 * h)[0] == pytest.approx(25 / 2 / ETA_NEC)
    assert power_density(0 * e, h)[0] == pytest.approx(1e-4 / 2 * ETA_NEC)
    assert power_density(e, h)[0] == max(power_density(e, 0 * h)[0], power_density(0 * e, h)[0])


def test_a_point_in_the_ground_is_refused() -> None:
    with pytest.raises(ValueError, match="below the ground"):
        near_field(
            l_shaped().segments, driven(True), F, AVERAGE, np.array([[0.0, 0.0, -0.1]]), 0.05
        )
