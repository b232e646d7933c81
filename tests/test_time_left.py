"""The time left that a run states, against runs of a clock-work machine with known durations."""

from __future__ import annotations

import heapq
import random
from pathlib import Path

import pytest

from pipeline.time_left import (
    JobKey,
    Outlook,
    basis_seconds,
    check_seconds,
    in_words,
    planned_jobs,
)
from pipeline.workflow import FIGURE_GROUPS, StudyPlan

# Segments, ports and frequencies of the geometries of a small and of a large study.
SMALL = {"a": (186, 1, 5), "b": (418, 59, 5)}
LARGE = {"c": (295, 1, 9), "d": (1174, 169, 9), "e": (1590, 146, 9), "f": (1866, 84, 9)}


def plan(name: str, sizes: dict[str, tuple[int, int, int]], cases: int = 8) -> StudyPlan:
    return StudyPlan(name, Path(f"{name}.yaml"), tuple(sizes), tuple(sizes), sizes, (), cases)


def needs(job: JobKey, plans: list[StudyPlan]) -> list[JobKey]:
    """Jobs that have to be finished before this one, as the workflow has it."""
    rule, what = job
    if rule in ("basis", "check"):
        return [("geometry", p.name) for p in plans if what in p.digests]
    study = next((p for p in plans if p.name == what.split("/")[0]), None)
    if rule == "combine" and study is not None:
        return [(r, d) for d in study.digests for r in ("basis", "check")]
    if rule == "figures" and study is not None:
        return [("combine", study.name)]
    if rule == "report" and study is not None:
        return [("figures", f"{study.name}/{group}") for group in FIGURE_GROUPS]
    return [("combine", p.name) for p in plans] if rule == "compared" else []


def run(
    plans: list[StudyPlan], cores: int, times: dict[JobKey, float]
) -> list[tuple[float, float]]:
    """Moments at which a time left is stated, with that time; the last is the end."""
    jobs = planned_jobs(plans, frozenset())
    outlook = Outlook(dict(jobs), cores)
    waiting = sorted(jobs, key=lambda j: (j[0] != "basis", j))
    busy: list[tuple[float, JobKey]] = []
    done: set[JobKey] = set()
    now, said = 0.0, []
    while waiting or busy:
        ready = [j for j in waiting if set(needs(j, plans)) <= done]
        for job in ready[: cores - len(busy)]:
            waiting.remove(job)
            outlook.begin(job, now)
            heapq.heappush(busy, (now + times[job], job))
        now, job = heapq.heappop(busy)
        done.add(job)
        outlook.end(job, now)
        left = outlook.left(now)
        if left is not None:
            said.append((now, left))
    return said


def stated(said: list[tuple[float, float]], share: float) -> tuple[float, float]:
    """What was said last before a share of the run was over, and what was then true."""
    end = said[-1][0]
    now, left = [entry for entry in said if entry[0] <= share * end][-1]
    return left, end - now


STUDIES = {
    "small": [plan("s", SMALL)],
    "large": [plan("l", LARGE, 19)],
    "both": [plan("s", SMALL), plan("l", LARGE, 19)],
}


# Laws


@pytest.mark.parametrize("cores", [1, 2])
@pytest.mark.parametrize("slower", [0.5, 1.0, 6.0])
@pytest.mark.parametrize("name", STUDIES)
def test_on_a_machine_of_any_speed_the_second_half_is_told_within_a_third(
    name: str, slower: float, cores: int
) -> None:
    plans = STUDIES[name]
    chance = random.Random(f"{name}{slower}{cores}")
    times = {
        job: slower * weight * chance.uniform(0.8, 1.25)
        for job, weight in planned_jobs(plans, frozenset()).items()
    }
    said = run(plans, cores, times)
    for share in (0.5, 0.75):
        left, true = stated(said, share)
        assert left == pytest.approx(true, rel=1 / 3, abs=0.05 * said[-1][0])


def test_nothing_is_said_before_a_tenth_of_the_work_is_done() -> None:
    jobs = planned_jobs([plan("l", LARGE)], frozenset())
    outlook = Outlook(jobs, 2)
    for job in (("geometry", "l"), ("basis", "c"), ("check", "c")):
        outlook.begin(job, 0.0)
        outlook.end(job, 5.0)
        assert outlook.left(5.0) is None
    outlook.begin(("basis", "d"), 5.0)
    outlook.end(("basis", "d"), 100.0)
    assert outlook.left(100.0) is not None


def test_small_jobs_that_are_finished_do_not_make_a_large_one_look_short() -> None:
    outlook = Outlook({("basis", "a"): 10.0, ("basis", "b"): 90.0}, 1)
    outlook.begin(("basis", "a"), 0.0)
    outlook.end(("basis", "a"), 20.0)
    assert outlook.left(20.0) == pytest.approx(180.0)
    outlook.begin(("basis", "b"), 20.0)
    assert outlook.left(110.0) == pytest.approx(90.0)


def test_a_job_that_overruns_is_never_taken_for_finished() -> None:
    outlook = Outlook({("basis", "a"): 10.0, ("basis", "b"): 10.0}, 1)
    outlook.begin(("basis", "a"), 0.0)
    outlook.end(("basis", "a"), 10.0)
    outlook.begin(("basis", "b"), 10.0)
    assert outlook.left(1000.0) == pytest.approx(1.0)


def test_what_is_solved_already_and_rules_that_are_not_needed_count_for_nothing() -> None:
    jobs = planned_jobs([plan("s", SMALL)], frozenset({"a", "b"}))
    assert not [job for job in jobs if job[0] in ("basis", "check")]
    outlook = Outlook(jobs, 2)
    outlook.limit_to({"report", "total"})
    assert list(outlook.weights) == [("report", "s")]


def test_a_solve_goes_as_the_cube_of_its_segments_in_the_end_and_with_its_frequencies() -> None:
    # Harrington, "Field Computation by Moment Methods", 1968: an n by n matrix is filled in n
    # squared steps and factored in n cubed.
    huge = basis_seconds((80_000, 1, 1)) / basis_seconds((40_000, 1, 1))
    assert huge == pytest.approx(8.0, rel=0.1)
    few, many = (basis_seconds((1200, 1, f)) for f in (9, 18))
    assert many == pytest.approx(2 * few, rel=0.05)
    assert check_seconds((1200, 1, 9)) < basis_seconds((1200, 1, 9))


# Words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "about 10 s"), (44.0, "about 40 s"), (89.0, "about 90 s"), (91.0, "about 2 min")],
)
def test_a_time_is_said_as_roughly_as_it_is_known(seconds: float, words: str) -> None:
    assert in_words(seconds) == words
