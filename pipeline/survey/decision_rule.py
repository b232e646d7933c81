"""A rule of two facts: what of an installation tells best whether a choke is needed, and how many.

Facts of the settings of one group and an answer for each in; a tree of depth two on two traits out,
with the error that it makes on installations it was not made from. The pair is taken by
cross-validation, whole installations left out at a time; the error that is quoted is that of doing
all of this, the choice of the pair included, on other installations (nested cross-validation).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sklearn import config_context
from sklearn.metrics import balanced_accuracy_score
from sklearn.tree import DecisionTreeRegressor

from pipeline.survey.resampled import ENDS, Members, Resampled, Share
from pipeline.survey.table_rows import ColumnMeaning, TableRows
from pipeline.text.formatting import in_unit

Real = NDArray[np.float64]
Whole = NDArray[np.int64]
# Installations are left out in so many parts; within what is left, to choose, in so many.
_OUTER, _INNER = 5, 3
# Of more traits than these only those are paired that do best by themselves on the same rows.
_PAIRED = 8
# A leaf holds at least this part of the installations.
_LEAF_PART = 0.1
# A trait of more words than these is no trait but a name.
_MOST_WORDS = 12
_MISSING = "none"
# With fewer installations nothing is left to be tested on.
LEAST_INSTALLATIONS = 20
_START = 1984


@dataclass(frozen=True, eq=False)
class Trait:
    """A trait of every setting: numbers (n,), or which of some ``words`` it is."""

    column: ColumnMeaning
    values: Real
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Part:
    """One condition: a trait above ``low`` and up to ``high``, or one of ``words``.

    ``of`` are all the words that the trait may be.
    """

    column: ColumnMeaning
    low: float = -np.inf
    high: float = np.inf
    words: tuple[str, ...] = ()
    of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Leaf:
    """Settings that a rule answers alike: conditions that all hold, answer, share of each answer.

    ``shares`` are in the order of the rule's answers.
    """

    parts: tuple[Part, ...]
    answer: int
    shares: tuple[Share, ...]


@dataclass(frozen=True)
class Rule:
    """The rule, and how often it errs where it was not made from.

    ``error`` is the plain share of wrong answers and ``balanced_error`` the mean of that over the
    answers, ``always`` the error of giving the ``commonest`` answer to all; ``difference`` are the
    ends of the 95 % interval of the first less the last.
    """

    answers: tuple[str, ...]
    leaves: tuple[Leaf, ...]
    error: float
    balanced_error: float
    always: float
    commonest: int
    difference: tuple[float, float]
    rows: int
    installations: int

    @property
    def is_better(self) -> bool:
        """Whether it errs less than always giving one answer, beyond chance."""
        return self.difference[1] < 0 and len(self.leaves) > 1


@dataclass(frozen=True, eq=False)
class _Sample:
    """Settings to learn from: ``values`` (n, trait), the ``answer`` of each, its installation.

    ``words`` is how many words each trait has, none where it is a number.
    """

    values: Real
    words: tuple[int, ...]
    answer: Whole
    answers: int
    members: Members

    @cached_property
    def held(self) -> Real:
        """One for the answer of each setting and zero for others, (n, answers)."""
        return np.equal.outer(self.answer, np.arange(self.answers)).astype(np.float64)

    def keep(self, rows: NDArray[np.bool_]) -> _Sample:
        return replace(
            self,
            values=self.values[rows],
            answer=self.answer[rows],
            members=self.members.keep(rows),
        )

    def orders(self) -> tuple[Whole, ...]:
        """Place of each word of each trait when they are sorted by their mean answer.

        The best way to part words in two for a least-squares tree is one of those that respect this
        order (Breiman and others 1984, theorem 4.5); a word that is not met stands at the mean.
        """
        weight, found = self.members.weight, []
        mean = float(np.average(self.answer, weights=weight))
        for values, count in zip(self.values.T, self.words, strict=True):
            codes = values.astype(np.int64) if count else np.zeros(0, dtype=np.int64)
            of = weight if count else np.zeros(0)
            every = np.bincount(codes, of, count)
            sums = np.bincount(codes, of * self.answer[: len(codes)], count)
            means = np.divide(sums, every, out=np.full(count, mean), where=every > 0)
            found.append(means.argsort(kind="stable").argsort(kind="stable"))
        return tuple(found)

    def inputs(self, orders: Sequence[Whole]) -> NDArray[np.float32]:
        """What a tree splits on, (n, trait): numbers, and words by their place in an order."""
        columns = [
            order[values.astype(np.int64)] if len(order) else values
            for values, order in zip(self.values.T, orders, strict=True)
        ]
        return np.stack(columns, axis=1).astype(np.float32)


@dataclass(frozen=True, eq=False)
class _Split:
    """Settings to learn from and settings that were left out, each with its inputs."""

    rest: _Sample
    left: _Sample
    rest_inputs: NDArray[np.float32]
    left_inputs: NDArray[np.float32]

    @classmethod
    def of(cls, sample: _Sample, out: NDArray[np.bool_]) -> _Split:
        rest, left = sample.keep(~out), sample.keep(out)
        orders = rest.orders()
        return cls(rest, left, rest.inputs(orders), left.inputs(orders))

    def foretold(self, pair: tuple[int, ...]) -> Real:
        """Chance of every answer of what was left out, (n, answers)."""
        tree = _grown(self.rest_inputs, self.rest, pair)
        found = tree.predict(np.ascontiguousarray(self.left_inputs[:, pair]))
        return np.asarray(found).reshape(-1, self.rest.answers)


def traits_of(rows: TableRows) -> list[Trait]:
    """Facts that differ among some rows.

    A number that some installations have not is told as words, if it has few values.
    """
    found = []
    for column in rows.traits:
        values = rows.frame[column.name]
        if values.dtype.kind in "if" and not values.isna().any():
            if values.nunique() > 1:
                found.append(Trait(column, np.asarray(values, dtype=float)))
            continue
        said = _said(values, column)
        words, codes = np.unique(said, return_inverse=True)
        if 1 < len(words) <= _MOST_WORDS:
            found.append(Trait(column, codes.astype(float), tuple(str(w) for w in words)))
    return found


def _said(values: Any, column: ColumnMeaning) -> list[str]:
    """Values of a column as words; what is missing is "none"."""
    if values.dtype.kind in "if":
        return [in_unit(v, column.unit) if np.isfinite(v) else _MISSING for v in values]
    return [_MISSING if v != v or v is None or v == "" else str(v) for v in values]


def decision_rule(
    traits: Sequence[Trait], answer: Whole, answers: Sequence[str], members: Members
) -> Rule | None:
    """Rule for an answer, (n,) numbers into ``answers``; ``None`` where there is nothing to learn.

    Answers that have an order stand in it.

    References
    ----------
    .. [1] L. Breiman, J. Friedman, R. Olshen, C. Stone, "Classification and Regression Trees",
       1984.
    .. [2] M. Stone, "Cross-validatory choice and assessment of statistical predictions", J. R.
       Stat. Soc. B 36, 1974 (choice within, assessment without).
    .. [3] G. Brier, "Verification of forecasts expressed in terms of probability", Mon. Weather
       Rev. 78, 1950: the score by which the pair is chosen.
    """
    shares = np.bincount(answer, members.weight, len(answers)) / members.weight.sum()
    installations = len(members.numbers)
    if np.count_nonzero(shares) < 2 or installations < LEAST_INSTALLATIONS or not traits:
        return None
    values = np.stack([trait.values for trait in traits], axis=1)
    words = tuple(len(trait.words) for trait in traits)
    sample = _Sample(values, words, answer, len(answers), members)
    with config_context(skip_parameter_validation=True, assume_finite=True):
        foretold = _foretold(sample)
        leaves = _leaves(traits, sample)
    commonest = int(shares.argmax())
    wrong, wrong_always = foretold != answer, answer != commonest
    weight = members.weight
    return Rule(
        tuple(answers),
        leaves,
        float(np.average(wrong, weights=weight)),
        1 - float(balanced_accuracy_score(answer, foretold, sample_weight=weight)),
        float(np.average(wrong_always, weights=weight)),
        commonest,
        _difference(wrong, wrong_always, members),
        len(answer),
        installations,
    )


def _difference(
    wrong: NDArray[np.bool_], always: NDArray[np.bool_], members: Members
) -> tuple[float, float]:
    """95 % interval of the rule's error less that of one answer for all."""
    again = Resampled(members.numbers)
    less = again.totals(wrong.astype(float) - always, members)
    every = again.totals(np.ones(len(wrong)), members)
    low, high = np.nanquantile(again.ratios(less[:, None], every[:, None]), ENDS)
    return float(low), float(high)


