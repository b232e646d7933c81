"""What a batch found as plain data: everything that its page, figures and the README show.

Records of ``findings`` in, ``summary.json`` out, each number with six digits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, is_dataclass
from typing import Any

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import STRONG, WORSE_FACTOR
from pipeline.batch.conditions import ROUTE
from pipeline.survey.cores_enough import CoresEnough
from pipeline.survey.decision_rule import LEAST_INSTALLATIONS, Rule
from pipeline.survey.drawn_against_none import AgainstNone
from pipeline.survey.findings import Group, Shares, all_together, groups_of
from pipeline.survey.resampled import REPEATS
from pipeline.survey.rule_words import column_words, conditions
from pipeline.survey.table_rows import CLUSTER, ColumnMeaning, TableRows
from pipeline.text.formatting import whole_percent

FORMAT = 1
NOT_MEASURED = (
    "Shares are of the installations that were sampled, over the ranges below; nobody has measured "
    "how often such installations are built."
)
METHOD = (
    f"Intervals hold 95 %: percentiles of {REPEATS} draws of whole installations with replacement "
    "(Efron and Tibshirani 1993; for data in clusters Davison and Hinkley 1997); where all "
    "installations agree, the exact end of so many independent ones (Clopper and Pearson 1934). "
    "They say how well the sample stands for its ranges, not what the computation may be off by."
)


def summary_data(table: TableRows) -> dict[str, Any]:
    """Everything that was found in a table."""
    groups = groups_of(table)
    about = table.about
    found = {
        "format": FORMAT,
        "name": str(about.get("name", "")),
        "title": str(about.get("title", "")) or str(about.get("name", "")),
        "table": {
            "sha256": table.digest,
            "variants": len(table),
            "installations": int(table.frame[CLUSTER].nunique()),
        },
        "remarks": {"sample": NOT_MEASURED, "intervals": METHOD},
        "limits": {"visible": 1.0, "strong": STRONG, "worse_factor": WORSE_FACTOR},
        "axes": [_axis(table, column) for column in axes_of(table)],
        "groups": [_group(group) for group in groups],
        "all": _group(all_together(table)),
    }
    return dict(_plain(found))


def axes_of(table: TableRows) -> list[ColumnMeaning]:
    """Columns of what was varied, the cable's length among them."""
    return [c for c in table.columns.values() if c.role == "axis" or c.name == ROUTE]


def _axis(table: TableRows, column: ColumnMeaning) -> dict[str, Any]:
    """Range of an axis, or how many installations have which word."""
    frame = table.frame[[CLUSTER, column.name]].dropna().drop_duplicates()
    values = frame[column.name]
    said = {"name": column.name, "unit": column.unit, "meaning": column.meaning}
    if values.dtype.kind in "if":
        ends = {"low": float(values.min()), "high": float(values.max())} if len(values) else {}
        return {**said, **ends, "values": int(values.nunique())}
    counts = values.astype(str).value_counts()
    words = dict(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))
    return {**said, "words": {word: int(n) for word, n in words.items() if n}}


def _group(of: Group) -> dict[str, Any]:
    return {
        "name": of.name,
        **_shares(of.shares),
        "with_unsound": None if of.with_unsound is None else _slim(of.with_unsound),
        "rules": {
            "needed": _rule(of.needed, _needed_words(of)),
            "how_many": _rule(of.how_many, _many_words(of)),
        },
        "by_end": {name: _plain(shares) for name, shares in of.by_end.items()},
        "grades": asdict(of.grades),
        "failures": asdict(of.failures),
    }


def _shares(of: Shares) -> dict[str, Any]:
    best = next((k for k, cores in enumerate(of.cores) if cores is of.best), None)
    return {
        "installations": of.installations,
        "settings": of.settings,
        "bare": None if of.bare is None else asdict(of.bare),
        "cores": [_cores(cores) for cores in of.cores],
        "best_cores": best,
        "drawn": [_drawn(drawn) for drawn in of.drawn],
    }


