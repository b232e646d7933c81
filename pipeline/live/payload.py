"""A solved study as a page carries it: what everything in it follows from, and nothing twice.

Port bases, kinds of choke and the answer in; bytes out. No field is in them: the page has wires and
currents per volt at each port, and superposes and radiates as Python does. Currents on segments
without a port change little from one port to the next: they are kept as few patterns.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.wires.structure import GRID, Structure
from pipeline.analysis.case_results import Solved, bare_route
from pipeline.analysis.figures_of_merit_and_score import scored
from pipeline.chokes.ideal import IDEAL_CHOKE_OHM
from pipeline.chokes.kind import Choke
from pipeline.circuit.port_algebra import OPEN
from pipeline.live.kinds import LiveKind
from pipeline.live.packing import pack
from pipeline.live.ports import movable_ranges
from pipeline.live.variants import Variant
from pipeline.mesh.evidence import Grade
from pipeline.solver.cases import CABLE, ideal_choke
from pipeline.solver.terminations import choke_at_frequencies, terminations, told_impedance
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of

Arrays = dict[str, NDArray[Any]]
# Patterns of current that are smaller than the largest by so much are left out.
_PATTERNS_DOWN_TO = 1e-8
# Whole numbers that patterns are kept as, and down to which size they need the long ones: what is
# small beside the largest pattern has as many digits after the point in fewer.
_LONG, _SHORT = np.iinfo(np.int32), np.iinfo(np.int16)
_LONG_DOWN_TO = 2e-4
# So many frequencies are told of a band in the page.
_TOLD = 51


@dataclass(frozen=True)
class Carried:
    """A study as a page needs it: ``shown`` is what the view shows, the rest what computes.

    ``solved`` are geometries by name, of the cable and of every choke that is drawn;
    ``elevation_deg`` stands for the horizon; ``variants`` are the installations that can be shown,
    the study's own first, each with the grade of its drawing.
    """

    study: Study
    solved: Mapping[str, Solved]
    kinds: tuple[LiveKind, ...]
    elevation_deg: float
    shown: Mapping[str, Any]
    variants: tuple[tuple[Variant, Grade], ...]


def packed(carried: Carried) -> bytes:
    """The page's data as bytes, the same for the same study."""
    arrays: Arrays = {}
    of = {variant.geometry: variant.study for variant, _ in carried.variants}
    geometries = {
        name: _geometry(name, one, of.get(name, carried.study), arrays)
        for name, one in carried.solved.items()
    }
    cable = carried.solved[CABLE]
    told = told_at(cable)
    directions = cable.basis.directions
    arrays["theta"], arrays["azimuths"] = directions.theta, np.degrees(directions.phi)
    arrays["elevations"] = 90.0 - np.degrees(directions.theta)
    arrays["told"] = _band_of(cable)[0][told]
    kinds = [_kind(kind, carried, arrays) for kind in carried.kinds]
    return pack(
        {
            **carried.shown,
            "kinds": [_shown(kind, carried.study) for kind in carried.kinds],
            "elevation": carried.elevation_deg,
            "variants": [_variant(each, grade, carried) for each, grade in carried.variants],
            "engine": {
                "geometries": geometries,
                "cables": {variant.id: variant.geometry for variant, _ in carried.variants},
                "kinds": kinds,
                "centre": int(np.argmin(np.abs(arrays["told"] - carried.study.frequency))),
                **_constants(carried.study),
                "line": _line(cable.structure, carried.study, None),
            },
        },
        arrays,
    )


def _variant(variant: Variant, grade: Grade, carried: Carried) -> dict[str, Any]:
    """An installation as the page offers it."""
    built = carried.solved[variant.geometry].structure
    return {
        "id": variant.id,
        "label": variant.label,
        "grade": grade,
        "ranges": [list(each) for each in movable_ranges(built)],
        "study": {section: dict(keys) for section, keys in variant.change.items()},
    }


