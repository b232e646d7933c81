"""What a study does not know: how it is read, how it is drawn, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.constants import mu_0
from scipy.stats import loguniform, norm, uniform

from models.catalogues.parts import ferrite_core
from pipeline.answer.unknown_words import drawn_words, range_words
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.circuit.port_algebra import OPEN
from pipeline.montecarlo.draws import (
    bond_inductance,
    circuit_draws,
    land,
    quantile,
    sobol,
    unknowns_of,
    varied_study,
)
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.study.sections.unknowns import Distribution, typical
from pipeline.text.errors import StudyError
from tests.harness.shipped import shipped_studies
from tests.harness.small_study import SMALL, small_study_file

DEMO = Path(__file__).parents[2] / "models" / "studies" / "orchard_shed.yaml"
KNOWN = dict.fromkeys(
    ("route", "height", "soil", "rod", "bond_lead", "station", "lead", "ferrite", "temperature",
     "antenna", "jacket", "sleeve", "sleeve_centre", "coil_pitch"),
    "known",
)  # fmt: skip


def read(folder: Path, unknowns: dict[str, object], **changes: object) -> Study:
    return load_study(small_study_file(folder, unknowns=unknowns, **changes))


def demo(folder: Path, unknowns: dict[str, object]) -> Study:
    """The demo, with a bond and soil, and with nothing unknown but this."""
    data = yaml.safe_load(DEMO.read_text(encoding="utf-8"))
    path = folder / "demo.yaml"
    path.write_text(yaml.safe_dump(data | {"unknowns": KNOWN | unknowns}), encoding="utf-8")
    return load_study(path)


def faults(folder: Path, unknowns: dict[str, object], **changes: object) -> list[tuple[str, str]]:
    with pytest.raises(StudyError) as caught:
        read(folder, unknowns, **changes)
    return [(f.place.split("  ")[-1], f.tag) for f in caught.value.faults]


P = np.linspace(0.001, 0.999, 41)


# Published: quantiles of distributions, against scipy.stats


@pytest.mark.parametrize(
    ("spread", "expected"),
    [
        (Distribution("uniform", 2.0, 6.0), uniform(2, 4)),
        (Distribution("log", 0.5, 1000.0), loguniform(0.5, 1000)),
        (Distribution("normal", 8.0, 0.3), norm(8.0, 0.3)),
        (Distribution("uniform", -0.1, 0.1, around=True), uniform(7.9, 0.2)),
        (Distribution("normal", 0.0, 0.3, around=True), norm(8.0, 0.3)),
    ],
    ids=["uniform", "log", "normal", "around", "normal around"],
)
def test_quantiles_are_those_of_the_distribution(spread, expected):
    assert quantile(spread, P, 8.0) == pytest.approx(expected.ppf(P), rel=1e-12)


def test_drawn_percentiles_are_those_of_the_distribution():
    # A log-uniform resistance has its 5, 50 and 95 % points at low (high / low)^p.
    values = quantile(Distribution("log", 0.5, 1000.0), sobol(4096, 1, 1)[:, 0], 0.0)
    expected = loguniform(0.5, 1000).ppf([0.05, 0.5, 0.95])
    assert np.percentile(values, [5, 50, 95]) == pytest.approx(expected, rel=5e-3)


def test_a_bond_lead_longer_than_straight_has_the_inductance_of_a_straight_wire():
    # Rosa 1908: 2 l (ln(4 l / d) - 1) nH with l in cm; 50 cm of 4.5 mm wire, by hand 509 nH.
    found = bond_inductance(4.5e-3, np.array([0.0, 0.5]))
    by_hand = 2e-9 * 50 * (np.log(4 * 50 / 0.45) - 1)
    assert found == pytest.approx([0.0, by_hand], rel=1e-6)
    assert found[1] < mu_0


# Reading


def test_an_amount_is_plus_or_minus_around_what_the_study_states(tmp_path):
    study = read(tmp_path, KNOWN | {"height": "0.25 m"})
    (height,) = unknowns_of(study)
    assert (height.name, height.nominal, height.geometric) == ("height", 3.0, True)
    ends = quantile(height.spread, np.array([0.0, 1.0]), height.nominal)
    assert ends == pytest.approx([2.75, 3.25])


def test_ranges_scales_and_means_are_read_in_their_units(tmp_path):
    unknowns = {
        "lead": {"mean": "60 cm", "deviation": "5 cm"},
        "station": {"resistance": {"from": "1 ohm", "to": "2 kohm", "scale": "log"}},
    }
    u = read(tmp_path, KNOWN | unknowns).unknowns
    assert (u.lead.shape, u.lead.low, u.lead.high) == ("normal", 0.6, 0.05)
    assert (u.resistance.shape, u.resistance.low, u.resistance.high) == ("log", 1.0, 2000.0)
    assert (u.reactance, u.floating) == (None, 0.0)


def test_steps_of_the_route_and_lengths_of_the_antenna_may_be_named(tmp_path):
    unknowns = {
        "route": [{"step": 2, "off": "0.3 m"}, {"step": 3, "from": "0.2 m", "to": "2 m"}],
        "antenna": [{"length": "tap", "off": "2 mm"}],
    }
    study = read(tmp_path, KNOWN | unknowns)
    assert [u.name for u in unknowns_of(study)] == ["step-2", "step-3", "antenna-tap"]


def test_a_key_left_out_is_spread_as_is_typical_and_the_study_says_so(tmp_path):
    study = read(tmp_path, {"height": "known"})
    assert study.unknowns.height is None
    said = " ".join(study.unknowns.defaults)
    assert all(f"unknowns.{key}:" in said for key, _ in typical() if key != "height")
    assert "unknowns.height" not in said


def test_a_study_without_the_section_is_spread_as_is_typical_all_over():
    study = load_study(DEMO)
    assert len(study.unknowns.defaults) == len({key for key, _ in typical()})
    names = {u.name for u in unknowns_of(study)}
    assert {
        "step-1",
        "height",
        "permittivity",
        "rod",
        "bond_lead",
        "ferrite",
        "coil_pitch",
    } <= names
    # The third step is the bond, which has no length.
    assert "step-3" not in names


def test_what_a_study_has_no_part_for_is_not_spread():
    # The small study is in free space and has no bond.
    names = {u.name for u in unknowns_of(load_study(SMALL))}
    assert not names & {"soil", "rod", "bond_lead"}


# Draws agree with what the study says

# The study with every section names files that its own test makes.
GOOD = (Path(__file__).parents[1] / "studies" / "good").glob("*.yaml")
STUDIES = [*shipped_studies(), *sorted(p for p in GOOD if p.stem != "every_section")]


def ends_of(unknown):
    """Least and largest value that can be drawn; of a reactance either sign."""
    low, high = quantile(unknown.spread, np.array([0.0, 1.0]), unknown.nominal)
    return (-high, high) if unknown.name == "reactance" else (low, high)


KEYS = {"permittivity": "soil", "conductivity": "soil", "resistance": "station",
        "reactance": "station", "floating": "station", "step": "route"}  # fmt: skip


def assert_what_is_stated_lies_within(study: Study) -> None:
    for unknown in unknowns_of(study):
        name = unknown.name.split("-")[0]
        # A key of the section itself is used as it is given.
        if KEYS.get(name, name) in study.unknowns.given:
            continue
        if unknown.spread.shape == "classes":
            assert study.site.ground.name in {c.name for c in land()}
        elif unknown.spread.shape != "chance":
            low, high = ends_of(unknown)
            assert low - 1e-12 <= unknown.nominal <= high + 1e-12, unknown


@pytest.mark.parametrize("path", STUDIES, ids=lambda p: p.stem)
def test_what_a_study_states_lies_within_what_is_drawn(path):
    assert_what_is_stated_lies_within(load_study(path))


@pytest.mark.parametrize("seed", range(40))
def test_no_default_lies_outside_of_what_it_is_drawn_from_whatever_is_left_out(tmp_path, seed):
    rng = np.random.default_rng(seed)
    data = yaml.safe_load(DEMO.read_text(encoding="utf-8"))
    ground = rng.choice(["average", "poor", "very-good", "sandy", "sea-water", "own"])
    own = {"permittivity": float(rng.uniform(1, 100)), "conductivity": f"{rng.uniform(0, 50)} mS/m"}
    site = {"ground": own if ground == "own" else str(ground)}
    rod = {"rod_impedance": f"{rng.uniform(0, 300):.3f}{rng.uniform(-40, 40):+.3f}j ohm"}
    station = {
        "impedance": f"{rng.uniform(0, 5000):.3f} ohm",
        "lead": f"{rng.uniform(0.1, 9):.3f} m",
    }
    data["cable"]["type"] = str(rng.choice(["RG-142/U", "RG-58C/U", "7/8 in foam hardline"]))
    data["site"] = {"height": f"{rng.uniform(2, 30):.2f} m"} | (site if rng.random() < 0.6 else {})
    data["bond"] = rod if rng.random() < 0.6 else {}
    data["station"] = {k: v for k, v in station.items() if rng.random() < 0.6}
    del data["chokes"], data["cable"]["length"]
    path = tmp_path / "random.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    assert_what_is_stated_lies_within(load_study(path))


def test_a_radio_end_that_is_stated_is_known_and_one_that_is_not_is_drawn_round_its_default(
    tmp_path,
):
    for impedance in ("open", "0 ohm", "300 ohm"):
        stated = read(tmp_path, {}, station={"impedance": impedance})
        assert not {"floating", "resistance", "reactance"} & {u.name for u in unknowns_of(stated)}
    unsaid = read(tmp_path, {}, station={"lead": "1 m"})
    assert {"floating", "resistance", "reactance"} <= {u.name for u in unknowns_of(unsaid)}
    assert "station.impedance: 22 ohm" in unsaid.defaults


def test_what_is_stated_is_drawn_closer_than_what_is_left_unsaid(tmp_path):
    def width(station, name):
        study = read(tmp_path, {}, station=station)
        low, high = ends_of(next(u for u in unknowns_of(study) if u.name == name))
        return high - low

    assert width({"lead": "1.5 m"}, "lead") == pytest.approx(0.6)
    assert width({"impedance": "0 ohm"}, "lead") == pytest.approx(2.5)


def test_a_factor_is_spread_evenly_on_a_logarithmic_scale(tmp_path):
    spread = read(tmp_path, {"lead": {"from": 0.5, "to": 2, "scale": "factor"}}).unknowns.lead
    values = quantile(spread, P, 3.0)
    assert values == pytest.approx(loguniform(1.5, 6.0).ppf(P), rel=1e-12)


def test_no_turns_of_a_drawn_coil_come_closer_than_its_cable_is_thick(tmp_path):
    study = read(tmp_path, {}, chokes=[COIL | {"pitch": "10.3 mm"}])
    geometric = tuple(u for u in unknowns_of(study) if u.geometric)
    for row in sobol(32, len(geometric), 3):
        (coil,) = varied_study(study, geometric, row).chokes
        assert coil.pitch >= coil.cable.jacket_diameter - 1e-12


# Drawing


def test_a_draw_changes_the_study_where_it_is_unknown_and_nowhere_else(tmp_path):
    study = demo(tmp_path, {"route": [{"step": 4, "off": "1 m"}], "jacket": {"from": 2, "to": 3}})
    geometric = unknowns_of(study)
    changed = varied_study(study, geometric, np.array([0.75, 0.5]))
    assert changed.cable.route[3].length == pytest.approx(6.5)
    assert changed.cable.route[:3] == study.cable.route[:3]
    assert changed.cable.type.jacket_eps_r == pytest.approx(2.5)
    assert (changed.site, changed.antenna) == (study.site, study.antenna)
    # Coils of the same cable have its jacket; nothing else about the candidates changes.
    assert [replace(c, cable=study.cable.type) if c.id.startswith("coil-9") else c
            for c in changed.chokes] == list(study.chokes)  # fmt: skip


def test_any_class_of_soil_is_every_class_of_land_alike(tmp_path):
    study = demo(tmp_path, {"soil": "any class"})
    geometric = unknowns_of(study)
    n = len(land())
    drawn = [
        varied_study(study, geometric, np.array([(k + 0.5) / n])).site.ground for k in range(n)
    ]
    assert [g.name for g in drawn] == [c.name for c in land()]
    assert not any("water" in g.name for g in drawn)


def test_a_radio_floats_as_often_as_the_study_says(tmp_path):
    station = {"resistance": {"from": "1 ohm", "to": "9 ohm"}, "floating": 0.25}
    study = demo(tmp_path, {"station": station})
    unknowns = unknowns_of(study)
    draws = circuit_draws(study, unknowns, sobol(1024, len(unknowns), 5))
    floats = draws.ends.station == OPEN
    assert floats.mean() == pytest.approx(0.25, abs=2e-3)
    assert (draws.ends.station[~floats].real >= 1).all()
    assert (draws.ends.station[~floats].real <= 9).all()


def test_a_reactance_on_a_logarithmic_scale_takes_either_sign_alike(tmp_path):
    station = {"reactance": {"from": "1 ohm", "to": "100 ohm", "scale": "log"}}
    study = demo(tmp_path, {"station": station})
    draws = circuit_draws(study, unknowns_of(study), sobol(1024, 1, 5))
    x = draws.ends.station.imag
    assert (x > 0).mean() == pytest.approx(0.5, abs=2e-3)
    assert np.median(np.abs(x)) == pytest.approx(10, rel=0.02)


def test_ferrite_and_its_warmth_multiply(tmp_path):
    half = {key: {"from": 0.5, "to": 0.5000001} for key in ("ferrite", "temperature")}
    study = demo(tmp_path, half)
    assert circuit_draws(study, unknowns_of(study), np.full((3, 2), 0.5)).factors[
        "ferrite"
    ] == pytest.approx(0.25, rel=1e-6)


def test_a_core_is_drawn_from_the_scatter_of_its_own_class_unless_the_study_states_one(tmp_path):
    study = demo(tmp_path, {"ferrite": "by core"})
    (by_core,) = unknowns_of(study)
    assert (by_core.spread.shape, drawn_words(by_core)) == (
        "by core",
        "what is printed of the core, or its class allows",
    )
    places = np.array([0.0, 0.5, 1.0])
    mixes = {mix: ferrite_core(f"mix-{mix}-clamp-18") for mix in (31, 43)}
    chokes = {m: FerriteChoke(id="c", label="c", position=0.1, core=c) for m, c in mixes.items()}
    stated = {"ferrite": np.full(3, 0.5)}
    for mix, ends in ((31, (0.75, 1.4)), (43, (0.8, 1.6))):
        z = chokes[mix].impedance(np.array([study.frequency]), study.host)
        # Log-uniform between the ends of ferrite_scatter.csv, warmth on top of it.
        drawn = chokes[mix].drawn_impedance(study.host, stated | {"ferrite_of_class": places})
        low, high = ends
        middle = np.sqrt(low * high)
        assert drawn / z == pytest.approx(0.5 * np.array([low, middle, high]))
        assert chokes[mix].drawn_impedance(study.host, stated) / z == pytest.approx(0.5)
    u = np.full((3, 1), 0.25)
    assert circuit_draws(study, (by_core,), u).factors["ferrite_of_class"] == pytest.approx(0.25)
    own = demo(tmp_path, {"ferrite": {"from": 0.7, "to": 1.3}})
    factors = circuit_draws(own, unknowns_of(own), u).factors
    assert "ferrite_of_class" not in factors
    assert factors["ferrite"] == pytest.approx(0.85)


def test_a_part_of_a_scatter_by_core_is_told_in_pieces_of_a_hundred(tmp_path):
    (by_core,) = unknowns_of(demo(tmp_path, {"ferrite": "by core"}))
    said = [range_words(by_core, part) for part in ((0, 0.125), (0.25, 0.375), (0.875, 1))]
    assert said == [
        "among the 12 of 100 pieces with the least impedance",
        "between 25 and 38 of 100 pieces by impedance",
        "among the 12 of 100 pieces with the most impedance",
    ]


def test_equal_seeds_give_equal_draws_and_others_do_not():
    assert np.array_equal(sobol(24, 7, 3), sobol(24, 7, 3))
    assert not np.array_equal(sobol(24, 7, 3), sobol(24, 7, 4))


# Refusals

RANGE = {"from": "1 m", "to": "2 m"}
FROM_ZERO = {"from": "0 ohm", "to": "9 ohm", "scale": "log"}
TIP = {"length": "tip", "off": "1 mm"}


@pytest.mark.parametrize(
    ("unknowns", "place", "tag"),
    [
        ({"hight": "0.1 m"}, "unknowns.hight", "key-unknown"),
        ({"height": 0.3}, "unknowns.height", "unit-missing"),
        ({"height": "50 m"}, "unknowns.height", "length-range"),
        ({"height": {"from": "5 m", "to": "4 m"}}, "unknowns.height.to", "spread-order"),
        ({"height": {"fro": "5 m", "to": "6 m"}}, "unknowns.height.fro", "key-unknown"),
        ({"height": {"from": "5 m"}}, "unknowns.height", "spread-form"),
        ({"ferrite": 0.3}, "unknowns.ferrite", "spread-form"),
        ({"ferrite": {"from": 0.01, "to": 1}}, "unknowns.ferrite.from", "number-range"),
        ({"lead": RANGE | {"scale": "lin"}}, "unknowns.lead.scale", "choice-unknown"),
        ({"rod": FROM_ZERO}, "unknowns.rod.from", "spread-log"),
        ({"rod": {"from": "1 ohm", "to": "9 ohm"}}, "unknowns.rod", "unknown-absent"),
        ({"soil": "any class"}, "unknowns.soil", "unknown-absent"),
        ({"soil": "mud"}, "unknowns.soil", "spread-form"),
        ({"station": {"floating": 1.5}}, "unknowns.station.floating", "number-range"),
        ({"station": {"resistence": 1}}, "unknowns.station.resistence", "key-unknown"),
        ({"route": [{"step": 9, "off": "0.1 m"}]}, "unknowns.route[0].step", "unknown-absent"),
        ({"route": [{"off": "0.1 m"}]}, "unknowns.route[0]", "spread-form"),
        ({"route": [{"step": 1, "off": "0.2 m"}]}, "unknowns.route[0]", "unknown-large"),
        ({"antenna": [TIP]}, "unknowns.antenna[0].length", "unknown-absent"),
        ({"geometries": 4}, "unknowns.geometries", "number-range"),
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_refused_where_it_stands(tmp_path, unknowns, place, tag):
    assert faults(tmp_path, unknowns) == [(place, tag)]


def test_every_fault_has_a_rule_and_a_remedy(tmp_path):
    with pytest.raises(StudyError) as caught:
        read(tmp_path, {"height": "50 m", "ferrite": 2, "hight": "1 m"})
    assert len(caught.value.faults) == 3
    assert all(f.rule and f.remedy for f in caught.value.faults)


CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.05 m"}
SLEEVE = {"id": "sleeve", "kind": "sleeve", "pipe": "28x1 mm", "position": "0.30 m"}
COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "spread", "choke", "place", "tag"),
    [
        ("sleeve", {"from": 0.97, "to": 1.03}, CORE, "", "unknown-absent"),
        ("sleeve", {"from": 0.7, "to": 1.0}, SLEEVE, ".from", "number-range"),
        ("coil_pitch", {"from": 1, "to": 1.5}, CORE, "", "unknown-absent"),
        ("coil_pitch", {"from": 0.8, "to": 1.5}, COIL, "", "pitch-small"),
        ("coil_pitch", {"from": 0.8, "to": 1.5}, COIL | {"model": "lumped"}, "", "pitch-small"),
        ("coil_pitch", {"mean": 1.2, "deviation": 0.1}, COIL, "", "pitch-small"),
        ("coil_pitch", {"from": 0.1, "to": 1.5}, COIL, ".from", "number-range"),
        ("coil_pitch", 0.2, COIL, "", "spread-form"),
    ],
)
def test_makes_that_cannot_be_are_refused_where_they_stand(
    tmp_path, key, spread, choke, place, tag
):
    found = faults(tmp_path, {key: spread}, chokes=[choke])
    assert found == [(f"unknowns.{key}{place}", tag)]


def test_a_coil_wound_close_may_be_wound_wider_and_the_fault_says_from_where(tmp_path):
    close, wider = COIL | {"pitch": "10.3 mm"}, {"from": 1.0, "to": 1.2}
    with pytest.raises(StudyError) as caught:
        read(tmp_path, {"coil_pitch": {"from": 0.95, "to": 1.2}}, chokes=[close])
    (fault,) = caught.value.faults
    assert "0.95" in fault.rule
    assert "10.29 mm" in fault.rule
    assert fault.remedy == "from: 1 or more"
    assert read(tmp_path, {"coil_pitch": wider}, chokes=[close]).unknowns.coil_pitch
    # Six deviations below the mean of turns 12 mm apart the cables still do not touch.
    mild = {"mean": 1.2, "deviation": 0.05}
    assert read(tmp_path, {"coil_pitch": mild}, chokes=[COIL]).unknowns.coil_pitch


def test_the_standard_coil_is_looked_at_as_well(tmp_path):
    path = small_study_file(tmp_path, unknowns={"coil_pitch": {"from": 0.6, "to": 1.2}})
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    del data["chokes"]
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    with pytest.raises(StudyError, match="pitch-small"):
        load_study(path)
