"""A wrong study is refused with what reading it takes, and nothing that solves or draws."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.text.units import _SCALE, FAMILIES, _by_library
from tests.harness.command import HOME

# To load them takes longer than to read and check a study.
HEAVY = {"PyNEC", "jinja2", "matplotlib", "pint", "scipy", "skrf", "snakemake"}
LOADED = """
import contextlib, io, json, sys
from pipeline.commands.cli import main
codes = []
for command in ("study", "check", "evidence", "tune", "cut", "spread", "choke"):
    with contextlib.redirect_stderr(io.StringIO()):
        codes.append(main([command, *sys.argv[1:]]))
print(json.dumps([codes, sorted({name.split(".")[0] for name in sys.modules})]))
"""


def test_no_command_loads_what_solves_or_draws_to_refuse_a_file(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text("frequency: 145 MHz\nantena: {type: j-pole}\nsite: {height: 8 m}\n", "utf-8")
    run = [sys.executable, "-c", LOADED, str(wrong), str(tmp_path / "none.yaml")]
    answer = subprocess.run(run, capture_output=True, text=True, check=True, cwd=HOME)
    codes, loaded = json.loads(answer.stdout)
    assert codes == [2] * 7
    assert HEAVY.isdisjoint(loaded)
    assert {"pipeline", "pydantic", "yaml"} <= set(loaded)


@pytest.mark.parametrize("unit", FAMILIES)
def test_the_usual_spellings_are_worth_what_the_library_of_units_says(unit: str) -> None:
    spellings = {s for s in FAMILIES[unit].spellings if s in _SCALE}
    assert spellings or unit == "m/s"
    for spelling in spellings - {"dB"}:
        value = 1480.5 * _SCALE[spelling]
        assert _by_library(1480.5, spelling, unit) == pytest.approx(value, rel=1e-15)
