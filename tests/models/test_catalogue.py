"""Catalogues: what they hold, how they are looked up, and what they refuse.

Published values are in tests/validation, pipes, ferrites, coax and metal.
"""

from __future__ import annotations

import dataclasses
import pickle

import numpy as np
import pytest

from models.catalogues.names import find, fold_name
from models.catalogues.parts import (
    DamagedCatalogue,
    UnknownName,
    coax_class,
    coax_classes,
    conductor,
    conductors,
    ferrite_core,
    ferrite_cores,
    ferrite_material,
    ferrite_material_of,
    ferrite_materials,
    pipe,
    pipes,
    soil_class,
    soil_classes,
    takes_cable,
)
from models.catalogues.rows import CONFIDENCES, Row, check_unique, read_rows

ALL = [
    (pipe, pipes),
    (coax_class, coax_classes),
    (ferrite_core, ferrite_cores),
    (ferrite_material, ferrite_materials),
    (soil_class, soil_classes),
    (conductor, conductors),
]
HEADER = ["id", "name", "size_mm", "source", "confidence"]
GOOD = "id,name,size_mm,source,confidence\na,A,1.5,a standard,handbook\n"


# Laws


@pytest.mark.parametrize(("look_up", "everything"), ALL)
def test_every_item_is_found_by_its_id_and_by_its_name(look_up: object, everything: object) -> None:
    for item in everything():  # type: ignore[operator]
        assert look_up(item.id) is item  # type: ignore[operator]
        assert look_up(f"  {item.name.upper()} ") is item  # type: ignore[operator]


@pytest.mark.parametrize(("_look_up", "everything"), ALL)
def test_every_item_says_where_it_comes_from_and_how_sure_that_is(
    _look_up: object, everything: object
) -> None:
    for item in everything():  # type: ignore[operator]
        assert len(item.source) > 5
        assert item.confidence in CONFIDENCES


def test_pipe_mass_is_that_of_its_metal() -> None:
    # Copper 8940, aluminium 2700, brass C26000 8530 kg/m3; three printed digits of the mass.
    for item in pipes():
        inside = item.outside_diameter - 2 * item.wall
        section = np.pi / 4 * (item.outside_diameter**2 - inside**2)
        metal = {"copper": 8940, "aluminium": 2700, "brass": 8530}[item.material]
        assert item.mass_per_m == pytest.approx(metal * section, rel=0.005, abs=6e-4)
        assert item.sigma == conductor(item.conductor).sigma


def test_a_core_that_is_there_to_compare_mixes_is_not_on_sale() -> None:
    for core in ferrite_cores():
        assert core.on_sale == ("for comparison" not in core.note)
    assert not ferrite_core("mix-73-bead-25-9").on_sale


def test_a_nominal_bore_a_hair_wider_than_the_jacket_takes_no_cable() -> None:
    # 6.35 mm of bore for 6.1 mm of jacket, within what both scatter.
    jacket = coax_class("6.1 mm foam (RG-8X class)").jacket_diameter
    assert not takes_cable(ferrite_core("mix-43-bead-14-3"), jacket)
    assert takes_cable(ferrite_core("mix-43-bead-16-25"), jacket)
    assert takes_cable(ferrite_core("mix-43-bead-14-3"), coax_class("RG-58C/U").jacket_diameter)


def test_a_clamp_takes_the_thickest_cable_that_it_is_sold_for() -> None:
    clamp = ferrite_core("mix-43-clamp-12-7")
    assert takes_cable(clamp, clamp.hole_diameter)
    assert not takes_cable(clamp, clamp.hole_diameter + 1e-4)


def test_coax_loses_more_per_metre_the_thinner_it_is_within_a_family() -> None:
    family = ["10.3 mm foam low-loss", "6.1 mm foam low-loss", "5 mm foam low-loss"]
    cables = [coax_class(name) for name in family]
    loss = [cable.k1 * np.sqrt(145e6) + cable.k2 * 145e6 for cable in cables]
    assert loss[0] < loss[1] < loss[2]
    # dB per metre: a cable of this size loses between 1 and 40 dB per 100 m at 145 MHz.
    assert all(0.01 < value < 0.4 for value in loss)


def test_coax_insulation_is_slower_than_air_and_its_bends_are_wider_once_repeated() -> None:
    for cable in coax_classes():
        assert cable.velocity_factor < 1
        assert cable.bend_radius_repeated >= cable.bend_radius_install
    # Data sheets of all but a few give both.
    apart = [c for c in coax_classes() if c.bend_radius_repeated > c.bend_radius_install]
    assert len(apart) > len(coax_classes()) / 2


def test_cores_of_four_mixes_have_one_size_and_take_the_thick_cable() -> None:
    cable = coax_class("10.3 mm foam low-loss")
    for kind in ("bead-25-9", "clamp-12-7"):
        cores = [ferrite_core(f"mix-{mix}-{kind}") for mix in (31, 43, 52, 61)]
        assert len({(c.outer_diameter, c.inner_diameter, c.length) for c in cores}) == 1
        assert len({c.material for c in cores}) == 4
        assert all(c.hole_diameter > cable.jacket_diameter for c in cores)


def test_ferrite_tables_cover_the_band_of_the_project_where_the_mix_is_meant_for_it() -> None:
    for mix in (31, 43, 44, 46, 52, 61, 67, 68):
        table = ferrite_material(f"mix-{mix}")
        assert table.frequency[0] <= 30e6
        assert table.frequency[-1] >= 500e6


