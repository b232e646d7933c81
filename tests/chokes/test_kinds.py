"""Every kind of choke answers what it is asked, and nobody else tells kinds apart."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from pipeline.chokes.kind import Choke
from pipeline.chokes.kinds import KINDS, kind_of, own_unknowns
from pipeline.study.reader import load_study
from pipeline.study.records import Unknowns
from pipeline.text.errors import StudyError
from tests.harness.small_study import choke, small_study_file, study

ROOT = Path(__file__).parents[2]
CLASSES = {kind.__name__ for kind in KINDS.values()}
F = np.array([144e6, 145e6, 146e6])
SMALL = [c.id for c in study().chokes]


def names_in(node: ast.AST) -> set[str]:
    found = (getattr(n, "id", getattr(n, "attr", "")) for n in ast.walk(node))
    return {name for name in found if name}


def words_in(node: ast.AST) -> set[str]:
    found = (n.value for n in ast.walk(node) if isinstance(n, ast.Constant))
    return {value for value in found if isinstance(value, str)} & KINDS.keys()


def is_kind(node: ast.AST) -> bool:
    """Whether an expression is the kind of something, ``x.kind`` or ``row["kind"]`` or ``kind``."""
    constants = {n.value for n in ast.walk(node) if isinstance(n, ast.Constant)}
    return "kind" in names_in(node) or "kind" in constants


def dispatches(tree: ast.AST) -> Iterator[int]:
    """Lines on which a source tells kinds of choke apart."""
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id="isinstance" | "issubclass"), args=[_, kinds]):
                found = bool(CLASSES & names_in(kinds))
            case ast.MatchClass(cls=cls):
                found = bool(CLASSES & names_in(cls))
            case ast.Compare(left=left, comparators=others):
                sides = [left, *others]
                found = any(map(is_kind, sides)) and any(map(words_in, sides))
                found |= any(CLASSES & names_in(side) for side in sides)
            case ast.Dict(keys=keys, values=values):
                sets = [{w for n in side if n for w in words_in(n)} for side in (keys, values)]
                found = any(len(words) > 1 for words in sets)
            case ast.Tuple() | ast.List() | ast.Set():
                found = len(words_in(node) - {"ideal"}) > 1
            case _:
                found = False
        if found:
            yield node.lineno


# The one place


def test_nobody_outside_the_list_tells_kinds_apart() -> None:
    found = {
        f"{path.relative_to(ROOT)}:{line}"
        for path in (ROOT / "pipeline").rglob("*.py")
        for line in dispatches(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == set()


@pytest.mark.parametrize(
    "line",
    [
        "isinstance(choke, CoilChoke)",
        "isinstance(choke, FerriteChoke | chokes.SleeveChoke)",
        'facts.kind == "coil"',
        'choke.kind in ("coil", "ferrite")',
        'rows.text("kind")[0] != "ferrite"',
        "type(choke) is IdealChoke",
        'own = {"sleeve": 1, "coil": 2}',
        'for key, kind in (("a", "sleeve"), ("b", "coil")): pass',
        "match choke:\n    case TableChoke(): pass",
    ],
)
def test_the_search_knows_a_dispatch_when_it_meets_one(line: str) -> None:
    assert list(dispatches(ast.parse(line)))


def test_the_published_layout_of_a_summary_lists_every_kind() -> None:
    text = (files("pipeline.report") / "summary.schema.json").read_text(encoding="utf-8")
    case = json.loads(text)["properties"]["cases"]["items"]["properties"]
    assert case["choke"]["properties"]["kind"]["enum"] == list(KINDS)


def test_every_unknown_that_is_a_kinds_own_is_a_key_of_a_study() -> None:
    assert own_unknowns().keys() <= vars(Unknowns()).keys()
    assert all(u.label and u.measure for u in own_unknowns().values())


def test_the_bare_cable_is_a_kind_that_differs_in_nothing() -> None:
    assert kind_of("none") is Choke
    assert not kind_of("none").is_counted


# Laws, for every candidate of a study that has one of each kind


def test_the_small_study_has_every_kind_but_a_measured_fixture_and_a_pair() -> None:
    assert {c.kind for c in study().chokes} == KINDS.keys() - {"fixture", "pair"}


@pytest.mark.parametrize("name", SMALL)
def test_no_choke_gives_power_and_one_at_a_time_is_all_at_once(name: str) -> None:
    one, host = choke(name), study().host
    z = one.impedance(F, host)
    assert (z.real >= 0).all()
    np.testing.assert_array_equal(z, [one.impedance(F[k : k + 1], host)[0] for k in range(3)])


@pytest.mark.parametrize("name", SMALL)
def test_what_nobody_varies_is_the_choke_as_stated(name: str) -> None:
    one, host = choke(name), study().host
    ones = {"ferrite": np.ones(2), "sleeve": np.ones(2), "sleeve_centre": np.zeros(2)}
    z = one.impedance(np.array([host.frequency]), host)[0]
    np.testing.assert_allclose(one.drawn_impedance(host, ones), z, rtol=1e-12)
    assert one.settled(host).impedance(np.array([host.frequency]), host)[0] == z


@pytest.mark.parametrize("name", SMALL)
def test_what_acts_over_a_length_takes_up_that_much_of_the_cable(name: str) -> None:
    one, host = choke(name), study().host
    assert 0 <= one.acts_over <= one.extent(host)


@pytest.mark.parametrize("name", SMALL)
def test_its_own_cable_is_what_the_line_is_longer_by(name: str) -> None:
    one, cable = choke(name), study().cable
    run = cable.run(one, 10.0)
    rest = one.position + one.extent(study().host) if len(run.pieces) > 1 else 0.0
    assert run.length() == pytest.approx(10.0 + one.own_cable(cable.type) - rest, rel=1e-12)


def test_a_sleeve_takes_up_what_it_is_cut_to_and_acts_at_its_mouth() -> None:
    sleeve, host = choke("sleeve"), study().host
    assert sleeve.extent(host) == sleeve.cut_length(host) > 0
    assert sleeve.acts_over == 0


def test_a_derived_sleeve_is_refused_only_where_it_does_not_fit_itself(tmp_path: Path) -> None:
    # The last step of the route is 0.5 m long: less than a quarter wave in air, more than one of
    # the sleeve's own line. Its mouth points away from the bend.
    sleeve = {"id": "sleeve", "kind": "sleeve", "pipe": "28x1 mm", "position": "1.66 m"}
    sleeve |= {"mouth": "radio"}
    read = load_study(small_study_file(tmp_path, chokes=[sleeve]))
    (found,) = read.chokes
    assert read.host.wavelength / 4 > 0.5
    assert found.extent(read.host) < 0.49
    with pytest.raises(StudyError, match="beyond the radio"):
        load_study(small_study_file(tmp_path, chokes=[sleeve | {"position": "1.7 m"}]))
