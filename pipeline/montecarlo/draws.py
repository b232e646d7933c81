"""Draws of uncertain inputs: a scrambled Sobol sequence in, studies and rows out.

Unknowns that change the drawing ("geometric": a route, a height, a soil, a coil's pitch) cost a
field solve a draw; those that are only impedances (rod, radio end, ferrite, a sleeve's length)
cost none and are drawn many times on each geometry.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from models.antennas import generators
from models.catalogues.parts import SoilClass, soil_classes
from models.quantities import VACUUM_PERMEABILITY
from models.site.soil import Soil
from pipeline.analysis.many_cases import Ends, nominal_ends
from pipeline.chokes.kind import Choke
from pipeline.chokes.kinds import own_unknowns
from pipeline.circuit.port_algebra import OPEN
from pipeline.montecarlo.sobol import sobol as sobol
from pipeline.solver.structures import sized_antenna
from pipeline.study.checks.route import follow_route
from pipeline.study.records import Study, marker_of, with_values
from pipeline.study.sections.unknowns import Distribution, Part
from pipeline.study.sections.unknowns import quantile as quantile
from pipeline.study.whole_study import feed_height

# Open water is no soil that a reader has without knowing it.
_WATER = ("sea-water", "fresh-water")


@dataclass(frozen=True)
class Unknown:
    """One thing that is not known exactly.

    ``name`` is that of its column, ``label`` its name in a sentence, ``measure`` how a reader
    gets to know it; ``nominal`` is what the study states, in its SI ``unit``.
    """

    name: str
    label: str
    measure: str
    spread: Distribution
    nominal: float
    unit: str
    geometric: bool

    @property
    def together(self) -> str:
        """Name of all unknowns that are found out at once."""
        return self.measure.removeprefix("find out ")


def land() -> tuple[SoilClass, ...]:
    """Classes of soil that may lie below an antenna."""
    return tuple(c for c in soil_classes() if c.id not in _WATER)


_RADIO = "find out what the radio's case is bonded to"
_SOIL = "find out what the soil is"


def _from_kinds(is_geometric: bool) -> dict[str, tuple[str, str, str]]:
    """Words of the unknowns that are a kind of choke's own make."""
    found = own_unknowns().items()
    return {k: (u.label, u.measure, "1") for k, u in found if u.is_geometric == is_geometric}


# Name in a sentence, how a reader gets to know it, unit; those that change the drawing first.
_GEOMETRIC = {
    "height": ("the height above ground", "measure the height", "m"),
    "jacket": ("the jacket of the cable", "find out what the jacket is made of", "1"),
    "lead": ("the radio's power lead", "measure the power lead", "m"),
    "soil": ("the soil", _SOIL, "1"),
    "permittivity": ("the soil's permittivity", _SOIL, "1"),
    "conductivity": ("the soil's conductivity", _SOIL, "S/m"),
    **_from_kinds(is_geometric=True),
}
_CIRCUIT = {
    "floating": ("whether the radio's case touches anything", _RADIO, "1"),
    "resistance": ("the resistance of the radio end", _RADIO, "ohm"),
    "reactance": ("the reactance of the radio end", _RADIO, "ohm"),
    "ferrite": ("the ferrite", "measure the cores", "1"),
    "temperature": ("the warmth of the ferrite", "measure the cores warm", "1"),
    **_from_kinds(is_geometric=False),
    "rod": ("the ground rod", "measure the ground rod", "ohm"),
    "bond_lead": ("the length of the bond lead", "measure the bond lead", "m"),
}

# Unknowns that have the name of their key in a study.
SINGLE = (*_GEOMETRIC, *_CIRCUIT)


def unknowns_of(study: Study) -> tuple[Unknown, ...]:
    """Everything that a study does not know, geometric unknowns first.

    What the study has no part for (a rod without a bond, soil in free space, a sleeve or coil
    where none is tried) is left out.
    """
    return (
        *_steps(study),
        *_lengths(study),
        *_named(study, _geometric_values(study), _GEOMETRIC, geometric=True),
        *_named(study, _circuit_values(study), _CIRCUIT, geometric=False),
    )


def _geometric_values(study: Study) -> dict[str, float]:
    """Stated value of each unknown that changes the drawing."""
    stated = {
        "height": study.site.height,
        "jacket": study.cable.type.jacket_eps_r,
        "lead": study.station.lead,
    }
    ground = study.site.ground
    if ground is not None:
        # A class has no number of its own.
        stated |= {"soil": 0.5, "permittivity": ground.eps_r, "conductivity": ground.sigma}
    return stated | _made_values(study, _GEOMETRIC)


