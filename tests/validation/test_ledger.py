"""The committed tables are what the ledger makes, and every row of every topic is sound."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from pathlib import Path

import pytest

from tests.validation import ledger
from tests.validation.published_rows import COLUMNS, CONFIDENCES, FOLDER, Published, rows_of

NUMBER = re.compile(r"[+−]?\d+(?:\.\d+)?")
ROWS = [row for name in ledger.MODULES for row in rows_of(name)]


def mismatch(one: str, other: str) -> str | None:
    """First difference of two texts that is more than the last digit of a number."""
    for a, b in zip(one.splitlines(), other.splitlines(), strict=False):
        if NUMBER.sub("0", a) != NUMBER.sub("0", b):
            return f"{a}\n{b}"
        for x, y in zip(NUMBER.findall(a), NUMBER.findall(b), strict=True):
            last = 10.0 ** -len(x.partition(".")[2]) if "." in x else 0.0
            far = abs(float(x.replace("−", "-")) - float(y.replace("−", "-"))) > 1.01 * last
            if far or len(x.partition(".")[2]) != len(y.partition(".")[2]):
                return f"{a}\n{b}"
    lengths = (len(one.splitlines()), len(other.splitlines()))
    return None if lengths[0] == lengths[1] else f"{lengths[0]} lines, not {lengths[1]}"


# What is committed


def test_the_table_in_the_readme_is_what_the_ledger_makes() -> None:
    shown = ledger.block_in(ledger.README.read_text(encoding="utf-8"))
    assert mismatch(ledger.readme_block(), shown) is None


def test_the_list_of_all_values_is_what_the_ledger_makes() -> None:
    assert mismatch(ledger.results(), ledger.RESULTS.read_text(encoding="utf-8")) is None


def test_the_readme_shows_the_worst_of_every_topic() -> None:
    shown = ledger.block_in(ledger.README.read_text(encoding="utf-8"))
    for topic in ledger.topics():
        assert f"{topic.worst.words} (worst of {len(topic.entries)})" in shown
        assert topic.worst.strain == max(e.strain for e in topic.entries)


# The rows


def test_every_csv_of_the_folder_is_a_topic_and_has_the_columns() -> None:
    assert {p.stem for p in FOLDER.glob("*.csv")} == set(ledger.MODULES)
    for name in ledger.MODULES:
        with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            assert tuple(next(csv.reader(file))) == COLUMNS


def test_every_row_says_where_it_comes_from_how_sure_and_why_so_near() -> None:
    for row in ROWS:
        assert row.kind in ("absolute", "relative"), row
        assert row.confidence in CONFIDENCES, row
        assert min(len(row.why), len(row.source), len(row.seen), len(row.unit)) > 0, row
        assert row.tolerance >= 0, row
        # A value beyond its tolerance has more to say than how near is near.
        assert not row.beyond or len(row.why) > 80, row


def test_no_value_is_given_twice_and_no_quantity_is_idle() -> None:
    for name, module in ledger.MODULES.items():
        rows = rows_of(name)
        keys = [(r.quantity, r.source, r.printed, *r.inputs.items()) for r in rows]
        assert len(set(keys)) == len(keys)
        assert {r.quantity for r in rows} == set(module.QUANTITIES)


# The checks themselves


@pytest.mark.parametrize(
    ("off", "beyond", "passes"),
    [(0.9, False, True), (1.1, False, False), (0.9, True, False), (1.1, True, True)],
)
def test_a_row_must_be_within_unless_it_is_known_to_be_beyond_and_then_must_be(
    off: float, beyond: bool, passes: bool
) -> None:
    row = replace(ROWS[0], topic=f"made {off} {beyond}", printed="100", kind="relative")
    row = replace(row, tolerance=0.01, beyond=beyond)
    quantities = {row.quantity: ledger.Quantity("", lambda _: 100 + off)}
    if passes:
        row.check(quantities)
    else:
        with pytest.raises(AssertionError, match="is off by"):
            row.check(quantities)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("R | 1.23 ohm", "R | 1.24 ohm", True),
        ("R | +0.0 %", "R | −0.1 %", True),
        ("R | 1.23 ohm", "R | 1.25 ohm", False),
        ("R | 1.23 ohm", "R | −1.23 ohm", False),
        ("R | 1.23 ohm", "X | 1.23 ohm", False),
        ("23 rows", "24 rows", False),
        ("R | 1.2 ohm", "R | 1.20 ohm", False),
        ("one\ntwo", "one", False),
    ],
)
def test_the_comparison_forgives_a_last_digit_and_nothing_else(
    one: str, other: str, same: bool
) -> None:
    assert (mismatch(one, other) is None) == same


def test_writing_puts_the_table_between_its_marks_and_leaves_the_rest(tmp_path: Path) -> None:
    readme, list_of_all = tmp_path / "README.md", tmp_path / "RESULTS.md"
    readme.write_text(f"before\n{ledger.BEGIN}\nold\n{ledger.END}\nafter\n", encoding="utf-8")
    ledger.write(readme, list_of_all)
    text = readme.read_text(encoding="utf-8")
    assert text.startswith("before\n")
    assert text.endswith("\nafter\n")
    assert ledger.block_in(text) == ledger.readme_block()
    assert list_of_all.read_text(encoding="utf-8") == ledger.results()


def test_a_readme_without_the_marks_is_refused() -> None:
    with pytest.raises(ValueError, match="need the lines"):
        ledger.block_in("no table here")


def example(unit: str, printed: str, kind: str, tolerance: float) -> Published:
    row = replace(ROWS[0], unit=unit, printed=printed, kind=kind, tolerance=tolerance)
    return replace(row, beyond=False)


@pytest.mark.parametrize(
    ("row", "value", "ours", "difference"),
    [
        (example("ohm", "73.08", "absolute", 0.2), 73.0251, "73.03 ohm", "−0.05 ohm"),
        (example("dBi", "2.15", "absolute", 0.04), 2.157, "2.157 dBi", "+0.007 dB"),
        (example("1", "-0.5", "relative", 0.05), -0.51, "−0.510", "−2.0 %"),
        (example("mm", "22", "relative", 0.0), 22.0, "22 mm", "0.00 %"),
    ],
)
def test_numbers_have_the_digits_their_tolerance_asks_for(
    row: Published, value: float, ours: str, difference: str
) -> None:
    entry = ledger.Entry(row, "", value)
    assert (ledger.ours(entry), ledger.difference(entry)) == (ours, difference)
