from __future__ import annotations

import dataclasses
import json
import pickle
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from models.catalogues.parts import coax_class, ferrite_core, pipe
from models.site.feedline_route import Step
from models.site.soil import Soil
from pipeline.chokes.coil import CoilChoke
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.ideal import IdealChoke
from pipeline.chokes.measured_choke import TableChoke
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.solver.structures import sized_antenna
from pipeline.study.reader import json_schema, load_study
from pipeline.study.records import Band, Bond, Site, Station, Study
from pipeline.study.whole_study import walk_of
from pipeline.text.errors import StudyError
from pipeline.text.yaml_reading import read_yaml
from tests.harness.wrong_studies import BENCH, PATCHES, Patch

STUDIES = Path(str(files("models") / "studies"))
# Exact by definition of the metre (BIPM, SI Brochure, 9th edition, 2.3.1).
SPEED_OF_LIGHT = 299_792_458.0
POLE = {"type": "j-pole", "pipe": "22x1 mm", "spacing": "55 mm"}
CABLE = {"type": "10.3 mm foam low-loss"}


def study_with(tmp_path: Path, **changes: Any) -> Study:
    """Minimal study with some keys replaced, added, or left out (None)."""
    data = yaml.safe_load((STUDIES / "minimal.yaml").read_text(encoding="utf-8"))
    data = {key: value for key, value in (data | changes).items() if value is not None}
    path = tmp_path / "study.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    return load_study(path)


def study_or_error(path: Path) -> Study | StudyError:
    try:
        return load_study(path)
    except StudyError as error:
        return error


# What a study says


def test_every_value_of_a_study_arrives_in_si() -> None:
    study = load_study(BENCH)
    assert study.name == "bench"
    assert study.frequency == 145e6
    assert study.band == Band(144e6, 146e6, 5)
    assert study.power == 10.0
    assert study.antenna.type == "j-pole"
    assert dataclasses.asdict(study.antenna.parameters) == pytest.approx(
        {
            "spacing": 0.055,
            "long_leg": 1.48,
            "short_leg": 0.49,
            "tap": 0.05,
            "bridge_diameter": None,
        }
    )
    assert study.pipe == pipe("35x1 mm")
    assert study.site == Site(8.0, Soil(13.0, 0.005), mast=2.0)
    assert study.cable.type == coax_class("10.3 mm foam low-loss")
    assert (study.cable.length, study.cable.joins) == (18.0, "long leg")
    assert (study.cable.connectors, study.cable.connector_loss_db) == (2, 0.05)
    assert study.cable.route == (
        Step("out", 0.15),
        Step("down_to", 0.5),
        Step("bond", 0.0),
        Step("out", 6.0),
    )
    assert study.bond == Bond(pytest.approx(0.0045), 40 + 10j)
    assert study.station == Station(None, 1.5)


def test_every_kind_of_choke_arrives_with_what_belongs_to_it() -> None:
    coil, one, four, sleeve, far, measured = load_study(BENCH).chokes
    assert isinstance(coil, CoilChoke)
    assert (coil.turns, coil.diameter, coil.pitch, coil.model) == (9, 0.3, 0.012, "wire")
    assert coil.cable == coax_class("10.3 mm foam low-loss")
    assert isinstance(one, FerriteChoke)
    assert (one.id, one.count, four.id, four.count) == ("cores-x1", 1, "cores-x4", 4)
    assert one.core == ferrite_core("mix-43-bead-25-9")
    assert isinstance(sleeve, SleeveChoke)
    assert (sleeve.pipe, sleeve.length) == (pipe("28x1 mm"), 0.5)
    assert (type(far), far.kind) == (IdealChoke, "ideal")
    assert far.position == pytest.approx(0.5 * SPEED_OF_LIGHT / 145e6)
    assert isinstance(measured, TableChoke)
    assert (measured.f, measured.z_choke) == ((140e6, 150e6), (800 - 300j, 780 - 350j))
    assert (measured.price, measured.currency) == (4.5, "EUR")


def test_a_study_can_be_compared_hashed_frozen_and_sent_between_processes() -> None:
    study = load_study(BENCH)
    assert pickle.loads(pickle.dumps(study)) == study == load_study(BENCH)
    assert hash(study) == hash(load_study(BENCH))
    with pytest.raises(dataclasses.FrozenInstanceError):
        study.power = 1.0  # type: ignore[misc]


