"""Pages of a batch: arrays, summary, figures and ``batch.html`` beside its table.

``table.parquet`` in, all that is made of it out, the same bytes for the same table.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from pipeline.figures.batch import PAGE, groups_of_drawn
from pipeline.figures.registry import draw_page, figures_of
from pipeline.report.html import page_text
from pipeline.report.pictures import Picture, read_picture
from pipeline.runtime.store import write_json, write_text
from pipeline.runtime.workers import beside
from pipeline.survey.batch_summary import summary_data
from pipeline.survey.rules_of_thumb import (
    count_words,
    drawn_kinds,
    headline,
    share_words,
    thumbs,
)
from pipeline.survey.table_rows import TableRows, read_rows
from pipeline.text.formatting import in_unit, plain, whole_percent

Data = Mapping[str, Any]
_NOTHING = "–"
_QUESTIONS = {"needed": "A choke is", "how_many": "Cores of the best class"}
# More words of an axis than these are counted, not listed.
_WORDS = 12


def write_pages(table: Path, cores: int = 1) -> None:
    """Write ``arrays.nc``, ``summary.json``, ``figures/`` and ``batch.html`` beside a table.

    Several ``cores`` share the figures, while arrays are written beside.

    Raises
    ------
    ResultError
        If the table is missing or damaged.
    """
    rows, folder = read_rows(table), table.parent
    summary = summary_data(rows)
    write_json(folder / "summary.json", summary)
    write = partial(_write_arrays, folder / "arrays.nc", rows, summary)
    if cores == 1:
        write()
        draw_page(PAGE, folder / "figures", summary)
    else:
        with beside(write, "writing arrays") as finish:
            draw_page(PAGE, folder / "figures", summary, cores=cores)
            finish()
    # Last: the workflow takes it as the sign that all is there.
    write_text(folder / "batch.html", page(summary, pictures_of(folder / "figures", summary)))


def _write_arrays(path: Path, rows: TableRows, summary: Data) -> None:
    # Its library takes half a second to load, and only who writes needs it.
    from pipeline.survey.labelled_arrays import write_arrays

    write_arrays(path, rows, summary)


def pictures_of(folder: Path, summary: Data) -> list[Picture]:
    """Figures that this table has something for; others may lie there from a table before it."""
    shown = {"nothing_needed": "bare", "score_without": "bare", "cores_enough": "cores"}
    return [
        read_picture(folder / f"{name}.svg", each.caption)
        for name, each in figures_of(PAGE).items()
        if any(group[shown.get(name, "drawn")] for group in summary["groups"])
    ]


def page(summary: Data, pictures: list[Picture]) -> str:
    """The page as text, from the summary alone."""
    return page_text(
        "batch",
        pictures,
        summary=summary,
        headline=headline(summary),
        kinds=drawn_kinds(summary),
        thumbs=thumbs(summary),
        wanted=_wanted(summary),
        groups=[_group(group) for group in summary["groups"]],
        by_end=_by_end(summary),
        drawn=[_drawn_group(group) for group in groups_of_drawn(summary)],
        axes=[{"name": plain(a["name"]), "range": _axis_words(a)} for a in summary["axes"]],
    )


def _wanted(summary: Data) -> list[str]:
    shares = (x["share"] for g in summary["groups"] for c in g["cores"] for x in c["least"])
    return [whole_percent(share) for share in dict.fromkeys(shares)]


def _group(group: Data) -> dict[str, Any]:
    """A group as the tables below the figures have it."""
    bare, ideal = group["bare"], (group["bare"] or {}).get("ideal_short")
    return {
        "name": plain(group["name"]),
        "ideal": share_words(ideal) if ideal else "",
        "cores": [_cores(cores) for cores in group["cores"]],
        "rules": [_rule(rule, _QUESTIONS[name]) for name, rule in group["rules"].items()],
        "grades": group["grades"],
        "failures": group["failures"],
        "both": _both(bare, group["with_unsound"]),
    }


def _cores(cores: Data) -> dict[str, Any]:
    best = cores["best"]
    reached = f"{share_words(cores['enough'][best])} with {cores['counts'][best]}"
    least = [count_words(each, cores["most"]) for each in cores["least"]]
    worst = cores["worst"]
    worse = _NOTHING
    if cores["worse"][worst]["value"] > 0:
        worse = f"{share_words(cores['worse'][worst])} with {cores['counts'][worst]}"
    return {"label": plain(cores["label"]), "least": least, "most": reached, "worse": worse}


def _by_end(summary: Data) -> list[dict[str, Any]]:
    """Shares that need nothing by what differs on one installation, a table a column."""
    every = [*summary["groups"], {**summary["all"], "name": "all together"}]
    found = []
    for column in dict.fromkeys(name for group in every for name in group["by_end"]):
        own = [group for group in every if column in group["by_end"]]
        words = list(dict.fromkeys(word for group in own for word in group["by_end"][column]))
        lines = [
            (plain(g["name"]), [_share_of(g["by_end"][column].get(word)) for word in words])
            for g in own
        ]
        found.append({"column": plain(column), "words": [plain(w) for w in words], "lines": lines})
    return found


def _share_of(share: Data | None) -> str:
    return share_words(share) if share else _NOTHING


def _drawn_group(group: Data) -> dict[str, Any]:
    return {"name": plain(group["name"]), "drawn": [_drawn(each) for each in group["drawn"]]}


def _drawn(each: Data) -> dict[str, Any]:
    without, with_one = (whole_percent(each[n]["value"]) for n in ("enough_without", "enough"))
    return {
        "label": plain(each["label"]),
        "installations": each["better"]["installations"],
        "cells": [
            *(share_words(each[name]) for name in ("better", "no_matter", "worse")),
            f"{without} → {with_one}",
            share_words(each["needed"]["enough"]) if each["needed"] else _NOTHING,
            share_words(each["harm"]) if each["harm"] else _NOTHING,
        ],
    }


def _rule(rule: Data, question: str) -> dict[str, Any]:
    said = {"question": question, "words": rule["words"], "leaves": [], "errors": ""}
    if not rule["found"] or len(rule["leaves"]) < 2:
        return said
    leaves = [
        f"{leaf['conditions']}: {leaf['answer']} in {share_words(leaf['share'])} "
        f"of {leaf['share']['installations']} installations"
        for leaf in rule["leaves"]
    ]
    wrong, balanced, always = (
        whole_percent(rule[name]) for name in ("error", "balanced_error", "always")
    )
    low, high = (f"{100 * end:.0f}".replace("-", "−") for end in rule["difference"])
    verdict = "" if rule["is_better"] else ": no better, beyond chance, than always one answer"
    errors = (
        f"Wrong in {wrong}, balanced {balanced}; always “{rule['commonest']}” is wrong in "
        f"{always}. The difference is {low} to {high} points{verdict}."
    )
    return {**said, "leaves": leaves, "errors": errors}


def _both(bare: Data | None, with_unsound: Data | None) -> str:
    """Share that needs nothing without unsound drawings and with them."""
    if with_unsound is None or not with_unsound["bare"]:
        return _NOTHING
    left = whole_percent(bare["nothing"]["value"]) if bare else _NOTHING
    return f"{left} → {whole_percent(with_unsound['bare']['nothing']['value'])}"


def _axis_words(axis: Data) -> str:
    """Range of an axis, or its words with how many installations have each."""
    words = axis.get("words")
    if words is None:
        ends = [_short(axis[end], axis["unit"]) for end in ("low", "high") if end in axis]
        return " to ".join(dict.fromkeys(ends)) or _NOTHING
    if len(words) > _WORDS:
        return f"{len(words)} different ones"
    return ", ".join(f"{plain(word) or 'none'} ({count})" for word, count in words.items())


def _short(value: float, unit: str) -> str:
    """An end of a range to three digits."""
    return in_unit(float(f"{value:.3g}"), unit)