def _constants(study: Study) -> dict[str, Any]:
    ground = study.site.ground
    best, limits = ideal_choke(study), study.verdict
    return {
        "z0": study.cable.type.z0,
        "open": OPEN,
        "ideal": {"ohm": IDEAL_CHOKE_OHM, "position": best.position},
        "corners": list(walk_of(study).corners),
        "route": walk_of(study).length,
        "power": study.power,
        "soil": None if ground is None else [ground.eps_r, ground.sigma],
        "scored": [
            {"name": f.name, "relative": f.is_relative, "limit": getattr(limits, f.threshold)}
            for f in scored(limits)
        ],
    }


def _band_of(one: Solved) -> tuple[NDArray[np.float64], int]:
    """Frequencies that are told of a geometry, and the index of the design frequency. [Hz]"""
    if one.band is None:
        return one.basis.frequency, one.basis.centre
    return one.band.frequency, one.band.centre


def told_at(one: Solved) -> NDArray[np.int64]:
    """Rows of the band that a page has curves of, the design frequency among them."""
    frequency, centre = _band_of(one)
    evenly = np.linspace(0, len(frequency) - 1, min(_TOLD, len(frequency)))
    return np.unique([*np.rint(evenly).astype(int), centre])


def _geometry(name: str, one: Solved, study: Study, arrays: Arrays) -> dict[str, Any]:
    """Plain data of a geometry; its arrays go to ``arrays``."""
    built, told = one.structure, told_at(one)
    frequency, _ = _band_of(one)
    arrays |= {f"{name}/{key}": part for key, part in _wires(built).items()}
    near = sorted({segment for group in built.port_groups for segment in group})
    arrays |= {f"{name}/{key}": part for key, part in _currents(one, near).items()}
    arrays |= {f"{name}/{key}": part for key, part in _over_band(one, told).items()}
    fixed = _own_loads(built, study, frequency[told])
    loaded = np.flatnonzero((fixed != 0).any(axis=0))
    arrays[f"{name}/fixed"] = fixed[:, loaded]
    path = np.array([k for k, _ in built.shield_path], dtype=np.uint16)
    arrays[f"{name}/path"] = path
    arrays[f"{name}/along"] = np.array([s for _, s in built.shield_path])
    index, low, high = built.shield_spans
    spans = {int(i): [float(a), float(b)] for i, a, b in zip(index, low, high, strict=True)}
    return {
        "ports": [
            {"name": port.name, "segments": list(group), "span": spans.get(k)}
            for k, (port, group) in enumerate(zip(built.ports, built.port_groups, strict=True))
        ],
        "near": near,
        "loaded": [int(k) for k in loaded],
        "parts": list(built.parts()),
        "beside": [[k, list(more)] for k, more in built.shield_beside],
    }


