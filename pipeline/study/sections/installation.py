"""The sections of a study file: every key it may hold, with its kind, range and default.

The antenna's keys come from the markers in the antenna's own file, so that a new antenna needs
no change here. In go plain data, out come sections that give the frozen records of
study_types.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from functools import cache
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, get_type_hints

from pydantic import Field, create_model

from models.antennas import generators
from models.catalogues import parts as catalogue
from models.catalogues.parts import CoaxClass, Pipe
from models.quantities import Choice, Quantity
from models.site.soil import Soil
from models.wires.structure import Problem
from pipeline.study import fields as kinds
from pipeline.study.assembly import DEFAULT_POINTS, HIGHEST_FREQUENCY, LOWEST_FREQUENCY
from pipeline.study.fields import Context, FieldKind
from pipeline.study.records import (
    RECOMMENDED,
    Antenna,
    Band,
    Bond,
    Cable,
    RouteStep,
    Site,
    Station,
    Tuning,
)
from pipeline.study.section import A_COAX, A_PIPE, As, Section, pick, size, whole_number
from pipeline.study.sections.surroundings import (
    OtherFeedlineSection,
    PieceSection,
    StandingMastSection,
    defaults_of,
    surroundings_of,
)
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

_FREQUENCY = Quantity("Hz", LOWEST_FREQUENCY, HIGHEST_FREQUENCY, "frequency of use", "145 MHz")
A_FREQUENCY = As(kinds.quantity(_FREQUENCY))


class BandSection(Section):
    """Frequencies to sweep."""

    start: Annotated[float, A_FREQUENCY] = Field(alias="from")
    stop: Annotated[float, A_FREQUENCY] = Field(alias="to")
    points: Annotated[int, whole_number(3, 41, "odd number of frequencies", "9", odd=True)] = (
        DEFAULT_POINTS
    )

    def record(self) -> Band:
        """Frozen record."""
        return Band(self.start, self.stop, self.points)


class GroundSection(Section):
    """Soil that is in no catalogue."""

    permittivity: Annotated[
        float, As(kinds.quantity(Quantity("1", 1.0, 100.0, "relative permittivity", "13")))
    ]
    conductivity: Annotated[
        float, As(kinds.quantity(Quantity("S/m", 0.0, 10.0, "conductivity", "5 mS/m")))
    ]


class MastSection(Section):
    """Pipe of the antenna that goes on below its lowest axis."""

    mast: Annotated[float, size(0.05, 20.0, "length of the mast below the crossbar", "2 m")]


def _read_ground(raw: Any, context: Context) -> Soil | None:
    """Class of ground, a mapping of soil values, or None for free space."""
    if isinstance(raw, dict):
        soil = GroundSection.model_validate(raw, context=context)
        return Soil(soil.permittivity, soil.conductivity)
    if raw == "free space":
        return None
    found = _GROUND_NAME.read(raw, context)
    return Soil(found.eps_r, found.sigma, name=found.name)


def _read_mount(raw: Any, context: Context) -> float:
    """Length of the mast [m], 0 for an insulated antenna."""
    if isinstance(raw, dict):
        return MastSection.model_validate(raw, context=context).mast
    if raw != "insulated":
        raise FieldError(
            "is neither insulated nor a mast with a length",
            "insulated  or  {mast: 2 m}",
            "mount-unknown",
        )
    return 0.0


_GROUND_NAME = kinds.named(
    lambda name, _: catalogue.soil_class(name),
    'id or name in grounds.csv, or "free space"',
    "average",
    "grounds",
)
_GROUND = FieldKind(
    _read_ground,
    "average",
    {"anyOf": [_GROUND_NAME.schema, GroundSection.model_json_schema()]},
    lambda ground: "free space" if ground is None else str(ground.name),
)
_MOUNT = FieldKind(
    _read_mount,
    "insulated",
    {"anyOf": [{"const": "insulated"}, MastSection.model_json_schema()]},
    lambda mast: show_quantity(mast, "m") if mast else "insulated",
)


class SiteSection(Section):
    """Where the antenna stands."""

    height: Annotated[float, size(0.3, 200.0, "lowest axis of the antenna above ground", "8 m")]
    ground: Annotated[Any, As(_GROUND)] = _read_ground("average", Context(1.0, Path()))
    mount: Annotated[float, As(_MOUNT)] = 0.0
    mast: StandingMastSection | None = None
    metalwork: Annotated[list[PieceSection], Field(max_length=20, default_factory=list)]
    other_feedline: OtherFeedlineSection | None = None

    def record(self) -> Site:
        """Frozen record."""
        around = surroundings_of(self.mast, self.metalwork, self.other_feedline, self.ground)
        return Site(self.height, self.ground, self.mount, around)

    def stated_defaults(self, where: str) -> list[str]:
        """One sentence for every value the file left out, also of what stands around."""
        stated = super().stated_defaults(where)
        return stated + defaults_of(self.mast, self.metalwork, self.other_feedline)


class CableSection(Section):
    """The coax and its way from the tap to the radio."""

    derived: ClassVar[Mapping[str, str]] = {
        "length": "that of the route",
    }
    type: Annotated[CoaxClass, A_COAX]
    length: Annotated[float | None, size(0.5, 200.0, "whole cable, for its loss", "18 m")] = None
    joins: Annotated[str | None, As(kinds.joint())] = None
    connectors: Annotated[int, whole_number(0, 20, "connectors in the line", "2")] = 2
    connector_loss: Annotated[
        float, As(kinds.quantity(Quantity("dB", 0.0, 3.0, "loss of one connector", "0.05 dB")))
    ] = 0.05
    route: Annotated[
        list[Annotated[RouteStep, As(kinds.route_step())]],
        Field(min_length=1, max_length=20, default_factory=list),
    ]

    def record(self) -> Cable:
        """Frozen record; the route is empty if the file has none."""
        return Cable(
            type=self.type,
            length=self.length,
            joins=self.joins or "",
            connectors=self.connectors,
            connector_loss_db=self.connector_loss,
            route=tuple(self.route),
        )


class BondSection(Section):
    """Lead from the shield to a ground rod."""

    lead_diameter: Annotated[float, size(5e-4, 0.03, "diameter of the lead", "4.5 mm")] = 4.5e-3
    rod_impedance: Annotated[
        complex | None, As(kinds.impedance("rod in the soil; may be complex", "40 ohm"))
    ] = None

    def record(self) -> Bond:
        """Frozen record; what the soil gives a rod is filled in later."""
        return Bond(self.lead_diameter, self.rod_impedance or 0j, self.rod_impedance is None)


class StationSection(Section):
    """What the shield meets at the radio."""

    impedance: Annotated[
        complex | None,
        As(kinds.impedance("between shield and lead, or open", "0 ohm", may_be_open=True)),
    ] = 0j
    lead: Annotated[float, size(0.1, 20.0, "power lead beyond the radio", "1.5 m")] = 1.5
    noise_beside: Annotated[
        float, size(0.2, 10.0, "from the radio to a noisy device at its side", "1 m")
    ] = 1.0

    def record(self) -> Station:
        """Frozen record."""
        return Station(self.impedance, self.lead, self.noise_beside)


class TuneSection(Section):
    """How the antenna's lengths are found; used by the command that tunes it."""

    choke: Annotated[
        str,
        As(
            kinds.text(
                "case it is tuned in: recommended (what the report recommends), none, ideal or the "
                "id of a candidate",
                RECOMMENDED,
                60,
            )
        ),
    ] = RECOMMENDED
    target_swr: Annotated[
        float, As(kinds.quantity(Quantity("1", 1.02, 3.0, "SWR that is good enough", "1.2")))
    ] = 1.2
    free: list[Annotated[str, As(kinds.text("length that may change", "short_leg", 40))]] = Field(
        default_factory=list, max_length=8
    )
    solves: Annotated[int, whole_number(5, 100, "most field solves it may take", "25")] = 25

    def record(self) -> Tuning:
        """Frozen record."""
        return Tuning(self.choke, self.target_swr, tuple(self.free), self.solves)


