"""A choke measured in a fixture: known chokes in known fixtures, drawn by scikit-rf, come back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray
from skrf.calibration.deembedding import OpenShort
from skrf.media import DefinedGammaZ0

from pipeline.chokes.fixture_methods import (
    METHODS,
    Standards,
    choke_table,
    fixture_impedance,
    reflection_impedance,
    sensitivity,
    series_residual,
    series_through_impedance,
    y21_impedance,
)
from pipeline.chokes.measured_choke import TableChoke
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from pipeline.text.refusals import FieldError
from tests.harness.small_study import small_study_file

BAND = skrf.Frequency(140, 150, 41, "MHz")
MEDIUM = DefinedGammaZ0(BAND, z0=50, gamma=2j * np.pi * BAND.f / 299_792_458.0)
# Resistance, inductance and capacitance side by side, which is what a choke near its resonance is.
CHOKE = (1200.0, 2e-6, 1e-12)
CENTRE = 20
ALONE = Standards()


def known() -> NDArray[np.complex128]:
    """Impedance of the choke from its parts."""
    resistance, inductance, capacitance = CHOKE
    omega = 2 * np.pi * BAND.f
    return np.asarray(
        1 / (1 / resistance + 1 / (1j * omega * inductance) + 1j * omega * capacitance)
    )


def between_ports(z: NDArray[np.complex128]) -> Any:
    """A series impedance between two ports, from its ABCD matrix."""
    a = np.tile(np.eye(2, dtype=complex), (len(BAND.f), 1, 1))
    a[:, 0, 1] = z
    return skrf.Network(frequency=BAND, a=a, z0=50)


def across(network: Any, capacitance: float) -> Any:
    """The same two ports with a capacitance from one to the other."""
    bridged = network.copy()
    y = 2j * np.pi * BAND.f * capacitance
    bridged.y = network.y + y[:, None, None] * np.array([[1, -1], [-1, 1]])
    return bridged


def in_fixture(z: NDArray[np.complex128], shunts: tuple[float, float] = (2e-12, 3e-12)) -> Any:
    """A choke between posts that each have a capacitance to ground."""
    left, right = (MEDIUM.shunt_capacitor(c) for c in shunts)
    return left ** between_ports(z) ** right


def far_off(z: NDArray[np.complex128]) -> float:
    """Largest relative error against the known choke."""
    return float(np.abs(z / known() - 1).max())


# Published formulas and a worked example


def test_transmission_of_a_series_impedance_is_that_of_the_published_formula() -> None:
    """Z = Z0 2(1 - T)/T: operation manual of a network analyser (R3765/67G series), 7.4.

    1000 + j500 ohm between two ports of 50 ohm lets 0.07534 - j0.03425 through, worked out by hand
    from it; that is 21.64 dB.
    """
    network = between_ports(np.full(41, 1000 + 500j))
    assert network.s[0, 1, 0] == pytest.approx(0.07534 - 0.03425j, abs=1e-5)
    assert 20 * np.log10(abs(network.s[0, 1, 0])) == pytest.approx(-21.644, abs=2e-3)
    assert series_through_impedance(network) == pytest.approx(np.full(41, 1000 + 500j), rel=1e-9)


def test_reflection_is_that_of_the_published_formula() -> None:
    """Z = Z0 (1 + rho)/(1 - rho): the same manual; rho = 1/3 is 100 ohm."""
    network = skrf.Network(frequency=BAND, s=np.full((41, 1, 1), 1 / 3), z0=50)
    assert reflection_impedance(network) == pytest.approx(np.full(41, 100 + 0j), rel=1e-9)


def test_the_bridge_of_a_pi_is_minus_one_over_y21() -> None:
    """Legs of 100 and 470 ohm, bridge of 2200: admittance matrix of the pi, any circuit book."""
    y = np.array([[1 / 100 + 1 / 2200, -1 / 2200], [-1 / 2200, 1 / 470 + 1 / 2200]])
    network = skrf.Network(frequency=BAND, y=np.tile(y.astype(complex), (41, 1, 1)), z0=50)
    assert y21_impedance(network) == pytest.approx(np.full(41, 2200 + 0j), rel=1e-9)


def test_the_largest_resistance_that_a_reflection_measures_is_the_published_one() -> None:
    """R_max = 2 Zc / U for an error U of its own size: IEEE Instrumentation and Measurement
    Magazine 25(7), 2022, p. 27, eq. 8, which leaves out what is small beside a high resistance."""
    largest = 2 * 50 / 0.001
    assert sensitivity(largest, "reflection") * 0.001 == pytest.approx(1.0, rel=2e-3)


def test_the_error_of_each_method_is_its_slope() -> None:
    z, step = 900 - 700j, 1e-7
    gamma, s21 = (z - 50) / (z + 50) + step, 100 / (100 + z) * (1 + step)
    moved = {
        "reflection": 50 * (1 + gamma) / (1 - gamma),
        "series-through": 100 * (1 - s21) / s21,
    }
    for method, reads in moved.items():
        slope = abs(reads / z - 1) / step
        assert slope == pytest.approx(sensitivity(z, method), rel=1e-3)  # type: ignore[arg-type]


def test_a_high_impedance_is_read_better_from_what_goes_through() -> None:
    assert sensitivity(3000, "series-through") < 0.04 * sensitivity(3000, "reflection")


# Known chokes in known fixtures


@pytest.mark.parametrize("method", METHODS)
def test_without_a_fixture_every_method_gives_the_choke(method: Any) -> None:
    network = between_ports(known())
    if method == "reflection":
        network = skrf.Network(frequency=BAND, z=known().reshape(-1, 1, 1), z0=50)
    assert far_off(fixture_impedance(network, method, ALONE)) < 1e-9


def test_capacitance_to_ground_spoils_series_through_and_not_y21() -> None:
    network = in_fixture(known())
    assert far_off(fixture_impedance(network, "y21", ALONE)) < 1e-9
    assert far_off(fixture_impedance(network, "series-through", ALONE)) > 0.15
    assert series_residual(network) > 0.1
    assert series_residual(between_ports(known())) < 1e-12


def test_two_picofarad_across_a_kiloohm_halve_what_a_reflection_reads() -> None:
    """1 / |1/1000 + j 2 pi 145 MHz 2 pF| = 481 ohm, by hand."""
    y = 1 / 1000 + 2j * np.pi * BAND.f * 2e-12
    network = skrf.Network(frequency=BAND, z=(1 / y).reshape(-1, 1, 1), z0=50)
    z = fixture_impedance(network, "reflection", ALONE)
    assert abs(z[CENTRE]) == pytest.approx(481, abs=1)


def test_leads_move_y21_by_a_per_cent_and_the_thru_of_their_halves_takes_them_off() -> None:
    half = MEDIUM.shunt_capacitor(1e-12) ** MEDIUM.inductor(5e-9)
    network = half ** between_ports(known()) ** half.flipped()
    thru = half ** half.flipped()
    assert 0.005 < far_off(fixture_impedance(network, "y21", ALONE)) < 0.01
    for method in ("y21", "series-through"):
        z = fixture_impedance(network, method, Standards(thru=thru))
        assert far_off(z) < 1e-9


def test_ten_millimetres_of_line_either_side_are_within_half_a_per_cent_by_y21() -> None:
    """A hundredth of a wavelength in all at 145 MHz; common practice allows a fiftieth."""
    line = MEDIUM.line(0.010, "m")
    network = line ** between_ports(known()) ** line
    assert far_off(fixture_impedance(network, "y21", ALONE)) < 0.005
    assert far_off(fixture_impedance(network, "series-through", ALONE)) > 0.05


@pytest.mark.parametrize("method", ["y21", "series-through"])
def test_open_and_wire_take_off_what_lies_across_and_in_series(method: Any) -> None:
    wire = 2j * np.pi * BAND.f * 12e-9
    measured = across(in_fixture(known() + wire), 0.3e-12)
    opened = across(in_fixture(np.full(41, 1e12 + 0j)), 0.3e-12)
    shorted = across(in_fixture(wire), 0.3e-12)
    assert far_off(fixture_impedance(measured, method, ALONE)) > 0.05
    z = fixture_impedance(measured, method, Standards(open=opened, short=shorted))
    assert far_off(z) < 1e-6


def test_one_port_with_open_and_short_is_the_de_embedding_of_the_library() -> None:
    """M. Koolen et al., IEEE BCTM 1991, as scikit-rf has it."""
    omega = 2 * np.pi * BAND.f

    def seen(z: NDArray[np.complex128]) -> Any:
        y = 1j * omega * 2e-12 + 1 / (z + 1j * omega * 10e-9)
        return skrf.Network(frequency=BAND, z=(1 / y).reshape(-1, 1, 1), z0=50)

    measured, opened, shorted = seen(known()), seen(np.full(41, 1e12 + 0j)), seen(0 * known())
    z = fixture_impedance(measured, "reflection", Standards(open=opened, short=shorted))
    library = OpenShort(dummy_open=opened, dummy_short=shorted).deembed(measured)
    assert far_off(z) < 1e-5
    assert z == pytest.approx(library.z[:, 0, 0], rel=1e-9)


def test_noise_below_zero_is_set_to_zero_and_said() -> None:
    z, remarks = choke_table(np.array([1e8, 2e8]), np.array([-10 + 900j, 20 + 900j]))
    assert z.tolist() == [900j, 20 + 900j]
    assert "1 of 2 frequencies" in remarks[0]


# In a study


def save(network: Any, folder: Path, name: str) -> None:
    network.write_touchstone(Path(name).stem, dir=str(folder), form="ri")


def bench(folder: Path, method: str = "y21", **more: object) -> Study:
    entry = {"id": "bench", "kind": "fixture", "file": "bench.s2p", "method": method, **more}
    return load_study(small_study_file(folder, chokes=[entry]))


def test_a_study_uses_a_choke_in_a_fixture_like_one_of_a_table(tmp_path: Path) -> None:
    save(in_fixture(known()), tmp_path, "bench.s2p")
    (choke,) = bench(tmp_path).chokes
    assert isinstance(choke, TableChoke)
    assert choke.kind == "fixture"
    assert choke.f == pytest.approx(BAND.f)
    assert np.array(choke.z_choke) == pytest.approx(known(), rel=1e-6)


def test_a_study_says_how_far_a_measured_choke_can_be_trusted(tmp_path: Path) -> None:
    save(in_fixture(known()), tmp_path, "bench.s2p")
    (y21,) = bench(tmp_path).warnings
    assert "bench: " in y21
    assert "chokes.bench.fixture: nothing of it is taken off" in bench(tmp_path).defaults
    assert "per cent of error in S21" in y21
    (through,) = bench(tmp_path, "series-through").warnings
    assert "method y21 leaves it out" in through
    one_port = skrf.Network(frequency=BAND, z=known().reshape(-1, 1, 1), z0=50)
    save(one_port, tmp_path, "bench.s1p")
    (reflected,) = bench(tmp_path, "reflection", file="bench.s1p").warnings
    assert "reflects nearly everything" in reflected
    assert "1 pF beside the choke" in reflected


def test_the_files_of_a_fixture_belong_to_the_study(tmp_path: Path) -> None:
    save(in_fixture(known()), tmp_path, "bench.s2p")
    save(in_fixture(np.full(41, 1e9 + 0j)), tmp_path, "empty.s2p")
    study = bench(tmp_path, fixture={"open": "empty.s2p"})
    assert study.files == ("bench.s2p", "empty.s2p")
    assert "taken off by its open" in study.warnings[0]


# Refusals


def test_nothing_is_extrapolated_beyond_the_measured_band(tmp_path: Path) -> None:
    save(in_fixture(known())["140.5-145MHz"], tmp_path, "bench.s2p")
    with pytest.raises(
        StudyError, match=r"(?s)table-range.*covers 140\.5 MHz to 145 MHz, not the whole"
    ):
        bench(tmp_path)


@pytest.mark.parametrize(
    ("more", "tag", "at", "rule"),
    [
        ({"method": "reflection"}, "fixture-ports", "method", "takes a .s1p"),
        ({"fixture": {"open": "part.s2p"}}, "fixture-sweep", "fixture.open", "other frequencies"),
        (
            {"fixture": {"short": "bench.s2p"}},
            "fixture-standards",
            "fixture.short",
            "needs the open",
        ),
        (
            {"fixture": {"thru": "bench.s2p", "open": "bench.s2p"}},
            "fixture-standards",
            "fixture.thru",
            "not together with open or short",
        ),
        ({"file": "one_way.s2p"}, "fixture-one-way", "file", "one way only"),
        ({"fixture": {"opn": "bench.s2p"}}, "key-unknown", "fixture.opn", ""),
    ],
)
def test_files_that_do_not_go_together_are_refused_at_the_key_that_is_wrong(
    tmp_path: Path, more: dict[str, Any], tag: str, at: str, rule: str
) -> None:
    save(in_fixture(known()), tmp_path, "bench.s2p")
    save(in_fixture(known())["141-149MHz"], tmp_path, "part.s2p")
    one_way = in_fixture(known())
    one_way.s[:, :, 1] = 0
    save(one_way, tmp_path, "one_way.s2p")
    with pytest.raises(StudyError) as caught:
        bench(tmp_path, **more)
    (found,) = caught.value.faults
    assert (found.tag, f"chokes[0].{at}" in found.place) == (tag, True)
    assert rule in found.rule
    assert found.remedy


def test_one_direction_is_enough_for_what_goes_through(tmp_path: Path) -> None:
    one_way = in_fixture(known())
    one_way.s[:, :, 1] = 0
    save(one_way, tmp_path, "bench.s2p")
    assert isinstance(bench(tmp_path, "series-through").chokes[0], TableChoke)


@pytest.mark.parametrize(
    ("z", "rule"),
    [
        ([10 + 900j, -200 + 900j], "-200 ohm at 200 MHz"),
        ([np.inf + 0j, 1 + 900j], "beyond 10 Mohm at 100 MHz"),
        ([0j, 0j], "nothing is in series"),
        ([0.2 + 0.3j, 0.2 + 0.3j], "nothing is in series"),
    ],
)
def test_what_no_choke_can_be_is_refused_with_its_frequency(z: list[complex], rule: str) -> None:
    with pytest.raises(FieldError, match=rule):
        choke_table(np.array([1e8, 2e8]), np.array(z))
