"""Ferrite, sleeve, measured table and coil as two-terminal chokes.

Published values are in tests/validation, coils, ferrites and metal.
"""

from __future__ import annotations

import numpy as np
import pytest
import skrf
from numpy.typing import ArrayLike, NDArray
from scipy.constants import c, mu_0
from skrf.media import Coaxial

from models.catalogues.parts import FerriteCore, ferrite_core, ferrite_material, ferrite_materials
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.circuit.coil import (
    coil_impedance,
    coil_self_resonance,
    helix_capacitance,
    helix_inductance,
    nagaoka_coefficient,
)
from pipeline.circuit.ferrite_and_sleeve import (
    SleeveSection,
    ferrite_impedance,
    interpolate_over_log_f,
    sleeve_impedance,
    sleeve_line,
    sleeve_quarter_wave_length,
    tabulated_impedance,
)
from pipeline.circuit.line import surface_resistance

AIR = SleeveSection(8.13e-3, 8.13e-3, 1.0, 26e-3, 5.8e7, 5.8e7)
JACKETED = SleeveSection(8.13e-3, 10.29e-3, 2.3, 26e-3, 5.8e7, 4.93e7)
BEAD = (25.9e-3, 12.8e-3, 28.6e-3)
COIL = (9, 0.30, 10.3e-3, 8.13e-3, 5.8e7)


def permeability(material: str, f: ArrayLike) -> NDArray[np.complex128]:
    table = ferrite_material(material)
    return interpolate_over_log_f(f, table.frequency, table.mu_r)


def added(core: FerriteCore, f: float) -> complex:
    mu_r = permeability(core.material, f)
    return complex(
        ferrite_impedance(f, mu_r, core.outer_diameter, core.inner_diameter, core.length)
    )


# Against another library


def test_air_sleeve_is_the_shorted_coaxial_line_of_scikit_rf() -> None:
    frequency = skrf.Frequency(30, 500, 23, "MHz")
    medium = Coaxial(frequency, Dint=8.13e-3, Dout=26e-3, sigma=5.8e7)
    outside = medium.line(0.45, "m") ** medium.short()
    ours = sleeve_impedance(frequency.f, 0.45, AIR)
    # The library solves the round conductors, ours the flat skin: they differ by skin depth
    # over radius, 0.3 % of the loss at 30 MHz; the loss itself matters at resonance only.
    np.testing.assert_allclose(ours, outside.z[:, 0, 0], rtol=4e-3)


# Laws


def test_core_of_air_adds_nothing() -> None:
    assert complex(ferrite_impedance(145e6, 1.0, *BEAD)) == 0


def test_cores_in_a_row_add_up() -> None:
    one = ferrite_impedance(145e6, 7.5 - 45.6j, *BEAD)
    np.testing.assert_allclose(ferrite_impedance(145e6, 7.5 - 45.6j, *BEAD, 8), 8 * one)


def test_core_split_into_two_rings_one_in_the_other_is_the_same_core() -> None:
    mu_r = 22.5 - 42.9j
    inner = ferrite_impedance(145e6, mu_r, 18e-3, 12.8e-3, 28.6e-3)
    outer = ferrite_impedance(145e6, mu_r, 25.9e-3, 18e-3, 28.6e-3)
    np.testing.assert_allclose(ferrite_impedance(145e6, mu_r, *BEAD), inner + outer, rtol=1e-13)


@pytest.mark.parametrize("material", [item.id for item in ferrite_materials()])
def test_no_ferrite_gives_power(material: str) -> None:
    table = ferrite_material(material)
    f = np.geomspace(table.frequency[0] * 1.001, table.frequency[-1] * 0.999, 300)
    assert np.all(ferrite_impedance(f, permeability(material, f), *BEAD).real >= 0)


