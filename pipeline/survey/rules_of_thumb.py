"""The one-page table of a batch: for each antenna what is needed, how much, and what tells.

``summary.json`` in; the headline, the table's cells for the page, and the same as Markdown for the
README out. Nothing is worked out anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.text.formatting import plain, sentence_case, whole_percent

Data = Mapping[str, Any]
_NOTHING = "–"
# A smaller share is not part of a headline.
_WORTH_SAYING = 0.01


@dataclass(frozen=True)
class Thumb:
    """A row of the table as it is printed; ``drawn`` is by kind of choke."""

    group: str
    sampled: str
    nothing: str
    cores: str
    of_class: str
    drawn: Mapping[str, str]
    rule: str


def share_words(share: Data) -> str:
    """A share and its 95 % interval.

    Examples
    --------
    >>> share_words({"value": 0.413, "low": 0.364, "high": 0.47})
    '41 % (36 to 47)'
    """
    low, high = (f"{100 * share[end]:.0f}" for end in ("low", "high"))
    return f"{whole_percent(share['value'])} ({low} to {high})"


def count_words(least: Data, most: int, has_ends: bool = True) -> str:
    """A least number of cores, and its interval where it has one, of ``most`` that were tried.

    Examples
    --------
    >>> count_words({"count": 4, "low": 3, "high": None}, 12)
    '4 (3 to over 12)'
    >>> count_words({"count": None, "low": None, "high": None}, 12)
    'over 12'
    """
    known = (least[name] for name in ("count", "low", "high"))
    value, low, high = (f"over {most}" if n is None else str(n) for n in known)
    return f"{value} ({low} to {high})" if has_ends and not low == high == value else value


def outcome_words(each: Data) -> str:
    """Better, no matter and worse in one cell.

    Examples
    --------
    >>> shares = {"better": 0.7, "no_matter": 0.2, "worse": 0.1}
    >>> outcome_words({name: {"value": share} for name, share in shares.items()})
    '70 / 20 / 10 %'
    """
    parts = [whole_percent(each[name]["value"]) for name in ("better", "no_matter", "worse")]
    return f"{' / '.join(part.removesuffix(' %') for part in parts)} %"


def best_cores(group: Data) -> Data | None:
    """The class of core that needs the fewest; ``None`` where there are no cores."""
    number = group["best_cores"]
    return None if number is None else group["cores"][number]


def drawn_kinds(summary: Data) -> list[str]:
    """Kinds of choke that were drawn, in the order of the table."""
    every = (each["kind"] for group in summary["groups"] for each in group["drawn"])
    return list(dict.fromkeys(every))


def thumbs(summary: Data) -> list[Thumb]:
    """Rows of the table, in the order of the batch."""
    return [_thumb(group, drawn_kinds(summary)) for group in summary["groups"]]


def _thumb(group: Data, kinds: Sequence[str]) -> Thumb:
    best = best_cores(group)
    whole = {each["kind"]: each for each in group["drawn"] if not each["bin"]}
    cells = {kind: outcome_words(whole[kind]) if kind in whole else _NOTHING for kind in kinds}
    return Thumb(
        plain(group["name"]),
        str(group["installations"]),
        share_words(group["bare"]["nothing"]) if group["bare"] else _NOTHING,
        _NOTHING if best is None else _core_words(best),
        _NOTHING if best is None else plain(best["label"]),
        cells,
        sentence_case(group["rules"]["needed"]["words"]),
    )


def _core_words(best: Data) -> str:
    return " / ".join(count_words(least, best["most"], False) for least in best["least"])


def headline(summary: Data) -> str:
    """What holds for most of a batch, in a few sentences."""
    known = [group for group in summary["groups"] if group["bare"]]
    if not known:
        return "No installation of this batch has a result without a choke."
    every = summary["all"]
    count = f"{every['installations']:,} installations"
    said = [f"Nothing is needed in {_percent_of(every['bare']['nothing'])} of {count}"]
    if len({_nothing(group) for group in known}) > 1:
        ends = [pick(known, key=_nothing) for pick in (min, max)]
        told = [f"{whole_percent(_nothing(g))} ({plain(g['name'])})" for g in ends]
        said = [f"{said[0]}: from {told[0]} to {told[1]}"]
    short = every["bare"]["ideal_short"]
    if short and short["value"] >= _WORTH_SAYING:
        said.append(f"Even an ideal choke leaves something visible in {_percent_of(short)}")
    for each in (x for x in every["drawn"] if not x["bin"]):
        said.append(_beside_none(each))
    return " ".join(f"{sentence}." for sentence in said)


def _nothing(group: Data) -> float:
    return float(group["bare"]["nothing"]["value"])


def _percent_of(share: Data) -> str:
    return whole_percent(share["value"])


def _beside_none(each: Data) -> str:
    named = ("enough", "better", "worse")
    enough, better, worse = (_percent_of(each[name]) for name in named)
    kind = plain(each["kind"])
    return f"A {kind} is enough in {enough}, better than no choke in {better}, worse in {worse}"


def readme_table(summary: Data) -> str:
    """The table as Markdown, with its remark below."""
    kinds = drawn_kinds(summary)
    head = [
        *("antenna, band", "nothing needed in", "cores for 50 / 80 / 95 %", "of class"),
        *(f"{kind}: better / no matter / worse" for kind in kinds),
        "a choke is",
    ]
    rows = [
        [t.group, t.nothing, t.cores, t.of_class, *(t.drawn[kind] for kind in kinds), t.rule]
        for t in thumbs(summary)
    ]
    lines = [head, ["---"] * len(head), *rows]
    table = "\n".join(f"| {' | '.join(_markdown(cell) for cell in line)} |" for line in lines)
    return f"{table}\n\n{_markdown(headline(summary))} {summary['remarks']['sample']}"


def _markdown(text: str) -> str:
    """Text that stands for itself in a cell of Markdown."""
    for sign in "\\`*_<>[]|":
        text = text.replace(sign, f"\\{sign}")
    return text
