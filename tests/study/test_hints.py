"""Whoever does what a message says gets on: the value it names is accepted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.text.errors import Fault, StudyError
from tests.harness.small_study import small_study_file

J_POLE = {"type": "j-pole", "pipe": "22x1 mm", "spacing": "55 mm"}
GROUND_PLANE = {"type": "ground-plane", "pipe": "12x1 mm", "radials": 4, "slope": "45 deg"}
IDEAL = {"id": "p", "kind": "ideal", "position": "0.3 m"}
MAST = {"material": "metal", "diameter": "40 mm", "length": "1.5 m"}


def installation(
    folder: Path, antenna: dict[str, Any], site: dict[str, Any], *route: dict[str, str]
) -> Path:
    """The small study with another antenna, site and route."""
    cable = {"type": "RG-213/U", "route": list(route)}
    ground = {"height": "4 m", "ground": "average"}
    return small_study_file(
        folder, antenna=antenna, site=ground | site, cable=cable, chokes=[IDEAL]
    )


def faults(path: Path) -> list[Fault]:
    """What a study is refused for, read or drawn; empty where it is accepted."""
    try:
        requests(load_study(path))
    except StudyError as error:
        return list(dict.fromkeys(error.faults))
    return []


DOWN = ({"down_to": "0.5 m"}, {"out": "2 m"})


@pytest.mark.parametrize("bonded", ["no", "yes"])
@pytest.mark.parametrize("diameter", ["25 mm", "40 mm", "60 mm"])
def test_a_ground_plane_on_top_of_its_mast_is_told_a_stand_off_that_works(
    tmp_path: Path, diameter: str, bonded: str
) -> None:
    mast = MAST | {"diameter": diameter, "bonded": bonded}
    (fault,) = faults(installation(tmp_path, GROUND_PLANE, {"mast": mast}, *DOWN))
    assert (fault.tag, fault.place.split("  ")[1]) == ("cable-near-metal", "site.mast")
    stand_off = fault.remedy.split("stand_off: ")[1].split(" (")[0].split(",")[0]
    assert "twice that is computed better" in fault.remedy
    told = {"mast": mast | {"stand_off": stand_off}}
    assert faults(installation(tmp_path, GROUND_PLANE, told, *DOWN)) == []


@pytest.mark.parametrize("aside", [30, 25])
def test_a_cable_taped_to_a_mast_is_told_two_ways_out_that_both_work(
    tmp_path: Path, aside: int
) -> None:
    def study(mast: dict[str, Any], first: float) -> Path:
        return installation(tmp_path, J_POLE, {"mast": mast}, {"out": f"{first:g} mm"}, *DOWN)

    # Right below the leg that the cable is joined to.
    mast = MAST | {"stand_off": "55 mm", "towards": "front"}
    (fault,) = faults(study(mast, aside))
    assert fault.tag == "cable-near-metal"
    assert "taped" in fault.remedy
    off, longer = fault.remedy.split(", or ")
    assert faults(study(mast | {"stand_off": off.split(": ")[1]}, aside)) == []
    more = float(longer.split(" is ")[1].split(" mm")[0])
    assert faults(study(mast, aside + more)) == []


def test_another_cable_too_near_to_ours_is_told_how_far_off_it_has_to_hang(
    tmp_path: Path,
) -> None:
    def study(beside: str) -> Path:
        other = {"type": "RG-213/U", "beside": beside, "high": "3 m", "low": "1 m"}
        route = ({"out": "0.2 m"}, *DOWN)
        return installation(tmp_path, J_POLE, {"other_feedline": other}, *route)

    (fault,) = faults(study("12 mm"))
    assert fault.tag == "cable-near-metal"
    assert faults(study(fault.remedy.split(": ")[1])) == []


def test_a_mast_that_reaches_into_the_ground_is_told_a_length_that_works(tmp_path: Path) -> None:
    def study(**changes: Any) -> Path:
        route = ({"out": "0.2 m"}, *DOWN)
        return installation(tmp_path, J_POLE, {"mast": MAST | changes}, *route)

    (fault,) = faults(study(length="9 m"))
    assert fault.tag == "mast-length"
    length = fault.remedy.split("length: ")[1].split(",")[0]
    assert faults(study(length=length)) == []
    assert faults(study(length=length, foot={"rod_impedance": "40 ohm"})) == []


@pytest.mark.parametrize(
    ("antenna", "route"),
    [
        (J_POLE, [{"out": "0.15 m"}, *DOWN]),
        (J_POLE, [{"out": "0.1 m"}, {"left": "0.5 m"}, *DOWN]),
        (GROUND_PLANE, [*DOWN]),
        (J_POLE, []),
    ],
    ids=["aside first", "round two corners", "straight down", "standard route"],
)
def test_a_coil_without_a_position_hangs_where_there_is_room_for_it(
    tmp_path: Path, antenna: dict[str, Any], route: list[dict[str, str]]
) -> None:
    cable = {"type": "RG-213/U"} | ({"route": route} if route else {})
    coil = {"id": "turns", "kind": "coil", "turns": 5, "diameter": "0.15 m"}
    site = {"height": "4 m", "ground": "average"}
    path = small_study_file(tmp_path, antenna=antenna, site=site, cable=cable, chokes=[coil])
    assert faults(path) == []
    said = [text for text in load_study(path).defaults if "turns.position" in text]
    assert said == ["chokes.turns.position: just below the first bend that it can hang from"]


THICK_SHIELD = {"type": "RG-213/U", "route": [{"out": "0.15 m"}, {"down": "2 m"}]}


@pytest.mark.parametrize(
    ("pipe", "cable"), [("3/4 in type L", "RG-213/U"), ("1/2 in type L", "RG-8X")]
)
def test_a_pipe_too_thin_beside_the_shield_is_told_two_ways_out_that_both_work(
    tmp_path: Path, pipe: str, cable: str
) -> None:
    on_mast = {"height": "6 m", "ground": "average", "mount": {"mast": "1.8 m"}}
    thin = J_POLE | {"pipe": "1/2 in type L", "spacing": "2 in"}
    changes = {"site": on_mast, "chokes": [IDEAL]}
    first = faults(small_study_file(tmp_path, antenna=thin, cable=THICK_SHIELD, **changes))[0]
    assert (first.tag, first.place.split("  ")[1]) == ("wires-cross", "antenna")
    assert "thicker pipe" in first.remedy
    assert "thinner shield" in first.remedy
    other, route = thin | {"pipe": pipe}, THICK_SHIELD | {"type": cable}
    assert faults(small_study_file(tmp_path, antenna=other, cable=route, **changes)) == []


def remedy(folder: Path, **changes: Any) -> str:
    (fault,) = faults(small_study_file(folder, **changes))
    return fault.remedy


def test_a_kind_that_is_like_none_is_offered_the_kinds_one_of_which_may_be_written(
    tmp_path: Path,
) -> None:
    bead = {"id": "b", "kind": "bead"}
    assert remedy(tmp_path, chokes=[bead]).startswith("kind: one of coil, ferrite")


@pytest.mark.parametrize(
    ("changes", "parts"),
    [
        ({"site": {"height": "4 m", "ground": "clay"}}, "grounds"),
        ({"antenna": J_POLE | {"pipe": "drainage"}}, "pipes"),
        ({"chokes": [{"id": "b", "kind": "ferrite", "core": "lucky find"}]}, "cores"),
    ],
)
def test_a_name_that_is_like_none_is_told_where_all_of_them_are_listed(
    tmp_path: Path, changes: dict[str, Any], parts: str
) -> None:
    assert f"braidwise catalogue {parts}" in remedy(tmp_path, **changes)