def _slim(of: Shares) -> dict[str, Any]:
    """What changes where unsound drawings count too: the numbers that are told first."""
    slim = _shares(of)
    for cores in slim["cores"]:
        del cores["enough"], cores["worse"]
    slim["drawn"] = [drawn for drawn in slim["drawn"] if not drawn["bin"]]
    return slim


def _cores(of: CoresEnough) -> dict[str, Any]:
    return {**asdict(of), "label": of.label, "most": of.most, "best": of.best, "worst": of.worst}


def _drawn(of: AgainstNone) -> dict[str, Any]:
    return {**asdict(of), "label": of.label, "bin": of.turns.words if of.turns else ""}


# Rules


def _rule(of: Rule | None, words: str) -> dict[str, Any]:
    if of is None:
        return {"found": False, "words": words}
    names = [part.column.name for leaf in of.leaves for part in leaf.parts]
    leaves = [
        {
            "conditions": conditions(leaf),
            "parts": [
                {"column": p.column.name, "low": p.low, "high": p.high, "words": p.words}
                for p in leaf.parts
            ],
            "answer": of.answers[leaf.answer],
            "share": leaf.shares[leaf.answer],
            "shares": {of.answers[k]: share.value for k, share in enumerate(leaf.shares)},
        }
        for leaf in of.leaves
    ]
    more = ("answers", "error", "balanced_error", "always", "difference", "rows", "installations")
    return {
        "found": True,
        "words": words,
        "is_better": of.is_better,
        "traits": [column_words(name) for name in dict.fromkeys(names)],
        "leaves": leaves,
        "commonest": of.answers[of.commonest],
        **{name: getattr(of, name) for name in more},
    }


def _needed_words(of: Group) -> str:
    """Rule for whether a choke is needed, as short as a table needs it."""
    rule = of.needed
    if rule is None or not rule.is_better:
        return _no_rule(of, rule)
    said = " or if ".join(
        f"{conditions(leaf)} ({whole_percent(leaf.shares[1].value)})"
        for leaf in rule.leaves
        if leaf.answer == 1
    )
    return f"needed if {said}; {_errors(rule)}"


def _many_words(of: Group) -> str:
    """Rule for how many cores are needed, the fewest first."""
    rule = of.how_many
    if rule is None or not rule.is_better:
        return _no_rule(of, rule)
    said: dict[int, list[str]] = {}
    for leaf in sorted(rule.leaves, key=lambda leaf: leaf.answer):
        share = whole_percent(leaf.shares[leaf.answer].value)
        said.setdefault(leaf.answer, []).append(f"{conditions(leaf)} ({share})")
    told = (f"{rule.answers[n]} if {' or if '.join(words)}" for n, words in said.items())
    return f"{'; '.join(told)}; {_errors(rule)}"


def _errors(rule: Rule) -> str:
    always = rule.answers[rule.commonest]
    return (
        f"wrong in {whole_percent(rule.error)} (always “{always}”: in {whole_percent(rule.always)})"
    )


def _no_rule(of: Group, rule: Rule | None) -> str:
    if rule is not None:
        always = rule.answers[rule.commonest]
        wrong = whole_percent(rule.always)
        return f"no two facts tell better than always “{always}”, wrong in {wrong}"
    if of.shares.installations < LEAST_INSTALLATIONS:
        return "too few installations for a rule"
    return "nothing to tell apart"


def _plain(value: Any) -> Any:
    """Records as plain data; what is not finite becomes nothing."""
    if is_dataclass(value) and not isinstance(value, type):
        value = asdict(value)
    if isinstance(value, Mapping):
        return {_key(key): _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, float | np.floating):
        return float(f"{value:.6g}") if math.isfinite(value) else None
    return value


def _key(key: Any) -> str:
    return f"{100 * key:g}" if isinstance(key, float) else str(key)
