"""Cables, cores and pipes of a study's own: beside the catalogue's, checked like them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from models.catalogues.parts import COAX_COLUMNS, coax_class, ferrite_core, pipe
from pipeline.analysis.line_choice import line_choice
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from tests.harness.small_study import case, small_study_file

CABLE = {
    "id": "shed-coax",
    "name": "7.3 mm coax from the shed",
    "z0_ohm": 50,
    "velocity_factor": 0.83,
    "shield_diameter_mm": 5.4,
    "jacket_diameter_mm": 7.3,
    "jacket_eps_r": 2.3,
    "bend_radius_install_mm": 22,
    "bend_radius_repeated_mm": 73,
    "k1_db_per_100m_per_sqrt_mhz": 0.6,
    "k2_db_per_100m_per_mhz": 0.0011,
    "mass_kg_per_m": 0.07,
    "source": "drum label and data sheet of 2019",
}
CORE = {
    "id": "drawer-clamp",
    "name": "clamp-on from the drawer",
    "shape": "clamp-on",
    "material": "mix 43",
    "outer_diameter_mm": 19.5,
    "inner_diameter_mm": 9.2,
    "length_mm": 32,
    "hole_diameter_mm": 9,
    "mass_g": 33,
    "source": "measured with a caliper",
}
PIPE = {
    "id": "railing-pipe",
    "name": "25x2 mm railing pipe",
    "material": "aluminium",
    "conductor": "aluminium-6063",
    "outside_diameter_mm": 25,
    "wall_mm": 2,
    "mass_kg_per_m": 0.39,
    "source": "measured with a caliper",
}
PARTS = {"cables": [CABLE], "cores": [CORE], "pipes": [PIPE]}


def csv_of(folder: Path, name: str, *rows: dict[str, object]) -> str:
    columns = list(rows[0])
    lines = [",".join(columns), *(",".join(str(row[c]) for c in columns) for row in rows)]
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return name


def study_with(folder: Path, catalogue: object, **changes: object) -> Study:
    return load_study(small_study_file(folder, catalogue=catalogue, **changes))


def own_study(folder: Path, catalogue: object = PARTS) -> Study:
    cable = {
        "type": "shed-coax",
        "joins": "short leg",
        "route": [{"out": "0.17 m"}, {"down": "1.5 m"}],
    }
    antenna = {
        "type": "j-pole",
        "pipe": "25x2 railing pipe",
        "spacing": "60 mm",
        "long_leg": "1480 mm",
        "short_leg": "490 mm",
        "tap": "60 mm",
    }
    chokes = [
        {"id": "own", "kind": "ferrite", "core": "clamp-on from the drawer", "position": "0.2 m"}
    ]
    return study_with(folder, catalogue, cable=cable, antenna=antenna, chokes=chokes)


def faults_of(folder: Path, catalogue: object) -> list[str]:
    with pytest.raises(StudyError) as caught:
        own_study(folder, catalogue)
    return [fault.text() for fault in caught.value.faults]


def test_own_parts_in_the_study_are_what_its_antenna_cable_and_choke_are_made_of(
    tmp_path: Path,
) -> None:
    study = own_study(tmp_path)
    assert study.cable.type.jacket_diameter == pytest.approx(7.3e-3)
    assert study.cable.type.source == "drum label and data sheet of 2019"
    assert study.pipe.outside_diameter == pytest.approx(0.025)
    first = study.chokes[0]
    assert isinstance(first, FerriteChoke)
    assert (first.core.id, first.core.material) == ("drawer-clamp", "mix-43")
    assert first.core.on_sale


def test_own_parts_in_files_are_the_same_and_the_study_rests_on_the_files(tmp_path: Path) -> None:
    files = {
        "cables": csv_of(tmp_path, "cables.csv", CABLE),
        "cores": csv_of(tmp_path, "cores.csv", CORE),
        "pipes": csv_of(tmp_path, "pipes.csv", PIPE),
    }
    study = own_study(tmp_path, files)
    inline = own_study(tmp_path)
    assert study.cable.type == inline.cable.type
    assert study.pipe == inline.pipe
    assert {"cables.csv", "cores.csv", "pipes.csv"} <= set(study.files)


def test_rows_of_the_catalogue_can_be_copied_into_a_file_of_ones_own(tmp_path: Path) -> None:
    rows = Path("models/catalogues/coax.csv").read_text(encoding="utf-8").splitlines()
    mine = rows[1].replace("rg-58c-u,RG-58C/U", "mine,my coax", 1)
    (tmp_path / "mine.csv").write_text(f"{rows[0]}\n{mine}\n", encoding="utf-8")
    one = {"id": "one", "kind": "ferrite", "core": "mix-43-clamp-12-7"}
    study = study_with(tmp_path, {"cables": "mine.csv"}, cable={"type": "my coax"}, chokes=[one])
    theirs = coax_class("RG-58C/U")
    assert tuple(rows[0].split(",")) == COAX_COLUMNS
    assert replace(study.cable.type, id=theirs.id, name=theirs.name) == theirs


def test_loss_columns_follow_from_two_printed_losses_as_the_readme_says() -> None:
    # RG-174/U, 14.96 dB at 30 MHz and 33.79 dB at 150 MHz per 100 m (tests/validation/coax.csv).
    (a, f), (b, g) = (14.96, 30.0), (33.79, 150.0)
    k2 = (b / g**0.5 - a / f**0.5) / (g**0.5 - f**0.5)
    k1 = a / f**0.5 - k2 * f**0.5
    cable = coax_class("RG-174/U")
    assert (1e5 * cable.k1, 1e8 * cable.k2) == pytest.approx((k1, k2), rel=0.01)


def test_own_cable_is_compared_with_those_of_the_catalogue(tmp_path: Path) -> None:
    study = own_study(tmp_path)
    options = line_choice(study, case("none"), 2.0).options
    assert [o.cable.id for o in options if o.own] == ["shed-coax"]
    assert "rg-213-u" in {o.cable.id for o in options}


def test_own_parts_are_unknown_to_a_study_without_them(tmp_path: Path) -> None:
    own_study(tmp_path)
    parts = ((coax_class, "shed-coax"), (ferrite_core, "drawer-clamp"), (pipe, "railing-pipe"))
    for find, name in parts:
        with pytest.raises(LookupError):
            find(name)


@pytest.mark.parametrize(
    ("kind", "column", "value", "said"),
    [
        ("cables", "z0_ohm", 20, "is outside 25 to 150"),
        ("cables", "velocity_factor", "fast", "is not a number"),
        ("cables", "shield_diameter_mm", 9, "is outside 0.5 to 7.3"),
        ("cables", "source", "", "is empty"),
        ("cables", "confidence", "sure", "is not one of measured"),
        ("cables", "id", "RG-213/U", "is not made of lower-case letters"),
        ("cables", "name", "RG-213/U", "is the name of a part of the catalogue"),
        ("cores", "shape", "blob", "is not one of ring, bead, clamp-on"),
        ("cores", "material", "mix 99", "is no ferrite material of the catalogue"),
        ("cores", "hole_diameter_mm", 10, "is outside 0.5 to 9.2"),
        ("pipes", "conductor", "unobtainium", "is no conductor of the catalogue"),
        ("pipes", "wall_mm", 13, "is outside 0.2 to 12.5"),
        ("pipes", "name", "=cmd()", "begins with a sign"),
    ],
)
def test_wrong_cell_is_told_with_file_line_column_value_range_and_remedy(
    tmp_path: Path, kind: str, column: str, value: object, said: str
) -> None:
    rows = {"cables": CABLE, "cores": CORE, "pipes": PIPE}
    wrong = rows[kind] | {column: value}
    inline = faults_of(tmp_path, PARTS | {kind: [wrong]})
    assert len(inline) == 1, inline
    assert f"catalogue.{kind}[0].{column}" in inline[0]
    assert said in inline[0]
    assert "Try: " in inline[0]
    in_file = faults_of(tmp_path, PARTS | {kind: csv_of(tmp_path, "mine.csv", wrong)})
    assert len(in_file) == 1, in_file
    assert f"mine.csv:2  {column} = " in in_file[0] or value == ""
    assert said in in_file[0]


def test_what_is_missing_of_an_own_part_is_not_taken_from_another(tmp_path: Path) -> None:
    without = {k: v for k, v in CABLE.items() if k != "k1_db_per_100m_per_sqrt_mhz"}
    text = faults_of(tmp_path, PARTS | {"cables": [without]})[0]
    # A loss that may be copied as it stands would be that of RG-58C/U.
    assert "Try: k1_db_per_100m_per_sqrt_mhz: your part's own" in text


def test_a_metal_that_several_have_is_answered_with_those(tmp_path: Path) -> None:
    (text,) = faults_of(tmp_path, PARTS | {"pipes": [PIPE | {"conductor": "brass"}]})
    assert "Try: write it like brass C26000 or brass C37000" in text
    for metal in ("brass C26000", "brass C37000"):
        assert own_study(tmp_path, PARTS | {"pipes": [PIPE | {"conductor": metal}]}).pipe.sigma > 0


def test_all_faults_of_own_parts_come_in_one_round(tmp_path: Path) -> None:
    rows = [
        CABLE | {"z0_ohm": 20, "k1_db_per_100m_per_sqrt_mhz": -1, "source": ""},
        CABLE | {"id": "second", "name": "second", "jacket_eps_r": 0.5},
    ]
    texts = faults_of(tmp_path, PARTS | {"cables": rows, "pipes": [PIPE | {"wall_mm": "thick"}]})
    assert len(texts) == 5


@pytest.mark.parametrize(
    ("catalogue", "said"),
    [
        ({"cable": [CABLE]}, "cables:"),
        ({"cables": [CABLE | {"z0": 50}]}, "z0_ohm"),
        ({"cables": [{k: v for k, v in CABLE.items() if k != "source"}]}, "source"),
        ({"cables": [CABLE, dict(CABLE)]}, "is there twice"),
        ({"cables": 5}, "is neither a file name nor a list of parts"),
        ({"cables": ["shed"]}, "is not a set of columns and values"),
        ({"cables": "missing.csv"}, "missing.csv"),
        ({"cables": "../cables.csv"}, "leads out of the study's own folder"),
        ([CABLE], "is not a set of keys and values"),
    ],
)
def test_wrong_catalogue_is_told(tmp_path: Path, catalogue: object, said: str) -> None:
    texts = faults_of(tmp_path, catalogue)
    assert any(said in text for text in texts), texts


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (",".join(COAX_COLUMNS) + "\n", "there are no rows"),
        ("id,name\na,b\n", "has no column z0_ohm, velocity_factor"),
        ("id,name,z0_ohm,z0_ohm\na,b,50,50\n", "is there twice"),
        ("id,name,zO_ohm\na,b,50\n", "z0_ohm"),
        ("", "is empty"),
        ("id,name,source\nshort,row\n", "2 cells, need 3"),
        (",".join(COAX_COLUMNS) + "\n" + "x" * 200_000 + "\n", "no table of cells"),
    ],
)
def test_wrong_file_is_told(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "mine.csv").write_text(text, encoding="utf-8")
    texts = faults_of(tmp_path, {"cables": "mine.csv"})
    assert any(said in t and "mine.csv" in t for t in texts), texts


def test_core_is_offered_by_what_fits_the_cable_of_the_study(tmp_path: Path) -> None:
    chokes = [{"id": "a", "kind": "ferrite", "core": "mix 43"}]
    with pytest.raises(StudyError) as caught:
        load_study(small_study_file(tmp_path, chokes=chokes))
    (fault,) = caught.value.faults
    assert fault.tag == "name-ambiguous"
    assert fault.remedy.startswith("mix-43-clamp-12-7 (clamp-on, 12.7 mm hole")
