"""All that a results folder tells its readers, taken out of its files as they are, with its place.

Pages and figures as text, one block a line; tables as rows.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from pipeline.answer.claims import claims_in, contradictions, row_contradictions

# What begins a block of its own, and what is no text.
_BLOCKS = {
    *("p", "li", "tr", "h1", "h2", "h3", "div", "figure", "figcaption", "details", "summary"),
    *("title", "desc", "text", "dt", "dl", "table", "section"),
}
_SILENT = {"script", "style"}


class _Blocks(HTMLParser):
    """Text of a page or drawing, a line a block, cells of a row with commas between."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in _SILENT
        if tag in _BLOCKS:
            self.text.append("\n")
        elif tag in ("td", "th", "br", "dd"):
            self.text.append(", ")
        for name, value in attrs:
            if name in ("aria-label", "alt", "title") and value:
                self.text.append(f"\n{value}\n")

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in _SILENT
        if tag in _BLOCKS:
            self.text.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.text.append(data.replace("\n", " "))


def blocks_of(markup: str) -> str:
    """Text of HTML or SVG, blocks on lines of their own, gaps made one blank."""
    parser = _Blocks()
    parser.feed(markup)
    lines = "".join(parser.text).replace("\u00a0", " ").splitlines()
    return "\n".join(" ".join(line.split()) for line in lines if line.strip(" ,"))


def texts_of(results: Path) -> Iterator[tuple[str, str]]:
    """Pages and figures of a results folder as text, by their path in it."""
    for path in sorted(results.rglob("*")):
        if path.suffix in (".html", ".svg") and path.name != "limits.html":
            yield str(path.relative_to(results)), blocks_of(path.read_text(encoding="utf-8"))


def rows_of(results: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Rows of all tables of a results folder, by the path of the table in it."""
    for path in sorted(results.rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.DictReader(stream):
                yield str(path.relative_to(results)), row


def summary_of(results: Path) -> dict[str, Any]:
    """The summary of a results folder."""
    data: dict[str, Any] = json.loads((results / "summary.json").read_text(encoding="utf-8"))
    return data


def all_contradictions(results: Path) -> list[str]:
    """Everything in a results folder that its answer does not bear out."""
    summary = summary_of(results)
    answer: Mapping[str, Any] = summary["answer"]
    found = [f"{at}: {why}" for at, t in texts_of(results) for why in contradictions(t, answer)]
    found += [f"{at}: {w}" for at, row in rows_of(results) for w in row_contradictions(row, answer)]
    told = "\n".join([answer["text"], *answer["questions"].values()])
    found += [f"summary.json: {why}" for why in contradictions(told, answer)]
    rows = ({"case": c["id"], "standing": c["standing"]} for c in summary["cases"])
    found += [f"summary.json: {why}" for row in rows for why in row_contradictions(row, answer)]
    return list(dict.fromkeys(found))


def count_of_claims(results: Path) -> int:
    """How many claims its pages and figures make: none would be no proof of anything."""
    answer = summary_of(results)["answer"]
    return sum(len(claims_in(text, answer)) for _, text in texts_of(results))


def compared_contradictions(compared: Path, studies: Mapping[str, Path]) -> list[str]:
    """What the table of a comparison says that the answers of its studies do not bear out.

    ``compared`` is its folder, ``studies`` are the results folders by name of the study.
    """
    found = []
    for at, row in rows_of(compared):
        answer = summary_of(studies[row["study"]])["answer"]
        by_id = {c["id"]: c for c in answer["candidates"]}
        own = {"case": answer["chosen"], "enough": row["enough"]}
        bare = {"case": "none", "enough": row["enough_without"]}
        rows = (own, bare | {"standing": row["standing_without"]})
        whys = [why for each in rows for why in row_contradictions(each, answer)]
        whys += contradictions(row["headline"], answer)
        expected = {
            "headline": answer["headline"],
            "is_enough": "yes" if answer["enough"] else "no",
            "choke": by_id[answer["chosen"]]["label"]
            if answer["chosen"] != "none"
            else ("none needed" if answer["enough"] else "none"),
        }
        whys += [
            f"{name} is {value!r}, the row has {row[name]!r}"
            for name, value in expected.items()
            if row[name] != value
        ]
        found += [f"{compared.name}/{at}: {row['study']}: {why}" for why in whys]
    return found
