"""What is solved for a study, and what a change of it makes necessary to solve again."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from models.catalogues.parts import ferrite_core, pipe
from models.site.soil import Soil
from pipeline.chokes.coil import CoilChoke
from pipeline.runtime.store import write_arrays, write_text
from pipeline.solver.cases import (
    ALONE,
    CABLE,
    GeometryPlan,
    cases,
    geometry_plans,
    ideal_choke,
    zones,
)
from pipeline.solver.solve_cache import (
    REQUEST,
    SOLVES,
    STORE,
    drop_damaged,
    frequency_grid,
    request,
    requests,
    solves_to_go_on_from,
)
from pipeline.study.reader import load_study
from pipeline.study.records import Band, Station, Study
from tests.harness.small_study import choke, small_study_file, study


def coiled(study: Study, turns: int = 3, position: float = 0.5) -> Study:
    """The study with a coil that is drawn as wire, beside its other candidates."""
    coil = CoilChoke(
        id="wound",
        label="wound",
        position=position,
        turns=turns,
        diameter=0.1,
        pitch=0.02,
        cable=study.cable.type,
        model="wire",
    )
    return replace(study, chokes=(*study.chokes, coil))


def digests(study: Study) -> dict[str, str]:
    return {name: r.digest() for name, r in requests(study).items()}


def changed(before: Study, after: Study) -> set[str]:
    a, b = digests(before), digests(after)
    assert a.keys() == b.keys()
    return {name for name in a if a[name] != b[name]}


# Laws


def test_all_lumped_chokes_share_one_geometry_and_a_sleeve_has_its_own() -> None:
    assert [p.name for p in geometry_plans(study())] == [ALONE, CABLE, "wire-sleeve"]
    assert {c.geometry for c in cases(study()) if c.id not in ("no-feedline", "sleeve")} == {CABLE}


def test_a_coil_drawn_as_wire_is_one_geometry_more_and_its_lumped_twin_is_none() -> None:
    plans = geometry_plans(coiled(study()))
    assert {p.name for p in plans} == {ALONE, CABLE, "wire-sleeve", "wire-wound"}
    assert {c.id: c.geometry for c in cases(coiled(study()))}["turns"] == CABLE


def test_the_three_cases_that_every_study_has_come_first_and_once() -> None:
    names = [c.id for c in cases(study())]
    assert names[:3] == ["no-feedline", "ideal", "none"]
    assert names[3:] == [c.id for c in study().chokes]
    assert len(set(names)) == len(names)


def test_every_lumped_choke_lies_in_a_zone_with_ports() -> None:
    spans = [(z.start, z.start + z.extent) for z in zones(study())]
    for c in (ideal_choke(study()), *(c for c in study().chokes if not c.is_drawn)):
        assert (c.position, c.position + c.acts_over) in spans


def test_cores_are_as_long_as_their_number_and_other_chokes_act_at_one_place() -> None:
    assert choke("core-x4").acts_over == pytest.approx(4 * 28.6e-3, rel=1e-12)
    assert (
        choke("sleeve").acts_over == choke("perfect").acts_over == choke("measured").acts_over == 0
    )


def test_equal_studies_have_equal_digests_in_any_folder(tmp_path: Path) -> None:
    assert digests(load_study(small_study_file(tmp_path, "other"))) == digests(study())


@pytest.mark.parametrize("what", ["price", "label", "material", "station", "power", "length"])
def test_what_only_changes_an_impedance_or_a_word_solves_nothing_again(what: str) -> None:
    s = study()
    first = s.chokes[0]
    core = replace(first, core=ferrite_core("mix-61-clamp-12-7"))  # type: ignore[call-arg]
    after = {
        "price": replace(s, chokes=(replace(first, price=99.0, currency="USD"), *s.chokes[1:])),
        "label": replace(s, title="x", chokes=(replace(first, label="y"), *s.chokes[1:])),
        "material": replace(s, chokes=(core, *s.chokes[1:])),
        "station": replace(s, station=Station(None, s.station.lead)),
        "power": replace(s, power=100.0),
        "length": replace(s, cable=replace(s.cable, length=30.0, connectors=5)),
    }[what]
    assert after != s
    assert changed(coiled(s), coiled(after)) == set()


def test_the_rod_of_a_bond_solves_nothing_again_but_its_lead_does(tmp_path: Path) -> None:
    route = [{"out": "0.17 m"}, {"down_to": "0.5 m"}, {"bond": "here"}, {"out": "1 m"}]
    cable = {"type": "10.3 mm foam low-loss", "route": route}
    site = {"height": "2 m", "ground": "average"}
    bonded = [
        load_study(small_study_file(tmp_path, "s", site=site, cable=cable, bond=bond))
        for bond in (
            {"rod_impedance": "40 ohm"},
            {"rod_impedance": "10+5j ohm"},
            {"rod_impedance": "40 ohm", "lead_diameter": "2 mm"},
        )
    ]
    assert changed(bonded[0], bonded[1]) == set()
    assert changed(bonded[0], bonded[2]) == {CABLE, "wire-sleeve"}


def test_a_changed_pipe_frequency_or_soil_solves_everything_again() -> None:
    s = coiled(study())
    everything = {ALONE, CABLE, "wire-wound", "wire-sleeve"}
    assert changed(s, replace(s, pipe=pipe("28x1 mm"))) == everything
    assert changed(s, replace(s, frequency=145.4e6)) == everything
    soil = Soil(13.0, 0.005, name="average")
    assert changed(s, replace(s, site=replace(s.site, ground=soil))) == everything
    wet = replace(s, site=replace(s.site, ground=replace(soil, sigma=0.03)))
    assert changed(replace(s, site=replace(s.site, ground=soil)), wet) == everything


def test_a_choke_at_another_place_solves_only_the_cable_again() -> None:
    s = coiled(study())
    moved = tuple(replace(c, position=0.9) if c.id == "perfect" else c for c in s.chokes)
    assert changed(s, replace(s, chokes=moved)) == {CABLE}


def test_a_changed_coil_solves_only_that_coil_again() -> None:
    assert changed(coiled(study()), coiled(study(), turns=4)) == {"wire-wound"}
    assert changed(coiled(study()), coiled(study(), position=0.6)) == {"wire-wound"}


def test_a_longer_lead_at_the_radio_leaves_the_antenna_alone() -> None:
    s = coiled(study())
    longer = replace(s, station=replace(s.station, lead=1.0))
    assert changed(s, longer) == {CABLE, "wire-wound", "wire-sleeve"}


def test_the_refined_twin_is_finer_and_has_the_same_ports_at_its_ends() -> None:
    r = requests(study())[CABLE]
    fine, coarse = r.refined, r.structure
    assert len(fine.segments) > len(coarse.segments)
    assert fine.ports[0].name == coarse.ports[0].name == "feed"
    assert fine.ports[-1].position == coarse.ports[-1].position


# Edges


@pytest.mark.parametrize("points", [3, 5, 9, 41])
@pytest.mark.parametrize("f", [144.0e6, 144.71e6, 145.3e6, 146.0e6])
def test_the_frequency_grid_contains_the_design_frequency(points: int, f: float) -> None:
    s = replace(study(), frequency=f, band=Band(144e6, 146e6, points))
    grid, centre = frequency_grid(s)
    assert grid[centre] == f
    assert len(grid) == points
    assert (np.diff(grid) > 0).all()
    # Moving one point by at most half a step leaves the ends where the reader put them,
    # unless the design frequency itself is nearest to an end.
    assert grid[0] == (f if centre == 0 else 144e6)
    assert grid[-1] == (f if centre == points - 1 else 146e6)


def test_a_band_without_width_is_still_a_grid() -> None:
    grid, centre = frequency_grid(replace(study(), band=Band(145.3e6, 145.3e6, 3)))
    assert grid[centre] == 145.3e6


# Refusals


def entry(folder: Path) -> Path:
    """Folder of one geometry as the stages leave it, the solves made up."""
    r = request(study(), GeometryPlan(ALONE, has_feedline=False))
    write_text(folder / r.digest() / REQUEST, r.text())
    for name in SOLVES:
        write_arrays(folder / r.digest() / name, {"y": np.ones(3)})
    return folder / r.digest()


def test_a_sound_entry_is_left_as_it_is_without_a_word(tmp_path: Path) -> None:
    folder, said = entry(tmp_path), []
    assert not drop_damaged(folder, said.append)
    assert said == []
    assert {p.name for p in folder.iterdir()} == {REQUEST, *SOLVES}


@pytest.mark.parametrize("name", [REQUEST, *SOLVES])
@pytest.mark.parametrize("damage", ["changed", "empty", "fifo", "folder"])
def test_what_does_not_agree_in_the_store_is_made_again_with_one_line(
    tmp_path: Path, name: str, damage: str
) -> None:
    path, said = entry(tmp_path) / name, []
    text = path.read_bytes()
    path.unlink()
    match damage:
        case "changed":
            path.write_bytes(text[:-1] + bytes([text[-1] ^ 1]))
        case "empty":
            path.touch()
        case "fifo":
            os.mkfifo(path)
        case "folder":
            path.mkdir()
            (path / "mine").touch()
    assert drop_damaged(path.parent, said.append) == bool(said)
    (line,) = said
    assert line.startswith(str(path))
    assert line.endswith("it is made again")
    assert not path.exists()
    if damage == "folder":
        assert (path.with_name(f"{name}.aside-1") / "mine").exists()


def test_a_request_whose_numbers_were_changed_is_written_again(tmp_path: Path) -> None:
    path, said = entry(tmp_path) / REQUEST, []
    path.write_text(path.read_text().replace('"centre": 1', '"centre": 0'), encoding="utf-8")
    assert drop_damaged(path.parent, said.append)
    assert "does not agree with the digest" in said[0]
    assert not path.exists()


def test_a_file_in_place_of_an_entry_makes_way_for_it(tmp_path: Path) -> None:
    folder, said = tmp_path / "0123456789abcdef", []
    folder.touch()
    drop_damaged(folder, said.append)
    assert len(said) == 1
    assert not folder.exists()


def stopped(folder: Path, say: Callable[[str], None]) -> None:
    with solves_to_go_on_from(folder, say):
        raise KeyboardInterrupt


def test_a_run_goes_on_from_the_sound_solves_of_one_that_was_stopped(tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_arrays(tmp_path / STORE / f"{name}.npz", {"current": np.ones(3)})
    (tmp_path / STORE / "b.npz").write_bytes(b"cut")
    said: list[str] = []
    with pytest.raises(KeyboardInterrupt):
        stopped(tmp_path, said.append)
    store = tmp_path / STORE
    assert [p.name for p in store.iterdir()] == ["a.npz"]
    assert [line.split(": ")[-1] for line in said] == [
        "it is made again",
        "1 geometry solved already by a run that was stopped",
    ]
    with solves_to_go_on_from(tmp_path, said.append):
        pass
    assert not store.exists()


def test_a_geometry_without_a_cable_has_one_port() -> None:
    assert len(request(study(), GeometryPlan(ALONE, has_feedline=False)).structure.ports) == 1
