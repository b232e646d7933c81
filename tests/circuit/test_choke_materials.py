"""Which cores are worth trying: a looser one of the same mix that does less is not."""

from __future__ import annotations

from models.catalogues.parts import ferrite_core
from pipeline.circuit.choke_materials import looser

CLAMPS = [ferrite_core(f"mix-43-clamp-{size}") for size in ("12-7", "18", "25")]


def test_a_looser_core_of_the_same_mix_that_does_less_is_left_out() -> None:
    assert looser(CLAMPS, 145e6, {}) == tuple(CLAMPS[1:])
    assert looser([*CLAMPS[1:], ferrite_core("mix-31-clamp-12-7")], 145e6, {}) == (CLAMPS[2],)


def test_a_looser_core_with_a_price_may_be_the_better_buy() -> None:
    assert looser(CLAMPS, 145e6, {"mix-43-clamp-25": 1.0}) == (CLAMPS[1],)


def test_a_ring_stands_in_for_no_clamp_on_and_a_short_core_is_kept() -> None:
    others = [ferrite_core("mix-43-ring-29"), ferrite_core("mix-43-bead-25-9"), CLAMPS[0]]
    assert looser(others, 145e6, {}) == ()