def test_one_core_is_not_like_another_of_the_same_size() -> None:
    z = {mix: added(ferrite_core(f"mix-{mix}-bead-25-9"), 145e6) for mix in (31, 43, 52, 61, 68)}
    assert z[31].real > 1.5 * z[43].real
    assert abs(z[61].imag) > 3 * abs(z[43].imag)
    assert z[68].real < 0.05 * z[68].imag
    assert z[52].real > z[61].real


def test_table_is_met_at_its_points_and_halfway_on_a_logarithmic_axis() -> None:
    f_table, values = [1e6, 1e8], [2 + 0j, 4 - 6j]
    found = interpolate_over_log_f([1e6, 1e7, 1e8], f_table, values)
    np.testing.assert_allclose(found, [2, 3 - 3j, 4 - 6j], rtol=1e-12)


def test_long_coil_has_the_inductance_of_an_endless_one_less_its_ends() -> None:
    # First terms of the series in D/l (Rayleigh and Niven, 1881): 1 - 4/(3 pi) D/l + (D/l)^2/8.
    ratio = 0.02
    series = 1 - 4 * ratio / (3 * np.pi) + ratio**2 / 8
    assert float(nagaoka_coefficient(ratio, 1.0)) == pytest.approx(series, abs=ratio**4)


def test_coil_of_twice_the_size_has_twice_the_inductance_and_half_the_resonance() -> None:
    assert helix_inductance(9, 0.6, 20e-3) == pytest.approx(2 * helix_inductance(9, 0.3, 10e-3))
    assert coil_self_resonance(9, 0.6, 20e-3) == pytest.approx(
        coil_self_resonance(9, 0.3, 10e-3) / 2
    )


def test_coil_is_an_inductance_well_below_resonance() -> None:
    f = 0.5e6
    reactance = 2 * np.pi * f * helix_inductance(9, 0.30, 10.3e-3)
    # The self-capacitance adds (f / f_resonance)^2, 0.6 % at a thirteenth of the resonance.
    assert complex(coil_impedance(f, *COIL)).imag == pytest.approx(reactance, rel=0.007)


def test_coil_resistance_at_low_frequency_is_that_of_its_skin() -> None:
    f = 0.1e6
    cable = 9 * np.hypot(np.pi * 0.30, 10.3e-3)
    skin = surface_resistance(f, 5.8e7) * cable / (np.pi * 8.13e-3)
    # The self-capacitance raises it by 2 (f / f_resonance)^2, 0.05 % here.
    assert complex(coil_impedance(f, *COIL)).real == pytest.approx(float(skin), rel=1e-3)


def test_coil_is_real_and_largest_at_its_self_resonance() -> None:
    f0 = coil_self_resonance(*COIL[:3])
    f = f0 * np.array([0.98, 1.0, 1.02])
    z = coil_impedance(f, *COIL)
    assert z[0].imag > 0 > z[2].imag
    assert abs(z[1]) > 10 * max(abs(z[0]), abs(z[2]))
    assert abs(z[1].imag) < 0.02 * z[1].real


def test_coil_far_above_resonance_is_its_capacitance() -> None:
    f = 145e6
    capacitance = helix_capacitance(0.30, 9 * 10.3e-3)
    z = complex(coil_impedance(f, *COIL))
    # The coil in parallel takes (f_resonance / f)^2 of it, 0.2 %.
    assert z.imag == pytest.approx(-1 / (2 * np.pi * f * capacitance), rel=3e-3)
    assert z.real > 0


@pytest.mark.parametrize("section", [AIR, JACKETED])
def test_sleeve_chokes_most_at_its_quarter_wave(section: SleeveSection) -> None:
    length = sleeve_quarter_wave_length(145e6, section)
    f = 145e6 * np.array([0.99, 1.0, 1.01])
    size = abs(sleeve_impedance(f, length, section))
    assert size[1] > 10 * max(size[0], size[2])


