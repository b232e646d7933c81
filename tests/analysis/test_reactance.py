"""What a report says of a choke that is only reactance: it can be worse than none at its place."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from pipeline.analysis.case_results import at_centre
from pipeline.analysis.many_cases import (
    ReducedBasis,
    many,
    nominal_ends,
    reduce,
    reference,
    termination_rows,
)
from pipeline.circuit.port_algebra import OPEN, fed_voltages, port_currents
from pipeline.solver.cases import CABLE
from pipeline.solver.terminations import choke_weights
from tests.harness.small_study import solved, study

PLACE = 0.05


@cache
def cable() -> tuple[ReducedBasis, np.ndarray, int]:
    """The small study's cable as it stands, what is in series with its ports, and the place."""
    reduced = reduce(at_centre(solved()[CABLE]), study(), 0.0)
    built = reduced.structure
    ends = termination_rows(built, study(), nominal_ends(study()))[0]
    return reduced, ends, int(np.argmax(choke_weights(built, PLACE, 0.0)))


def current(z: complex) -> complex:
    """At the place, per current into the feed, by a plain solve of i = y (v - z i)."""
    reduced, ends, at = cable()
    y, feed = reduced.y_port, reduced.structure.port_index("feed")
    series = ends.copy()
    series[at] += z
    volts = np.zeros(len(series), complex)
    volts[feed] = 1.0
    i = np.linalg.solve(np.eye(len(series)) + y * series, y @ volts)
    return complex(i[at] / i[feed])


def own_impedance() -> complex:
    """What the cable shows to a choke there: Thevenin's impedance with the feed open. [ohm]"""
    reduced, ends, at = cable()
    series = ends.copy()
    series[reduced.structure.port_index("feed")] = OPEN
    return complex(1 / port_currents(reduced.y_port, fed_voltages(reduced.y_port, series, at))[at])


def test_a_choke_acts_on_the_cables_own_impedance() -> None:
    # Thevenin's theorem: z of a choke leaves z_cable / (z_cable + z) of the current.
    z_cable = own_impedance()
    assert z_cable.real > 0
    for z in (-300.0j, 40.0j, 700.0j, 200.0 + 50.0j):
        expected = z_cable / (z_cable + z)
        # As unlike as there and back of the port matrix.
        assert current(z) / current(0.0) == pytest.approx(expected, rel=0.03)


def test_a_reactance_of_the_other_sign_is_worse_than_none_and_a_large_one_is_not() -> None:
    z_cable, bare = own_impedance(), abs(current(0.0))
    assert abs(current(-1j * z_cable.imag)) > 1.05 * bare
    assert max(abs(current(1000j)), abs(current(-1000j))) < bare


@pytest.mark.parametrize("ohms", [1.0, 30.0, 300.0, 3000.0])
def test_resistance_never_makes_more_current_flow_at_its_place(ohms: float) -> None:
    # A passive cable has no negative resistance.
    assert abs(current(ohms)) < abs(current(0.0))


def test_what_flows_elsewhere_follows_in_every_figure() -> None:
    reduced, ends, at = cable()
    rows = np.zeros((2, len(ends)), complex)
    rows[1, at] = -1j * own_impedance().imag
    both = np.broadcast_to(ends, rows.shape)
    found = many(reduced, both, rows, reference(reduced, both))
    assert found["shield_ratio"][1] > 1.05 * found["shield_ratio"][0]
