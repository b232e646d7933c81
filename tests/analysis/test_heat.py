"""Heat of cores, their temperature in still air, voltage across chokes; published examples in
tests/validation/in_use.csv."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.catalogues.parts import ferrite_core, ferrite_materials
from models.catalogues.working_limits import (
    curie_point,
    curie_points,
    still_air,
    working_value,
    working_values,
)
from models.wires.loads import SeriesLoad
from pipeline.analysis.case_results import Solved
from pipeline.analysis.heat import (
    Stress,
    choke_voltage,
    core_bodies,
    core_heat,
    jacket_limit,
    stress,
    stress_words,
)
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.circuit.convection import (
    Body,
    heat_given,
    horizontal_cylinder_nusselt,
    temperature_rise,
)
from pipeline.solver.nec2 import unit_source_currents
from pipeline.study.records import Study
from tests.harness import small_study

HOT = working_value("ambient")
POWERS = st.floats(1e-3, 200.0)


def core(name: str = "core-x4") -> FerriteChoke:
    found = small_study.choke(name)
    assert isinstance(found, FerriteChoke)
    return found


@cache
def stressed(name: str) -> Stress | None:
    return stress(small_study.case(name))


def at_power(name: str, power: float, duty: float) -> tuple[Study, Stress]:
    """The same case with another transmitter."""
    study = replace(small_study.study(), power=power, duty=duty)
    found = stress(replace(small_study.case(name), study=study))
    assert found is not None
    return study, found


# Published


def test_a_bead_of_a_watt_gets_as_warm_as_a_resistor_of_its_size() -> None:
    # Film coefficients of small parts in still air, convection and radiation together, are 8 to
    # 14 W/(m2 K) (handbooks of electronic cooling; from memory): so is a bead's.
    free, _ = core_bodies(ferrite_core("mix-43-bead-25-9"))
    rise = temperature_rise(1.0, free, 298.15, still_air())
    assert 8 < 1.0 / (free.area * rise) < 14


def test_every_mix_of_the_catalogue_has_a_curie_point_above_any_weather() -> None:
    for material in ferrite_materials():
        assert curie_point(material.id).temperature > 373.15
        assert curie_point(material.id).name == material.name
    assert len(curie_points()) == len(ferrite_materials())


def test_the_voltage_is_that_of_a_solve_with_the_cores_as_loads() -> None:
    # LD card of the NEC-2 user's guide (Burke and Poggio, 1981): currents at the cores' segments
    # from one direct solve, scaled to the power, times the impedance there.
    study, result = small_study.study(), small_study.case("core-x4")
    entry: Solved = small_study.solved()["cable"]
    structure, centre = entry.structure, entry.basis.centre
    z, on_shield = result.z_series[centre], result.z_choke[centre]
    loads = tuple(
        SeriesLoad(int(s), complex(value))
        for s, value in zip(structure.port_segments, z, strict=True)
        if value
    )
    feed = int(structure.port_segments[structure.port_index("feed")])
    f = np.array([study.frequency])
    current = unit_source_currents(structure, f, None, loads=loads, sources=(feed,))[0, 0]
    scale = np.sqrt(2 * result.antenna_power / current[feed].real)
    direct = scale * abs(on_shield @ current[structure.port_segments])
    assert choke_voltage(result, result.z_choke[result.solved.basis.centre]) == pytest.approx(
        direct, rel=1e-6
    )


# Laws


@given(POWERS, st.floats(2e-3, 0.1), st.floats(1e-4, 0.1), st.floats(0.1, 1.0))
def test_a_body_settles_where_it_gives_off_what_it_gets(
    heat: float, diameter: float, area: float, emissivity: float
) -> None:
    body = Body(diameter, area, emissivity)
    rise = temperature_rise(heat, body, HOT, still_air())
    assert rise > 0
    assert heat_given(HOT + rise, HOT, body, still_air()) == pytest.approx(heat, rel=1e-6)


def test_a_core_is_open_on_its_side_and_both_ends_or_on_half_its_side() -> None:
    # 25.9 mm across, hole of 12.8 mm, 28.6 mm long: pi d l = 23.27, pi/2 (d^2 - h^2) = 7.96 cm2.
    free, covered = core_bodies(ferrite_core("mix-43-bead-25-9"))
    assert 1e4 * free.area == pytest.approx(23.27 + 7.96, abs=0.01)
    assert 1e4 * covered.area == pytest.approx(23.27 / 2, abs=0.01)
    assert free.diameter == covered.diameter == pytest.approx(0.0259)


@given(POWERS)
def test_twice_the_heat_makes_less_than_twice_the_rise(heat: float) -> None:
    free, covered = core_bodies(core().core)
    once, twice = (temperature_rise(p, free, HOT, still_air()) for p in (heat, 2 * heat))
    assert once < twice < 2 * once
    assert temperature_rise(heat, covered, HOT, still_air()) > once


def test_a_cylinder_in_air_at_rest_still_conducts() -> None:
    # Churchill and Chu keep the conduction limit: 0.6 squared.
    assert horizontal_cylinder_nusselt(0.0, 0.7) == pytest.approx(0.36)


@pytest.mark.parametrize("name", ["core-x1", "core-x2", "core-x4", "measured"])
def test_heat_and_voltage_agree_on_the_choke(name: str) -> None:
    # With nearly the same current under all of it, P = (V/|Z|)^2 R / 2.
    found, result = stressed(name), small_study.case(name)
    assert found is not None
    assert found.voltage is not None
    z = result.choke_impedance
    assert z is not None
    by_voltage = 0.5 * (found.voltage / abs(z)) ** 2 * z.real
    assert by_voltage == pytest.approx(found.power, rel=0.1)


def test_heat_goes_with_power_and_voltage_with_its_root() -> None:
    _, once = at_power("core-x2", 10.0, 0.5)
    _, louder = at_power("core-x2", 1000.0, 0.5)
    assert louder.power == pytest.approx(100 * once.power)
    assert once.voltage is not None
    assert louder.voltage == pytest.approx(10 * once.voltage)


def test_half_the_time_on_the_air_is_half_the_mean_heat_and_the_same_voltage() -> None:
    _, half = at_power("core-x2", 10.0, 0.5)
    _, whole = at_power("core-x2", 10.0, 1.0)
    assert half.core is not None
    assert whole.core is not None
    assert half.mean_power == pytest.approx(0.5 * whole.mean_power)
    assert half.core.carrier == whole.core.carrier
    assert half.core.rise[0] < whole.core.rise[0]
    assert half.voltage == whole.voltage


def test_the_margin_counts_from_the_hottest_it_gets() -> None:
    found = core_heat(core().core, 1.0, 0.5)
    assert found.margin == pytest.approx(found.curie - HOT - found.rise[1])
    assert found.hottest == pytest.approx(HOT + found.rise[1])
    assert found.resistance[0] == pytest.approx(found.rise[0] / 0.5)
    assert found.resistance[0] < found.resistance[1]


# Edges


def test_a_small_margin_is_told_in_words_and_a_large_one_is_not() -> None:
    study, quiet = at_power("core-x1", 10.0, 0.5)
    assert quiet.warnings == ()
    assert stress_words({"core-x1": quiet}, study)[-1] == "No margin is small."
    warm = next(w for p in range(20, 600, 5) if (w := at_power("core-x1", p, 0.5)[1]).warnings)
    assert warm.core is not None
    # A polyethylene jacket gives way first, at 85 C.
    assert "PE jacket" in " ".join(warm.warnings)
    assert warm.core.margin > 0
    study, hot = at_power("core-x1", 1500.0, 1.0)
    assert "beyond the Curie point of 130 °C" in hot.warnings[0]
    assert any("beyond the Curie point" in text for text in stress_words({"a": hot}, study))
    near = next(
        w.warnings[0]
        for p in range(20, 1500, 5)
        if (w := at_power("core-x1", p, 0.5)[1]).core is not None
        and w.core is not None
        and 0 < w.core.margin < working_value("curie-margin")
    )
    assert "below its Curie point" in near


def test_a_high_voltage_is_told_in_words() -> None:
    _, loud = at_power("jumper", 2e5, 0.5)
    assert loud.voltage is not None
    assert loud.withstand is not None
    assert loud.voltage > 0.5 * loud.withstand
    assert "of what its surface or gap is taken to stand" in loud.warnings[0]


@pytest.mark.parametrize("name", ["none", "ideal", "no-feedline", "perfect"])
def test_what_is_no_part_gets_no_warmer(name: str) -> None:
    assert stressed(name) is None


def test_a_measured_choke_has_heat_and_voltage_but_no_known_size() -> None:
    found = stressed("measured")
    assert found is not None
    assert found.core is None
    assert found.withstand is None
    assert found.voltage is not None


def test_a_core_without_heat_is_as_warm_as_the_air_and_has_a_finite_resistance() -> None:
    found = core_heat(core().core, 0.0, 0.5)
    assert found.rise == (0.0, 0.0)
    assert 20 < found.resistance[0] < found.resistance[1] < 200


def test_a_longer_row_stands_more_and_a_sleeve_stands_its_gap() -> None:
    cable = small_study.study().cable.type
    one, four = (core(n).withstand(small_study.study().host) for n in ("core-x1", "core-x4"))
    assert one is not None
    # IEC 60664-1, from memory: 16 mm for 1000 V rms where it is wet and dirty.
    assert one == pytest.approx(np.sqrt(2) * 1000 / 16e-3 * 28.6e-3, rel=1e-9)
    assert four == pytest.approx(4 * one)
    gap = small_study.choke("sleeve").withstand(small_study.study().host)
    assert gap == pytest.approx(1e6 * 0.5 * (26e-3 - cable.shield_diameter))


def test_every_jacket_of_the_catalogue_has_a_limit_and_a_strange_one_none() -> None:
    assert jacket_limit("PE") == pytest.approx(358.15)
    assert jacket_limit("FEP") == pytest.approx(473.15)
    assert jacket_limit("cotton") is None


def test_a_study_without_chokes_has_nothing_to_say_about_heat() -> None:
    assert stress_words({}, small_study.study()) == ()


# Refusals


def test_negative_heat_and_impossible_bodies_are_refused() -> None:
    with pytest.raises(ValueError, match="must not be negative"):
        temperature_rise(-1.0, Body(0.02, 1e-3, 0.9), HOT, still_air())
    for diameter, area, emissivity in ((0.0, 1.0, 0.9), (1.0, 0.0, 0.9), (1.0, 1.0, 1.1)):
        with pytest.raises(ValueError, match="need diameter"):
            Body(diameter, area, emissivity)
    with pytest.raises(ValueError, match="outside 0 to 1e12"):
        horizontal_cylinder_nusselt(1e13, 0.7)


def test_every_working_value_names_its_source() -> None:
    assert all(v.source and v.unit for v in working_values())
