"""The time left that a run states, against runs of a clock-work machine with known durations."""

from __future__ import annotations

import heapq
import logging
import random
import re
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline.figures import FIGURE_GROUPS
from pipeline.runtime.progress import Stretch, Telling, basis_seconds, in_words
from pipeline.workflow.plans import StudyPlan
from pipeline.workflow.progress import Progress
from pipeline.workflow.run import snakefile, solved_before
from pipeline.workflow.stages import STAGES
from pipeline.workflow.time_left import (
    JobKey,
    Outlook,
    check_seconds,
    planned_jobs,
)

# Segments, ports and frequencies of the geometries of a small and of a large study.
SMALL = {"a": (186, 1, 5), "b": (418, 59, 5)}
LARGE = {"c": (295, 1, 9), "d": (1174, 169, 9), "e": (1590, 146, 9), "f": (1866, 84, 9)}


def plan(name: str, sizes: dict[str, tuple[int, int, int]], cases: int = 8) -> StudyPlan:
    return StudyPlan(name, Path(f"{name}.yaml"), tuple(sizes), tuple(sizes), sizes, cases)


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
    plans: list[StudyPlan],
    cores: int,
    times: dict[JobKey, float],
    up_to_date: frozenset[JobKey] = frozenset(),
) -> list[tuple[float, float]]:
    """Moments at which a time left is stated, with that time; the last is the end.

    Of what is up to date the run knows beforehand only what is solved, as the workflow has it.
    """
    solved = frozenset(job for job in up_to_date if job[0] in ("basis", "check"))
    jobs = planned_jobs(plans, solved)
    outlook = Outlook(dict(jobs), cores)
    waiting = sorted(jobs.keys() - up_to_date, key=lambda j: (j[0] != "basis", j))
    outlook.limit_to(Counter(rule for rule, _ in waiting))
    busy: list[tuple[float, JobKey]] = []
    done = set(up_to_date)
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
        for job, weight in planned_jobs(plans).items()
    }
    said = run(plans, cores, times)
    for share in (0.5, 0.75):
        left, true = stated(said, share)
        assert left == pytest.approx(true, rel=1 / 3, abs=0.05 * said[-1][0])


@pytest.mark.parametrize("cores", [1, 2])
def test_studies_of_a_family_that_are_up_to_date_are_not_waited_for(cores: int) -> None:
    plans = [plan(name, SMALL) for name in ("r", "s", "t")]
    times = planned_jobs(plans)
    solves = {job for job in times if job[0] in ("geometry", "basis", "check")}
    others = {job for job in times if job[1].split("/")[0] in ("r", "s")}
    said = run(plans, cores, times, frozenset(solves | others))
    end = said[-1][0]
    assert len(said) == len(times.keys() - solves - others) == 5
    for now, left in said:
        # One after the other nothing is unknown; on two cores, only which goes beside which.
        assert left == pytest.approx(end - now, rel=0.01 if cores == 1 else 1 / 3)


def test_a_change_in_one_study_of_two_counts_its_solves_once_it_is_known_which() -> None:
    weights = {("basis", "a"): 10.0, ("basis", "b"): 30.0, ("combine", "s"): 5.0}
    outlook = Outlook({("geometry", "s"): 10.0, **weights}, 1)
    outlook.limit_to({"geometry": 1, "basis": 1, "total": 2})
    outlook.begin(("geometry", "s"), 0.0)
    outlook.end(("geometry", "s"), 10.0)
    assert outlook.left(10.0) == pytest.approx(20.0)
    outlook.begin(("basis", "a"), 10.0)
    assert outlook.left(10.0) == pytest.approx(10.0)
    outlook.end(("basis", "a"), 20.0)
    assert outlook.left(20.0) == 0.0


def test_the_counts_of_the_workflow_are_those_of_the_outlook() -> None:
    plans = [plan("s", SMALL), plan("l", LARGE)]
    progress = Progress({p.name: p for p in plans}, Outlook(planned_jobs(plans), 2))
    stats = {"geometry_s": 1, "geometry_l": 1, "basis": 3, "total": 5}
    event = {"event": SimpleNamespace(value="run_info"), "stats": stats}
    progress.emit(logging.makeLogRecord(event))
    assert progress.total == 5
    assert progress.outlook.needed == {"geometry": 2, "basis": 3, "total": 5}


