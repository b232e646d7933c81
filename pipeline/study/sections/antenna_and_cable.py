"""Antenna, site, cable, bond and radio: the sections of a study file that say what stands there.

The antenna's keys come from the markers in the antenna's own file, so that a new antenna needs
no change here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from models.antennas import generators
from models.antennas.generator import RADIO_OHM
from models.catalogues import parts as catalogue
from models.catalogues.parts import CoaxClass, Pipe
from models.quantities import Derived, Key, Listed, Quantity
from models.site.feedline_route import LOWEST_RUN, OPPOSITE, Step
from models.site.metalwork import Surroundings
from models.site.soil import Soil
from pipeline.chokes.kind import Choke
from pipeline.study import fields as kinds
from pipeline.study.faults import nearest
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import (
    Section,
    named_section,
    picked,
    study_section,
    words_or,
)
from pipeline.study.sections.surroundings import (
    MetalPiece,
    OtherFeedline,
    StandingMast,
    surroundings_of,
    with_rod,
)
from pipeline.text.refusals import FieldError
from pipeline.text.units import SCHEMA_PATTERN_LENGTH, in_units_of_reader, show_quantity

if TYPE_CHECKING:
    from pipeline.circuit.line import LineRun
    from pipeline.study.sections_read import Parts

LOWEST_FREQUENCY = 30e6
HIGHEST_FREQUENCY = 500e6
FREQUENCY = Quantity("Hz", LOWEST_FREQUENCY, HIGHEST_FREQUENCY, "frequency of use", "145 MHz")

_POINTS = Quantity("1", 3, 41, "odd number of frequencies", "9")


@study_section("band")
@dataclass(frozen=True)
class Band:
    """Frequencies to sweep: curves, tables and files have 201 of them from end to end.

    So many points may be solved for that. No more are than it takes to know the impedance at the
    feed to a thousandth everywhere: four or five for most installations.
    """

    # Both ends are swept. [Hz]
    start: Annotated[float, FREQUENCY, Key("from")]
    stop: Annotated[float, FREQUENCY, Key("to")]
    points: Annotated[int, kinds.whole(_POINTS, odd=True)] = 9

    def check(self, parts: Parts) -> list[FieldError]:
        """The band must rise and contain the frequency."""
        frequency, at = parts.frequency, ("band",)
        if frequency is None:
            return []
        shown = f"{show_quantity(self.start, 'Hz')} to {show_quantity(self.stop, 'Hz')}"
        if self.start >= self.stop:
            rule = f"runs from {shown}, so it does not rise"
            return [FieldError(rule, "put the lower frequency into  from", "band-order", at)]
        if not self.start <= frequency <= self.stop:
            own = show_quantity(frequency, "Hz")
            rule = f"runs from {shown} and does not contain the frequency {own}"
            remedy = f"choose from and to on both sides of {own}"
            return [FieldError(rule, remedy, "band-frequency", at)]
        return []


@dataclass(frozen=True)
class Ground:
    """Soil that is in no catalogue."""

    permittivity: Annotated[float, Quantity("1", 1.0, 100.0, "relative permittivity", "13")]
    conductivity: Annotated[float, Quantity("S/m", 0.0, 10.0, "conductivity", "5 mS/m")]


@dataclass(frozen=True)
class Mount:
    """Pipe of the antenna that goes on below its lowest axis."""

    schema_title: ClassVar[str] = "MastSection"
    mast: Annotated[
        float, Quantity("m", 0.05, 20.0, "length of the mast below the crossbar", "2 m")
    ]


_SOIL_CLASS = kinds.named(
    lambda name, _: catalogue.soil_class(name),
    'id or name in grounds.csv, or "free space"',
    "average",
    "grounds",
)


def _read_soil(raw: Any, context: Context) -> Soil | None:
    """Soil of a class; None for free space."""
    if raw == "free space":
        return None
    found = _SOIL_CLASS.read(raw, context)
    return Soil(found.eps_r, found.sigma, name=found.name)


def _read_mount(raw: Any, context: Context) -> float:
    """No mast, of an insulated antenna. [m]"""
    del context
    if raw != "insulated":
        raise FieldError(
            "is neither insulated nor a mast with a length",
            "insulated  or  {mast: 2 m}",
            "mount-unknown",
        )
    return 0.0


_AVERAGE = _read_soil("average", Context(1.0, Path()))
_GROUND = words_or(
    Ground,
    replace(
        _SOIL_CLASS,
        read=_read_soil,
        show=lambda soil: "free space" if soil is None else str(soil.name),
    ),
    lambda given: Soil(given.permittivity, given.conductivity),
)
_MOUNT = words_or(
    Mount,
    FieldKind(
        _read_mount,
        "insulated",
        {"const": "insulated"},
        lambda mast: show_quantity(mast, "m") if mast else "insulated",
    ),
    lambda given: given.mast,
)


_FACING = Quantity(
    "deg",
    0.0,
    360.0,
    "true bearing of the antenna's front, azimuth zero; north is 0, east 90; may be left out",
    "120 deg",
)


@study_section("site", required=True)
@dataclass(frozen=True)
class Site:
    """Where the antenna stands."""

    height: Annotated[
        float, Quantity("m", 0.3, 200.0, "lowest axis of the antenna above ground", "8 m")
    ]
    # None in free space.
    ground: Annotated[Soil | None, _GROUND] = _AVERAGE
    # None where nobody says how the antenna stands: azimuths stay degrees from its front. [deg]
    facing: Annotated[float | None, _FACING] = None
    # How far the antenna's pipe goes on below that axis; 0 means insulated. [m]
    mast: Annotated[float, _MOUNT, Key("mount")] = 0.0
    standing: Annotated[StandingMast | None, Key("mast")] = None
    other_feedline: OtherFeedline | None = None
    metalwork: Annotated[tuple[MetalPiece, ...], Listed(20)] = ()
    # Keys that the file has.
    said: frozenset[str] = field(default=frozenset(), compare=False)

    @property
    def around(self) -> Surroundings:
        """Metal that stands around the antenna, as it is drawn."""
        return surroundings_of(self.standing, self.metalwork, self.other_feedline)

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Site:
        """With a common rod in this soil at every foot whose rod has no impedance of its own."""
        del stated
        if self.ground is None:
            return replace(self, said=given)
        sigma = self.ground.sigma
        return replace(
            self,
            said=given,
            standing=self.standing and with_rod(self.standing, sigma),
            other_feedline=self.other_feedline and with_rod(self.other_feedline, sigma),
            metalwork=tuple(with_rod(piece, sigma) for piece in self.metalwork),
        )

    def check(self, parts: Parts) -> list[FieldError]:
        """The antenna's own pipe goes on as a mast on some antennas only, and ends above ground."""
        complaints = []
        if self.ground is not None and self.mast > self.height - LOWEST_RUN:
            highest = show_quantity(self.height - LOWEST_RUN, "m")
            rule = f"reaches into the ground: the mast is longer than the allowed {highest}"
            at = ("site", "mount", "mast")
            complaints.append(FieldError(rule, f"mast: {highest}", "mast-length", at))
        antenna = parts.generator
        if self.mast and antenna is not None and not antenna.carries_mast:
            rule = f"is not possible: {antenna.title} has no pipe that goes on below its base line"
            mount = ("site", "mount")
            complaints.append(FieldError(rule, "mount: insulated", "mast-none", mount))
        return complaints


