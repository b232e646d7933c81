"""A core that the user has measured: its sweep goes before the catalogue, one line in a study."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray

from models.catalogues.parts import ferrite_core
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.circuit.choke_materials import one_pass
from pipeline.report.tables import choke_rows
from pipeline.solver.catalogue_sets import catalogue_sets
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import StudyError
from tests.harness.small_study import small_study_file

BAND = skrf.Frequency(140, 150, 41, "MHz")
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "count": [1, 4]}
OTHER = {"id": "far", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.3 m"}


def known() -> NDArray[np.complex128]:
    """A core of 200 ohm beside 0.4 uH and 0.5 pF: resistance and reactance over the band."""
    omega = 2 * np.pi * BAND.f
    return np.asarray(1 / (1 / 200 + 1 / (1j * omega * 0.4e-6) + 1j * omega * 0.5e-12))


def save(network: Any, folder: Path, name: str) -> None:
    network.write_touchstone(str(folder / name.split(".")[0]), skrf_comment=False)


def one_port(z: NDArray[np.complex128], band: Any = BAND) -> Any:
    return skrf.Network(frequency=band, z=z.reshape(-1, 1, 1), z0=50)


def two_ports(z: NDArray[np.complex128]) -> Any:
    a = np.tile(np.eye(2, dtype=complex), (len(BAND.f), 1, 1))
    a[:, 0, 1] = z
    return skrf.Network(frequency=BAND, a=a, z0=50)


def read(folder: Path, *more: dict[str, Any], **keys: Any) -> Study:
    return load_study(small_study_file(folder, chokes=[CORE | keys, *more]))


# Against scikit-rf, a general library for networks


@pytest.mark.parametrize(
    ("name", "method"),
    [("core.s1p", None), ("core.s2p", None), ("core.s2p", "series-through")],
)
def test_a_measured_core_has_the_impedance_that_was_drawn_and_counts_add(
    tmp_path: Path, name: str, method: str | None
) -> None:
    save((one_port if name.endswith("1p") else two_ports)(known()), tmp_path, name)
    keys = {"measured": name} | ({} if method is None else {"method": method})
    found = read(tmp_path, **keys)
    for choke, count in zip(found.chokes, (1, 4), strict=True):
        z = choke.impedance(BAND.f, found.host)
        np.testing.assert_allclose(z, count * known(), rtol=1e-6)


def test_a_wire_in_the_place_of_the_core_is_taken_off(tmp_path: Path) -> None:
    # The core adds to the wire through it: 20 nH of the jig are no part of the core.
    wire = 2j * np.pi * BAND.f * 20e-9
    save(one_port(known() + wire), tmp_path, "core.s1p")
    save(one_port(wire), tmp_path, "wire.s1p")
    save(one_port(np.full(41, 1e9 + 0j)), tmp_path, "empty.s1p")
    fixture = {"open": "empty.s1p", "short": "wire.s1p"}
    found = read(tmp_path, measured="core.s1p", fixture=fixture)
    np.testing.assert_allclose(found.chokes[0].impedance(BAND.f, found.host), known(), rtol=1e-5)
    assert found.files == ("core.s1p", "empty.s1p", "wire.s1p")


# Laws


def test_a_measurement_scatters_less_than_any_class_and_says_what_the_catalogue_has(
    tmp_path: Path,
) -> None:
    save(one_port(known()), tmp_path, "core.s1p")
    found, plain = read(tmp_path, measured="core.s1p"), read(tmp_path)
    low, high = found.chokes[0].spread(found.host)
    before, after = plain.chokes[0].spread(plain.host)
    assert before < low < 1 < high < after
    f = np.array([found.frequency])
    ends = np.array([0.0, 1.0])
    drawn = found.chokes[1].drawn_impedance(
        found.host, {"ferrite": np.ones(2), "ferrite_of_class": ends}
    )
    assert drawn / found.chokes[1].impedance(f, found.host) == pytest.approx([low, high])
    catalogue = one_pass(ferrite_core("mix-43-clamp-12-7"), found.frequency)
    assert catalogue is not None
    (warned,) = found.warnings
    assert warned.startswith("core.s1p: one core ")
    assert f"the catalogue has {abs(catalogue):.0f} ohm" in warned
    assert not plain.warnings


def test_every_candidate_and_every_set_of_that_core_has_what_was_measured(tmp_path: Path) -> None:
    save(one_port(known()), tmp_path, "core.s1p")
    found = read(tmp_path, OTHER, measured="core.s1p")
    cores = [c for c in found.chokes if isinstance(c, FerriteChoke)]
    assert len(cores) == 3
    assert len({c.measured for c in cores}) == 1
    sets = [s for s in catalogue_sets(found) if isinstance(s, FerriteChoke)]
    same = [s for s in sets if s.core.id == "mix-43-clamp-12-7"]
    assert same
    assert all(s.measured == cores[0].measured for s in same)
    assert all(s.measured is None for s in sets if s not in same)


def test_the_figure_has_the_measured_curve_beside_that_of_the_catalogue(tmp_path: Path) -> None:
    save(one_port(known()), tmp_path, "core.s1p")
    found = read(tmp_path, OTHER, measured="core.s1p")
    rows = choke_rows(found)
    labels = {str(r["label"]).split(": ")[0]: r["choke"] for r in rows}
    assert labels == {"core.s1p": "core-x1", "catalogue": "core-x1-catalogue"}
    own = [r["frequency_hz"] for r in rows if r["choke"] == "core-x1"]
    assert own
    assert all(140e6 <= f <= 150e6 for f in own)
    assert len(rows) > 3 * len(own)


def test_a_study_without_a_measurement_says_nothing_of_one(tmp_path: Path) -> None:
    found = read(tmp_path)
    assert not [d for d in found.defaults if "method" in d or "fixture" in d or "measured" in d]
    assert found.chokes[0].known_range is None


# Refusals


@pytest.mark.parametrize(
    ("keys", "tag", "at", "rule"),
    [
        ({"measured": "narrow.s1p"}, "table-range", "measured", "covers 140 MHz to 145 MHz, not"),
        ({"method": "y21"}, "core-unmeasured", "method", "no measurement is named"),
        ({"fixture": {"open": "core.s1p"}}, "core-unmeasured", "fixture", "no measurement"),
        ({"measured": "core.s1p", "method": "y21"}, "fixture-ports", "method", "both ports"),
        ({"measured": "gone.s1p"}, "file-missing", "measured", ""),
        ({"measured": "core.csv"}, "touchstone-name", "measured", ".s1p or .s2p"),
        ({"measured": "one_way.s2p"}, "fixture-one-way", "measured", "one way only"),
        ({"measured": "wire.s1p"}, "fixture-nothing", "measured", "nothing is in series"),
    ],
)
def test_a_measurement_that_cannot_be_is_refused_at_its_key(
    tmp_path: Path, keys: dict[str, Any], tag: str, at: str, rule: str
) -> None:
    save(one_port(known()), tmp_path, "core.s1p")
    save(one_port(known())["140-145MHz"], tmp_path, "narrow.s1p")
    save(one_port(np.full(41, 0.01 + 0.1j)), tmp_path, "wire.s1p")
    (tmp_path / "core.csv").write_text("f_hz,r_ohm,x_ohm\n1e8,1,1\n", encoding="utf-8")
    one_way = two_ports(known())
    one_way.s[:, :, 1] = 0
    save(one_way, tmp_path, "one_way.s2p")
    with pytest.raises(StudyError) as caught:
        read(tmp_path, **keys)
    (found,) = caught.value.faults
    assert (found.tag, f"chokes[0].{at}" in found.place) == (tag, True), str(found)
    assert rule in found.rule
    assert found.remedy
