"""The tables that an author prints: what was installed, candidates, cases, causes, parts.

A summary, and of the parts a study, in; tables as texts and as rows of data out. Numbers in print
have the digits that their intervals bear, those in the data six.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from models.antennas import generators
from pipeline.article.markup import Heading, Lines, latex_table, markdown, markdown_table
from pipeline.construction.cut_plan import plan_cuts
from pipeline.report.answer_rows import answer_rows
from pipeline.report.html import Cell, cell
from pipeline.runtime.csv_tables import Row, write_table
from pipeline.runtime.store import write_text
from pipeline.solver.cases import IDEAL, NONE
from pipeline.study.records import Study
from pipeline.text.formatting import impedance_words, plain

Summary = Mapping[str, Any]


@dataclass(frozen=True)
class Printed:
    """A table in print: its name, caption, headings and cells, and the same as rows of data."""

    name: str
    caption: str
    headings: tuple[Heading, ...]
    rows: list[list[Lines]]
    data: list[Row]

    def write(self, folder: Path, study: str) -> None:
        """Write it as CSV, Markdown and LaTeX; ``study`` is in the label for references."""
        write_table(folder / f"{self.name}.csv", self.data)
        text = f"{markdown(self.caption)}\n\n{markdown_table(self.headings, self.rows)}"
        write_text(folder / f"{self.name}.md", text)
        label = f"tab:{study}-{self.name}"
        made = latex_table(self.headings, self.rows, self.caption, label)
        write_text(folder / f"{self.name}.tex", made)


def printed_tables(summary: Summary) -> list[Printed]:
    """Tables of a study that its summary alone has."""
    return [installation(summary), candidates(summary), cases(summary), causes(summary)]


# What was installed


def installation(summary: Summary) -> Printed:
    """The installation as the study describes it, in SI units."""
    found = list(_quantities(summary["study"]))
    headings = (Heading("quantity", width=0.45), Heading("value", True), Heading("unit"))
    return Printed(
        "installation",
        f"{plain(summary['study']['title'])}: the installation as described.",
        headings,
        [[name, _shown(value), unit] for name, value, unit in found],
        [{"quantity": name, "value": value, "unit": unit} for name, value, unit in found],
    )


def _quantities(study: Mapping[str, Any]) -> Iterable[tuple[str, float | str, str]]:
    """Name, value and unit of everything that says how the installation is built."""
    antenna, cable, site = study["antenna"], study["cable"], study["site"]
    yield "antenna", generators()[antenna["type"]].title.split(" ", 1)[1], ""
    yield "design frequency", study["frequency_hz"] / 1e6, "MHz"
    yield "transmitter power", study["power_w"], "W"
    yield "pipe", antenna["pipe"], ""
    yield "outside diameter of the pipe", 1e3 * antenna["pipe_diameter_m"], "mm"
    for name, length in antenna["lengths_m"].items():
        yield _words(name), 1e3 * length, "mm"
    for name, other in antenna["others"].items():
        yield _words(name), other["value"], other["unit"]
    yield "height of the antenna's base", site["height_m"], "m"
    if site["ground"] is not None:
        yield "relative permittivity of the soil", site["ground"]["eps_r"], ""
        yield "conductivity of the soil", 1e3 * site["ground"]["sigma"], "mS/m"
    yield "cable", cable["type"], ""
    yield "leg that the shield joins", cable["joins"], ""
    yield "length of the cable", cable["length_m"], "m"
    for number, step in enumerate(cable["route"], start=1):
        if step["go"] == "bond":
            yield f"route, step {number}", "bond to the ground rod", ""
        else:
            yield f"route, step {number}: {_words(step['go'])}", step["length_m"], "m"
    if study["bond"] is not None:
        yield from _end("impedance of the ground rod", study["bond"]["rod_impedance_ohm"])
    yield from _end("impedance at the radio end of the shield", study["station"]["impedance_ohm"])
    yield "lead at the radio", study["station"]["lead_m"], "m"


def _end(what: str, z: list[float] | None) -> Iterable[tuple[str, float | str, str]]:
    """Impedance that the shield ends in; ``None``: nothing. [ohm]"""
    shown = "open" if z is None else impedance_words(complex(*z))
    yield what, shown, "" if z is None else "ohm"


def _words(name: str) -> str:
    return name.replace("_", " ")


def _shown(value: float | str) -> str:
    return plain(value) if isinstance(value, str) else f"{value:.5g}".replace("-", "−")


# Candidates


def candidates(summary: Summary) -> Printed:
    """Candidates of the study, and those that nothing betters in cost, change and heat at once."""
    answer = summary["answer"]
    front = {point["id"] for point in answer["front"]}
    own = {c["id"] for c in answer["candidates"] if c["origin"] != "catalogue"}
    wanted = front | own | {answer["chosen"]}
    printed = answer_rows(answer)["candidates"]
    data = [c for c in answer["candidates"] if c["id"] in wanted]
    rows = [row for row in printed["rows"] if row["id"] in wanted]
    percents = [
        any(row["numbers"][k].value.endswith(_PERCENT) for row in rows)
        for k in range(len(printed["columns"]))
    ]
    currency = answer["currency"]
    headings = (
        Heading("candidate", width=0.2),
        Heading(f"cost [{currency}]" if currency else "cost", True),
        Heading("enough in, of 100", True),
        Heading("worse than none in, of 100", True),
        *(
            Heading(f"{words} [%]" if is_percent else words, True)
            for words, is_percent in zip(printed["columns"], percents, strict=True)
        ),
    )
    names = _names(summary)
    return Printed(
        "candidates",
        f"Candidates over {answer['geometries']} drawn geometries with {answer['draws']} draws "
        "each: chances with their standard errors, and numbers as described with the range of "
        "95 % of the draws. The one that is taken is marked with a dagger.",
        headings,
        [_candidate(row, names, currency) for row in rows],
        [_candidate_data(c, answer) for c in data],
    )


_PERCENT = " %"


def _names(summary: Summary) -> dict[str, str]:
    """Names of candidates that are short enough for a table, by id; references keep their own."""
    found = summary["answer"]["candidates"]
    return {c["id"]: plain(c["name"]) for c in found if c["origin"] != "reference"}


def _candidate(row: Mapping[str, Any], names: Mapping[str, str], currency: str) -> list[Lines]:
    mark = " †" if row["chosen"] else ""
    numbers = [_ranged(found) for found in row["numbers"]]
    return [
        f"{names.get(row['id'], plain(row['label']))}{mark}",
        row["cost"].removesuffix(f" {currency}"),
        *(_signed(row["enough"]), _signed(row["worse"])),
        *numbers,
    ]


def _signed(chance: str) -> str:
    """A chance in words with signs in their place, which are as wide as a number."""
    return chance.replace("more than ", "> ").replace("fewer than ", "< ")


def _ranged(found: Cell) -> Lines:
    """A number with its interval below it, without a sign for percent."""
    value, interval = (text.removesuffix(_PERCENT) for text in (found.value, found.interval))
    if "−" not in interval:
        interval = interval.replace(" to ", "–")
    return (value, f"({interval})") if interval else value


def _candidate_data(entry: Mapping[str, Any], answer: Mapping[str, Any]) -> Row:
    row: Row = {name: entry[name] for name in ("id", "label", "origin", "pieces", "price")}
    row |= {"currency": answer["currency"], "standing": entry["standing"]}
    row["chosen"] = "yes" if entry["id"] == answer["chosen"] else "no"
    for name in ("enough", "worse"):
        row |= {name: entry[name], f"{name}_error": entry[f"{name}_error"]}
    for name, found in entry["figures"].items():
        row |= {f"{name}_{end}": found[end] for end in ("stated", "low", "high")}
    return row


# Cases as described


def cases(summary: Summary) -> Printed:
    """Cases as described, every number with the 95 % interval of the computation."""
    shown = (
        ("current at the radio [%]", "station_current_ratio", 100.0),
        ("most on the cable [%]", "shield_current_ratio_max", 100.0),
        ("mean gain, lowest lobe [dBi]", "horizon_gain_mean_dbi", 1.0),
        ("R at the feed [ohm]", "r_ohm", 1.0),
        ("X at the feed [ohm]", "x_ohm", 1.0),
        ("SWR", "swr_feed", 1.0),
    )
    names = _names(summary)
    rows: list[list[Lines]] = []
    data: list[Row] = []
    for case in summary["cases"]:
        values = _case_values(case)
        texts = [_ranged(cell(case, column, values[column], k)) for _, column, k in shown]
        name = names.get(case["id"], plain(case["label"]))
        rows.append([name, *texts, case["evidence"]["grade"]])
        row: Row = {"case": case["id"], "label": case["label"]}
        for _, column, _ in shown:
            low, high = case["interval_95"][column]
            row |= {column: values[column], f"{column}_low": low, f"{column}_high": high}
        data.append(row | {"grade": case["evidence"]["grade"]})
    headings = (
        Heading("case", width=0.24),
        *(Heading(words, True) for words, *_ in shown),
        Heading("evidence"),
    )
    return Printed(
        "cases",
        "Cases compared, the installation exactly as described, at "
        f"{summary['study']['frequency_hz'] / 1e6:g} MHz. In brackets: 95 % interval of what the "
        "computation may be off by. Currents are magnitudes per feed current.",
        headings,
        rows,
        data,
    )


def _case_values(case: Mapping[str, Any]) -> dict[str, float]:
    """Numbers of a case by the names that their intervals go by."""
    r, x = case["feedpoint_impedance_ohm"]
    return {
        "station_current_ratio": case["station_current_ratio"],
        "shield_current_ratio_max": case["shield_current_ratio_max"],
        "horizon_gain_mean_dbi": case["horizon_gain_dbi"]["mean"],
        "r_ohm": r,
        "x_ohm": x,
        "swr_feed": case["swr"],
    }


# Causes


def causes(summary: Summary) -> Printed:
    """What is left open, the range it is drawn from, and its share of the spread."""
    answer = summary["answer"]
    chosen = next((name for name in answer["causes"] if name != NONE), "")
    own = ("share", "chances") + (("own", "own_chances") if chosen else ())
    headings = (
        Heading("unknown", width=0.26),
        Heading("drawn from", width=0.2),
        Heading("share of the spread, no choke", True),
        Heading("enough in, of 100, no choke", True),
        *((Heading("share, with the choke", True),) if chosen else ()),
        *((Heading("enough in, of 100, with it", True),) if chosen else ()),
    )
    rows = [
        [plain(row["label"]), row["range"], *(_signed(row[name]) for name in own)]
        for row in answer_rows(answer)["causes"]
    ]
    return Printed(
        "causes",
        "What the study leaves open: first-order shares of the spread of the largest change, and "
        "the least and the most of the chance of being enough over parts of each range.",
        headings,
        rows,
        list(_cause_data(answer)),
    )


def _cause_data(answer: Mapping[str, Any]) -> Iterable[Row]:
    drawn = {u["name"]: u["drawn"] for u in answer["unknowns"]}
    for case, found in answer["causes"].items():
        for cause in found["unknowns"]:
            yield {
                "case": case,
                "unknown": cause["name"],
                "label": cause["label"],
                "drawn_from": "all of it together" if cause["joint"] else drawn[cause["name"]],
                "share": cause["share"],
                "noise": cause["noise"],
                "enough_least": cause["enough_least"],
                "enough_most": cause["enough_most"],
            }


# Parts


def parts(summary: Summary, study: Study) -> Printed:
    """What is bought: pipe and fittings of the antenna, the cable, and the choke that is taken.

    Raises
    ------
    StudyError
        If the antenna of the study cannot be cut from pipe as it is.
    """
    found: list[tuple[str, float | int, float | None]] = [
        (part.name, part.quantity, part.price) for part in plan_cuts(study).parts
    ]
    cable = summary["study"]["cable"]
    found.append((f"m of {cable['type']}", cable["length_m"], None))
    found += _choke_parts(summary, study)
    headings = (
        Heading("quantity", True),
        Heading("part", width=0.6),
        Heading("price of one", True),
    )
    return Printed(
        "parts",
        "Parts of the antenna, its cable and the choke that is taken; the mount is not among them "
        "and not checked.",
        headings,
        [
            [f"{count:.3g}", plain(name), "" if price is None else f"{price:.2f}"]
            for name, count, price in found
        ],
        [{"part": name, "quantity": count, "price": price} for name, count, price in found],
    )


def _choke_parts(summary: Summary, study: Study) -> list[tuple[str, int, float | None]]:
    """The choke that is taken, as so many pieces; none where no choke is."""
    answer = summary["answer"]
    taken = next(c for c in answer["candidates"] if c["id"] == answer["chosen"])
    if taken["id"] in (NONE, IDEAL):
        return []
    own = next((choke for choke in study.chokes if choke.id == taken["id"]), None)
    if own is not None and len(own.members) > 1:
        prices = [(one, None if one.price is None else one.price / one.count) for one in own.placed]
        return [(f"choke: {one.part}", one.count, price) for one, price in prices]
    pieces = max(1, taken["pieces"])
    price = None if taken["price"] is None else taken["price"] / pieces
    return [(f"choke: {taken['named']}", pieces, price)]


# Several studies


def compared(rows: Sequence[Mapping[str, Any]]) -> Printed:
    """Studies side by side; ``rows`` are those of ``report.side_by_side``."""
    columns = {
        "study": "study",
        "antenna": "antenna",
        "choke": "choke that is taken",
        "enough": "enough in, of 100",
        "shield_current_ratio_max_without": "most on the cable, none [%]",
        "shield_current_ratio_max_with": "most on the cable, with it [%]",
    }
    texts = ("study", "antenna", "choke")
    return Printed(
        "compared",
        "Studies side by side: what is taken, and the largest current on the cable per feed "
        "current without it and with it.",
        tuple(
            Heading(words, name not in texts, 0.3 if name == "choke" else None)
            for name, words in columns.items()
        ),
        [
            [plain(str(row[n])) if n in texts else f"{100 * row[n]:.2g}" for n in columns]
            for row in rows
        ],
        [dict(row) for row in rows],
    )