def test_ferrite_loss_has_the_sign_of_a_passive_material() -> None:
    for table in ferrite_materials():
        assert np.all(table.mu_r.imag <= 0)
        assert np.all(np.diff(table.frequency) > 0)


# Edges


def test_multiplication_sign_and_spaces_do_not_matter() -> None:
    assert pipe("22 × 1 mm") is pipe("22X1MM") is pipe("copper-22x1")
    assert fold_name(" 3/4 IN Type M") == "3/4intypem"


def test_catalogues_are_read_once_and_cannot_be_written() -> None:
    assert pipes() is pipes()
    table = ferrite_material("mix-43")
    with pytest.raises(ValueError, match="read-only"):
        table.mu_r[0] = 1
    with pytest.raises(dataclasses.FrozenInstanceError):
        pipe("22x1 mm").wall = 0.0  # type: ignore[misc]


def test_quoted_commas_and_units_are_read() -> None:
    text = GOOD.replace("a standard", '"a standard, part 2"')
    row = read_rows(text, "x.csv", HEADER)[0]
    assert row.text("source") == "a standard, part 2"
    assert row.number("size_mm", 0, 10, 1e-3) == pytest.approx(1.5e-3)


# Refusals


def test_unknown_name_comes_back_with_the_nearest_and_all_known() -> None:
    with pytest.raises(UnknownName) as caught:
        coax_class("10.3 mm foam lowlos")
    error = pickle.loads(pickle.dumps(caught.value))
    assert error.kind == "cable"
    assert error.name == "10.3 mm foam lowlos"
    assert error.nearest[0] == "10.3 mm foam low-loss"
    assert error.known == tuple(cable.name for cable in coax_classes())
    assert "no cable is called '10.3 mm foam lowlos'; nearest: 10.3 mm foam" in str(error)


def test_name_like_no_other_has_no_nearest() -> None:
    with pytest.raises(UnknownName) as caught:
        pipe("qqqq")
    assert caught.value.nearest == ()
    assert str(caught.value) == "no pipe is called 'qqqq'"


def test_empty_catalogue_knows_no_name() -> None:
    with pytest.raises(UnknownName):
        find("pipe", (), "22x1 mm")


@pytest.mark.parametrize(
    ("text", "line", "rule"),
    [
        ("", 1, "the header must be id,name,size_mm,source,confidence"),
        (GOOD.replace("size_mm", "size_in"), 1, "the header must be"),
        ("id,name,size_mm,source,confidence\n", 1, "there are no rows"),
        (GOOD + "b,B,2\n", 3, "3 cells, need 5"),
        (GOOD.replace("a standard", " "), 2, "source is empty"),
        (GOOD.replace("handbook", ""), 2, "confidence is empty"),
        (GOOD.replace("handbook", "sure"), 2, "confidence = 'sure' is not one of measured"),
    ],
)
def test_damaged_file_is_refused_with_its_line(text: str, line: int, rule: str) -> None:
    with pytest.raises(DamagedCatalogue) as caught:
        read_rows(text, "x.csv", HEADER)
    error = pickle.loads(pickle.dumps(caught.value))
    assert (error.file, error.line) == ("x.csv", line)
    assert rule in error.problem
    assert str(error).startswith(f"x.csv:{line}: ")


@pytest.mark.parametrize(
    ("cell", "rule"),
    [
        ("", "size_mm is empty"),
        ("1,5", "size_mm = '1,5' is not a number"),
        ("nan", "size_mm = nan is outside 1 to 10"),
        ("inf", "size_mm = inf is outside 1 to 10"),
        ("0.9", "size_mm = 0.9 is outside 1 to 10"),
    ],
)
def test_number_that_is_none_or_out_of_bounds_is_refused(cell: str, rule: str) -> None:
    with pytest.raises(DamagedCatalogue, match=rule):
        Row("x.csv", 2, {"size_mm": cell}).number("size_mm", 1, 10)


def test_label_that_means_two_things_is_refused() -> None:
    first = soil_class("average")
    twice = dataclasses.replace(first, name="another")
    with pytest.raises(DamagedCatalogue, match="'another' is also 'average'"):
        check_unique("x.csv", [first, twice])
    alike = dataclasses.replace(first, id="other", name="AVERAGE  ground")
    with pytest.raises(DamagedCatalogue, match="'AVERAGE  ground' is also 'average'"):
        check_unique("x.csv", [first, alike])


@pytest.mark.parametrize("label", ["Average", "a_b", "a--b", "-a", "", "a b", "ä"])
def test_id_that_is_not_lower_case_with_hyphens_is_refused(label: str) -> None:
    with pytest.raises(DamagedCatalogue, match="is not lower case with hyphens"):
        check_unique("x.csv", [dataclasses.replace(soil_class("average"), id=label)])


@pytest.mark.parametrize(
    ("second", "rule"),
    [
        (("1e6", "5", "1"), "frequency does not rise"),
        (("2e6", "5", "-1"), "mu_r_double_prime = -1 is outside"),
        (("2e6", "five", "1"), "mu_r_prime = 'five' is not a number"),
    ],
)
def test_permeability_out_of_order_or_active_is_refused(
    second: tuple[str, str, str], rule: str
) -> None:
    def row(line: int, values: tuple[str, str, str]) -> Row:
        names = ("frequency_hz", "mu_r_prime", "mu_r_double_prime")
        label = {"material": "m", "name": "M", "source": "s", "confidence": "derived"}
        return Row("x.csv", line, label | dict(zip(names, values, strict=True)))

    with pytest.raises(DamagedCatalogue, match=rule):
        ferrite_material_of([row(2, ("1e6", "6", "1")), row(3, second)])
