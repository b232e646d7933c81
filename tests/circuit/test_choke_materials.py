"""Cores by themselves: published impedances of one pass, and which are worth trying."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from models.catalogues.parts import ferrite_core
from pipeline.circuit.choke_materials import looser, one_pass

PUBLISHED = Path(__file__).parents[1] / "validation" / "ferrites.csv"
CLAMPS = [ferrite_core(f"mix-43-clamp-{size}") for size in ("12-7", "18", "25")]


# Published: impedances of one pass, from the table of the validation


def published() -> list[dict[str, str]]:
    """One pass of one core, and nothing else said about it."""
    with PUBLISHED.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    keys = [{part.split("=")[0] for part in r["inputs"].split(";")} for r in rows]
    return [
        r
        for r, named in zip(rows, keys, strict=True)
        if r["quantity"] in ("resistance", "reactance")
        and named == {"core", "f_mhz"}
        and not r["beyond"]
    ]


@pytest.mark.parametrize("row", published(), ids=lambda r: f"{r['quantity']}-{r['inputs']}")
def test_one_pass_has_the_published_impedance(row: dict[str, str]) -> None:
    assert len(published()) >= 4
    inputs = dict(part.split("=") for part in row["inputs"].split(";"))
    z = one_pass(ferrite_core(inputs["core"]), 1e6 * float(inputs["f_mhz"]))
    assert z is not None
    part = z.real if row["quantity"] == "resistance" else z.imag
    expected, tolerance = float(row["expected"]), float(row["tolerance"])
    if row["kind"] == "relative":
        tolerance *= abs(expected)
    assert part == pytest.approx(expected, abs=tolerance)


def test_no_value_is_told_where_the_data_end() -> None:
    bead = ferrite_core("mix-73-bead-25-9")
    assert one_pass(bead, 99e6) is not None
    assert one_pass(bead, 145e6) is None


# Which are worth trying


def test_a_looser_core_of_the_same_mix_that_does_less_is_left_out() -> None:
    assert looser(CLAMPS, 145e6, {}) == tuple(CLAMPS[1:])
    assert looser([*CLAMPS[1:], ferrite_core("mix-31-clamp-12-7")], 145e6, {}) == (CLAMPS[2],)


def test_a_looser_core_with_a_price_may_be_the_better_buy() -> None:
    assert looser(CLAMPS, 145e6, {"mix-43-clamp-25": 1.0}) == (CLAMPS[1],)


def test_a_ring_stands_in_for_no_clamp_on_and_a_short_core_is_kept() -> None:
    others = [ferrite_core("mix-43-ring-29"), ferrite_core("mix-43-bead-25-9"), CLAMPS[0]]
    assert looser(others, 145e6, {}) == ()
