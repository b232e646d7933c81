"""Average power, distances to limits, and the survey of an installation that transmits."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from models.catalogues.exposure_limits import exposure_limits, limits_at
from models.quantities import SPEED_OF_LIGHT_NEC
from models.wires.structure import Port, Structure, Wire
from pipeline.analysis.case_results import Solved, evaluate
from pipeline.analysis.exposure import (
    GROUND_REFLECTION,
    MARGIN,
    average_power,
    far_field_density,
    far_field_distance,
    reached,
    zones,
)
from pipeline.analysis.exposure_places import (
    FLOOR,
    NEAREST,
    NEAREST_OTHER,
    STEP,
    Places,
    conductors,
    distances_to,
    radii,
    survey_places,
)
from pipeline.analysis.exposure_survey import (
    CaseExposure,
    Radiators,
    SideView,
    exposures,
    radiators,
    side_views,
    survey,
)
from pipeline.analysis.exposure_tables import exposure_data, exposure_rows, view_rows
from pipeline.solver.cases import CABLE, GeometryPlan, cases
from pipeline.solver.far_field import Directions, far_field, radiated_power
from pipeline.solver.nec2 import unit_source_currents
from pipeline.solver.port_basis import solve_basis
from pipeline.solver.solve_cache import request
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness import small_study

F = 145.3e6
PUBLIC, WORKERS = "fcc-public-vhf", "fcc-occupational-vhf"


def surveyed(study: Study, *names: str) -> tuple[tuple[CaseExposure, ...], tuple[SideView, ...]]:
    found = {name: replace(small_study.case(name), study=study) for name in names}
    return survey(study, found, names)


def zone_of(exposure: CaseExposure, limit: str, conductor: str) -> float:
    found = next(d for d in exposure.distances if d.limit.id == limit)
    return next(z.distance for z in found.zones if z.conductor == conductor)


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


def test_beyond_the_last_point_above_a_level_the_field_falls_with_the_square() -> None:
    at = np.array([1.0, 1.2, 1.4])
    # Twice the level at the last point, with the margin: the square root of that farther on.
    found = reached(at, np.array([9.0, 1.0, 1.0]) / MARGIN, np.array([0.8, 8.5, 10.0]))
    assert found == pytest.approx([1.4 * 1.25**0.5, (9 / 8.5) ** 0.5, 0.0])


def test_no_level_reaches_past_the_next_shell() -> None:
    assert reached(np.ones(1), np.full(1, 1e6), np.ones(1)) == pytest.approx(STEP)


def test_a_half_wave_has_164_times_the_power_of_an_isotropic_radiator() -> None:
    # 2.15 dBi; Balanis, 3rd ed., 2005, eq. 4-91 (from memory): 1.643.
    assert dipole(10.0).eirp[0] == pytest.approx(16.43, rel=0.01)


def test_far_from_a_dipole_the_distance_is_that_of_the_far_field() -> None:
    # With 1500 W the strictest limit lies at ten metres, five wavelengths off.
    found = exposures(dipole(1500.0), limits_at(F), 2.5, 0.2)[0]
    for d in found.distances:
        if d.limit.density.at(F) == 2.0:
            # The margin of the sampling is on top, a seventh in distance.
            assert d.far_field < d.zones[0].distance < 1.02 * MARGIN**0.5 * d.far_field
            assert d.far_field_ground == pytest.approx(1.6 * d.far_field)


def test_currents_of_a_case_take_the_power_they_are_scaled_to() -> None:
    # Radiated and lost power together; Poynting's theorem over the far sphere.
    chosen = small_study.case("none")
    solved = small_study.solved()[CABLE]
    quiet = replace(chosen.study, power=7.0 * chosen.study.power / chosen.antenna_power)
    current = radiators([replace(chosen, study=quiet)]).current[0]
    sphere = Directions(np.radians(np.arange(0, 181, 3.0)), np.radians(np.arange(0, 360, 5.0)))
    field = far_field(solved.structure.segments, current[None], F, None, sphere)
    share = chosen.balance.radiated
    assert radiated_power(field, sphere)[0] == pytest.approx(7.0 * share, rel=0.02)


def test_the_distance_is_what_a_fine_grid_finds_and_the_margin() -> None:
    r = dipole(40.0)
    found = zone_of(exposures(r, limits_at(F), 2.5, 0.2)[0], PUBLIC, "antenna")
    radius = np.linspace(0.5, 1.1, 121) * found
    z, x = (g.ravel() for g in np.meshgrid(np.linspace(49.0, 51.0, 81), radius, indexing="ij"))
    density = r.density(np.stack([x, 0 * x, z], axis=1))[0].reshape(81, 121).max(axis=0)
    farthest = float(radius[density > 2.0].max())
    assert farthest < found < 1.25 * farthest


def test_a_choke_lowers_the_field_beside_the_cable() -> None:
    loud = replace(small_study.study(), power=100.0)
    (bare, choked), _ = surveyed(loud, "none", "core-x4")
    assert choked.station is not None
    assert bare.station is not None
    assert choked.station.density < 0.5 * bare.station.density
    assert zone_of(choked, PUBLIC, "cable") < zone_of(bare, PUBLIC, "cable")
    antenna = [zone_of(e, PUBLIC, "antenna") for e in (choked, bare)]
    assert antenna[0] == pytest.approx(antenna[1], rel=0.3)


def test_fields_beside_the_cable_follow_its_current() -> None:
    # Ampere's law for a long wire, H = I / (2 pi r); common practice, no source. Within a factor,
    # since the wire is short and the antenna near.
    study = small_study.study()
    r = radiators([small_study.case("none")])
    (found,), _ = surveyed(study, "none")
    ends = [k for k, position in r.structure.shield_path if position > 1.0]
    largest = abs(r.current[0, ends]).max()
    expected = 376.7 * (largest / (2 * np.pi * 0.2)) ** 2 / 2
    assert found.station is not None
    assert 0.5 * expected < found.station.density < 20 * expected


def test_duty_and_share_lower_the_power_and_nothing_else() -> None:
    study = small_study.study()
    spare = replace(study, exposure=replace(study.exposure, mode_duty=0.5, transmit_share=0.5))
    (full,), _ = surveyed(study, "none")
    (quarter,), _ = surveyed(spare, "none")
    assert quarter.power == pytest.approx(full.power / 4)
    assert quarter.eirp == pytest.approx(full.eirp / 4)
    assert full.station is not None
    assert quarter.station is not None
    assert quarter.station.density == pytest.approx(full.station.density / 4, rel=1e-4)
    assert quarter.station.place == full.station.place


@cache
def on_a_balcony() -> tuple[Study, Radiators]:
    """Above soil, bonded, beside a railing and a mast: every kind of conductor, no choke."""
    site = {
        "height": "3 m",
        "ground": "average",
        "metalwork": [
            {
                "name": "railing",
                "diameter": "42 mm",
                "points": ["-1 m, -0.3 m, 2.9 m", "1 m, -0.3 m, 2.9 m"],
            }
        ],
    }
    cable = {
        "type": "10.3 mm foam low-loss",
        "route": [{"out": "0.15 m"}, {"down_to": "0.4 m"}, {"bond": "here"}, {"out": "1.5 m"}],
    }
    with TemporaryDirectory() as folder:
        path = small_study.small_study_file(Path(folder), site=site, cable=cable, power="100 W")
        whole = yaml.safe_load(path.read_text(encoding="utf-8"))
        del whole["chokes"]
        path.write_text(yaml.safe_dump(whole), encoding="utf-8")
        study = load_study(path)
    wanted = request(study, GeometryPlan(CABLE, has_feedline=True))
    ends = tuple(p for p in wanted.structure.ports if not p.name.startswith("shield"))
    built = replace(wanted.structure, ports=ends)
    solved = Solved(built, solve_basis(built, np.array([study.frequency]), 0, wanted.soil))
    none = next(c for c in cases(study) if c.id == "none")
    return study, radiators([evaluate(solved, study, none)])


@cache
def in_free_space() -> tuple[Study, Radiators]:
    loud = replace(small_study.study(), power=100.0)
    return loud, radiators([replace(small_study.case("none"), study=loud)])


WHERE = {"balcony": on_a_balcony, "free space": in_free_space}


@cache
def surveyed_places(where: str) -> tuple[Places, NDArray[np.float64]]:
    """Places round one of the installations and the density there at 100 W."""
    study, r = WHERE[where]()
    height = study.exposure.reach if r.grounded else None
    places = survey_places(r.structure, r.f, 3.2, study.exposure.cable_distance, height)
    return places, r.density(places.place)[0]


def anywhere(r: Radiators, n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Random points round all conductors, near ones as often as far ones, and their distances."""
    rng = np.random.default_rng(11)
    members, seg = conductors(r.structure), r.structure.segments
    k = np.concatenate([rng.choice(m.chosen, n // len(members)) for m in members])
    way = rng.normal(size=(len(k), 3))
    way *= np.exp(rng.uniform(np.log(NEAREST_OTHER), np.log(3.0), (len(k), 1))) / np.linalg.norm(
        way, axis=1, keepdims=True
    )
    part = rng.random((len(k), 1))
    points = seg.start[k] * (1 - part) + seg.end[k] * part + way
    if r.grounded:
        points = points[points[:, 2] >= FLOOR]
    distance = distances_to(r.structure, members, points)
    asked = (distance[0] >= NEAREST) & (distance.min(axis=0) >= NEAREST_OTHER)
    return points[asked], distance[:, asked]


@pytest.mark.parametrize("where", WHERE)
def test_a_point_outside_all_distances_is_below_the_limit(where: str) -> None:
    _, r = WHERE[where]()
    points, distance = anywhere(r, 2000)
    density = r.density(points)[0]
    places, surveyed_density = surveyed_places(where)
    assert (density > 2.0).sum() > 50
    levels = np.geomspace(0.5, 500.0, 40)
    for level, found in zip(levels, zones(places, surveyed_density, levels), strict=True):
        reach = np.array([z.distance for z in found])
        outside = (distance > reach[:, None]).all(axis=0)
        assert (density[outside] <= level).all()


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sorted(WHERE)),
    st.floats(0.01, 1000.0),
    st.floats(1.0, 100.0),
)
def test_a_stricter_limit_or_more_power_never_shortens_a_distance(
    where: str, level: float, times: float
) -> None:
    places, density = surveyed_places(where)
    usual, stricter = zones(places, density, np.array([level, level / times]))
    (stronger,) = zones(places, times * density, np.array([level]))
    for more in (stricter, stronger):
        assert all(a.distance <= b.distance + 1e-9 for a, b in zip(usual, more, strict=True))


def test_distances_are_ordered_by_limit_power_and_duty_from_end_to_end() -> None:
    study, r = on_a_balcony()
    before: dict[tuple[str, str], float] = {}
    for duty in (0.01, 0.1, 0.11):
        less = replace(r, current=r.current * duty**0.5, power=(r.power[0] * duty,))
        (found,) = exposures(less, limits_at(r.f), study.exposure.reach, 0.2)
        now = {(d.limit.id, z.conductor): z.distance for d in found.distances for z in d.zones}
        assert all(now[key] >= value for key, value in before.items())
        before = now
        by_limit = sorted(found.distances, key=lambda d: -d.limit.density.at(r.f))
        for looser, stricter in pairwise(by_limit):
            for a, b in zip(looser.zones, stricter.zones, strict=True):
                assert a.distance <= b.distance


def test_every_conductor_that_carries_current_has_its_distance() -> None:
    study, r = on_a_balcony()
    (found,) = exposures(r, limits_at(r.f), study.exposure.reach, 0.2)
    for d in found.distances:
        names = [z.conductor for z in d.zones]
        assert names[0] == "antenna"
        assert sorted(names[1:]) == ["bond lead", "cable", "power lead", "railing"]
    assert zone_of(found, PUBLIC, "railing") > NEAREST_OTHER


def test_a_place_is_the_cables_only_where_the_antenna_alone_is_weaker() -> None:
    # A field that depends on the distance from the antenna alone says nothing about the cable.
    places, _ = surveyed_places("balcony")
    density = 1.0 / places.distance[0] ** 3
    (found,) = zones(places, density, np.array([1.0]))
    assert found[0].distance > 0.9
    assert [z.distance for z in found[1:]] == [0.0] * (len(found) - 1)


def test_where_people_can_be_is_no_nearer_than_they_come_and_no_higher_than_they_reach() -> None:
    study, r = on_a_balcony()
    (found,) = exposures(r, limits_at(r.f), study.exposure.reach, 0.2)
    assert found.walk is not None
    assert found.station is not None
    for place in (found.walk, found.station):
        assert place.distance >= 0.19
        density = r.density(np.array([place.place]))[0, 0]
        assert MARGIN * density == pytest.approx(place.density, rel=1e-3)
    assert FLOOR <= found.walk.place[2] <= 2.5
    points, distance = anywhere(r, 2000)
    there = (points[:, 2] <= 2.5) & (distance.min(axis=0) >= 0.2)
    assert (r.density(points[there])[0] <= found.walk.density).all()


@pytest.mark.parametrize("where", WHERE)
def test_every_point_of_the_side_view_above_a_limit_lies_in_one_of_its_zones(where: str) -> None:
    study, r = WHERE[where]()
    found = exposures(r, limits_at(r.f), study.exposure.reach, 0.2)
    (view,) = side_views(r, found)
    z, x = (g.ravel() for g in np.meshgrid(view.height, view.across, indexing="ij"))
    place = np.stack([x, 0 * x, z], axis=1)[:, [0, 1, 2] if view.axis == 0 else [1, 0, 2]]
    distance = distances_to(r.structure, conductors(r.structure), place)
    asked = (distance[0] >= NEAREST) & (distance.min(axis=0) >= NEAREST_OTHER)
    for d in found[0].distances:
        above = asked & (view.density.ravel() > d.limit.density.at(r.f))
        reach = np.array([z.distance for z in d.zones])
        assert (distance <= reach[:, None]).any(axis=0)[above].all()
    # It shows all of the antenna's zone.
    farthest = max(z.distance for d in found[0].distances for z in d.zones)
    assert max(-view.across.min(), view.across.max()) >= farthest


def test_tables_and_summary_say_the_same() -> None:
    study = small_study.study()
    found, views = surveyed(study, "none", "core-x4")
    rows, data = exposure_rows(found, F), exposure_data(study, found)
    flat = [
        (case["case"], d["limit"], z["conductor"], z["distance_m"])
        for case in data["cases"]
        for d in case["distances"]
        for z in d["zones"]
    ]
    told = [r for r in rows if r["where"].startswith("distance from")]
    assert [(r["case"], r["limit"], r["nearest"], r["distance_m"]) for r in told] == flat
    assert {r["case"] for r in view_rows(views)} == {"none", "core-x4"}
    # In free space nobody walks; at the radio somebody sits, and that comes first.
    (people,) = data["cases"][0]["people"]
    first = rows[: len(data["limits"])]
    assert {r["where"] for r in first} == {people["where"]} == {"at the radio"}
    assert {r["limit"] for r in first if r["above_limit"] == "yes"} == set(people["above"])
    assert {r["density_w_per_m2"] for r in first} == {people["density_w_per_m2"]}


def test_a_field_above_a_limit_where_people_can_be_is_named_so() -> None:
    study, r = on_a_balcony()
    found = exposures(r, limits_at(r.f), study.exposure.reach, 0.2)
    walk = exposure_data(study, found)["cases"][0]["people"][1]
    assert walk["where"] == "where people walk"
    allowed = {x.id: x.density.at(r.f) for x in limits_at(r.f)}
    assert walk["above"] == [n for n, d in allowed.items() if walk["density_w_per_m2"] > d]
    assert PUBLIC in walk["above"]


@pytest.mark.parametrize("f", [30e6, 50e6, 145e6, 300e6, 301e6, 400e6, 433e6, 500e6])
def test_each_rule_has_one_limit_for_each_group_and_part_at_every_frequency(f: float) -> None:
    kinds = [(limit.rules, limit.group, limit.part) for limit in limits_at(f)]
    assert len(kinds) == len(set(kinds)) == 6


def test_every_limit_says_where_it_was_read() -> None:
    assert all(limit.source and limit.confidence and limit.note for limit in exposure_limits())


def test_shells_of_a_longer_reach_are_the_same_and_more() -> None:
    short, long = radii(0.1, 1.0), radii(0.1, 7.3)
    np.testing.assert_array_equal(long[: len(short)], short)
    assert short[-1] >= 1.0 > short[-2]
    assert long[-1] >= 7.3 > long[-2]


def test_distances_are_those_from_the_nearest_point_of_a_wire() -> None:
    wires = (
        Wire((0, 0, 1), (0, 0, 2), 3, 1e-3, "antenna"),
        Wire((0, 0, 1), (4, 0, 1), 2, 1e-3, "shield"),
    )
    built = Structure("d", wires, ())
    points = np.array([[0.0, 3, 1.5], [0, 0, 6], [2.3, 0, 1.5], [5, 0, 1]])
    found = distances_to(built, conductors(built), points)
    assert found[0] == pytest.approx([3.0, 4.0, 2.3, 5.0])
    assert found[1] == pytest.approx([9.25**0.5, 5.0, 0.5, 1.0])


def test_a_place_near_a_cable_is_the_cables_and_one_far_from_both_the_antennas() -> None:
    wires = (
        Wire((0, 0, 0), (0, 0, 1), 10, 1e-3, "antenna"),
        Wire((0, 0, 0), (0, 0, -6), 40, 1e-3, "shield"),
        Wire((0, 0, -6), (1, 0, -6), 8, 1e-3, "station lead"),
    )
    places = survey_places(Structure("d", wires, ()), 145e6, 4.0, 0.2, None)
    assert places.conductors == ("antenna", "cable", "power lead")
    cable = places.distance[1] < places.distance[0] / 3
    beside = cable & (places.distance[1] < places.distance[2])
    assert (places.owner[beside] == 1).all()
    assert (places.owner[places.distance[1:].min(axis=0) > places.distance[0]] == 0).all()
    # Every shell is there all along: no stretch of the cable is farther than a shell's step away.
    near = places.place[(places.owner == 1) & (places.distance[1] < 0.06)]
    assert np.diff(np.sort(near[:, 2])).max() < 0.3