def _own_loads(built: Structure, study: Study, f: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Impedance of every port that a reader cannot set, shape (n_f, n_port). [ohm]"""
    bond = None if study.bond is None else replace(study.bond, rod_impedance=0j)
    plain = replace(study, bond=bond, station=replace(study.station, impedance=0j))
    return terminations(built, plain, f)


def _wires(built: Structure) -> Arrays:
    """Wires: ends on the grid that all nodes lie on, as steps from one to the next."""
    ends = np.array([[w.start, w.end] for w in built.wires]) / GRID
    steps = np.diff(np.rint(ends).reshape(-1, 3), axis=0, prepend=0.0)
    parts = list(built.parts())
    return {
        "steps": steps.astype(np.int32),
        "pieces": np.array([w.n_segments for w in built.wires], dtype=np.uint16),
        "radius": np.array([w.radius for w in built.wires], dtype=np.float32),
        "part": np.array([parts.index(w.part) for w in built.wires], dtype=np.uint16),
    }


def _currents(one: Solved, near: list[int]) -> Arrays:
    """Currents per volt: at segments with a port in full, at all others as few patterns."""
    currents = one.basis.i_segment
    rest = np.delete(currents, near, axis=1)
    u, size, v = np.linalg.svd(rest, full_matrices=False)
    kept = size > _PATTERNS_DOWN_TO * size[0]
    parts = np.stack([v[kept].real, v[kept].imag], axis=-1)
    long = int(np.count_nonzero(size > _LONG_DOWN_TO * size[0]))
    largest = np.where(np.arange(len(parts)) < long, _LONG.max, _SHORT.max)
    scale = np.abs(parts).max(axis=(1, 2)) / largest
    whole = np.rint(parts / scale[:, None, None])
    return {
        "near_current": currents[:, near],
        "mix": u[:, kept] * (size[kept] * scale),
        "pattern": whole[:long].astype(np.int32),
        "small_pattern": whole[long:].astype(np.int16),
    }


def _over_band(one: Solved, told: NDArray[np.int64]) -> Arrays:
    """Port matrices that were solved beside the design one, as differences from it.

    These are small where the matrix is large, so that single precision holds all digits of it.
    """
    if one.band is None:
        return {"share": np.ones((1, 1), complex), "change": np.zeros((0, 0, 0), np.complex64)}
    y_design = one.basis.y_port[one.basis.centre]
    change = one.band.y_solved - y_design
    return {"share": one.band.share[told], "change": change.astype(np.complex64)}


def _kind(kind: LiveKind, carried: Carried, arrays: Arrays) -> dict[str, Any]:
    """What computes of a kind: its impedance, its own cable, where it may lie."""
    study, one = carried.study, kind.one
    name = f"wire-{one.id}" if one.is_drawn else CABLE
    solved = carried.solved[name]
    f = _band_of(solved)[0][told_at(solved)]
    z = np.zeros(len(f), complex)
    if not one.is_drawn or one.own_port:
        z = choke_at_frequencies(one, study, f)
    if one.is_drawn and one.own_port:
        port = solved.structure.ports[solved.structure.port_index(one.own_port)]
        z = 1 / (1 / z + 2j * np.pi * f * port.shunt_capacitance)
    arrays[f"kind/{kind.id}"] = z
    return {
        "geometry": name,
        "port": one.own_port if one.is_drawn else "",
        "over": one.acts_over / one.count,
        "extent": one.extent(study.host) / one.count,
        "stiff": bool(one.shorter),
        "cores": one.ferrite_core is not None,
        "told": _told(one, study) if one.is_resonant else None,
        "line": _line(solved.structure, study, one),
    }


def _told(one: Choke, study: Study) -> list[float]:
    """Impedance that may be told of a line in resonance, at the design frequency. [ohm]"""
    z = complex(told_impedance(one, study, np.array([study.frequency]))[0])
    return [z.real, z.imag]


def _line(built: Structure, study: Study, one: Choke | None) -> dict[str, Any]:
    """Inside of the cable with a choke on it; what of it grows with the choke's place."""
    run = study.cable.run(one, bare_route(built, study, one))
    joined = len(run.pieces) > 1
    return {
        "pieces": [
            {
                "z0": piece.cable.z0,
                "velocity": piece.cable.velocity_factor,
                "k1": piece.cable.k1,
                "k2": piece.cable.k2,
                "length": piece.length,
                # A jumper reaches from the tap to the end of its winding.
                "grows": 0 if not joined else 1 if k == 0 else -1,
            }
            for k, piece in enumerate(run.pieces)
        ],
        "connectors": run.connector_loss_db,
        "at": 0.0 if one is None else one.position,
        "own": one is not None and one.own_cable(study.cable.type) > 0,
    }


def _shown(kind: LiveKind, study: Study) -> dict[str, Any]:
    """A kind as the page offers it."""
    one = kind.one
    return {
        "id": kind.id,
        "label": kind.label,
        "counted": one.is_counted,
        "most": kind.most,
        "length": one.extent(study.host) / one.count,
        "fixed": one.position if one.is_drawn else None,
        "price": None if one.price is None else one.price / one.count,
        "currency": one.currency,
        "study": dict(kind.study),
    }