def test_lists_of_counts_and_places_become_one_candidate_each(tmp_path: Path) -> None:
    cores = {"id": "c", "kind": "ferrite", "core": "mix-43-bead-25-9"}
    cores |= {"count": [1, 4], "position": ["0.2 m", "0.567 m"]}
    chokes = study_with(tmp_path, chokes=[cores]).chokes
    assert [(c.id, c.count, c.position) for c in chokes] == [
        ("c-x1-at-0.20m", 1, 0.2),
        ("c-x1-at-0.57m", 1, 0.567),
        ("c-x4-at-0.20m", 4, 0.2),
        ("c-x4-at-0.57m", 4, 0.567),
    ]


def test_free_space_has_no_ground_and_a_height_below_zero_does_not_matter(tmp_path: Path) -> None:
    study = study_with(
        tmp_path,
        site={"height": "2 m", "ground": "free space", "mount": {"mast": "3 m"}},
        cable={"type": "RG-213/U", "route": [{"out": "0.1 m"}, {"down": "5 m"}]},
    )
    assert study.site == Site(2.0, None, mast=3.0)


# Shipped studies


@pytest.mark.parametrize("name", ["orchard_shed.yaml", "minimal.yaml"])
def test_shipped_studies_are_sound_and_point_to_the_schema(name: str) -> None:
    study = load_study(STUDIES / name)
    assert study.warnings == ()
    first = (STUDIES / name).read_text(encoding="utf-8").splitlines()[0]
    assert first == "# yaml-language-server: $schema=study.schema.json"


def test_the_minimal_study_is_short() -> None:
    assert len((STUDIES / "minimal.yaml").read_text(encoding="utf-8").splitlines()) < 15


def test_the_orchard_shed_has_the_candidates_of_its_scenario() -> None:
    study = load_study(STUDIES / "orchard_shed.yaml")
    coils = [c for c in study.chokes if isinstance(c, CoilChoke)]
    assert [(c.turns, c.diameter, c.model) for c in coils] == [
        (9, 0.3, "wire"),
        (9, 0.3, "lumped"),
        (5, 0.12, "wire"),
    ]
    cores = [c for c in study.chokes if isinstance(c, FerriteChoke)]
    assert [c.count for c in cores if c.core.material == "mix-43"] == [1, 2, 3, 4, 8, 4, 4]
    assert len({c.core.material for c in cores if c.count == 3}) == 3
    assert len({c.core.outer_diameter for c in cores}) == 1
    assert sum(isinstance(c, SleeveChoke) for c in study.chokes) == 1
    assert study.bond is not None


# Defaults are stated


def test_every_default_of_the_minimal_study_is_stated() -> None:
    study = load_study(STUDIES / "minimal.yaml")
    assert study.defaults == (
        "title: the name of the file",
        "power: 25 W",
        "duty: 0.5 (a full carrier, on the air half of the time)",
        "site.ground: average ground",
        "site.mount: insulated",
        "cable.length: that of the route",
        "cable.connectors: 2",
        "cable.connector_loss: 0.05 dB",
        "station.impedance: 22 ohm",
        "station.lead: 1.5 m",
        "station.noise_beside: 1 m",
        "exposure.mode_duty: 1",
        "exposure.transmit_share: 1",
        "exposure.reach: 2.5 m",
        "exposure.cable_distance: 0.2 m",
        "band: 143.55 MHz to 146.45 MHz in 9 points",
        "cable.joins: short leg",
        "cable.route: out 0.15 m, down to 0.5 m above ground, out 6 m; no bond",
        "chokes: the standard candidates nizn-800-x1, nizn-800-x2, nizn-800-x4, nizn-800-x8, "
        "coil-9",
    )


def test_a_default_that_is_written_out_gives_the_same_study_and_no_sentence(
    tmp_path: Path,
) -> None:
    bare = study_with(tmp_path)
    full = study_with(
        tmp_path,
        title="study",
        power="25 W",
        duty=0.5,
        band={"from": "143.55 MHz", "to": "146.45 MHz", "points": 9},
        site={"height": "8 m", "ground": "average", "mount": "insulated"},
        station={"impedance": "22 ohm", "lead": "1.5 m", "noise_beside": "1 m"},
    )
    for key in ("title", "power", "duty", "band", "site", "station"):
        assert getattr(full, key) == getattr(bare, key)
        assert not any(s.startswith((f"{key}:", f"{key}.")) for s in full.defaults)


def test_defaults_of_a_bond_are_stated_only_where_there_is_one(tmp_path: Path) -> None:
    route = [{"out": "0.15 m"}, {"down_to": "0.5 m"}, {"bond": "here"}, {"out": "1 m"}]
    study = study_with(tmp_path, cable={"type": "RG-213/U", "route": route})
    assert study.bond == Bond(0.0045, 81 + 0j)
    assert "bond.lead_diameter: 4.5 mm" in study.defaults
    # A common rod in average soil, after Dwight (1936): see tests/circuit/test_conductor.py.
    assert "bond.rod_impedance: 81 ohm, a common rod in this soil" in study.defaults
    assert study_with(tmp_path).bond is None


