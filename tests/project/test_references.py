"""Every function that computes physics says where its formula is from, four of five show a value.

A source is a References section, an author with a year or "from memory" in the text, the word
"Definition", or "Measured here:" with the test that holds the value.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# Modules of physics by room; files that only move records about are left out.
PHYSICS = {
    "wires": ("models/wires/*.py",),
    "site": ("models/site/soil.py", "models/site/mast.py"),
    "antennas": ("models/antennas/*.py",),
    "wind": ("models/construction/wind_load.py",),
    "circuit": ("pipeline/circuit/*.py",),
    "chokes": ("pipeline/chokes/*.py",),
    "fields": ("pipeline/solver/far_field.py", "pipeline/solver/near_field.py"),
    "mesh": ("pipeline/mesh/*.py",),
    "analysis": tuple(
        f"pipeline/analysis/{name}.py"
        for name in (
            *(
                "metrics",
                "figures_of_merit_and_score",
                "exposure",
                "exposure_survey",
                "exposure_places",
            ),
            *("receive_noise", "heat", "line_choice", "nearby"),
        )
    ),
    "judgement": ("pipeline/judgement/*.py",),
    "montecarlo": ("pipeline/montecarlo/draws.py", "pipeline/montecarlo/sensitivity.py"),
    "design": ("pipeline/design/match_search.py",),
}
SHARE_WITH_EXAMPLE = 0.8
NUMBER = r"(?:float|int|complex|Real|Complex|NDArray\[np\.(?:float64|complex128)\])"
NUMBERS = re.compile(rf"{NUMBER}|tuple\[{NUMBER}(?:, {NUMBER})*\]")
SOURCE = re.compile(r"References -+ \.\. \[1\] |\bDefinition\b|\bfrom memory\b|, (?:19|20)\d\d\b")
MEASURED = re.compile(r"Measured here: (tests/[\w/]+\.py)")


def functions(room: str) -> Iterator[tuple[str, str]]:
    """Name and docstring of public functions of a room that give back numbers."""
    for path in sorted(p for pattern in PHYSICS[room] for p in ROOT.glob(pattern)):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and computes(node):
                yield f"{path.name}: {node.name}", ast.get_docstring(node) or ""


def computes(function: ast.FunctionDef) -> bool:
    returns = ast.unparse(function.returns) if function.returns else ""
    return not function.name.startswith("_") and NUMBERS.fullmatch(returns) is not None


def has_source(docstring: str) -> bool:
    text = " ".join(docstring.split())
    measured = MEASURED.search(text)
    if measured is not None:
        return (ROOT / measured[1]).is_file()
    return SOURCE.search(text) is not None


@pytest.mark.parametrize("room", PHYSICS)
def test_every_pattern_finds_a_file(room: str) -> None:
    assert [p for p in PHYSICS[room] if not list(ROOT.glob(p))] == []


@pytest.mark.parametrize("room", PHYSICS)
def test_every_function_names_its_source(room: str) -> None:
    assert [name for name, docstring in functions(room) if not has_source(docstring)] == []


@pytest.mark.parametrize("room", PHYSICS)
def test_four_of_five_functions_have_a_running_example(room: str) -> None:
    found = dict(functions(room))
    bare = [name for name, docstring in found.items() if ">>> " not in docstring]
    assert found
    assert len(found) - len(bare) >= SHARE_WITH_EXAMPLE * len(found), bare


@pytest.mark.parametrize(
    ("docstring", "expected"),
    [
        ("Loss. [dB]", False),
        ("Loss. [dB]\n\nReferences\n----------\n.. [1] Someone, 1968.", True),
        ("Loss after Dwight, AIEE Trans., 1936.", True),
        ("Ratio. [-]\n\nDefinition.", True),
        ("Share. Measured here: tests/project/test_references.py.", True),
        ("Share. Measured here: tests/project/test_that_is_not_there.py.", False),
        ("Length of 1968 mm", False),
    ],
)
def test_a_source_is_told_from_none(docstring: str, expected: bool) -> None:
    assert has_source(docstring) is expected