STEPS = (*OPPOSITE, "down_to", "bond")
_STEP = kinds.quantity(Quantity("m", 0.02, 100.0, "length of one step of the route", "0.5 m"))
_STEP_EXAMPLE = "out: 0.15 m"


def _read_step(raw: Any, context: Context) -> Step:
    """One direction and a length, or ``bond: here``."""
    if not isinstance(raw, dict) or len(raw) != 1:
        raise FieldError("is not one step", in_units_of_reader(f"- {_STEP_EXAMPLE}"), "step-form")
    go, length = next(iter(raw.items()))
    if go not in STEPS:
        near = nearest(go, STEPS)
        remedy = f"{near}:" if near else f"one of {', '.join(STEPS)}"
        raise FieldError("is not a step that is known", remedy, "key-unknown", (go,))
    if go != "bond":
        try:
            return Step(go, _STEP.read(length, context))
        except FieldError as error:
            raise error.below(go) from error
    if length != "here":
        raise FieldError("is not a place", "bond: here", "step-form", (go,))
    return Step(go, 0.0)


_STEP_LENGTH = {"type": "string", "pattern": SCHEMA_PATTERN_LENGTH, "examples": ["0.15 m"]}
_ROUTE_STEP = FieldKind(
    _read_step,
    _STEP_EXAMPLE,
    {
        "type": "object",
        "properties": dict.fromkeys(STEPS, _STEP_LENGTH) | {"bond": {"const": "here"}},
        "additionalProperties": False,
        "minProperties": 1,
        "maxProperties": 1,
    },
)


