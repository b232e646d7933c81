"""Results in open formats: labelled arrays (netCDF-3), Touchstone, NEC-2 card decks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.antennas.generator import RADIO_OHM
from models.site.soil import Soil
from pipeline.analysis.case_results import CaseResult, Solved
from pipeline.circuit.line import reflection_coefficient
from pipeline.runtime.store import whole_file, write_text
from pipeline.solver.decks import card_deck, nonzero_ports
from pipeline.solver.terminations import terminations
from pipeline.study.records import Study


def _variable(
    data: Any, name: str, values: NDArray[Any], dimensions: tuple[str, ...], **attributes: str
) -> None:
    variable = data.createVariable(name, "f8", dimensions)
    variable[:] = values
    for key, text in attributes.items():
        setattr(variable, key, text)


def _names(data: Any, dimension: str, names: list[str]) -> None:
    """A coordinate of names; netCDF-3 knows characters only, so each is a row of them."""
    width = max(len(n) for n in names)
    data.createDimension(dimension, len(names))
    data.createDimension(f"{dimension}_text", width)
    variable = data.createVariable(dimension, "c", (dimension, f"{dimension}_text"))
    variable[:] = np.array([list(n.ljust(width)) for n in names], dtype="S1")


def write_netcdf(
    path: Path, study: Study, results: list[CaseResult], solved: Mapping[str, Solved]
) -> None:
    """Arrays of a study with named dimensions, coordinates and units.

    Complex quantities have a last dimension ``part`` (real, imaginary). Shield current of each
    geometry has its own position coordinate. Opens with any netCDF reader.
    """
    from scipy.io import netcdf_file

    first = results[0]
    directions = next(iter(solved.values())).basis.directions
    with whole_file(path) as temporary, netcdf_file(temporary, "w") as data:
        # The writer takes text apart as ASCII; bytes go through as they are.
        data.title = study.title.encode()
        data.study, data.Conventions = study.name.encode(), "CF-1.10"
        _names(data, "case", [r.case.id for r in results])
        for name, size in (
            ("part", 2),
            ("frequency", len(first.frequency)),
            ("elevation", len(directions.theta)),
            ("azimuth", len(directions.phi)),
        ):
            data.createDimension(name, size)
        _variable(data, "frequency", first.frequency, ("frequency",), units="Hz")
        elevation = 90.0 - np.degrees(directions.theta)
        _variable(data, "elevation", elevation, ("elevation",), units="degree")
        _variable(data, "azimuth", np.degrees(directions.phi), ("azimuth",), units="degree")
        _write_cases(data, results)
        _write_shield(data, results, solved)


def _parts(values: NDArray[np.complex128]) -> NDArray[np.float64]:
    return np.stack([values.real, values.imag], axis=-1)


def _write_cases(data: Any, results: list[CaseResult]) -> None:
    over_band = ("case", "frequency", "part")
    for name, text in (
        ("z_feed", "feed-point impedance"),
        ("z_radio", "impedance at the radio"),
        ("station_ratio", "current at the radio end of the shield per feed current"),
    ):
        values = np.stack([_parts(getattr(r, name)) for r in results])
        units = "1" if name == "station_ratio" else "ohm"
        _variable(data, name, values, over_band, units=units, long_name=text)
    loss = np.stack([r.line_loss_db for r in results])
    _variable(data, "line_loss", loss, ("case", "frequency"), units="dB")
    gain = np.stack([r.gain for r in results])
    text = "gain at the design frequency relative to the power into the feed point"
    _variable(data, "gain", gain, ("case", "elevation", "azimuth"), units="dBi", long_name=text)


def _write_shield(data: Any, results: list[CaseResult], solved: Mapping[str, Solved]) -> None:
    for number, (name, entry) in enumerate(solved.items()):
        members = [r for r in results if r.case.geometry == name]
        position = entry.basis.shield_position
        if not len(position) or not members:
            continue
        along, rows = f"position_{number}", f"shield_case_{number}"
        data.createDimension(along, len(position))
        _names(data, rows, [r.case.id for r in members])
        _variable(data, along, position, (along,), units="m", long_name=f"along the cable, {name}")
        values = np.stack([_parts(r.shield_ratio) for r in members])
        _variable(
            data,
            f"shield_ratio_{number}",
            values,
            (rows, along, "part"),
            units="1",
            long_name=f"shield current per feed current at the design frequency, geometry {name}",
        )


def write_touchstone(folder: Path, study: Study, results: Iterable[CaseResult]) -> None:
    """One-port Touchstone files of every case: feed point on the line, radio end on 50 ohm."""
    from skrf import Frequency, Network

    for r in results:
        ends = (("feed", r.z_feed, study.cable.type.z0), ("radio", r.z_radio, RADIO_OHM))
        for place, z, z0 in ends:
            gamma = np.asarray(reflection_coefficient(z, z0)).reshape(-1, 1, 1)
            name = f"{r.case.id}_{place}"
            band = Frequency.from_f(r.frequency, unit="hz")
            network = Network(frequency=band, s=gamma, z0=z0, name=name)
            target = folder / f"{name}.s1p"
            text = network.write_touchstone(
                return_string=True, write_z0=False, skrf_comment=False, form="ri"
            )
            write_text(target, f"! {study.title}: {r.case.id}, {place}\n{text}")


def write_decks(
    folder: Path, study: Study, solved: Mapping[str, Solved], soil: Soil | None
) -> None:
    """NEC-2 card deck of each geometry with its terminations, without chokes."""
    for name, entry in solved.items():
        f = np.array([study.frequency])
        z = terminations(entry.structure, study, f)[0]
        text = card_deck(
            entry.structure, study.title, study.frequency, soil, nonzero_ports(entry.structure, z)
        )
        write_text(folder / f"{name}.nec", text)
