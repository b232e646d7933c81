"""The rule of two traits against scikit-learn's own trees and cross-validation, and known rules."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sklearn.metrics import balanced_accuracy_score
from sklearn.model_selection import PredefinedSplit, cross_val_predict
from sklearn.tree import DecisionTreeClassifier

from pipeline.survey.decision_rule import (
    LEAST_INSTALLATIONS,
    Leaf,
    Rule,
    Trait,
    decision_rule,
    folds,
    roundest,
    traits_of,
)
from pipeline.survey.resampled import Members
from pipeline.survey.table_rows import ColumnMeaning, rows_in
from tests.harness.made_batches import made_rows, made_table

ANSWERS = ("not needed", "needed")
DRAW = np.random.default_rng(11)


def number(name: str, values: Any, unit: str = "m") -> Trait:
    return Trait(ColumnMeaning(name, unit, "", "axis"), np.asarray(values, dtype=float))


def words(name: str, values: list[str]) -> Trait:
    known, codes = np.unique(values, return_inverse=True)
    return Trait(ColumnMeaning(name, "", "", "axis"), codes.astype(float), tuple(known))


def ends(installations: int, each: int = 1) -> Members:
    cluster = np.repeat(np.arange(installations), each)
    return Members(cluster, np.full(len(cluster), 1 / each))


def rule_for(traits: list[Trait], answer: Any, members: Members) -> Rule:
    found = decision_rule(traits, np.asarray(answer, dtype=np.int64), ANSWERS, members)
    assert found is not None
    return found


def inside(leaf: Leaf, traits: list[Trait]) -> Any:
    """Settings for which the conditions of a leaf hold, read from its words."""
    by_name = {trait.column.name: trait for trait in traits}
    held = np.ones(len(traits[0].values), dtype=bool)
    for part in leaf.parts:
        trait = by_name[part.column.name]
        if trait.words:
            held &= np.isin(np.array(trait.words)[trait.values.astype(int)], part.words)
        else:
            held &= (trait.values > part.low) & (trait.values <= part.high)
    return held


def test_a_rule_that_is_there_is_found_with_its_numbers() -> None:
    route, height = DRAW.uniform(3, 20, 200), DRAW.uniform(3, 12, 200)
    traits = [number("noise", DRAW.random(200)), number("route", route), number("height", height)]
    found = rule_for(traits, (route > 9) & (height <= 6), ends(200))
    assert found.is_better
    assert {part.column.name for leaf in found.leaves for part in leaf.parts} == {"route", "height"}
    (needed,) = (leaf for leaf in found.leaves if leaf.answer == 1)
    bounds = {part.column.name: (part.low, part.high) for part in needed.parts}
    assert bounds["route"][0] == pytest.approx(9, abs=0.3)
    assert bounds["height"][1] == pytest.approx(6, abs=0.3)
    assert found.error < 0.05


def test_noise_gives_no_rule_that_is_better_than_always_one_answer() -> None:
    # Among so many traits some pair fits by chance; installations left out tell that it does not.
    traits = [number(f"trait {k}", DRAW.random(120)) for k in range(5)]
    for _ in range(2):
        found = rule_for(traits, DRAW.random(120) < 0.4, ends(120))
        assert not found.is_better
        assert found.error > found.always - 0.08


def test_the_errors_are_scikit_learns_of_a_tree_on_two_traits() -> None:
    x = DRAW.normal(size=(240, 2))
    members = ends(80, 3)
    answer = (x[:, 0] + DRAW.normal(size=240) > 0.3).astype(int)
    found = rule_for([number("a", x[:, 0]), number("b", x[:, 1])], answer, members)
    split = np.zeros(240, dtype=int)
    for k, out in enumerate(folds(members.cluster, 5)):
        split[out] = k
    tree = DecisionTreeClassifier(max_depth=2, min_weight_fraction_leaf=0.1, random_state=0)
    theirs = cross_val_predict(tree, x.astype(np.float32), answer, cv=PredefinedSplit(split))
    assert found.error == pytest.approx((theirs != answer).mean())
    assert found.balanced_error == pytest.approx(1 - balanced_accuracy_score(answer, theirs))
    assert found.always == pytest.approx(min(answer.mean(), 1 - answer.mean()))


def test_no_installation_is_on_both_sides() -> None:
    cluster = DRAW.integers(0, 30, 200)
    outs = list(folds(cluster, 5))
    assert (np.sum(outs, axis=0) == 1).all()
    for out in outs:
        assert not set(cluster[out]) & set(cluster[~out])


def test_leaves_are_told_by_conditions_that_part_the_settings_as_the_tree_does() -> None:
    rows = rows_in(made_table(made_rows(installations=120, most=1))).trusted.bare
    traits = traits_of(rows)
    answer = (rows.score > 1).astype(int)
    found = rule_for(traits, answer, rows.members)
    held = [inside(leaf, traits) for leaf in found.leaves]
    assert (np.sum(held, axis=0) == 1).all()
    for leaf, of in zip(found.leaves, held, strict=True):
        assert leaf.shares[1].value == pytest.approx(answer[of].mean())
        assert leaf.shares[1].rows == of.sum()
    # The harness makes long cables with a bonded radio need one.
    told = {part.column.name for leaf in found.leaves for part in leaf.parts}
    assert told == {"route", "radio_end"}


def test_words_are_parted_in_the_best_of_all_ways() -> None:
    # By theorem 4.5 of Breiman and others (1984); all ways are tried here.
    chance = {"a": 0.9, "b": 0.1, "c": 0.8, "d": 0.2, "e": 0.85}
    said = [str(w) for w in DRAW.choice(list(chance), 400)]
    answer = np.array([DRAW.random() < chance[w] for w in said])
    found = rule_for([words("way", said)], answer, ends(400))
    (needed,) = (leaf for leaf in found.leaves if leaf.answer == 1)
    assert set(needed.parts[0].words) == {"a", "c", "e"}

    def impurity(left: set[str]) -> float:
        side = np.isin(said, list(left))
        return sum(p.size * p.mean() * (1 - p.mean()) for p in (answer[side], answer[~side]))

    every = [{w for k, w in enumerate(chance) if bits >> k & 1} for bits in range(1, 31)]
    assert min(every, key=impurity) in ({"a", "c", "e"}, {"b", "d"})


def test_always_one_answer_and_too_few_installations_give_no_rule() -> None:
    traits = [number("route", DRAW.random(40))]
    answer = np.zeros(40, dtype=np.int64)
    assert decision_rule(traits, answer, ANSWERS, ends(40)) is None
    few = LEAST_INSTALLATIONS - 1
    traits = [number("route", DRAW.random(few))]
    assert decision_rule(traits, np.arange(few) % 2, ANSWERS, ends(few)) is None


def test_the_same_settings_give_the_same_rule() -> None:
    x = DRAW.random((90, 3))
    traits = [number(name, x[:, k]) for k, name in enumerate("abc")]
    once, again = (rule_for(traits, x[:, 1] > 0.6, ends(90)) for _ in range(2))
    assert once == again


def test_a_number_that_some_installations_have_not_is_told_as_words() -> None:
    made = made_rows(installations=30, most=1)
    for row in made:
        row["site.height"] = np.nan if row["installation"] % 3 else 5.0
    rows = rows_in(made_table(made)).trusted.bare
    (height,) = (trait for trait in traits_of(rows) if trait.column.name == "site.height")
    assert height.words == ("5 m", "none")


def test_a_fact_that_never_differs_is_none() -> None:
    made = made_rows(installations=30, most=1)
    for row in made:
        row["mast"] = "wood"
    names = [trait.column.name for trait in traits_of(rows_in(made_table(made)).trusted.bare)]
    assert names == ["site.height", "radio_end", "route"]


def test_the_roundest_number_lies_between_and_has_the_fewest_digits() -> None:
    for _ in range(300):
        low = float(DRAW.lognormal(0, 3))
        high = low * (1 + float(DRAW.lognormal(-4, 2)))
        found = roundest(low, high)
        assert low <= found < high
        digits = len(f"{found:.12g}".replace(".", "").strip("0"))
        assert digits <= max(1, int(np.ceil(np.log10(high / (high - low)))) + 1)
