"""The far field of a case taken apart: by what carries the current, and against the ideal choke.

Currents and fields in, arrays and rows out. The field is linear in the currents, so that those of
the cable, of the antenna and of what stands round them each have a field of their own, and the sum
of these is the field of all. Powers do not add up so: where two fields meet they add or cancel.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from models.site.metalwork import OWN_PARTS
from models.site.soil import Soil
from models.wires.structure import Segments, Structure
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.metrics import (
    MATTERS_WITHIN_DB,
    all_the_way_round,
    gain_dbi,
    ring_at,
)
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import IDEAL
from pipeline.solver.far_field import (
    Directions,
    directive_power,
    evenly_round,
    far_field,
    radiated_power,
)

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

# Cuts of a pattern, as tables name them.
AZIMUTH, ELEVATION = "azimuth", "elevation"
# What carries current, as tables name it, and all of it together.
BY_CABLE, BY_ANTENNA, BY_OTHERS, BY_ALL = "cable", "antenna", "around", "all"


def carriers(structure: Structure) -> dict[str, NDArray[np.bool_]]:
    """Segments of cable, antenna and what stands round them, each (n_segment,); none is left out.

    To the cable belong what a choke adds on its outside and the leads that its current goes on in:
    to the rod of its bond and beyond the radio.
    """
    part = np.array([wire.part for wire in structure.wires])[structure.segments.wire]
    antenna = part == "antenna"
    own = np.isin(part, OWN_PARTS)
    found = {BY_CABLE: own & ~antenna, BY_ANTENNA: antenna, BY_OTHERS: ~own}
    return {name: mask for name, mask in found.items() if mask.any()}


def fields_by_carrier(
    segments: Segments,
    currents: Complex,
    carrying: Mapping[str, NDArray[np.bool_]],
    f: float,
    soil: Soil | None,
    directions: Directions,
) -> dict[str, Complex]:
    """Far field of each share of the current by itself, shape (2, n_theta, n_phi) each. [V]

    ``currents`` (n_segment,) [A] are all there are, ``carrying`` the segments of each share, ``f``
    in hertz. Where every segment belongs to one share the fields add up to that of all currents.

    References
    ----------
    .. [1] C. A. Balanis, "Antenna Theory", 3rd ed., 2005, section 3.6: the radiation integrals are
       linear in the current (from memory).
    """
    shares = np.stack([np.where(mask, currents, 0.0) for mask in carrying.values()])
    fields = far_field(segments, shares, f, soil, directions)
    return dict(zip(carrying, fields, strict=True))


def _fields(result: CaseResult) -> dict[str, Complex]:
    """Fields of a case by what carries the current, that of all last. [V]"""
    structure, basis = result.solved.structure, result.solved.basis
    f, soil = float(basis.frequency[basis.centre]), result.study.site.ground
    found = fields_by_carrier(
        structure.segments,
        result.segment_current,
        carriers(structure),
        f,
        soil,
        basis.directions,
    )
    return found | {BY_ALL: result.field}


def carrier_rows(
    results: Mapping[str, CaseResult], grades: Mapping[str, str], elevation_deg: float
) -> list[Row]:
    """Gain round about and over elevation of what each share of the current radiates by itself.

    ``results`` are the cases that have rows, ``grades`` those of all by case. The gain is against
    the power into the antenna, as everywhere, and so is the share that is radiated.
    """
    rows: list[Row] = []
    for name, result in results.items():
        directions = result.solved.basis.directions
        for carrier, field in _fields(result).items():
            share = float(radiated_power(field, directions)) / result.power_in
            gain = gain_dbi(directive_power(field), result.power_in)
            rows += [
                {"case": name, "carrier": carrier, **place, "gain_dbi": value}
                | {"radiated_share": share, "grade": grades[name]}
                for place, value in cuts_of(gain, directions, elevation_deg)
            ]
    return rows


def cuts_of(
    gain: Real, directions: Directions, elevation_deg: float
) -> list[tuple[dict[str, str | float], float]]:
    """Places and gains of both cuts of a pattern (n_theta, n_phi) [dBi].

    Round about at the grid's elevation nearest to the one wanted, in steps that miss no extreme
    (:func:`metrics.all_the_way_round`), and over elevation towards azimuth zero and away from it.
    """
    elevation = (90.0 - np.degrees(directions.theta)).tolist()
    row = ring_at(directions.theta, elevation_deg)
    ring = all_the_way_round(gain[row])
    found: list[tuple[dict[str, str | float], float]] = [
        ({"cut": AZIMUTH, "azimuth_deg": angle, "elevation_deg": elevation[row]}, value)
        for angle, value in zip(
            np.degrees(evenly_round(len(ring))).tolist(), ring.tolist(), strict=True
        )
    ]
    for k in (0, int(np.argmin(np.abs(directions.phi - np.pi)))):
        azimuth = float(np.degrees(directions.phi[k]))
        found += [
            ({"cut": ELEVATION, "azimuth_deg": azimuth, "elevation_deg": up}, value)
            for up, value in zip(elevation, gain[:, k].tolist(), strict=True)
        ]
    return found


def difference_rows(
    results: Mapping[str, CaseResult], grades: Mapping[str, str], elevation_deg: float
) -> list[Row]:
    """Gain of every case against the ideal choke, along both cuts of the pattern.

    Empty cells where the ideal itself is weak: next to a null a decibel says little. ``results``
    and ``grades`` are those of all cases.
    """
    directions = results[IDEAL].solved.basis.directions
    ideal = cuts_of(results[IDEAL].gain, directions, elevation_deg)
    floor = max(value for _, value in ideal) - MATTERS_WITHIN_DB
    return [
        {"case": name, **place}
        | {"difference_db": value - reference if reference >= floor else None}
        | {"grade": grades[name]}
        for name, result in results.items()
        if name != IDEAL
        for (place, value), (_, reference) in zip(
            cuts_of(result.gain, directions, elevation_deg), ideal, strict=True
        )
    ]
