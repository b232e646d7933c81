"""Other ways of drawing: which there are, what stops them, what is said of those not tried."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.mesh import mesh_study as evidence_plan
from pipeline.mesh.mesh_study import redrawings
from pipeline.mesh.redrawn_solves import solve
from pipeline.mesh.tracked_quantities import (
    DIFFERENCE,
    FIELD,
    GROUND,
    ONE_PART,
    PORTS,
    REFLECTION,
    SEGMENTS,
    WIRES,
    ZONES,
)
from pipeline.report.evidence_page import choke_sentence, ground_sentence, headline
from pipeline.solver.cases import CABLE, IDEAL, NONE, REFINED, GeometryPlan
from pipeline.solver.structures import ANTENNA, CABLE_RUN, structure
from pipeline.study.reader import load_study
from tests.harness.small_study import grounded_study, small_study_file

PLAN = GeometryPlan(CABLE, has_feedline=True)


def made_rows(changes: dict[tuple[str, str, str, str], float]) -> list[dict]:
    """Rows of an invented table, by variation, value, case and quantity."""
    return [
        {"variation": v, "value": k, "case": c, "quantity": q, "change": x, "result": 1 + x}
        for (v, k, c, q), x in changes.items()
    ]


# Laws: what is drawn


def test_every_kind_of_variation_is_drawn_and_differs_from_the_usual_drawing(tmp_path: Path):
    found = redrawings(grounded_study(tmp_path))
    assert {w.variation for w in found.ways} == {SEGMENTS, WIRES, PORTS, ZONES, GROUND, FIELD}
    assert (found.drawn.variation, found.drawn.value) == (SEGMENTS, "1")
    assert found.drawn.structure == structure(grounded_study(tmp_path), PLAN)
    for way in found.ways[1:]:
        same_wires = way.structure.wires == found.drawn.structure.wires
        assert same_wires == (way.variation in (PORTS, GROUND, FIELD)), way.words


def test_segments_get_shorter_a_tenth_at_least_each_time_until_a_limit_is_named(tmp_path: Path):
    found = redrawings(load_study(small_study_file(tmp_path)))
    lengths = sorted((w.mean_segment for w in found.ways if w.variation == SEGMENTS), reverse=True)
    assert len(lengths) >= 4
    assert min(a / b for a, b in itertools.pairwise(lengths)) >= 1.1
    assert sum("Refinement ends at" in text for text in found.remarks) == 1


def test_a_study_is_refined_as_far_as_its_own_check_however_large_it_is(tmp_path: Path):
    study = load_study(small_study_file(tmp_path))
    checked = len(structure(study, PLAN, REFINED).segments)
    found = redrawings(study, most=1)
    sizes = {w.value: len(w.structure.segments) for w in found.ways if w.variation == SEGMENTS}
    assert list(sizes) == ["1", "1.25", "0.8"]
    assert sizes["1"] < sizes["0.8"] <= checked
    assert f"Refinement ends at 0.8 of the usual segment lengths: the next step has more than " \
        f"{checked} segments." in found.remarks  # fmt: skip


def test_where_the_whole_is_too_large_one_part_at_a_time_gets_shorter_segments(tmp_path: Path):
    study = load_study(small_study_file(tmp_path))
    most = 480
    found = redrawings(study, most)
    usual = set(found.drawn.structure.wires)
    tried = {w.variation for w in found.ways} & set(ONE_PART.values())
    # Nothing stands around this one.
    assert tried == {ONE_PART[ANTENNA], ONE_PART[CABLE_RUN]}
    for way in found.ways:
        if way.variation in tried:
            others = {w for w in way.structure.wires if w not in usual}
            is_antenna = way.variation == ONE_PART[ANTENNA]
            assert {w.part == "antenna" for w in others} == {is_antenna}, way.words
            assert len(way.structure.segments) <= most
    assert not {w.variation for w in redrawings(study).ways} & set(ONE_PART.values())


def test_parts_by_themselves_move_the_numbers_by_what_the_whole_does(tmp_path: Path):
    # What makes it a test: changes of the parts add up, here within a tenth of an ohm.
    study = load_study(small_study_file(tmp_path))
    usual = redrawings(study).drawn
    drawings = [usual.structure] + [
        replace(structure(study, PLAN, 0.8, only=part), name=part or "whole")
        for part in ("", ANTENNA, CABLE_RUN)
    ]
    ways = tuple(replace(usual, structure=built) for built in drawings)
    z = [own[NONE, "r"] + 1j * own[NONE, "x"] for _, own in solve(study, ways)]
    whole, antenna, cable = (x - z[0] for x in z[1:])
    assert abs(whole) > 0.1
    assert abs(antenna + cable - whole) < 0.1


def test_refinement_ends_where_the_rules_make_segments_hardly_shorter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(evidence_plan, "LEAST_RATIO", 1.24)
    found = redrawings(load_study(small_study_file(tmp_path)))
    assert [w.value for w in found.ways if w.variation == SEGMENTS] == ["1", "1.25"]
    assert any("most segments are at the shortest" in text for text in found.remarks)


def test_a_number_of_wires_that_an_antenna_does_not_take_is_no_other_drawing(tmp_path: Path):
    # Asked for six wires the hub keeps four; only the last digit of a conductivity moved.
    antenna = {"type": "ground-plane", "pipe": "12x1 mm", "radials": 4, "slope": "45 deg"}
    route = [{"down": "1.5 m"}, {"out": "0.5 m"}]
    cable = {"type": "RG-213/U", "route": route}
    chokes = [{"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7"}]
    study = load_study(small_study_file(tmp_path, antenna=antenna, cable=cable, chokes=chokes))
    found = redrawings(study)
    assert WIRES not in {w.variation for w in found.ways}
    assert "No other number of wires makes another drawing of this antenna." in found.remarks


def test_wires_that_do_not_fit_are_named_with_the_reason(tmp_path: Path):
    found = redrawings(load_study(small_study_file(tmp_path)))
    assert [w.value for w in found.ways if w.variation == WIRES] == ["6"]
    (text,) = [r for r in found.remarks if r.startswith("Cages of 8 wires do not fit: ")]
    assert "touch or cross" in text


def test_other_factors_reach_the_drawing(tmp_path: Path):
    study = load_study(small_study_file(tmp_path))
    usual = structure(study, PLAN)
    assert len(structure(study, PLAN, port_spacing=0.5).ports) > len(usual.ports)
    assert len(structure(study, PLAN, zone=0.7).shield_path) > len(usual.shield_path)
    six = structure(study, PLAN, n_wires=6)
    antenna = [sum(w.part == "antenna" for w in s.wires) for s in (usual, six)]
    assert antenna[1] == pytest.approx(1.5 * antenna[0], rel=0.02)


# Words


# A change of nothing in every way that is tried beside shorter segments.
OTHERWISE = {
    (WIRES, "6", IDEAL, "horizon_gain_mean"): -0.07,
    (PORTS, "0.5", NONE, "swr_feed"): 0.0,
    (ZONES, "0.7", NONE, "swr_feed"): 0.0,
    (FIELD, "0.5", NONE, "swr_feed"): 0.0,
}


def test_the_headline_says_yes_only_for_what_would_be_noticed():
    rows = made_rows(
        {
            (SEGMENTS, "1", NONE, "swr_feed"): 0.0,
            (SEGMENTS, "0.8", NONE, "swr_feed"): 0.03,
            (SEGMENTS, "0.64", NONE, "swr_feed"): 0.02,
        }
        | OTHERWISE
    )
    assert headline(rows) == (
        "No. Drawn finer, segments down to 0.64 of their length, or otherwise, nothing moves that "
        "would be noticed: SWR at the antenna by up to 0.03, current at the radio by less than "
        "0.1 % and mean gain, lowest lobe by up to 0.07 dB."
    )
    rows += made_rows({(ZONES, "0.7", IDEAL, "swr_feed"): -0.25})
    assert headline(rows) == (
        "Yes. Drawn finer, segments down to 0.64 of their length, or otherwise, what would be "
        "noticed moves: SWR at the antenna by up to 0.25."
    )


@pytest.mark.parametrize(
    "way", [(SEGMENTS, "1.25"), (FIELD, "2"), (PORTS, "2"), (ZONES, "1.5"), (GROUND, REFLECTION)]
)
def test_coarser_drawings_and_other_grounds_do_not_decide_the_headline(way):
    finer = {(SEGMENTS, "0.8", NONE, "swr_feed"): 0.0}
    said = headline(made_rows({(*way, NONE, "swr_feed"): 0.9} | finer | OTHERWISE))
    assert said.startswith("No.")
    assert "SWR at the antenna by less than 0.01" in said


def test_shorter_segments_that_were_not_tried_are_not_tested_in_the_headline():
    coarse = {(SEGMENTS, "1", NONE, "swr_feed"): 0.0, (SEGMENTS, "1.25", NONE, "swr_feed"): 0.0}
    said = headline(made_rows(coarse | OTHERWISE))
    assert said.startswith(
        "Not known: shorter segments were not tested. Drawn otherwise, nothing moves that would "
        "be noticed: "
    )
    assert said.endswith(" Not tested: shorter segments.")
    assert headline(made_rows(coarse)) == (
        "Not known. Not tested: shorter segments, other numbers of wires in place of a pipe, ports "
        "closer together, shorter segments where chokes sit and finer steps of the far field."
    )
    assert choke_sentence(made_rows(coarse)).endswith("It moves: not tested.")


def test_one_part_at_a_time_is_said_to_be_that():
    rows = {(ONE_PART[ANTENNA], "0.64", NONE, "swr_feed"): 0.04} | OTHERWISE
    assert headline(made_rows(rows)).startswith(
        "No. Drawn finer, segments down to 0.64 in the antenna by itself, or otherwise, nothing"
    )
    rows |= {(ONE_PART[CABLE_RUN], "0.512", NONE, "swr_feed"): 0.0}
    rows |= {(SEGMENTS, "0.8", NONE, "swr_feed"): 0.0}
    assert headline(made_rows(rows)).startswith(
        "No. Drawn finer, segments down to 0.8 of their length, 0.64 in the antenna and 0.512 in "
        "the cable by themselves, or otherwise, nothing"
    )


def test_sentences_on_choke_and_ground_give_their_own_changes():
    rows = made_rows(
        {
            (WIRES, "6", DIFFERENCE, "swr_feed"): 0.04,
            (GROUND, REFLECTION, NONE, "station_current_ratio"): -0.009,
        }
    )
    assert "SWR at the antenna by up to 0.04" in choke_sentence(rows)
    assert "current at the radio by up to 0.9 %" in ground_sentence(rows)
    assert ground_sentence(rows[:1]) == ""
