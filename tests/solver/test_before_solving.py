"""What a drawn study is refused for before anything is solved, and what it is told it takes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.wires.segmentation import MOST_SEGMENTS
from pipeline.commands.check import WORK, size_of
from pipeline.solver.nec2 import solve_memory
from pipeline.solver.solve_cache import requests
from pipeline.study.reader import load_study
from pipeline.text.errors import Fault, StudyError
from tests.harness.small_study import small_study_file

IDEAL = {"id": "p", "kind": "ideal", "position": "0.3 m"}


def faults(path: Path) -> list[Fault]:
    """What is wrong with a study that is valid by itself; empty where it can be drawn."""
    try:
        requests(load_study(path))
    except StudyError as error:
        return list(error.faults)
    return []


def cable(*steps: dict[str, str]) -> dict[str, Any]:
    return {"type": "10.3 mm foam low-loss", "joins": "short leg", "route": list(steps)}


def value_of(remedy: str) -> str:
    """The length that a remedy begins with: "position: 12 mm or more" gives "12 mm"."""
    return " ".join(remedy.split(": ")[1].split()[:2]).rstrip(",")


# Laws


def test_the_memory_of_a_solve_is_what_was_measured_on_the_solver() -> None:
    # Peak above import of the engine, measured by itself: 1500 segments 78 MiB, 3500 396 MiB.
    assert solve_memory(1500, 0, 1) / 2**20 == pytest.approx(78, rel=0.15)
    assert solve_memory(3500, 0, 1) / 2**20 == pytest.approx(396, rel=0.10)


def test_segments_and_memory_are_said_before_anything_is_solved(tmp_path: Path) -> None:
    (drawn,) = WORK.jobs([small_study_file(tmp_path)])
    most = max(len(r.structure.segments) for r in drawn.plan.values())
    assert size_of(drawn).startswith(f"small: solves of up to {most} segments, about ")
    assert " MB " in size_of(drawn)


# Refusals, and that the way out of each works


def test_a_cable_of_two_hundred_metres_at_499_mhz_is_refused_with_the_length_that_would_do(
    tmp_path: Path,
) -> None:
    def study(*steps: dict[str, str]) -> Path:
        site = {"height": "3 m", "ground": "average"}
        route = cable({"out": "0.15 m"}, {"down": "1 m"}, *steps)
        band = {"from": "498 MHz", "to": "500 MHz", "points": 3}
        antenna = {"type": "j-pole", "pipe": "22x1 mm", "spacing": "55 mm"}
        changes = {"site": site, "cable": route, "band": band, "antenna": antenna}
        chokes = [IDEAL]
        return small_study_file(tmp_path, frequency="499 MHz", chokes=chokes, **changes)

    (fault,) = set(faults(study({"out": "99 m"}, {"left": "99 m"})))
    assert (fault.tag, fault.place.split("  ")[1]) == ("segments-many", "cable.route")
    assert f"at most {MOST_SEGMENTS}" in fault.rule
    metres = float(fault.remedy.split(" m ")[0].split()[-1])
    assert 40 < metres < 150
    assert faults(study({"out": f"{metres - 1.15:.2f} m"})) == []


# 54 mm pipe: its surface, as drawn, is 22 mm from the axis that positions count from.
FAT = {"type": "j-pole", "pipe": "54x1.2 mm", "spacing": "140 mm"}


def test_a_first_step_that_ends_inside_the_pipe_is_refused(tmp_path: Path) -> None:
    def study(step: str) -> Path:
        route = cable({"out": step}, {"left": "1 m"})
        return small_study_file(tmp_path, antenna=FAT, cable=route, chokes=[IDEAL])

    (fault,) = set(faults(study("20 mm")))
    assert (fault.tag, fault.place.split("  ")[1]) == ("route-inside", "cable.route[0].out")
    assert faults(study(value_of(fault.remedy))) == []


@pytest.mark.parametrize(
    ("choke", "tag"),
    [
        (IDEAL | {"position": "10 mm"}, "choke-inside"),
        (IDEAL | {"position": "2.15 m"}, "choke-beyond-route"),
    ],
)
def test_a_choke_without_a_place_on_the_shield_is_told_one_that_works(
    tmp_path: Path, choke: dict[str, Any], tag: str
) -> None:
    def study(**changes: str) -> Path:
        return small_study_file(tmp_path, antenna=FAT, chokes=[choke | changes])

    (fault,) = faults(study())
    assert fault.tag == tag
    assert faults(study(position=value_of(fault.remedy))) == []


def test_a_route_too_short_for_the_reference_choke_is_told_how_long_it_must_be(
    tmp_path: Path,
) -> None:
    def study(step: str) -> Path:
        chokes = [IDEAL | {"position": "20 mm"}]
        return small_study_file(tmp_path, cable=cable({"out": step}), chokes=chokes)

    (fault,) = faults(study("40 mm"))
    assert fault.tag == "route-short"
    assert faults(study(" ".join(fault.remedy.split(", ")[1].split()[:2]))) == []


def test_a_lumped_coil_shorter_than_its_formula_is_told_a_pitch_that_works(tmp_path: Path) -> None:
    coil = {"id": "flat", "kind": "coil", "turns": 1, "diameter": "0.3 m", "model": "lumped"}
    coil |= {"position": "0.6 m"}
    (fault,) = faults(small_study_file(tmp_path, chokes=[coil]))
    assert fault.tag == "choke-data-short"
    pitch = coil | {"pitch": value_of(fault.remedy)}
    assert faults(small_study_file(tmp_path, chokes=[pitch])) == []


def test_boxes_are_held_against_each_other_in_blocks_as_all_at_once() -> None:
    from models.wires import segmentation

    rng = np.random.default_rng(1)
    start, radius = rng.uniform(0, 1, (600, 3)), np.full(600, 0.01)
    end = start + rng.uniform(-0.1, 0.1, (600, 3))
    i, j = segmentation._near_pairs(start, end, radius)
    low, high = np.minimum(start, end) - 0.01, np.maximum(start, end) + 0.01
    p, q = np.triu_indices(600, 1)
    near = np.all((low[p] <= high[q]) & (low[q] <= high[p]), axis=1)
    assert list(zip(i, j, strict=True)) == list(zip(p[near], q[near], strict=True))