def test_the_band_stays_inside_what_is_computed(tmp_path: Path) -> None:
    assert study_with(tmp_path, frequency="30 MHz").band.start == 30e6
    assert study_with(tmp_path, frequency="500 MHz").band.stop == 500e6


@pytest.mark.parametrize("cable", ["10.3 mm foam low-loss", "5 mm foam low-loss"])
def test_standard_candidates_fit_their_cable_and_lie_across_no_bend(
    tmp_path: Path, cable: str
) -> None:
    study = study_with(tmp_path, cable={"type": cable})
    *cores, coil = study.chokes
    assert [c.count for c in cores] == [1, 2, 4, 8]
    for choice in cores:
        assert isinstance(choice, FerriteChoke)
        assert choice.core.material == "mix-43"
        assert choice.core.hole_diameter >= study.cable.type.jacket_diameter
    assert coil.position == pytest.approx(0.3)
    # The cable goes 0.15 m out and then down; what does not end before that begins below it.
    bend = [c.position + c.extent(study.host) <= 0.15 or c.position == 0.2 for c in cores]
    assert all(bend)
    if cable.startswith("10.3"):
        assert [c.position for c in cores] == [0.05, 0.05, 0.2, 0.2]


def test_standard_candidates_stay_on_a_short_route(tmp_path: Path) -> None:
    study = study_with(tmp_path, cable={"type": "RG-213/U", "route": [{"out": "0.15 m"}]})
    assert [c.id for c in study.chokes] == ["nizn-800-x1", "nizn-800-x2"]
    assert all(c.position + c.extent(study.host) <= 0.15 for c in study.chokes)


def test_the_way_of_the_cable_begins_at_a_derived_tap_as_at_one_written_out(
    tmp_path: Path,
) -> None:
    # From the tap down to 0.5 m: height, tap less 0.5 m, and the two level steps.
    derived = study_with(tmp_path)
    tap = sized_antenna(derived).antenna.tap
    assert 0.04 < tap < 0.08
    assert walk_of(derived).length == pytest.approx(8 + tap - 0.5 + 0.15 + 6, abs=1e-9)
    written = study_with(tmp_path, antenna=POLE | {"tap": f"{tap:.12f} m"})
    assert walk_of(written).length == pytest.approx(walk_of(derived).length, abs=1e-9)
    with pytest.raises(StudyError, match="cable-short") as caught:
        study_with(tmp_path, cable=CABLE | {"length": "13.65 m"})
    # What the message proposes is taken.
    remedy = caught.value.faults[0].remedy.removeprefix("length: ").removesuffix(" or more")
    study_with(tmp_path, cable=CABLE | {"length": remedy})


def test_a_low_antenna_needs_a_route_of_its_own(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="too low for the standard route"):
        study_with(tmp_path, site={"height": "0.6 m"})


def test_a_tight_coil_is_allowed_with_a_warning(tmp_path: Path) -> None:
    coil = {"id": "tight", "kind": "coil", "turns": 5, "diameter": "0.12 m"}
    (warning,) = study_with(tmp_path, chokes=[coil]).warnings
    assert warning == (
        "tight: a coil of 0.12 m bends 10.3 mm foam low-loss tighter than its repeated bend "
        "radius allows (0.2032 m across)"
    )


# JSON Schema


def test_the_committed_schema_is_the_one_the_models_give() -> None:
    committed = (STUDIES / "study.schema.json").read_text(encoding="utf-8")
    # To the letter, so that the next who writes it sees only their own change.
    written = json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
    assert committed == written, "braidwise schema study > models/studies/study.schema.json"


def test_the_schema_is_a_valid_schema_and_takes_all_good_studies() -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in (STUDIES / "orchard_shed.yaml", STUDIES / "minimal.yaml", BENCH):
        assert list(validator.iter_errors(read_yaml(path).data)) == []


@pytest.mark.parametrize(
    "patch",
    [p for p in PATCHES if p.tag in ("key-unknown", "key-missing", "unit-missing", "value-empty")],
    ids=lambda patch: patch.name,
)
def test_the_schema_refuses_what_an_editor_can_see(tmp_path: Path, patch: Patch) -> None:
    data = read_yaml(patch.written(tmp_path)).data
    assert not jsonschema.Draft202012Validator(json_schema()).is_valid(data)
