"""Names of parts as people write them: found, told apart, or the nearest offered."""

from __future__ import annotations

import pickle

import pytest

from models.catalogues.names import AmbiguousName, tokens
from models.catalogues.parts import UnknownName, coax_class, ferrite_core, ferrite_material, pipe

CABLES = {
    "RG-8X": "6-1-mm-foam-rg-8x",
    "RG8X": "6-1-mm-foam-rg-8x",
    "rg 8x": "6-1-mm-foam-rg-8x",
    "Mini 8": "6-1-mm-foam-rg-8x",
    "RG58": "rg-58c-u",
    "RG-58": "rg-58c-u",
    "RG-58A/U": "rg-58c-u",
    "rg58 c/u coax": "rg-58c-u",
    "RG-213": "rg-213-u",
    "RG-8": "rg-213-u",
    "rg213/U cable": "rg-213-u",
    "RG 142 B/U": "rg-142-u",
    "RG174": "rg-174-u",
    "RG-316": "rg-316-u",
    "RG-6": "6-9-mm-foam-rg-6",
    "RG6/U": "6-9-mm-foam-rg-6",
    "RG-11": "10-3-mm-foam-rg-11",
    "RG59": "rg-59b-u",
    "400 class": "10-3-mm-foam-low-loss",
    "240 class": "6-1-mm-foam-low-loss",
    "10,3 mm low loss foam": "10-3-mm-foam-low-loss",
    '7/8" hardline': "7-8-in-foam-hardline",
    "7/8 hard line": "7-8-in-foam-hardline",
    "2.8 mm low loss": "2-8-mm-low-loss",
}
PIPES = {
    "22x1": "copper-22x1",
    "22 × 1 mm": "copper-22x1",
    "22x1 mm copper tube": "copper-22x1",
    "Cu 15 x 0,7": "copper-15x0-7",
    "1/2 type L": "copper-1-2-in-type-l",
    '1/2" Type M copper pipe': "copper-1-2-in-type-m",
    "½ inch type K": "copper-1-2-in-type-k",
    "0.5 in type L": "copper-1-2-in-type-l",
    "1 1/4 in type M": "copper-1-1-4-in-type-m",
    "1-1/4 inch type M": "copper-1-1-4-in-type-m",
    "1/2 in brass": "brass-1-2-in",
    "1/2 in outside diameter brass": "brass-1-2-in",
    "5/8 in od alu": "aluminium-5-8-in",
    "7/8 in aluminum": "aluminium-7-8-in",
    "20x2 aluminium": "aluminium-20x2",
}
CORES = {
    "mix 43 clamp-on 13 mm": "mix-43-clamp-12-7",
    "#31 snap-on 6.5 mm": "mix-31-clamp-6-6",
    "mix 61 split core, 18 mm": "mix-61-clamp-18",
    "mix 31 clip-on 25mm": "mix-31-clamp-25",
    "mix-43 toroid 61 mm": "mix-43-ring-61",
    "mix 73": "mix-73-bead-25-9",
}


@pytest.mark.parametrize(("written", "meant"), CABLES.items())
def test_cable_is_found_as_people_write_it(written: str, meant: str) -> None:
    assert coax_class(written).id == meant


@pytest.mark.parametrize(("written", "meant"), PIPES.items())
def test_pipe_is_found_as_people_write_it(written: str, meant: str) -> None:
    assert pipe(written).id == meant


@pytest.mark.parametrize(("written", "meant"), CORES.items())
def test_core_is_found_as_people_write_it(written: str, meant: str) -> None:
    assert ferrite_core(written).id == meant


@pytest.mark.parametrize("written", ["mix 43", "43 mix", "Mix #43", "material 43"])
def test_ferrite_mix_is_found_by_its_number(written: str) -> None:
    assert ferrite_material(written).id == "mix-43"