def test_sleeve_shorter_than_a_quarter_wave_is_inductive_and_longer_capacitive() -> None:
    length = sleeve_quarter_wave_length(145e6, JACKETED)
    assert complex(sleeve_impedance(145e6, 0.9 * length, JACKETED)).imag > 0
    assert complex(sleeve_impedance(145e6, 1.1 * length, JACKETED)).imag < 0


def test_sleeve_of_a_half_wave_is_nearly_a_short() -> None:
    length = 2 * sleeve_quarter_wave_length(145e6, AIR)
    assert abs(complex(sleeve_impedance(145e6, length, AIR))) < 0.5


def test_short_sleeve_is_the_inductance_of_its_gap() -> None:
    reactance = 2 * np.pi * 30e6 * mu_0 / (2 * np.pi) * np.log(26 / 8.13) * 0.01
    # Skin depth over radius: the inner inductance of the metal is 0.2 % at 30 MHz.
    assert complex(sleeve_impedance(30e6, 0.01, AIR)).imag == pytest.approx(reactance, rel=3e-3)


def test_jacket_shortens_the_quarter_wave_and_lowers_the_impedance() -> None:
    quarter = c / 145e6 / 4
    assert sleeve_quarter_wave_length(145e6, JACKETED) < 0.98 * quarter
    assert sleeve_quarter_wave_length(145e6, AIR) == pytest.approx(quarter, rel=1e-3)
    assert sleeve_line(145e6, JACKETED)[0].real < sleeve_line(145e6, AIR)[0].real


def test_jacket_that_fills_the_sleeve_slows_by_the_root_of_its_permittivity() -> None:
    full = SleeveSection(8e-3, 26e-3, 2.3, 26e-3, 5.8e7, 5.8e7)
    ratio = sleeve_quarter_wave_length(145e6, AIR) / sleeve_quarter_wave_length(145e6, full)
    assert ratio == pytest.approx(np.sqrt(2.3), rel=1e-4)


def test_metal_four_times_as_conductive_doubles_the_resonant_impedance() -> None:
    poor = SleeveSection(8.13e-3, 8.13e-3, 1.0, 26e-3, 1.45e7, 1.45e7)
    best = [
        abs(complex(sleeve_impedance(145e6, sleeve_quarter_wave_length(145e6, section), section)))
        for section in (AIR, poor)
    ]
    # The field inside the skin of the poorer metal adds 0.2 % to its inductance.
    assert best[0] == pytest.approx(2 * best[1], rel=2e-3)


def test_ideal_choke_is_far_above_the_best_sleeve() -> None:
    length = sleeve_quarter_wave_length(145e6, AIR)
    assert abs(complex(sleeve_impedance(145e6, length, AIR))) * 1000 < IDEAL_CHOKE_OHM


# Edges


def test_choke_functions_take_scalars_and_arrays_alike() -> None:
    f = np.array([[50e6, 145e6], [250e6, 435e6]])
    mu_r = permeability("mix-43", f)
    for many, one in [
        (ferrite_impedance(f, mu_r, *BEAD), ferrite_impedance(145e6, mu_r[0, 1], *BEAD)),
        (coil_impedance(f, *COIL), coil_impedance(145e6, *COIL)),
        (sleeve_impedance(f, 0.5, JACKETED), sleeve_impedance(145e6, 0.5, JACKETED)),
    ]:
        assert many.shape == (2, 2)
        assert complex(many[0, 1]) == pytest.approx(complex(one), rel=1e-12)


def test_choke_functions_keep_an_empty_axis() -> None:
    none = np.zeros(0)
    assert interpolate_over_log_f(none, [1.0, 2.0], [1.0, 2.0]).shape == (0,)
    assert ferrite_impedance(none, none, *BEAD).shape == (0,)
    assert sleeve_impedance(none, 0.5, AIR).shape == (0,)


def test_no_core_is_no_impedance() -> None:
    assert complex(ferrite_impedance(145e6, 7.5 - 45.6j, *BEAD, 0)) == 0


def test_table_of_one_point_serves_that_frequency() -> None:
    assert complex(tabulated_impedance(145e6, [145e6], [300 + 40j])) == 300 + 40j


