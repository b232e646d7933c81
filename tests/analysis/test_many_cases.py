"""Very many combinations at once say what one case at a time says, and what the solver says."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from models.wires.structure import Structure
from pipeline.analysis.case_results import at_centre, evaluate
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import (
    Ends,
    ReducedBasis,
    many,
    nominal_ends,
    reduce,
    reference,
    termination_rows,
)
from pipeline.chokes.kind import Choke
from pipeline.circuit.port_algebra import OPEN
from pipeline.montecarlo.direct_solves import solve_merit
from pipeline.solver.cases import CABLE, IDEAL, Case, cases, ideal_choke
from pipeline.solver.far_field import Directions
from pipeline.solver.terminations import choke_series, with_ports_for
from pipeline.study.records import Study
from tests.harness.small_study import choke, solved, study

LOBE = 0.0


@cache
def reduced() -> ReducedBasis:
    return reduce(at_centre(solved()[CABLE]), study(), LOBE)


def one_case(assumed: Study, choice: Choke | None) -> Merit:
    """One case by the way that takes one at a time."""
    entry = at_centre(solved()[CABLE])
    found = evaluate(entry, assumed, Case("c", "c", CABLE, choice))
    ideal = evaluate(entry, assumed, Case(IDEAL, "ideal", CABLE, ideal_choke(assumed)))
    return found.merit(ideal.reference(LOBE), LOBE)


def row_of(found: Merit, k: int = 0) -> dict[str, float]:
    """Figures of one row, and changes of the scored ones."""
    changes = {f"change of {name}": change[k] for name, change in found.changes.items()}
    values = {name: value[k] for name, value in found.values.items()}
    return {name: float(x) for name, x in (values | changes).items() if not np.isnan(x)}


def assert_same(found: Merit, k: int, expected: Merit, of: int = 0, within: float = 1e-9) -> None:
    # The same linear system in another order: 1e-9 of the figure, or of 1 where it is a change.
    row, other = row_of(found, k), row_of(expected, of)
    shared = [name for name in row if name in other]
    assert len(shared) > 10
    assert row == pytest.approx({n: other[n] for n in shared}, rel=within, abs=within)


def choke_row(structure: Structure, choice: Choke | None) -> np.ndarray:
    return choke_series(structure, study(), choice, np.array([study().frequency]))


LUMPED = [c for c in cases(study()) if c.geometry == CABLE]


@pytest.mark.parametrize("tried", LUMPED, ids=lambda c: c.id)
@pytest.mark.parametrize("station", [30 + 20j, 0j, 2e3 - 500j, None], ids=str)
def test_every_figure_is_that_of_the_comparison(tried: Case, station: complex | None) -> None:
    assumed = replace(study(), station=replace(study().station, impedance=station))
    ends = termination_rows(reduced().structure, study(), nominal_ends(assumed))
    found = many(reduced(), ends, choke_row(reduced().structure, tried.choke))
    assert_same(found, 0, one_case(assumed, tried.choke))


def test_the_score_is_that_of_one_case() -> None:
    ends = termination_rows(reduced().structure, study(), nominal_ends(study()))
    found = many(reduced(), ends, choke_row(reduced().structure, choke("core-x1")))
    expected = one_case(study(), choke("core-x1")).score()
    assert found.score()[0] == pytest.approx(expected[0], rel=1e-9)


def test_a_scale_on_the_ferrite_is_that_of_the_comparison() -> None:
    ends = termination_rows(reduced().structure, study(), nominal_ends(study()))
    scales = np.array([[0.7], [1.3]])
    found = many(reduced(), ends, scales * choke_row(reduced().structure, choke("core-x2")))
    for k, scale in enumerate(scales[:, 0]):
        stronger = replace(choke("core-x2"), strength=float(scale))  # type: ignore[call-arg]
        assert_same(found, k, one_case(study(), stronger))


def drawn_ends(n: int) -> Ends:
    """A radio that is anything from bonded to floating, drawn once and for all."""
    rng = np.random.default_rng(20)
    size = np.exp(rng.uniform(np.log(0.5), np.log(5e3), (2, n)))
    station = np.where(rng.random(n) < 0.2, OPEN, size[0] + 1j * size[1] * rng.choice([-1, 1], n))
    return Ends(np.zeros(1, complex), station, np.zeros(1))


def low_directions() -> Directions:
    """Those that count: from the horizon to ten degrees."""
    every = solved()[CABLE].basis.directions
    elevation = 90 - np.degrees(every.theta)
    return Directions(every.theta[(elevation > -1e-9) & (elevation < 10 + 1e-9)], every.phi)


def test_twenty_draws_are_what_the_solver_finds_with_its_own_load_cards() -> None:
    # LD of the NEC-2 user's guide (Burke and Poggio, 1981); two solves a draw, no port algebra.
    structure = reduced().structure
    rows = termination_rows(structure, study(), drawn_ends(20))
    candidates = [c.choke for c in LUMPED]
    for k, z_ends in enumerate(rows):
        z_choke = choke_row(structure, candidates[k % len(candidates)])
        direct = solve_merit(reduced(), None, low_directions(), z_ends, z_choke[0])
        assert_same(many(reduced(), z_ends[None], z_choke), 0, direct, within=1e-6)


# Laws


def test_rows_are_independent_of_each_other() -> None:
    structure = reduced().structure
    rows = termination_rows(structure, study(), drawn_ends(600))
    z_choke = choke_row(structure, choke("second"))
    together = many(reduced(), rows, z_choke)
    for k in (0, 255, 256, 599):
        alone = many(reduced(), rows[k : k + 1], z_choke)
        assert_same(alone, 0, together, k)


def test_a_reference_computed_once_changes_nothing() -> None:
    structure = reduced().structure
    rows = termination_rows(structure, study(), drawn_ends(300))
    z_choke = choke_row(structure, choke("core-x4"))
    shared = many(reduced(), rows, z_choke, reference(reduced(), rows))
    own = many(reduced(), rows, z_choke)
    for k in range(300):
        assert row_of(own, k) == row_of(shared, k)


def test_the_ideal_choke_does_not_differ_from_itself() -> None:
    rows = termination_rows(reduced().structure, study(), drawn_ends(50))
    found = many(reduced(), rows, reduced().ideal[None])
    for name in ("pattern_rms_db", "swr", "mean_gain_dbi"):
        assert np.abs(found.changes[name]).max() < 1e-9


def test_ports_that_nothing_covers_may_be_left_out_before_the_solve() -> None:
    full = at_centre(solved()[CABLE])
    structure = with_ports_for(full.structure, [choke("core-x2"), ideal_choke(study())])
    kept = [full.structure.ports.index(port) for port in structure.ports]
    b = full.basis
    basis = replace(
        b, y_port=b.y_port[:, kept][:, :, kept], i_shield=b.i_shield[:, kept], e_port=b.e_port[kept]
    )
    small = reduce(replace(full, structure=structure, basis=basis), study(), LOBE)
    assert len(structure.ports) < len(full.structure.ports) / 2
    rows = termination_rows(structure, study(), drawn_ends(5))
    found = many(small, rows, choke_row(structure, choke("core-x2")))
    whole = termination_rows(reduced().structure, study(), drawn_ends(5))
    all_ports = many(reduced(), whole, choke_row(reduced().structure, choke("core-x2")))
    for k in range(5):
        assert_same(found, k, all_ports, k)


# Edges


def test_no_choke_gives_off_no_heat_and_a_reactance_none_either() -> None:
    rows = termination_rows(reduced().structure, study(), drawn_ends(20))
    nothing = choke_row(reduced().structure, None)
    assert not many(reduced(), rows, nothing)["choke_share"].any()
    reactance = 1j * np.abs(choke_row(reduced().structure, choke("core-x2")))
    assert not many(reduced(), rows, reactance)["choke_share"].any()


def test_a_radio_that_floats_gets_no_current() -> None:
    ends = Ends(np.zeros(1, complex), np.array([OPEN + 0j]), np.zeros(1))
    rows = termination_rows(reduced().structure, study(), ends)
    nothing = choke_row(reduced().structure, None)
    assert many(reduced(), rows, nothing)["station_ratio"][0] < 1e-6


# Speed


def seconds_of_algebra(n: int) -> float:
    """Processor time for n combinations of choke, termination and ferrite."""
    structure = reduced().structure
    candidates = [c.choke for c in LUMPED]
    each = -(-n // len(candidates))
    begun = time.process_time()
    rows = termination_rows(structure, study(), drawn_ends(each))
    scale = np.random.default_rng(3).uniform(0.7, 1.3, (each, 1))
    ideal = reference(reduced(), rows)
    for candidate in candidates:
        many(reduced(), rows, scale * choke_row(structure, candidate), ideal)
    return time.process_time() - begun


def seconds_of_a_solve() -> float:
    """Processor time for one combination by two direct solves."""
    structure = reduced().structure
    rows = termination_rows(structure, study(), drawn_ends(1))
    z_choke = choke_row(structure, choke("core-x4"))
    begun = time.process_time()
    solve_merit(reduced(), None, low_directions(), rows[0], z_choke[0])
    return time.process_time() - begun


def test_a_hundred_thousand_combinations_take_less_than_a_minute() -> None:
    # A tenth of them in a tenth of the time; five times less was measured.
    assert seconds_of_algebra(10_000) < 6.0


def test_the_algebra_is_a_thousand_times_as_fast_as_solving() -> None:
    algebra, solving = 5_000 / seconds_of_algebra(5_000), 1 / seconds_of_a_solve()
    print(f"{solving:.2f} combinations a second by solves, {algebra:.0f} by algebra")
    assert algebra > 1000 * solving


def test_a_choke_at_its_threshold_scores_one_whatever_changes() -> None:
    # Thresholds 0.5 dB, 0.5 dB, 0.2 of SWR, a twentieth of the feed current: common practice.
    limits = {"pattern_rms_db": 0.5, "mean_gain_dbi": -0.5, "swr": 0.2, "station_ratio": 0.05}
    still = {name: np.zeros(1) for name in limits}
    for name, change in limits.items():
        assert Merit({}, still | {name: np.array([change])}).score()[0] == pytest.approx(1.0)
