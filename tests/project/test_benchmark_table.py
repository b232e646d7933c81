"""The README's table of benchmarks: made whole or not at all, and of all benchmarks there are."""

from __future__ import annotations

from typing import Any

import pytest

from tests.bench import table

MACHINE = {
    "cores": 2,
    "processor": "x86_64 with AVX2",
    "clock_ghz": 2.4,
    "memory_gb": 25,
    "system": "Linux",
    "python": "3.11.7",
    "numpy": "2.4.6",
    "pynec": "2.3.4",
}


def measured(**changes: Any) -> dict[str, Any]:
    """What a run of all benchmarks leaves behind; changes are of the first one."""
    found = [
        {"name": name, "extra_info": {"measured": f"{k} s", "claim": f"{k + 1} s", "holds": True}}
        for k, name in enumerate(table.statements())
    ]
    found[0]["extra_info"].update(changes)
    return {"machine_info": MACHINE, "benchmarks": found[::-1]}


def test_every_file_of_benchmarks_is_in_the_table() -> None:
    assert set(table.FILES) == {path.stem for path in table.FOLDER.glob("test_*.py")}
    assert len(set(table.statements())) == len(table.statements())


def test_rows_stand_in_the_order_of_the_benchmarks_whatever_that_of_the_run() -> None:
    made = table.block(measured()).splitlines()
    assert made[0].startswith("On 2 cores, x86_64 with AVX2 at 2.4 GHz, 25 GB of memory, Linux,")
    assert made[4] == f"| {table.in_words(table.statements()[0])} | 0 s | 1 s |"
    assert made[5] == f"| {table.in_words(table.statements()[1])} | 1 s | 2 s |"


def test_a_claim_that_did_not_hold_makes_no_table() -> None:
    with pytest.raises(ValueError, match=table.in_words(table.statements()[0])):
        table.block(measured(holds=False))


def test_a_run_of_some_benchmarks_makes_no_table() -> None:
    some = measured()
    missing = some["benchmarks"].pop()["name"]
    with pytest.raises(ValueError, match=table.in_words(missing)):
        table.block(some)


def test_only_what_stands_between_the_marks_is_written_anew() -> None:
    readme = f"Before.\n{table.BEGIN}\nold\n{table.END}\nAfter.\n"
    made = table.block(measured())
    assert (
        table.with_block(readme, made) == f"Before.\n{table.BEGIN}\n{made}\n{table.END}\nAfter.\n"
    )
    with pytest.raises(ValueError, match="need the lines"):
        table.with_block("Nothing.", made)
