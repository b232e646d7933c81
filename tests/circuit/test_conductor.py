"""Surface, jacket, radius and soil of a straight conductor.

Published values are in tests/validation, metal and insulated_wire.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from models.antennas.generator import thickness_inductance
from models.site.soil import common_rod, ground_rod_resistance
from pipeline.circuit.line import jacket_inductance, surface_resistance
from pipeline.study.reader import load_study
from tests.harness.small_study import small_study_file

# Laws


def test_jacket_of_air_or_of_no_thickness_adds_nothing() -> None:
    assert jacket_inductance(8e-3, 10e-3, 1.0) == 0
    assert jacket_inductance(8e-3, 8e-3, 3.0) == 0


def test_jackets_one_over_the_other_add_up() -> None:
    inner, outer = jacket_inductance(4e-3, 5e-3, 2.3), jacket_inductance(5e-3, 7e-3, 2.3)
    assert jacket_inductance(4e-3, 7e-3, 2.3) == pytest.approx(inner + outer, rel=1e-14)


def test_thicker_part_takes_as_much_inductance_as_a_thinner_one_brings() -> None:
    thinner = thickness_inductance(0.03, 4e-3, 2e-3)
    assert thinner == pytest.approx(-thickness_inductance(0.03, 2e-3, 4e-3))
    assert thinner > 0
    assert thickness_inductance(0.03, 4e-3, 4e-3) == 0


def test_inductances_per_metre_depend_on_shape_and_not_on_size() -> None:
    assert jacket_inductance(8e-3, 10e-3, 2.3) == pytest.approx(jacket_inductance(8, 10, 2.3))
    assert thickness_inductance(1, 4e-3, 1e-3) == pytest.approx(thickness_inductance(1, 4, 1))


def test_rod_in_soil_half_as_conductive_has_twice_the_resistance() -> None:
    assert ground_rod_resistance(2.4, 8e-3, 0.005) == pytest.approx(
        2 * ground_rod_resistance(2.4, 8e-3, 0.01)
    )


def test_rod_of_twice_the_size_has_half_the_resistance() -> None:
    assert ground_rod_resistance(4.8, 16e-3, 0.01) == pytest.approx(
        ground_rod_resistance(2.4, 8e-3, 0.01) / 2
    )


def test_surface_resistance_grows_with_the_root_of_frequency() -> None:
    f = np.array([30e6, 120e6, 480e6])
    np.testing.assert_allclose(
        surface_resistance(f, 5.8e7) / surface_resistance(30e6, 5.8e7), [1, 2, 4]
    )


# Edges


def test_surface_resistance_keeps_an_empty_axis() -> None:
    assert surface_resistance(np.zeros(0), 5.8e7).shape == (0,)


# Refusals


@pytest.mark.parametrize("sizes", [(0.0, 1e-3), (2e-3, 1e-3), (float("nan"), 1e-3)])
def test_jacket_inside_its_shield_is_refused(sizes: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="shield_diameter <= jacket_diameter"):
        jacket_inductance(*sizes, 2.3)


def test_permittivity_below_that_of_vacuum_is_refused() -> None:
    with pytest.raises(ValueError, match=r"eps_r = 0\.9 must be at least 1"):
        jacket_inductance(8e-3, 10e-3, 0.9)


@pytest.mark.parametrize("rod", [(0.05, 8e-3, 0.01), (2.4, 0.0, 0.01), (2.4, 8e-3, 0.0)])
def test_rod_that_is_not_slender_or_soil_that_insulates_is_refused(
    rod: tuple[float, float, float],
) -> None:
    with pytest.raises(ValueError, match="at least ten radii"):
        ground_rod_resistance(*rod)


def test_metal_without_conductivity_is_refused() -> None:
    with pytest.raises(ValueError, match="sigma = 0 must be positive"):
        surface_resistance(145e6, 0)


def test_a_study_that_states_no_rod_has_the_common_one_of_its_soil(tmp_path: Path) -> None:
    # Dwight 1936 for 2.4 m of 16 mm: 81 ohm in average soil of 5 mS/m, to two digits.
    route = [{"out": "0.17 m"}, {"down_to": "0.5 m"}, {"bond": "here"}, {"out": "1 m"}]
    cable = {"type": "RG-213/U", "route": route}
    mast = {"material": "metal", "diameter": "40 mm", "length": "1 m", "foot": {}}
    site = {"height": "3 m", "ground": "average", "mast": mast}
    study = load_study(small_study_file(tmp_path, site=site, cable=cable))
    assert study.bond is not None
    assert study.bond.rod_impedance == 81
    assert study.site.around.mast_earth is not None
    assert study.site.around.mast_earth.impedance == 81
    assert "bond.rod_impedance: 81 ohm, a common rod in this soil" in study.defaults
    assert common_rod(0.01).real == pytest.approx(ground_rod_resistance(2.4, 8e-3, 0.01), rel=0.05)
