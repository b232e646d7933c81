"""Metal around the antenna in a study file: mast, metalwork, another feedline.

Records of what the file says; they give those of models/site/metalwork.py, which are drawn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar, TypeVar

from models.catalogues.parts import CoaxClass
from models.quantities import Choice, Derived, Listed, Quantity
from models.site import metalwork as drawn
from models.site.earth import Earth
from models.site.mast import SIDES, Mast
from models.site.metalwork import MAST, OTHER, OWN_PARTS, Surroundings
from models.site.soil import common_rod
from models.wires.structure import Point
from pipeline.study import fields as kinds
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import words_or
from pipeline.text.refusals import FieldError
from pipeline.text.units import (
    SCHEMA_PATTERN_LENGTH,
    in_units_of_reader,
    read_quantity,
    show_quantity,
)

_BONDED = Choice(("no", "yes"), "joined to it by a short strap")
_JOINED = Choice(("no", "yes"), "the antenna is clamped to it, metal on metal")
_SIDE = Choice(tuple(SIDES), "side of the antenna; front is azimuth zero")
_BESIDE = Choice(("left", "right", "out", "back"), "side of our cable, as the route has them")
_COORDINATE = Quantity("m", -100.0, 200.0, "place; z is the height above ground", "7 m")
_MOST_POINTS = 30
# The word for a lead that goes to the rod of the cable's bond.
_SHARED = "shared"
_EXAMPLE = '["1 m", "0 m", "7 m"]'


@dataclass(frozen=True)
class Foot:
    """A lead from a piece of metal to a ground rod straight below."""

    schema_title: ClassVar[str] = "EarthSection"
    rod_impedance: Annotated[complex | None, kinds.impedance("rod in the soil", "40 ohm")] = None
    lead_diameter: Annotated[float, Quantity("m", 5e-4, 0.06, "diameter of the lead", "4.5 mm")] = (
        4.5e-3
    )

    def earth(self) -> Earth:
        """As it is drawn; what the soil gives a rod is filled in by :func:`with_rod`."""
        return Earth(self.lead_diameter / 2, self.rod_impedance or 0j, self.rod_impedance is None)


def _read_earth(raw: Any, context: Context) -> Earth | None:
    """A lead to the rod of the cable's bond, or None where the end stays open."""
    del context
    if raw == _SHARED:
        return Earth(Foot().lead_diameter / 2, None)
    if raw != "open":
        raise FieldError(
            "is neither open, nor shared, nor a lead to a rod",
            "open,  shared (the rod of the cable's bond)  or  {rod_impedance: 40 ohm}",
            "earth-unknown",
        )
    return None


def _show_earth(earth: Earth | None) -> str:
    if earth is None:
        return "open"
    return _SHARED if earth.impedance is None else f"rod of {abs(earth.impedance):g} ohm"


_EARTH = words_or(
    Foot,
    FieldKind(_read_earth, "open", {"enum": ["open", _SHARED]}, _show_earth),
    lambda foot: foot.earth(),
)


@dataclass(frozen=True)
class StandingMast:
    """A mast below or beside the antenna that is not a part of it."""

    material: Annotated[str, Choice(("metal", "wood"), "what it is made of")]
    diameter: Annotated[float, Quantity("m", 0.01, 0.3, "outside diameter of the mast", "42 mm")]
    length: Annotated[float, Quantity("m", 0.1, 100.0, "length from its top down", "3 m")]
    top: Annotated[
        float | None,
        Quantity("m", -20.0, 100.0, "its top below the antenna's base line", "50 mm"),
        Derived("just below the antenna, without touching it"),
    ] = None
    stand_off: Annotated[
        float, Quantity("m", 0.0, 20.0, "from the antenna's axis to that of the mast", "0.3 m")
    ] = 0.0
    towards: Annotated[str, _SIDE] = "back"
    bonded: Annotated[str, _BONDED] = "no"
    foot: Annotated[Earth | None, _EARTH] = None

    def mast(self) -> Mast:
        """As it is drawn; what its foot is joined to is :attr:`foot`."""
        return Mast(
            self.material == "metal",
            self.diameter / 2,
            self.length,
            self.top,
            self.stand_off,
            self.towards,
            self.bonded == "yes",
        )


def _read_name(raw: Any, context: Context) -> str:
    del context
    name = kinds.plain_text(raw, 30, "gutter")
    if name in (*OWN_PARTS, MAST, OTHER):
        raise FieldError(
            "is the name of another part of the drawing", f"{name} of the shed", "part-name"
        )
    return name