def _joint() -> FieldKind:
    """Kind of the name of a part that a shield may join; which there are, the antenna knows."""
    words = tuple(dict.fromkeys(name for g in generators().values() for name in g.joints))
    meaning = "part of the antenna that the shield is joined to"

    def read(raw: Any, context: Context) -> str:
        del context
        return kinds.plain_text(kinds.as_text(raw), 40, words[0])

    schema = {"type": "string", "enum": list(words), "description": meaning}
    return FieldKind(read, words[0], schema)


@study_section("cable", required=True)
@dataclass(frozen=True)
class Cable:
    """The coax and its way from the tap to the radio."""

    type: Annotated[CoaxClass, kinds.A_COAX]
    length: Annotated[
        float | None,
        Quantity("m", 0.5, 200.0, "whole cable, for its loss", "18 m"),
        Derived("that of the route"),
    ] = None
    joins: Annotated[str, _joint()] = ""
    connectors: Annotated[int, Quantity("1", 0, 20, "connectors in the line", "2")] = 2
    connector_loss_db: Annotated[
        float, Quantity("dB", 0.0, 3.0, "loss of one connector", "0.05 dB"), Key("connector_loss")
    ] = 0.05
    route: Annotated[tuple[Step, ...], _ROUTE_STEP, Listed(20, least=1)] = ()

    def check(self, parts: Parts) -> list[FieldError]:
        """The shield must join a part that this antenna has, any antenna where it is wrong."""
        antennas = [parts.generator] if parts.generator else list(generators().values())
        joints = list(dict.fromkeys(joint for one in antennas for joint in one.joints))
        if not self.joins or self.joins in joints:
            return []
        near = nearest(self.joins, joints) or joints[0]
        rule = f"is not one of: {', '.join(joints)}"
        return [FieldError(rule, f"joins: {near}", "choice-unknown", ("cable", "joins"))]

    def notes(self) -> tuple[str, ...]:
        """SWR that a line not of 50 ohm shows to a radio that is made for 50 ohm, in a sentence."""
        z0 = self.type.z0
        ratio = max(z0, RADIO_OHM) / min(z0, RADIO_OHM)
        if ratio == 1:
            return ()
        return (
            f"cable.type: {self.type.name} is a line of {z0:g} ohm, and radios are made for "
            f"{RADIO_OHM:g}: matched to the line, an antenna still shows the radio an SWR of "
            f"{ratio:.2g}; what the radio sees changes with the line's length",
        )

    def run(self, choke: Choke | None, route_length: float) -> LineRun:
        """The cable's inside for one candidate; ``route_length`` [m] is that without any coil.

        A coil needs its cable on top of the run. One of another class of cable is joined to the
        main cable with one more pair of connectors.
        """
        # A study is read without SciPy, which the circuit needs.
        from pipeline.circuit.line import LinePiece, LineRun

        length = route_length if self.length is None else self.length
        own = 0.0 if choke is None else choke.own_cable(self.type)
        if choke is None or choke.helix is None or choke.cable_along(self.type) == self.type:
            pieces: tuple[LinePiece, ...] = (LinePiece(self.type, length + own),)
        else:
            rest = length - choke.position - choke.helix.height
            pieces = (LinePiece(choke.cable_along(self.type), own), LinePiece(self.type, rest))
        connectors = self.connectors + 2 * (len(pieces) - 1)
        return LineRun(pieces, connectors * self.connector_loss_db)