@pytest.mark.parametrize("written", ["1/2 in", '1/2"', "½ inch", "0.5 in", "1/2"])
def test_half_an_inch_of_pipe_is_told_as_a_nominal_size_and_as_an_outside_diameter(
    written: str,
) -> None:
    # ASTM B88: water tube is an eighth of an inch thicker than its nominal size.
    with pytest.raises(AmbiguousName) as caught:
        pipe(written)
    rule, remedy = caught.value.rule, caught.value.remedy
    assert "as a nominal size (12.7 mm, 15.9 mm outside)" in rule
    assert "as an outside diameter (12.7 mm)" in rule
    for offered in ("1/2 in type K", "1/2 in aluminium", "1/2 in brass", "3/8 in type L"):
        assert offered in remedy


def test_nominal_and_outside_may_be_said() -> None:
    with pytest.raises(AmbiguousName) as nominal:
        pipe("nominal 1/2 in copper")
    names = [f"1/2 in type {letter} (15.875 mm outside)" for letter in "KLM"]
    assert nominal.value.nearest == tuple(names)
    with pytest.raises(AmbiguousName) as outside:
        pipe("1/2 in outside diameter copper")
    names = [f"3/8 in type {letter} (12.7 mm outside)" for letter in "KLM"]
    assert outside.value.nearest == tuple(names)


def test_a_mix_alone_offers_the_clamp_on_that_the_cable_goes_through_first() -> None:
    for jacket, core in ((10.3e-3, "12-7"), (4.95e-3, "6-6"), (15e-3, "18")):
        with pytest.raises(AmbiguousName) as caught:
            ferrite_core("mix 43", jacket_diameter=jacket)
        first = caught.value.nearest[0]
        assert first.startswith(f"mix-43-clamp-{core} (clamp-on")
        assert "connectors may stay on" in first


@pytest.mark.parametrize(
    ("find", "written", "offered"),
    [
        (coax_class, "RG-88X", "6.1 mm foam (RG-8X class)"),
        (coax_class, "RG-214", "RG-213/U"),
        (coax_class, "ABC-400", "10.3 mm foam low-loss"),
        (coax_class, "10.3 mm foam lowlos", "10.3 mm foam low-loss"),
        (coax_class, "hardlin", "7/8 in foam hardline"),
        (pipe, "1/2 in tipe L", "1/2 in type L"),
        (pipe, "22x2 mm", "22x1.2 mm"),
        (ferrite_core, "mix 43 clamp-on 9 mm", "mix-43-clamp-9-85"),
    ],
)
def test_misspelt_name_comes_back_with_the_nearest(find, written: str, offered: str) -> None:
    with pytest.raises(UnknownName) as caught:
        find(written)
    assert any(offered in near for near in caught.value.nearest)


def test_a_name_that_means_several_parts_survives_pickling() -> None:
    with pytest.raises(AmbiguousName) as caught:
        coax_class("10.3 mm")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert "RG-213/U" in again.remedy


def test_every_id_and_name_of_the_catalogue_finds_its_own_part() -> None:
    from models.catalogues.parts import coax_classes, ferrite_cores, pipes

    for find, items in (
        (coax_class, coax_classes()),
        (pipe, pipes()),
        (ferrite_core, ferrite_cores()),
    ):
        for item in items:
            assert find(item.id) == find(item.name) == item


@pytest.mark.parametrize(
    ("find", "written"),
    [(pipe, "1/2 in"), (pipe, "22x2"), (ferrite_core, "mix 31"), (coax_class, "10.3 mm")],
)
def test_what_is_offered_may_be_copied_as_it_stands(find, written: str) -> None:
    with pytest.raises(UnknownName) as caught:
        find(written)
    for offered in caught.value.nearest:
        assert find(offered).name


def test_words_that_every_part_has_tell_none_from_another() -> None:
    assert tokens("the coax cable class") == frozenset()
    with pytest.raises(UnknownName):
        coax_class("cable")
