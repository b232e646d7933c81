"""Average power, distances to limits, and the survey of an installation that transmits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from models.exposure_limits import exposure_limits, limits_at
from models.structure import Port, Structure, Wire
from pipeline.exposure import (
    GROUND_REFLECTION,
    average_power,
    crossing,
    far_field_density,
    far_field_distance,
    rings_round,
    segments_of,
    survey_points,
)
from pipeline.exposure_output import exposure_data, exposure_rows, view_rows
from pipeline.exposure_survey import (
    CaseExposure,
    Radiators,
    SideView,
    driven_currents,
    exposures,
    radiators,
    survey,
)
from pipeline.far_field import Directions, far_field, radiated_power
from pipeline.plan import CABLE
from pipeline.solver import SPEED_OF_LIGHT_NEC, unit_source_currents
from pipeline.study_types import Study
from tests import small_study

F = 145.3e6
PUBLIC, WORKERS = "fcc-public-vhf", "fcc-occupational-vhf"


def surveyed(study: Study, *names: str) -> tuple[tuple[CaseExposure, ...], tuple[SideView, ...]]:
    found = {name: small_study.case(name) for name in names}
    return survey(study, small_study.solved(), found, names)


def antenna_of(exposure: CaseExposure, limit: str) -> float:
    return next(d.antenna for d in exposure.distances if d.limit.id == limit)


def cable_of(exposure: CaseExposure, limit: str) -> float:
    return next(d.cable for d in exposure.distances if d.limit.id == limit)


def dipole(power: float) -> Radiators:
    """A half wave in free space, thirty segments, with a scrap of cable far below it."""
    half = 0.235 * SPEED_OF_LIGHT_NEC / F
    wires = (
        Wire((0, 0, 50 - half), (0, 0, 50 + half), 31, 1e-3, "antenna"),
        Wire((0, 0, 0), (0.1, 0, 0), 1, 1e-3, "shield"),
    )
    built = Structure("dipole", wires, (Port("feed", 0, 15),), ((31, 0.05),))
    current = unit_source_currents(built, np.array([F]), None, lossless=True)[0, 0]
    taken = 0.5 * float(current[15].real)
    return Radiators(("it",), built, current[None] * (power / taken) ** 0.5, (power,), F, None)


def test_average_power_is_power_times_mode_times_share() -> None:
    # OET Bulletin 65, Supplement B, by a club's bulletin: 1000 W, 20 %, three of six minutes.
    assert average_power(1000.0, 0.0, 0.2, 0.5) == pytest.approx(100.0)
    assert average_power(100.0, 3.0103, 1.0, 1.0) == pytest.approx(50.0, rel=1e-5)


def test_a_far_field_estimate_and_its_distance_are_inverse() -> None:
    for reflection in (1.0, GROUND_REFLECTION):
        d = far_field_distance(80.0, 2.0, reflection)
        assert far_field_density(80.0, d, reflection) == pytest.approx(2.0)


def test_a_limit_is_crossed_where_the_density_last_passes_it() -> None:
    r = np.array([1.0, 2.0, 4.0, 8.0])
    assert crossing(r, 16 / r**2, 0.5) == pytest.approx(32**0.5)
    assert crossing(r, np.array([9.0, 1.0, 9.0, 1.0]), 3.0) == pytest.approx(4 * 2**0.5)
    assert crossing(r, 16 / r**2, 20.0) == 0.0
    assert crossing(r, 16 / r**2, 0.1) == 8.0


def test_rings_lie_at_their_distance_from_the_middle_of_a_segment_and_across_it() -> None:
    seg = Structure("r", (Wire((0, 0, 1), (0.3, 0, 1.4), 2, 1e-3, "shield"),), ()).segments
    place, distance = rings_round(seg, np.array([0, 1]), np.array([0.1, 0.5]))
    owner = np.tile(np.repeat([0, 1], len(place) // 4), 2)
    offset = place - seg.centre[owner]
    assert np.linalg.norm(offset, axis=1) == pytest.approx(distance)
    assert offset @ seg.direction[0] == pytest.approx(np.zeros(len(offset)), abs=1e-12)


def test_a_half_wave_has_164_times_the_power_of_an_isotropic_radiator() -> None:
    # 2.15 dBi; Balanis, 3rd ed., 2005, eq. 4-91 (from memory): 1.643.
    assert dipole(10.0).eirp()[0] == pytest.approx(16.43, rel=0.01)


def test_far_from_a_dipole_the_distance_is_that_of_the_far_field() -> None:
    # With 1500 W the strictest limit lies at ten metres, five wavelengths off.
    found = exposures(dipole(1500.0), limits_at(F), 2.5, 0.2)[0]
    for d in found.distances:
        if d.limit.density.at(F) == 2.0:
            assert d.antenna == pytest.approx(d.far_field, rel=0.02)
            assert d.far_field_ground == pytest.approx(1.6 * d.far_field)


def test_currents_of_a_case_take_the_power_they_are_scaled_to() -> None:
    # Radiated and lost power together; Poynting's theorem over the far sphere.
    chosen = small_study.case("none")
    solved = small_study.solved()[CABLE]
    current = driven_currents(solved, small_study.study(), chosen.case, 7.0)
    sphere = Directions(np.radians(np.arange(0, 181, 3.0)), np.radians(np.arange(0, 360, 5.0)))
    field = far_field(solved.structure.segments, current[None], F, None, sphere)
    share = chosen.balance.radiated
    assert radiated_power(field, sphere)[0] == pytest.approx(7.0 * share, rel=0.02)


def test_distances_grow_with_the_power_and_the_strictest_limit_reaches_farthest() -> None:
    low, high = (
        exposures(dipole(power), limits_at(F), 2.5, 0.2)[0].distances for power in (10.0, 40.0)
    )
    assert all(a.antenna < b.antenna for a, b in zip(low, high, strict=True))
    assert max(high, key=lambda d: d.antenna).limit.density.at(F) == 2.0


def test_doubling_the_grid_moves_a_distance_by_little() -> None:
    r = dipole(40.0)
    found = exposures(r, limits_at(F), 2.5, 0.2)[0]
    public = next(d for d in found.distances if d.limit.id == PUBLIC)
    radius = np.linspace(0.9, 1.1, 41) * public.antenna
    heights = np.linspace(49.0, 51.0, 81)
    z, x = (g.ravel() for g in np.meshgrid(heights, radius, indexing="ij"))
    density = r.density(np.stack([x, 0 * x, z], axis=1))[0].reshape(81, 41).max(axis=0)
    assert public.antenna == pytest.approx(crossing(radius, density, 2.0), rel=0.02)


def test_a_choke_lowers_the_field_beside_the_cable() -> None:
    loud = replace(small_study.study(), power=100.0)
    (bare, choked), _ = surveyed(loud, "none", "core-x4")
    assert choked.station < 0.5 * bare.station
    assert cable_of(choked, PUBLIC) < cable_of(bare, PUBLIC)
    assert antenna_of(choked, PUBLIC) == pytest.approx(antenna_of(bare, PUBLIC), rel=0.3)


def test_fields_beside_the_cable_follow_its_current() -> None:
    # Ampere's law for a long wire, H = I / (2 pi r); common practice, no source. Within a factor,
    # since the wire is short and the antenna near.
    study = small_study.study()
    r = radiators(small_study.solved()[CABLE], study, [small_study.case("none")])
    (found,), _ = surveyed(study, "none")
    ends = [k for k, position in r.structure.shield_path if position > 1.0]
    largest = abs(r.current[0, ends]).max()
    expected = 376.7 * (largest / (2 * np.pi * 0.2)) ** 2 / 2
    assert 0.5 * expected < found.station < 20 * expected


def test_duty_and_share_lower_the_power_and_nothing_else() -> None:
    study = small_study.study()
    spare = replace(study, exposure=replace(study.exposure, mode_duty=0.5, transmit_share=0.5))
    (full,), _ = surveyed(study, "none")
    (quarter,), _ = surveyed(spare, "none")
    assert quarter.power == pytest.approx(full.power / 4)
    assert quarter.eirp == pytest.approx(full.eirp / 4)
    assert quarter.station == pytest.approx(full.station / 4, rel=1e-4)


def test_every_point_of_the_side_view_above_a_limit_lies_in_one_of_its_zones() -> None:
    loud = replace(small_study.study(), power=100.0)
    (found,), (view,) = surveyed(loud, "none")
    structure = small_study.solved()[CABLE].structure
    z, x = (g.ravel() for g in np.meshgrid(view.height, view.across, indexing="ij"))
    place = np.stack([x, 0 * x, z], axis=1)
    if view.axis == 1:
        place = place[:, [1, 0, 2]]
    cable = structure.segments.centre[segments_of(structure, ("shield", "station lead"))]
    to_cable = np.linalg.norm(place[:, None] - cable, axis=2).min(axis=1)
    for d in found.distances:
        above = view.density.ravel() > d.limit.density.at(loud.frequency)
        zone = (abs(x) <= 1.05 * d.antenna + 0.02) & (z >= d.lowest) & (z <= d.highest)
        zone |= to_cable <= 1.2 * d.cable + 0.06
        assert (zone | ~above).all()


def test_a_point_of_a_ring_lies_no_nearer_to_another_stretch_of_the_cable() -> None:
    # The cable turns a corner: a ring of its upright part would run through its level part.
    structure = small_study.solved()[CABLE].structure
    points = survey_points(structure, F, 2.0, False)
    ring = ~np.isnan(points.ring)
    assert (points.to_cable[ring] >= 0.9 * points.ring[ring]).all()
    assert set(np.round(points.ring[ring], 3)) >= {0.05, 2.0}


def test_tables_and_summary_say_the_same() -> None:
    study = small_study.study()
    found, views = surveyed(study, "none", "core-x4")
    rows, data = exposure_rows(found, F), exposure_data(study, found)
    assert len(rows) == 2 * len(data["limits"])
    flat = [d for case in data["cases"] for d in case["distances"]]
    assert [r["antenna_m"] for r in rows] == [d["antenna_m"] for d in flat]
    assert {r["case"] for r in view_rows(views)} == {"none", "core-x4"}
    assert data["cases"][0]["walk_w_per_m2"] is None


@pytest.mark.parametrize("f", [30e6, 50e6, 145e6, 300e6, 301e6, 400e6, 433e6, 500e6])
def test_each_rule_has_one_limit_for_each_group_and_part_at_every_frequency(f: float) -> None:
    kinds = [(limit.rules, limit.group, limit.part) for limit in limits_at(f)]
    assert len(kinds) == len(set(kinds)) == 6


def test_every_limit_says_where_it_was_read() -> None:
    assert all(limit.source and limit.confidence and limit.note for limit in exposure_limits())