@study_section("bond")
@dataclass(frozen=True)
class Bond:
    """Lead from the shield to a ground rod."""

    lead_diameter: Annotated[float, Quantity("m", 5e-4, 0.03, "diameter of the lead", "4.5 mm")] = (
        4.5e-3
    )
    # None where the lead hangs free of the rod.
    rod_impedance: Annotated[
        complex | None,
        kinds.impedance(
            "rod in the soil, may be complex; open, only to compare: the lead is off the rod",
            "40 ohm",
            may_be_open=True,
        ),
        Key(filled_in=True),
    ] = 0j
    # The study states no impedance: it is that of a common rod in its soil.
    usual: bool = False
    # Keys that the file has.
    said: frozenset[str] = field(default=frozenset(), compare=False)

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Bond:
        """With a note of whether the study states the rod's impedance."""
        del stated
        return replace(self, usual="rod_impedance" not in given, said=given)

    def check(self, parts: Parts) -> list[FieldError]:
        """A lead that is off its rod has no spread of the rod."""
        unknowns = parts.sections.get("unknowns")
        if self.rod_impedance is not None or unknowns is None or "rod" not in unknowns.given:
            return []
        rule = "is spread, but bond.rod_impedance is open"
        remedy = "take it out, or give the rod its impedance"
        return [FieldError(rule, remedy, "unknown-absent", ("unknowns", "rod"))]

    def notes(self) -> tuple[str, ...]:
        """Caution where the lead is off the rod."""
        return (OFF_THE_ROD,) if self.rod_impedance is None else ()


OFF_THE_ROD = (
    "bond.rod_impedance: open, the lead is off its rod. Only to compare: a bond protects from "
    "lightning, so join it before the antenna is used"
)

# The middle of what radios are joined to (typical_unknowns.csv, on a logarithmic scale). [ohm]
USUAL_RADIO_END = 22 + 0j


@study_section("station")
@dataclass(frozen=True)
class Station:
    """What the shield meets at the radio."""

    # None where the case is joined to nothing.
    impedance: Annotated[
        complex | None,
        kinds.impedance("between shield and lead, or open", "0 ohm", may_be_open=True),
    ] = USUAL_RADIO_END
    lead: Annotated[float, Quantity("m", 0.1, 20.0, "power lead beyond the radio", "1.5 m")] = 1.5
    noise_beside: Annotated[
        float, Quantity("m", 0.2, 10.0, "from the radio to a noisy device at its side", "1 m")
    ] = 1.0
    # Keys that the file has.
    said: frozenset[str] = field(default=frozenset(), compare=False)

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Station:
        """With the keys that the file has."""
        del stated
        return replace(self, said=given)


@dataclass(frozen=True)
class Antenna:
    """Name of the antenna's file in models/antennas and an instance of its parameters."""

    type: str
    parameters: Any


class AntennaSection(Section):
    """Part common to all antennas; the rest comes from the antenna's own file."""

    type: str
    pipe: Annotated[Pipe, kinds.A_PIPE]

    def record(self) -> Antenna:
        """Frozen record, with an instance of the antenna's own parameters."""
        own = self.model_fields_set - {"type", "pipe"}
        return Antenna(self.type, self.made_of(**{name: getattr(self, name) for name in own}))

    def problems(self) -> list[FieldError]:
        """Rules of the antenna's own file that its parameters break."""
        found = generators()[self.type].check(self.record().parameters, self.pipe)
        return [FieldError(p.rule, p.remedy, p.tag, tuple(p.place.split("."))) for p in found]


@cache
def antenna_section(name: str) -> type[AntennaSection]:
    """Section made from the markers on an antenna's parameters."""
    parameters = generators()[name].parameters
    section = named_section(parameters, AntennaSection, ("type", name))
    for each in fields(parameters):
        if each.name not in section.model_fields:
            raise TypeError(f"{parameters.__name__}.{each.name} has no marker of its kind")
    return section


ANTENNA = picked(
    "type", generators, antenna_section, "{type: j-pole, pipe: 22x1 mm, spacing: 55 mm}"
)
