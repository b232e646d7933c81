"""Chokes by port algebra on one solved drawing, beside a field solve for each of them.

The plain way is as lean as the engine lets it be: drawing, directions, the impedances of chokes and
the ideal choke are there already, and a variant is one solve at the design frequency with its
impedances on load cards, the feed alone driven, and one far field. The algebra works all of these
out for itself. Both end with the same figures of merit.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import Merit, Rows
from pipeline.montecarlo.direct_solves import COMPARED, solve_merit, solve_rows
from pipeline.montecarlo.installations import lumped_cases, on_cable, solve_cable
from tests.bench.demo import installation, study
from tests.bench.measuring import cpu_seconds, duration, rounded, tell

AT_LEAST = 1000
# So many chokes of the demo are solved the plain way.
PLAIN = 5


def by_algebra() -> dict[str, Merit]:
    """Every choke that is only an impedance, with every draw of the rest."""
    return on_cable(installation(), lumped_cases(study()))


@cache
def ideal() -> Rows:
    """The ideal choke in the first draw, solved."""
    made = installation()
    soil, ends = made.study.site.ground, made.ends()[0]
    return solve_rows(made.reduced, soil, made.directions, ends, made.reduced.ideal)


@cache
def plain() -> tuple[dict[str, Merit], float]:
    """Some chokes in the first draw by a solve for each, and the time that one takes. [s]"""
    made, every = installation(), lumped_cases(study())
    chosen = [every[k] for k in np.linspace(0, len(every) - 1, PLAIN).astype(int)]
    ends, series = made.ends()[0], iter([made.series(case.choke)[0] for case in chosen])
    soil, against, found = made.study.site.ground, ideal(), []

    def one() -> None:
        z = next(series)
        found.append(solve_merit(made.reduced, soil, made.directions, ends, z, against))

    each = cpu_seconds(one, PLAIN)
    return {case.id: merit for case, merit in zip(chosen, found, strict=True)}, each


def seconds_of(benchmark: Any) -> float:
    return float(benchmark.stats.stats.median)


def test_a_choke_by_port_algebra_instead_of_a_field_solve_of_its_own(benchmark: Any) -> None:
    found = benchmark.pedantic(by_algebra, rounds=9, warmup_rounds=1)
    direct, solve = plain()
    variants = sum(len(merit) for merit in found.values())
    each = seconds_of(benchmark) / variants
    for name, merit in direct.items():
        for figure in COMPARED:
            np.testing.assert_allclose(
                found[name][figure][0], merit[figure][0], rtol=1e-4, atol=1e-4, err_msg=name
            )
    tell(
        benchmark,
        f"{duration(each)} instead of {duration(solve)}, {rounded(solve / each)} times sooner "
        f"({variants:,} variants of the demo, {len(installation().reduced.structure.segments)} "
        "segments)",
        f"{AT_LEAST:,} times at least",
        solve / each >= AT_LEAST,
    )


def test_what_the_port_algebra_costs_once_for_a_drawing(benchmark: Any) -> None:
    # Drawing, a right-hand side for every port, fields of them all, what figures of merit need.
    reduced, _ = benchmark.pedantic(solve_cable, (study(), None, False), rounds=3)
    once, (_, solve) = seconds_of(benchmark), plain()
    # The plain way solves the ideal choke and then every variant; what the algebra takes for one
    # is a thousandth of that.
    pays = max(1, math.ceil(once / solve - 1))
    tell(
        benchmark,
        f"{duration(once)} for {len(reduced.structure.ports)} ports, {rounded(once / solve)} plain "
        f"solves: pays from {pays} {'variant' if pays == 1 else 'variants'} on",
    )