def _read_point(raw: Any, context: Context) -> Point:
    """Three lengths, as a list or as one text with commas."""
    parts = raw.split(",") if isinstance(raw, str) else raw
    if not isinstance(parts, list) or len(parts) != 3:
        raise FieldError(
            "is not a place of three lengths x, y, z",
            in_units_of_reader(f"- {_EXAMPLE}"),
            "point-form",
        )
    values = []
    for axis, part in zip("xyz", parts, strict=True):
        try:
            value = read_quantity(part, "m", _COORDINATE.example, context.wavelength)
        except FieldError as error:
            raise FieldError(f"{error.rule} (its {axis})", error.remedy, error.tag) from error
        if not _COORDINATE.low <= value <= _COORDINATE.high:
            raise FieldError(
                f"has its {axis} outside the {kinds.allowed(_COORDINATE)}",
                in_units_of_reader(f"- {_EXAMPLE}"),
                "point-range",
            )
        values.append(value)
    return (values[0], values[1], values[2])


_LENGTH = {"type": "string", "pattern": SCHEMA_PATTERN_LENGTH}
_POINT = FieldKind(
    _read_point,
    _EXAMPLE,
    {
        "description": "x towards azimuth zero, y to its left, z above ground",
        "anyOf": [
            {"type": "array", "items": _LENGTH, "minItems": 3, "maxItems": 3},
            {"type": "string", "examples": ["1 m, 0 m, 7 m"]},
        ],
    },
    lambda p: ", ".join(show_quantity(c, "m") for c in p),
)
_NAME_SCHEMA = {"type": "string", "maxLength": 30, "description": "what messages call it"}
_NAME = FieldKind(_read_name, "gutter", _NAME_SCHEMA)


@dataclass(frozen=True)
class MetalPiece:
    """A gutter, ridge capping, railing or guy wire; a rod or the antenna may be joined to it."""

    schema_title: ClassVar[str] = "PieceSection"
    name: Annotated[str, _NAME]
    diameter: Annotated[float, Quantity("m", 5e-4, 0.5, "as a round wire", "8 mm")]
    points: Annotated[tuple[Point, ...], _POINT, Listed(_MOST_POINTS, least=1)]
    joined: Annotated[str, _JOINED] = "no"
    foot: Annotated[Earth | None, _EARTH] = None

    def piece(self) -> drawn.Piece:
        """As it is drawn."""
        joined = self.joined == "yes"
        return drawn.Piece(self.name, self.diameter / 2, self.points, self.foot, joined)


@dataclass(frozen=True)
class OtherFeedline:
    """The cable of another antenna that hangs beside the downward run of ours."""

    type: Annotated[CoaxClass, kinds.A_COAX]
    beside: Annotated[
        float, Quantity("m", 0.005, 5.0, "between the axes of the two cables", "60 mm")
    ]
    high: Annotated[float, Quantity("m", 0.1, 200.0, "height of its upper end above ground", "7 m")]
    low: Annotated[
        float, Quantity("m", 0.05, 200.0, "height of its lower end above ground", "0.5 m")
    ]
    towards: Annotated[str, _BESIDE] = "left"
    strap: Annotated[
        complex | None,
        kinds.impedance("joint of its upper end with our shield", "open", may_be_open=True),
    ] = None
    foot: Annotated[Earth | None, _EARTH] = None

    def feedline(self) -> drawn.OtherFeedline:
        """As it is drawn."""
        return drawn.OtherFeedline(
            self.type, self.beside, self.towards, self.high, self.low, self.strap, self.foot
        )


def surroundings_of(
    mast: StandingMast | None, pieces: tuple[MetalPiece, ...], other: OtherFeedline | None
) -> Surroundings:
    """Everything around an antenna as it is drawn."""
    return Surroundings(
        mast=None if mast is None else mast.mast(),
        mast_earth=None if mast is None else mast.foot,
        pieces=tuple(piece.piece() for piece in pieces),
        other=None if other is None else other.feedline(),
    )


PartT = TypeVar("PartT", StandingMast, MetalPiece, OtherFeedline)


def with_rod(part: PartT, sigma: float) -> PartT:
    """A part with a common rod in soil of a conductivity [S/m] at a foot that states none."""
    if part.foot is None or not part.foot.usual:
        return part
    return replace(part, foot=replace(part.foot, impedance=common_rod(sigma), usual=False))
