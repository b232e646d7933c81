"""Installations as drawn and solved: fewer azimuths, few ports of a coil, what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.montecarlo import installations
from pipeline.montecarlo.draws import unknowns_of
from pipeline.montecarlo.installations import (
    Installation,
    cable_of,
    install,
    lumped_cases,
    on_cable,
    settled,
    solve_cable,
    with_few_ports,
)
from pipeline.solver.cases import CABLE, GeometryPlan, cases
from pipeline.solver.structures import structure
from pipeline.study.reader import load_study
from pipeline.text.errors import StudyError
from tests.harness.answered import small, small_drawn
from tests.montecarlo.test_draws import DEMO

pytestmark = pytest.mark.takes(5)


def as_stated(study):
    """The study as it stands with all draws of its impedances."""
    reduced, directions = solve_cable(study)
    one = small_drawn().drawn[0]
    circuit = sum(not u.geometric for u in unknowns_of(study))
    u = np.linspace(0.1, 0.9, 9)[:, None] * np.ones(circuit)
    draws = installations._circuit(study, u)
    return replace(
        one, study=study, reduced=reduced, directions=directions, u_circuit=u, draws=draws
    )


def test_every_second_azimuth_moves_a_score_by_hundredths_at_most(monkeypatch):
    study = settled(load_study(DEMO))
    found = []
    for step in (1, 2):
        monkeypatch.setattr(installations, "_AZIMUTHS", step)
        made = as_stated(study)
        found.append(on_cable(made, lumped_cases(study)))
    for name, whole in found[0].items():
        moved = np.abs(found[1][name].score() - whole.score())
        assert moved.max() < 0.02, name


def test_the_cable_has_ports_for_every_candidate_and_the_rows_of_the_catalogue():
    study = settled(small())
    built, whole = cable_of(study), structure(study, GeometryPlan(CABLE, has_feedline=True))
    assert len(built.ports) < len(whole.ports)
    places = [p.position for p in built.ports if p.name.startswith("shield")]
    for row in study.rows:
        assert any(row.position <= p <= row.position + row.room for p in places)


def test_few_ports_keep_feed_and_ends_and_lie_evenly_along_the_shield():
    whole = structure(settled(small()), GeometryPlan(CABLE, has_feedline=True))
    few = with_few_ports(whole, 5)
    others = [p.name for p in whole.ports if not p.name.startswith("shield")]
    assert [p.name for p in few.ports if not p.name.startswith("shield")] == others
    shield = [p.position for p in few.ports if p.name.startswith("shield")]
    assert len(shield) == 5
    every = [p.position for p in whole.ports if p.name.startswith("shield")]
    assert (shield[0], shield[-1]) == (every[0], every[-1])


def test_drawings_differ_by_what_is_unknown_and_each_has_all_draws_of_the_rest():
    drawn = small_drawn()
    assert drawn.shape == (8, 64)
    assert len({d.study.site.height for d in drawn.drawn}) == 8
    assert {len(m) for merits in drawn.found.values() for m in merits} == {64}
    assert set(drawn.found) == {c.id for c in cases(drawn.study) if c.geometry == CABLE}


def test_the_first_few_draws_of_a_drawing_are_the_first_of_all():
    one: Installation = small_drawn().drawn[2]
    np.testing.assert_array_equal(one.first(16).ends(), one.ends()[:16])


def test_a_sleeve_stays_as_long_as_it_was_cut_when_the_jacket_is_another():
    every = [c for d in small_drawn().drawn for c in d.study.chokes if c.id == "sleeve"]
    assert len({c.length for c in every}) == 1
    assert None not in {c.length for c in every}


def test_ranges_that_let_no_installation_be_built_are_refused_with_a_reason():
    study = small(unknowns={"height": {"from": "0.3 m", "to": "0.4 m"}, "geometries": 8}, site={
        "height": "3 m", "ground": "average"})  # fmt: skip
    with pytest.raises(StudyError, match="unknowns-wide"):
        install(study, 1)