class AntennaSection(Section):
    """Part common to all antennas; the rest comes from the antenna's own file."""

    type: str
    pipe: Annotated[Pipe, A_PIPE]

    def record(self) -> Antenna:
        """Frozen record, with an instance of the antenna's own parameters."""
        parameters = generators()[self.type].parameters
        values = {field.name: getattr(self, field.name) for field in fields(parameters)}
        return Antenna(self.type, parameters(**values))

    def problems(self) -> list[Problem]:
        """What the antenna's own file says against its parameters."""
        return generators()[self.type].check(self.record().parameters, self.pipe)


@cache
def antenna_section(name: str) -> type[AntennaSection]:
    """Section made from the markers on an antenna's parameters."""
    parameters = generators()[name].parameters
    hints = get_type_hints(parameters, include_extras=True)
    made: dict[str, Any] = {"type": (Literal[name], ...)}
    for field in fields(parameters):
        markers = getattr(hints[field.name], "__metadata__", ())
        marker = next((m for m in markers if isinstance(m, Quantity | Choice)), None)
        if marker is None:
            raise TypeError(f"{parameters.__name__}.{field.name} has no marker of its kind")
        kind = _kind(marker, whole=hints[field.name].__origin__ is int)
        default = ... if field.default is MISSING else field.default
        made[field.name] = (Annotated[hints[field.name], As(kind)], default)
    return create_model(f"{parameters.__name__}Section", __base__=AntennaSection, **made)


def _kind(marker: Quantity | Choice, whole: bool) -> FieldKind:
    if isinstance(marker, Choice):
        return kinds.one_of(marker)
    return kinds.whole(marker) if whole else kinds.quantity(marker)


def antenna_sections() -> dict[str, type[Section]]:
    """Sections of all antennas by name."""
    return {name: antenna_section(name) for name in generators()}


def _read_antenna(raw: Any, context: Context) -> Section:
    return pick(raw, "type", antenna_sections()).model_validate(raw, context=context)


ANTENNA = FieldKind(
    _read_antenna,
    "{type: j-pole, pipe: 22x1 mm, spacing: 55 mm}",
    {"oneOf": [section.model_json_schema() for section in antenna_sections().values()]},
)