def _circuit_values(study: Study) -> dict[str, float]:
    """Stated value of each unknown that is only an impedance."""
    station = study.station.impedance
    stated = {
        "floating": float(station is None),
        "resistance": (station or 0j).real,
        "reactance": (station or 0j).imag,
        "ferrite": 1.0,
        "temperature": 1.0,
    }
    if study.bond is not None:
        # In this order: a probability goes to the same unknown in every version.
        if study.bond.rod_impedance is not None:
            stated["rod"] = study.bond.rod_impedance.real
        stated["bond_lead"] = 0.0
    return stated | _made_values(study, _CIRCUIT)


def _made_values(study: Study, words: Mapping[str, tuple[str, str, str]]) -> dict[str, float]:
    """Stated value of each unknown of those named that some choke of the study has."""
    found = (own for choke in study.chokes for own in choke.unknowns)
    return {own.key: own.stated for own in found if own.key in words}


def _named(
    study: Study,
    stated: Mapping[str, float],
    words: Mapping[str, tuple[str, str, str]],
    geometric: bool,
) -> list[Unknown]:
    found = []
    for name, nominal in stated.items():
        if name == "floating":
            chance = study.unknowns.floating
            spread = Distribution("chance", chance) if 0 < chance < 1 else None
        else:
            spread = getattr(study.unknowns, name)
        if spread is not None:
            label, measure, unit = words[name]
            found.append(Unknown(name, label, measure, spread, nominal, unit, geometric))
    return found


def _of(parts: tuple[Part, ...], name: str) -> Distribution | None:
    """Spread of one part: its own, or that of all."""
    named = {part.of: part.spread for part in parts}
    return named.get(name, named.get(""))


def _steps(study: Study) -> list[Unknown]:
    found = []
    for number, step in enumerate(study.cable.route, start=1):
        spread = _of(study.unknowns.route, str(number))
        if step.go == "bond" or spread is None:
            continue
        way = "down to a height" if step.go == "down_to" else step.go
        label = f"step {number} of the route ({way})"
        measure = f"measure step {number} of the route"
        found.append(Unknown(f"step-{number}", label, measure, spread, step.length, "m", True))
    return found


def _lengths(study: Study) -> list[Unknown]:
    generator = generators()[study.antenna.type]
    own = {field.name for field in fields(generator.parameters)}
    sized = sized_antenna(study).antenna
    found = []
    for trim in generator.trims:
        name = trim.parameter
        spread = _of(study.unknowns.antenna, name)
        if spread is None or name not in own or marker_of(study, name).unit != "m":
            continue
        nominal = float(getattr(sized, name))
        # A part that is not fitted, such as a stub of no length, stays away.
        if nominal > 0:
            called = trim.called or name.replace("_", " ")
            label, measure = f"the antenna's {called}", f"measure the {called}"
            found.append(Unknown(f"antenna-{name}", label, measure, spread, nominal, "m", True))
    return found


def varied_study(study: Study, unknowns: tuple[Unknown, ...], u: NDArray[np.float64]) -> Study:
    """The study with one draw of geometric unknowns, ``u`` (n_unknown,) a probability for each."""
    values = {
        x.name: float(quantile(x.spread, np.array([p]), x.nominal)[0])
        for x, p in zip(unknowns, u, strict=True)
    }
    route = tuple(
        replace(step, length=values.get(f"step-{number}", step.length))
        for number, step in enumerate(study.cable.route, start=1)
    )
    coax = study.cable.type
    coax = replace(coax, jacket_eps_r=values.get("jacket", coax.jacket_eps_r))
    lengths = {k.removeprefix("antenna-"): v for k, v in values.items() if k.startswith("antenna-")}
    changed = with_values(study, list(lengths), tuple(lengths.values()))
    changed = replace(
        changed,
        site=replace(
            study.site,
            height=values.get("height", study.site.height),
            ground=_soil(study.site.ground, values),
        ),
        cable=replace(study.cable, type=coax, route=route),
        station=replace(study.station, lead=values.get("lead", study.station.lead)),
    )
    return replace(changed, chokes=wound(study, changed, values.get("coil_pitch", 1.0)))


def _soil(stated: Soil | None, values: Mapping[str, float]) -> Soil | None:
    if stated is None:
        return None
    if "soil" in values:
        classes = land()
        found = classes[min(int(values["soil"] * len(classes)), len(classes) - 1)]
        return Soil(found.eps_r, found.sigma, name=found.name)
    eps_r = values.get("permittivity", stated.eps_r)
    return replace(stated, eps_r=eps_r, sigma=values.get("conductivity", stated.sigma))


@dataclass(frozen=True)
class CircuitDraws:
    """Terminations of n draws, and factors on what is unknown about chokes by name, (n,) each."""

    ends: Ends
    factors: Mapping[str, NDArray[np.float64]]


# Chokes as the study states them.
AS_STATED = {"ferrite": np.ones(1)} | {
    key: np.full(1, own.stated) for key, own in own_unknowns().items() if not own.is_geometric
}