def folds(cluster: Whole, count: int) -> Iterator[NDArray[np.bool_]]:
    """Rows that are left out, part by part: whole installations, drawn, the same each time."""
    numbers, place = np.unique(cluster, return_inverse=True)
    part = np.random.default_rng(_START).permutation(len(numbers)) % count
    for k in range(count):
        yield part[place] == k


def _splits(sample: _Sample, count: int) -> list[_Split]:
    return [_Split.of(sample, out) for out in folds(sample.members.cluster, count)]


def _foretold(sample: _Sample) -> Whole:
    """Answer of a rule that was made without each setting's installation."""
    found = np.zeros(len(sample.answer), dtype=np.int64)
    for out in folds(sample.members.cluster, _OUTER):
        split = _Split.of(sample, out)
        pair = _best_pair(_splits(split.rest, _INNER))
        found[out] = split.foretold(pair).argmax(axis=1)
    return found


def _best_pair(splits: Sequence[_Split]) -> tuple[int, ...]:
    """Facts whose tree does best on installations that are left out, the first of even ones."""
    alone = [(k,) for k in range(len(splits[0].rest.words))]
    if len(alone) > _PAIRED:
        by_error = sorted(alone, key=lambda trait: _error(splits, trait))
        alone = sorted(by_error[:_PAIRED])
    pairs = [a + b for a, b in itertools.combinations(alone, 2)] or alone
    return min(pairs, key=lambda pair: _error(splits, pair))


