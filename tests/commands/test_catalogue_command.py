"""What the catalogue command lists, and what it leaves out because it does not fit."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from models.catalogues.parts import coax_classes, ferrite_cores, pipes, takes_cable
from pipeline.commands.cli import main
from tests.harness.small_study import small_study_file

CORE = {
    "id": "drawer-clamp",
    "shape": "clamp-on",
    "material": "mix 43",
    "outer_diameter_mm": 30,
    "inner_diameter_mm": 15.2,
    "length_mm": 32,
    "hole_diameter_mm": 15,
    "mass_g": 33,
    "source": "measured with a caliper",
}


def listed(capsys: pytest.CaptureFixture[str], *arguments: str, exit_code: int = 0) -> str:
    assert main(["catalogue", *arguments]) == exit_code
    out, err = capsys.readouterr()
    return out if exit_code == 0 else err


def test_everything_of_the_catalogue_is_listed_by_what_a_study_writes(capsys) -> None:
    text = listed(capsys)
    for part in (*coax_classes(), *pipes()):
        assert part.name in text
    for core in ferrite_cores():
        assert core.id in text
    for word in ("mix-43", "average", "sea water"):
        assert word in text


def test_one_kind_is_listed_alone(capsys) -> None:
    text = listed(capsys, "cables")
    assert "RG-213/U" in text
    assert "mix-43" not in text
    assert max(map(len, text.splitlines())) <= 100


def test_the_loss_listed_is_that_of_a_hundred_metres(capsys) -> None:
    # RG-213/U at 144 or 145 MHz: 8 to 9 dB per 100 m (common practice, no source).
    (line,) = (row for row in listed(capsys, "cables").splitlines() if "RG-213/U" in row)
    shown = [float(x) for x in re.findall(r"[0-9]+\.[0-9](?= /|  )", line)]
    assert any(7.5 < x < 9.5 for x in shown)


def test_cores_are_those_that_the_cable_goes_through_clamp_on_first(capsys) -> None:
    text = listed(capsys, "cores", "--fits", "RG8X")
    fitting = [c for c in ferrite_cores() if takes_cable(c, 6.1e-3)]
    for core in ferrite_cores():
        assert (core.id in text) == (core in fitting)
    first = next(line for line in text.splitlines() if line.startswith("mix-"))
    assert "clamp-on" in first
    assert "6.1 mm" in text.splitlines()[0]


def test_pipes_that_a_cable_goes_through_say_whether_they_do_as_a_sleeve(capsys) -> None:
    # Refused as sleeves below 2.6 times a shield of 8.13 mm: tests/chokes/test_drawn_sleeve.py.
    rows = listed(capsys, "pipes", "--fits", "10.3 mm foam low-loss").splitlines()
    told = {row.split("  ")[0]: re.search(r"  (yes|too narrow)  ", row) for row in rows[2:]}
    assert all(told.values())
    said = {name: found[1] for name, found in told.items() if found}
    assert said["15x1 mm"] == "too narrow"
    assert said["28x1 mm"] == "yes"
    assert "yes" not in listed(capsys, "pipes", "--fits", "10.3 mm")


def test_cores_that_nobody_sells_come_last(capsys) -> None:
    rows = [line for line in listed(capsys, "cores").splitlines() if line.startswith("mix-")]
    unsold = ["not sold" in row for row in rows]
    assert True in unsold
    assert unsold == sorted(unsold)


def test_a_diameter_will_do_for_a_cable(capsys) -> None:
    assert "mix-43-clamp-6-6" in listed(capsys, "cores", "--fits", "6.4 mm")
    assert "mix-43-clamp-6-6" not in listed(capsys, "cores", "--fits", "0.3 in")


def test_cables_are_those_that_go_under_a_core_or_into_a_pipe(capsys) -> None:
    under = listed(capsys, "cables", "--fits", "mix-43-clamp-6-6")
    assert "RG-58C/U" in under
    assert "RG-213/U" not in under
    into = listed(capsys, "--fits", "10x1 mm")
    assert "6.1 mm foam low-loss" in into
    assert "RG-213/U" not in into


def test_pipes_are_those_that_go_over_the_cable(capsys) -> None:
    text = listed(capsys, "pipes", "--fits", "10.3 mm foam low-loss")
    assert "12x0.6 mm" in text
    assert "12x1 mm " not in text


def test_what_fits_nothing_says_what_would_be_needed(capsys) -> None:
    text = listed(capsys, "cores", "--fits", "120 mm")
    assert "Nothing in the catalogue" in text
    assert "120 mm" in text


def test_own_parts_of_a_study_are_listed_and_marked(capsys, tmp_path: Path) -> None:
    path = small_study_file(tmp_path, catalogue={"cores": [CORE]})
    text = listed(capsys, "cores", "--fits", "14 mm", "--study", str(path))
    line = next(line for line in text.splitlines() if "drawer-clamp" in line)
    assert "own" in line
    assert "drawer-clamp" not in listed(capsys, "cores", "--fits", "14 mm")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("cores", "--fits", "RG-999"), "is no cable, core or pipe of the catalogue"),
        (("pipes", "--fits", "1/2 in type L"), "is a pipe"),
        (("cables", "--fits", "RG58"), "is a cable"),
        (("cores", "--fits", "-3 mm"), "is below"),
        (("mixes", "--fits", "RG58"), "have no size"),
        (("cores", "--study", "missing.yaml"), "missing.yaml"),
    ],
)
def test_what_cannot_be_listed_is_told_with_a_remedy(capsys, arguments, said: str) -> None:
    text = listed(capsys, *arguments, exit_code=2)
    assert said in text
    assert "Try: " in text
