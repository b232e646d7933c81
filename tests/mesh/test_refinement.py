"""What two drawings of the same installation say about its numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from models.antennas import generators
from pipeline.analysis.case_results import CaseResult, Solved, at_centre
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.mesh.evidence import GeometryEvidence, geometry_evidence
from pipeline.mesh.refinement import check_cases, checks, comparison
from pipeline.mesh.uncertainty import Compared, accuracy, half_width
from pipeline.solver.cases import ALONE, CABLE, cases
from tests.harness.small_study import case, solved, study

GEOMETRY = GeometryEvidence("g", 100, 5, 1.01, 0.03, 0.1, 1.5, 0.2)


def observed(z: complex, shield: float, station: float, gain: float, pattern: float) -> Merit:
    values = {"r_ohm": z.real, "x_ohm": z.imag, "shield_ratio": shield}
    values |= {"station_ratio": station, "mean_gain_dbi": gain, "pattern_rms_db": pattern}
    return Merit({name: np.array([value]) for name, value in values.items()}, {})


USUAL = observed(30 + 40j, 0.20, 0.10, 6.0, 0.50)


def results() -> dict[str, CaseResult]:
    return {c.id: case(c.id) for c in cases(study())}


def geometries() -> dict[str, GeometryEvidence]:
    return {
        name: geometry_evidence(s.structure, 1.0, s.basis.y_port[s.basis.centre])
        for name, s in solved().items()
    }


def moved(share: float) -> dict[str, Solved]:
    """The same geometries with all admittances larger by a share, as if drawn differently."""
    found = {}
    for name, entry in solved().items():
        there = at_centre(entry)
        basis = replace(there.basis, y_port=(1 + share) * there.basis.y_port)
        found[name] = Solved(there.structure, basis)
    return found


# Laws


def test_every_check_is_how_far_the_finer_drawing_moved_it() -> None:
    # By hand: |3 + 4j| of |30 + 40j| is a tenth.
    c = checks(GEOMETRY, GEOMETRY, USUAL, observed(33 + 44j, 0.17, 0.11, 5.8, 0.45), "apart")
    assert c.impedance == pytest.approx(0.1)
    assert (c.shield_current, c.station_current) == pytest.approx((0.03, 0.01))
    assert (c.gain_db, c.pattern_db) == pytest.approx((0.2, 0.05))
    assert (c.average_gain, c.reciprocity, c.compared) == (1.01, 0.03, "apart")


def test_a_fed_segment_shorter_than_it_should_be_is_told_from_the_drawing() -> None:
    # NEC-2 user's guide: eight radii a segment, two at the least; half a radius per length is the
    # rule of models/wires/segmentation.py.
    close = replace(GEOMETRY, feed_thickness=0.6)
    assert comparison("j-pole", GEOMETRY) == "apart"
    assert comparison("j-pole", close) == "close"


def test_joints_of_another_antenna_have_accuracies_of_their_own() -> None:
    others = [g for g in generators().values() if not g.is_j_pole]
    assert all(comparison(g.name, GEOMETRY) == "other" for g in others)
    known = {kind: accuracy(kind)["impedance"] for kind in get_args(Compared)}
    assert half_width(known["other"]) > half_width(known["apart"])


def test_the_worse_average_gain_counts() -> None:
    worse = replace(GEOMETRY, average_gain=0.9)
    assert checks(GEOMETRY, worse, USUAL, USUAL, "apart").average_gain == 0.9


def test_the_same_drawing_twice_moves_nothing() -> None:
    evidence, found = check_cases(results(), moved(0.0), geometries(), 0.0)
    assert set(evidence) == set(found) == {c.id for c in cases(study())}
    for name, c in found.items():
        moves = (c.impedance, c.shield_current, c.station_current, c.gain_db, c.pattern_db)
        # The design frequency alone or among others: the same equations, to rounding.
        assert moves == pytest.approx((0.0,) * 5, abs=1e-9)
        # Nothing lies in series with the feed of a J-pole.
        assert c.before_match == 1.0
        assert evidence[name].convergence == pytest.approx(0.0, abs=1e-9)


def test_an_impedance_that_moves_is_seen_in_every_case_and_graded() -> None:
    evidence, found = check_cases(results(), moved(0.2), geometries(), 0.0)
    # One port only: Z falls to 1 / 1.2 of itself, but for the series inductance at the feed.
    assert found["no-feedline"].impedance == pytest.approx(1 - 1 / 1.2, rel=0.1)
    assert all(evidence[c.id].grade == "unsound" for c in cases(study()))


def test_each_case_rests_on_its_own_geometry() -> None:
    entries = geometries()
    evidence, _ = check_cases(results(), moved(0.0), entries, 0.0)
    assert evidence["none"].reciprocity == entries[CABLE].reciprocity > 0
    assert evidence["no-feedline"].reciprocity == entries[ALONE].reciprocity == 0