# Refusals


@pytest.mark.parametrize("f", [[99e6], [100e6, 201e6], [np.nan]])
def test_frequency_outside_a_table_is_refused(f: list[float]) -> None:
    with pytest.raises(ValueError, match="is outside the table, 100 to 200 MHz"):
        interpolate_over_log_f(f, [100e6, 200e6], [1, 2])


def test_mix_without_data_at_the_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match=r"145 MHz is outside the table, 0\.1 to 100 MHz"):
        permeability("mix-73", 145e6)


@pytest.mark.parametrize(
    ("f_table", "values", "rule"),
    [
        ([1e6, 2e6], [1.0], "one value per frequency"),
        ([], [], "one value per frequency"),
        ([2e6, 1e6], [1.0, 2.0], "positive and rise"),
        ([1e6, 1e6], [1.0, 2.0], "positive and rise"),
        ([0.0, 1e6], [1.0, 2.0], "positive and rise"),
    ],
)
def test_table_out_of_order_is_refused(
    f_table: list[float], values: list[float], rule: str
) -> None:
    with pytest.raises(ValueError, match=rule):
        tabulated_impedance(1e6, f_table, values)


def test_measured_choke_with_negative_resistance_is_refused() -> None:
    with pytest.raises(ValueError, match="negative resistance"):
        tabulated_impedance(1.5e6, [1e6, 2e6], [1 + 5j, -2 + 5j])


@pytest.mark.parametrize(
    ("sizes", "rule"),
    [
        ((12.8e-3, 25.9e-3, 28.6e-3), "inner_diameter < outer_diameter"),
        ((25.9e-3, 0.0, 28.6e-3), "0 < inner_diameter"),
        ((25.9e-3, 12.8e-3, 0.0), "length > 0"),
        ((25.9e-3, 12.8e-3, 28.6e-3, -1), "count >= 0"),
    ],
)
def test_core_that_cannot_be_is_refused(sizes: tuple[float, ...], rule: str) -> None:
    with pytest.raises(ValueError, match=rule):
        ferrite_impedance(145e6, 10.0, *sizes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"jacket_diameter": 27e-3}, "jacket_diameter <= sleeve_inner_diameter"),
        ({"shield_diameter": 0.0}, "0 < shield_diameter"),
        ({"jacket_eps_r": 0.5}, "jacket_eps_r = 0.5 must be at least 1"),
        (
            {"shield_diameter": 26e-3, "jacket_diameter": 26e-3},
            "the sleeve touches the shield",
        ),
    ],
)
def test_sleeve_that_cannot_be_is_refused(change: dict[str, float], rule: str) -> None:
    parts = {name: getattr(JACKETED, name) for name in JACKETED.__dataclass_fields__}
    with pytest.raises(ValueError, match=rule):
        SleeveSection(**(parts | change))


def test_sleeve_of_no_length_is_refused() -> None:
    with pytest.raises(ValueError, match="length = 0 must be positive"):
        sleeve_impedance(145e6, 0, AIR)


def test_coil_whose_turns_overlap_is_refused() -> None:
    with pytest.raises(ValueError, match="turns must not overlap"):
        coil_impedance(145e6, 9, 0.30, 8e-3, 8.13e-3, 5.8e7)


def test_coil_of_no_turns_is_refused() -> None:
    with pytest.raises(ValueError, match="turns, diameter and pitch must be positive"):
        helix_inductance(0, 0.3, 0.01)
    with pytest.raises(ValueError, match="diameter and length must be positive"):
        nagaoka_coefficient(0.3, 0.0)


@pytest.mark.parametrize("length", [0.02, 16.0, float("nan")])
def test_winding_beyond_the_table_of_medhurst_is_refused(length: float) -> None:
    with pytest.raises(ValueError, match=r"0\.1 to 50 diameters"):
        helix_capacitance(0.3, length)