def test_every_rule_of_the_workflow_is_a_stage_and_every_stage_has_a_rule() -> None:
    text = snakefile().read_text(encoding="utf-8")
    rules = set(re.findall(r"^rule (\w+):", text, re.MULTILINE)) - {"all"} | {"geometry"}
    assert rules == STAGES.keys()
    assert set(re.findall(r"STAGE \+ [\"'] (\w+) ", text)) == rules
    assert all(stage.words for stage in STAGES.values())


def test_a_run_killed_between_the_solves_of_a_geometry_has_the_second_to_do(
    tmp_path: Path,
) -> None:
    plans = [plan("s", SMALL)]
    for name in ("a/basis.npz", "a/refined.npz", "b/basis.npz", "b/refined.npz",
                 "b/average_gain.npz"):  # fmt: skip
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    before = solved_before(plans, tmp_path)
    assert before == {("basis", "a"), ("basis", "b"), ("check", "b")}
    jobs = planned_jobs(plans, before)
    assert [job for job in jobs if job[0] in ("basis", "check")] == [("check", "a")]


def test_nothing_is_said_before_a_tenth_of_the_work_is_done() -> None:
    jobs = planned_jobs([plan("l", LARGE)])
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


def test_rules_that_are_not_needed_count_for_nothing() -> None:
    jobs = planned_jobs([plan("s", SMALL)])
    outlook = Outlook(jobs, 2)
    outlook.limit_to({"report": 1, "compared": 1, "total": 2})
    outlook.begin(("report", "s"), 0.0)
    outlook.end(("report", "s"), jobs["report", "s"])
    # One job on two cores.
    assert outlook.left(jobs["report", "s"]) == pytest.approx(jobs["compared", ""] / 2)


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


# Runs of a few stretches, one after the other


def told(factors: dict[str, float], slower: float = 1.0) -> list[tuple[float, str]]:
    """Every line of a run with the moment at which it was said; the last is the end.

    ``factors`` say by how much the steps of a stretch take other than their weights.
    """
    now = 0.0
    lines: list[tuple[float, str]] = []
    telling = Telling(lambda text: lines.append((now, text)), clock=lambda: now)
    planned = {"solves": Stretch(13, 2.0), "comparisons": Stretch(12, 6.0), "pages": Stretch(1, 8)}
    for name, stretch in planned.items():
        telling.plan(name, stretch)
    for name, stretch in planned.items():
        for _ in range(stretch.steps):
            now += slower * factors.get(name, 1.0) * stretch.weight
            telling("x", name)
    return lines


def seconds(text: str) -> float | None:
    found = re.search(r"about (\d+) (s|min) left$", text)
    return None if found is None else float(found[1]) * {"s": 1, "min": 60}[found[2]]


@pytest.mark.parametrize("slower", [1.0, 5.0])
def test_the_time_left_is_that_of_the_whole_run_not_of_the_stretch_under_way(slower: float) -> None:
    lines = told({}, slower)
    end = lines[-1][0]
    left = [(now, seconds(text)) for now, text in lines]
    # While geometries are solved the comparisons and the page are counted in.
    assert left[12][1] == pytest.approx(end - left[12][0], rel=0.15)
    stated = [(now, value) for now, value in left if value is not None]
    assert len(stated) >= 18
    for now, value in stated:
        # As roughly as it is told: to ten seconds or a minute.
        assert abs(value - (end - now)) <= (5 if end - now < 90 else 31)


def test_solves_that_an_earlier_run_left_behind_do_not_make_the_rest_look_short() -> None:
    lines = told({"solves": 0.0})
    end = lines[-1][0]
    stated = [(now, seconds(text)) for now, text in lines[14:-1]]
    for now, value in stated:
        assert value is not None
        assert abs(value - (end - now)) <= 10
