"""Fields summed from segment currents, against published values and the solver's own pattern."""

from __future__ import annotations

import numpy as np
import pytest

from models.quantities import ETA_NEC
from models.site.feedline_route import Helix, Step
from models.site.shield import Zone
from models.site.soil import Soil
from models.wires.loads import SeriesLoad
from models.wires.structure import Port, Structure, Wire
from pipeline.report.page import bounds
from pipeline.solver.far_field import (
    Directions,
    directive_power,
    far_field,
    fresnel,
    radiated_power,
)
from pipeline.solver.nec2 import solver_pattern, unit_source_currents
from tests.harness.antenna_with_cable import AVERAGE, Plan, build

FREQUENCY = 145e6
WAVELENGTH = 299_792_458.0 / FREQUENCY
ROUTE = (Step("out", 0.15), Step("down_to", 0.5), Step("bond", 0.0), Step("out", 3.0))
CABLE = Plan(
    joins="short leg", steps=ROUTE, lead=0.6, zones=(Zone(0.05, 0.12),), height=4.0, grounded=True
)


def sphere(step: float = 2.0) -> Directions:
    return Directions(np.radians(np.arange(0, 180.1, step)), np.radians(np.arange(0, 360, 10.0)))


def straight(length: float, n: int = 41, radius: float = 1e-5) -> Structure:
    wire = Wire((0.0, 0.0, -length / 2), (0.0, 0.0, length / 2), n, radius, "antenna")
    return Structure("dipole", (wire,), (Port("feed", 0, n // 2),))


def directivity_dbi(built: Structure, currents: np.ndarray) -> float:
    grid = sphere(1.0)
    field = far_field(built.segments, currents, FREQUENCY, None, grid)[0]
    density = directive_power(field)
    return float(10 * np.log10(4 * np.pi * density.max() / radiated_power(field, grid)))


# Published


def test_a_short_current_element_has_a_directivity_of_one_point_five():
    # Balanis, Antenna Theory, ch. 4: 1.5, 1.76 dBi; the grid's trapezoid costs under 0.01 dB.
    built = straight(0.01 * WAVELENGTH, 3)
    assert directivity_dbi(built, np.ones((1, 3), complex)) == pytest.approx(1.76, abs=0.01)


def test_a_half_wave_of_sinusoidal_current_has_two_point_one_five_dbi():
    # Balanis, Antenna Theory, ch. 4: 1.643, 2.15 dBi printed to two decimals.
    built = straight(0.5 * WAVELENGTH)
    current = np.cos(2 * np.pi / WAVELENGTH * built.segments.centre[:, 2])[None] + 0j
    assert directivity_dbi(built, current) == pytest.approx(2.15, abs=0.01)


def test_radiation_resistance_of_a_short_element_is_eighty_pi_squared():
    # Balanis, Antenna Theory, eq. 4-19: 80 (pi l/lambda)^2; eta there is 120 pi (0.07 % higher).
    length = 0.01 * WAVELENGTH
    built = straight(length, 3)
    field = far_field(built.segments, np.ones((1, 3), complex), FREQUENCY, None, sphere(1.0))
    resistance = 2 * radiated_power(field, sphere(1.0))[0]
    assert resistance == pytest.approx(80 * (np.pi * length / WAVELENGTH) ** 2, rel=2e-3)


@pytest.mark.parametrize(
    ("grazing_deg", "vertical", "horizontal"),
    [(5.0, 0.5071, 0.9510), (30.0, 0.3004, 0.7502)],
)
def test_reflection_coefficients_of_average_ground(grazing_deg, vertical, horizontal):
    # Fresnel's equations as in Jordan and Balmain (1968), section 16.3, from memory; values
    # worked out by hand for eps_r 13, 5 mS/m, 145 MHz to four decimals.
    v, h = fresnel(np.radians([grazing_deg]), 13.0, 0.005, FREQUENCY)
    assert abs(v[0]) == pytest.approx(vertical, abs=1e-4)
    assert abs(h[0]) == pytest.approx(horizontal, abs=1e-4)


def test_the_pseudo_brewster_angle_is_where_the_vertical_coefficient_is_smallest():
    # atan(1/sqrt(eps_r)) for a lossless dielectric (Jordan and Balmain 1968, from memory).
    grazing = np.radians(np.arange(5, 40, 0.01))
    v, _ = fresnel(grazing, 13.0, 0.0, FREQUENCY)
    assert np.degrees(grazing[np.argmin(np.abs(v))]) == pytest.approx(15.50, abs=0.02)


# Laws


def compared(plan: Plan, loads: tuple[tuple[str, complex], ...] = ()) -> float:
    """Largest difference [dB] from the solver's own pattern within 20 dB of its peak."""
    built = build(plan)
    soil = AVERAGE if plan.grounded else None
    series = tuple(
        SeriesLoad(built.port_segment(built.ports[built.port_index(name)]), z) for name, z in loads
    )
    theirs = solver_pattern(built, FREQUENCY, soil, series)
    feed = (built.port_segment(built.ports[0]),)
    currents = unit_source_currents(built, np.array([FREQUENCY]), soil, loads=series, sources=feed)[
        0
    ]
    n_theta, n_phi = theirs.e_theta.shape
    grid = Directions(np.radians(5.0 * np.arange(n_theta)), np.radians(5.0 * np.arange(n_phi)))
    ours = directive_power(far_field(built.segments, currents, FREQUENCY, soil, grid)[0])
    reference = (np.abs(theirs.e_theta) ** 2 + np.abs(theirs.e_phi) ** 2) / (2 * ETA_NEC)
    near = reference > reference.max() / 100
    return float(np.abs(10 * np.log10(ours[near] / reference[near])).max())


@pytest.mark.parametrize("joins", ["short leg", "long leg"])
@pytest.mark.parametrize("choke", [0j, 1e5 + 0j, 200 + 300j, -200j], ids=str)
def test_fields_agree_with_the_pattern_of_the_solver_within_a_tenth_of_a_decibel(joins, choke):
    # Constant current along a segment of a twentieth of a wavelength against NEC-2's own basis.
    plan = Plan(**{**vars(CABLE), "joins": joins})
    place = next(p.name for p in build(plan).ports if p.name.startswith("shield"))
    assert compared(plan, ((place, choke),) if choke else ()) < bounds()["field_db"].value


def test_fields_of_the_demo_with_its_coil_as_wire_agree_as_well():
    # At the demo's own height; four metres up, where lobes are wider, it is 0.14 dB.
    helix = Helix(0.30, 9, 0.30, 0.012)
    plan = Plan(**{**vars(CABLE), "zones": (), "helix": helix, "height": 8.0})
    assert compared(plan) < 0.1


def test_fields_of_the_antenna_alone_in_free_space_agree_as_well():
    assert compared(Plan()) < 0.1


def test_perfect_ground_doubles_the_field_of_a_vertical_current_that_stands_on_it():
    # Image theory: four times the power density; at 30 degrees a sigma of 1e7 is metal.
    built = straight(0.1 * WAVELENGTH, 3)
    grid = Directions(np.radians([60.0]), np.radians([0.0]))
    current = np.ones((1, 3), complex)
    free = directive_power(far_field(built.segments, current, FREQUENCY, None, grid)[0])
    metal = directive_power(far_field(built.segments, current, FREQUENCY, Soil(1.0, 1e7), grid)[0])
    assert metal[0, 0] / free[0, 0] == pytest.approx(4, rel=1e-3)


# Refusals


def test_a_direction_into_the_ground_is_refused():
    built = straight(1.0)
    grid = Directions(np.radians([95.0]), np.radians([0.0]))
    with pytest.raises(ValueError, match="below the horizon"):
        far_field(built.segments, np.ones((1, 41), complex), FREQUENCY, AVERAGE, grid)
