"""The README's table of benchmarks, made of what pytest-benchmark wrote of a run of them.

``python -m tests.bench.table MEASURED.json --write`` puts it between its two marks; without
``--write`` it is printed. A run that lacks a benchmark, or in which one failed, makes no table.
"""

from __future__ import annotations

import argparse
import ast
import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
README = FOLDER.parents[1] / "README.md"
BEGIN, END = "<!-- benchmarks -->", "<!-- end of benchmarks -->"
HEAD = ("what", "measured", "claim")
# What the project is for comes first.
FILES = ("test_chokes", "test_band", "test_workers", "test_batch", "test_solve_costs")


def statements() -> list[str]:
    """Names of all benchmarks in the order of the table."""
    return [
        node.name
        for name in FILES
        for node in ast.parse((FOLDER / f"{name}.py").read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    ]


def in_words(name: str) -> str:
    """A benchmark's name as a sentence says it.

    Examples
    --------
    >>> in_words("test_a_solve_with_more_ports")
    'a solve with more ports'
    """
    return name.removeprefix("test_").replace("_", " ")


def machine_words(machine: dict[str, Any]) -> str:
    """The machine by class, in a sentence."""
    clock = f" at {machine['clock_ghz']} GHz" if machine["clock_ghz"] else ""
    return (
        f"On {machine['cores']} cores, {machine['processor']}{clock}, {machine['memory_gb']} GB of "
        f"memory, {machine['system']}, Python {machine['python']}, NumPy {machine['numpy']}, PyNEC "
        f"{machine['pynec']}; one thread a process."
    )


def block(measured: dict[str, Any]) -> str:
    """Machine and table, from what pytest-benchmark wrote.

    Raises
    ------
    ValueError
        If a benchmark is missing there, or its claim did not hold.
    """
    found = {b["name"]: b["extra_info"] for b in measured["benchmarks"]}
    missing = [in_words(name) for name in statements() if not found.get(name, {}).get("holds")]
    if missing:
        raise ValueError(f"not measured, or not as claimed: {'; '.join(missing)}")
    rows = [
        (in_words(name), found[name]["measured"], found[name]["claim"]) for name in statements()
    ]
    lines = [HEAD, tuple("---" for _ in HEAD), *rows]
    table = "\n".join(f"| {' | '.join(line)} |" for line in lines)
    return f"{machine_words(measured['machine_info'])}\n\n{table}"


def with_block(readme: str, made: str) -> str:
    """A README with another block between the two marks.

    Raises
    ------
    ValueError
        If the marks are not there.
    """
    before, begin, rest = readme.partition(f"{BEGIN}\n")
    _, end, after = rest.partition(f"\n{END}")
    if not (begin and end):
        raise ValueError(f"README.md: need the lines {BEGIN!r} and {END!r}")
    return f"{before}{begin}{made}{end}{after}"


def main() -> None:
    parser = argparse.ArgumentParser(description="The README's table of benchmarks.")
    parser.add_argument("measured", type=Path, help="what --benchmark-json wrote")
    parser.add_argument("--write", action="store_true", help="write the README's block")
    given = parser.parse_args()
    made = block(json.loads(given.measured.read_text(encoding="utf-8")))
    if given.write:
        text = README.read_text(encoding="utf-8")
        README.write_text(with_block(text, made), encoding="utf-8")
    else:
        print(made)


if __name__ == "__main__":
    main()