def _error(splits: Sequence[_Split], pair: tuple[int, ...]) -> float:
    """Brier score of trees on some traits, each on what was left out, times the weight of all."""
    total = 0.0
    for split in splits:
        off = ((split.foretold(pair) - split.left.held) ** 2).sum(axis=1)
        total += float(off @ split.left.members.weight)
    return total


def _grown(inputs: NDArray[np.float32], sample: _Sample, pair: tuple[int, ...]) -> Any:
    """Tree that gives the share of every answer.

    Least squares on what is one for the answer and zero for others: that is Gini's impurity, and
    the score that the pair is chosen by.
    """
    grower = DecisionTreeRegressor(
        max_depth=2, min_weight_fraction_leaf=_LEAF_PART, random_state=_START
    )
    own = np.ascontiguousarray(inputs[:, pair])
    weight = sample.members.weight
    return grower.fit(own, sample.held, sample_weight=weight, check_input=False).tree_


# Steps from the root to a node: which of the pair, threshold, whether it is not above.
_Steps = tuple[tuple[int, float, bool], ...]


def _leaves(traits: Sequence[Trait], sample: _Sample) -> tuple[Leaf, ...]:
    """Leaves of the tree that all settings make; two beside each other with one answer are one."""
    pair = _best_pair(_splits(sample, _OUTER))
    orders = sample.orders()
    inputs = sample.inputs(orders)
    tree = _grown(inputs, sample, pair)
    reached = tree.apply(np.ascontiguousarray(inputs[:, pair]))
    again = Resampled(sample.members.numbers)
    on = [(traits[k], orders[k]) for k in pair]
    found = []
    for steps, ends in _paths(tree, 0, ()):
        inside = np.isin(reached, ends)
        held, members = sample.answer[inside], sample.members.keep(inside)
        shares = tuple(again.share(held == n, members) for n in range(sample.answers))
        answer = int(np.argmax([share.value for share in shares]))
        found.append(Leaf(_parts(on, steps), answer, shares))
    return tuple(found)


def _paths(tree: Any, node: int, steps: _Steps) -> list[tuple[_Steps, tuple[int, ...]]]:
    """Ways to the leaves below a node, and the tree's own leaves at the end of each."""
    left, right = int(tree.children_left[node]), int(tree.children_right[node])
    if left < 0:
        return [(steps, (node,))]
    at = int(tree.feature[node]), float(tree.threshold[node])
    below = _paths(tree, left, (*steps, (*at, True)))
    above = _paths(tree, right, (*steps, (*at, False)))
    answers = {int(np.argmax(tree.value[n])) for _, ends in below + above for n in ends}
    if len(answers) == 1:
        return [(steps, tuple(n for _, ends in below + above for n in ends))]
    return below + above


def _parts(on: Sequence[tuple[Trait, Whole]], steps: _Steps) -> tuple[Part, ...]:
    """Steps as conditions, those on one trait together; each has the order of its words."""
    found: dict[str, Part] = {}
    for number, threshold, is_left in steps:
        trait, order = on[number]
        column = trait.column
        part = found.get(column.name, Part(column, words=trait.words, of=trait.words))
        if trait.words:
            below = {w for w, place in zip(trait.words, order, strict=True) if place <= threshold}
            part = replace(part, words=tuple(w for w in part.words if (w in below) == is_left))
        elif is_left:
            part = replace(part, high=min(part.high, _rounded(trait.values, threshold)))
        else:
            part = replace(part, low=max(part.low, _rounded(trait.values, threshold)))
        found[column.name] = part
    return tuple(found.values())


def _rounded(values: Real, threshold: float) -> float:
    """The roundest number that parts the values as a threshold does."""
    below = values.astype(np.float32) <= threshold
    return roundest(float(values[below].max()), float(values[~below].min()))


def roundest(low: float, high: float) -> float:
    """Number with the fewest digits from ``low`` up to but not at ``high``, near their middle.

    Examples
    --------
    >>> roundest(11.83, 12.37), roundest(0.052, 0.0537), roundest(7.0, 8.0), roundest(3e6, 7e6)
    (12.0, 0.053, 7.0, 5000000.0)
    """
    for decimals in range(-12, 16):
        step = 10.0**-decimals
        at = min(round((low + high) / 2 / step), math.ceil(high / step) - 1)
        found = round(at * step, max(decimals, 0))
        if low <= found < high:
            return found
    return low