def circuit_draws(
    study: Study, unknowns: tuple[Unknown, ...], u: NDArray[np.float64]
) -> CircuitDraws:
    """Draws of unknowns that are only impedances, ``u`` (n, n_unknown) their probabilities."""
    n = len(u)
    spreads = {x.name: (x.spread, u[:, k], x.nominal) for k, x in enumerate(unknowns)}
    stated = nominal_ends(study)

    def drawn(name: str, otherwise: float) -> NDArray[np.float64]:
        return quantile(*spreads[name]) if name in spreads else np.full(n, otherwise)

    rod = np.full(n, stated.rod[0])
    if "rod" in spreads:
        rod = drawn("rod", 0.0) + 1j * rod.imag
    factors = {name: drawn(name, float(value[0])) for name, value in AS_STATED.items()}
    if "ferrite" in spreads and spreads["ferrite"][0].shape == "by core":
        factors |= {"ferrite": np.ones(n), "ferrite_of_class": factors["ferrite"]}
    factors["ferrite"] = factors["ferrite"] * drawn("temperature", 1.0)
    extra = np.zeros(n)
    if study.bond is not None:
        extra = bond_inductance(study.bond.lead_diameter, drawn("bond_lead", 0.0))
    ends = Ends(rod, _station(study, spreads, n), extra)
    return CircuitDraws(ends, factors)


def _station(
    study: Study, spreads: Mapping[str, tuple[Distribution, NDArray[np.float64], float]], n: int
) -> NDArray[np.complex128]:
    """Impedance at the radio end: drawn, or as stated, or nothing at all. [ohm]"""
    stated = study.station.impedance
    floating = study.unknowns.floating
    bonded = np.full(n, OPEN if stated is None else stated, dtype=complex)
    if "resistance" in spreads or "reactance" in spreads:
        bonded = np.full(n, 0j if stated is None else stated)
    if "resistance" in spreads:
        bonded = quantile(*spreads["resistance"]) + 1j * bonded.imag
    if "reactance" in spreads:
        bonded = bonded.real + 1j * _signed(spreads["reactance"])
    chance = spreads["floating"][1] if "floating" in spreads else np.full(n, 0.5)
    return np.where(chance < floating, OPEN + 0j, bonded)


def _signed(of: tuple[Distribution, NDArray[np.float64], float]) -> NDArray[np.float64]:
    """A reactance; on a logarithmic scale either sign with equal chances, falling to rising."""
    spread, u, nominal = of
    if spread.shape != "log":
        return quantile(spread, u, nominal)
    sign = np.where(u < 0.5, -1.0, 1.0)
    return np.asarray(sign * quantile(spread, np.abs(2 * u - 1), nominal))


def bond_inductance(lead_diameter: float, extra: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inductance of a bond lead beyond the straight one's, for ``extra`` (n,) [m] of length. [H]

    mu0 l / (2 pi) (ln(4 l / d) - 1), zero for a lead no longer than it is thick.

    References
    ----------
    .. [1] E. B. Rosa, "The self and mutual inductances of linear conductors", Bulletin of the
       Bureau of Standards 4, 1908, eq. 9 without the flux inside (from memory).

    Examples
    --------
    >>> (1e9 * bond_inductance(4e-3, np.array([0.0, 1.0]))).round(0).tolist()
    [0.0, 1182.0]
    """
    ratio = np.maximum(4 * extra / lead_diameter, math.e)
    return np.asarray(VACUUM_PERMEABILITY / (2 * np.pi) * extra * (np.log(ratio) - 1))


def wound(stated: Study, drawn: Study, pitch: float) -> tuple[Choke, ...]:
    """Candidates of a study as a draw has them, the pitch of coils by a factor.

    What hangs or is drawn keeps its distance from the bend before it, however long the way to there
    is; a coil of the main cable has the jacket of the drawn one. No turns come closer than the
    cable is thick.
    """
    return tuple(
        choke.redrawn(
            pitch if choke.least is None else max(pitch, choke.least.factor),
            _moved(stated, drawn, choke.position),
            stated.cable.type,
            drawn.cable.type,
        )
        if choke.hangs or choke.is_drawn
        else choke
        for choke in stated.chokes
    )


def _moved(stated: Study, drawn: Study, position: float) -> float:
    """Shift along the cable of the step that holds a place of the study. [m]"""
    step = sum(begin <= position for begin in _begins(stated)) - 1
    return _begins(drawn)[step] - _begins(stated)[step]


def _begins(study: Study) -> list[float]:
    """Where along the cable each step begins. [m]

    Zero after a step that cannot be gone: such a draw is refused when it is drawn.
    """
    tap, ground = feed_height(study), study.site.ground is not None
    route = study.cable.route
    walks = [follow_route(route[:k], tap, ground) for k in range(1, len(route))]
    return [0.0, *(walk.length for walk in walks)]
