"""Jobs side by side: in order, and a solver that crashes names its geometry and costs no other."""

from __future__ import annotations

import os

import pytest

from pipeline.montecarlo.installations import install
from pipeline.montecarlo.side_by_side import side_by_side
from pipeline.solver import nec2
from pipeline.text.errors import SolverError
from tests.harness.answered import small

CRASH = 3


def crashes_in_company(job: int, isolated: bool) -> tuple[int, bool]:
    """A job that takes its process with it unless it runs by itself."""
    if job == CRASH and not isolated:
        os.abort()
    return job, isolated


def fails(job: int, isolated: bool) -> int:
    if job == CRASH:
        raise ZeroDivisionError
    return job


def crashes(*_: object) -> None:
    os.abort()


@pytest.mark.parametrize("cores", [1, 2])
def test_jobs_come_back_in_order_and_what_was_done_is_not_done_again(cores):
    found = list(side_by_side(crashes_in_company, range(8), cores, "jobs", 8))
    assert [job for job, _ in found] == list(range(8))
    together = [isolated for _, isolated in found]
    # All that came back before the crash was made in company, all else by itself.
    assert together == sorted(together)
    assert together[CRASH:] == [True] * (8 - CRASH)


def test_an_error_of_the_work_itself_is_not_tried_again():
    with pytest.raises(ZeroDivisionError):
        list(side_by_side(fails, range(8), 2, "jobs", 8))


def test_jobs_beyond_the_first_are_begun_when_they_are_asked_for():
    found = side_by_side(fails, range(8), 1, "jobs", 2)
    assert [next(found), next(found), next(found)] == [0, 1, 2]
    found.close()


def test_a_solver_that_crashes_names_its_geometry(monkeypatch):
    monkeypatch.setattr(nec2, "unit_source_currents", crashes)
    with pytest.raises(SolverError) as caught:
        install(small(), 2)
    fault = caught.value.faults[0]
    assert (fault.place, fault.tag) == ("geometry cable", "solver-crashed")
