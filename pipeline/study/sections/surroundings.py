"""What a study may say about the metal around its antenna: mast, metalwork, another feedline.

In go plain data, out come sections that give the records of models/site/metalwork.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any, ClassVar

from pydantic import Field

from models.catalogues.parts import CoaxClass
from models.quantities import Choice, Quantity
from models.site.earth import Earth
from models.site.mast import SIDES, Mast
from models.site.metalwork import (
    MAST,
    OTHER,
    OWN_PARTS,
    OtherFeedline,
    Piece,
    Surroundings,
)
from models.site.soil import Soil, common_rod
from models.wires.structure import Point
from pipeline.study import fields as kinds
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import A_COAX, As, Section, size
from pipeline.text.refusals import FieldError
from pipeline.text.units import (
    SCHEMA_PATTERN_LENGTH,
    in_units_of_reader,
    read_quantity,
    show_quantity,
)

_YES = As(kinds.one_of(Choice(("no", "yes"), "joined to it by a short strap")))
_JOINED = As(kinds.one_of(Choice(("no", "yes"), "the antenna is clamped to it, metal on metal")))
_SIDE = Choice(tuple(SIDES), "side of the antenna; front is azimuth zero")
_BESIDE = Choice(("left", "right", "out", "back"), "side of our cable, as the route has them")
_COORDINATE = Quantity("m", -100.0, 200.0, "place; z is the height above ground", "7 m")
_MOST_POINTS = 30
# The word for a lead that goes to the rod of the cable's bond.
_SHARED = "shared"
_EXAMPLE = '["1 m", "0 m", "7 m"]'


class EarthSection(Section):
    """A lead from a piece of metal to a ground rod straight below."""

    rod_impedance: Annotated[complex | None, As(kinds.impedance("rod in the soil", "40 ohm"))] = (
        None
    )
    lead_diameter: Annotated[float, size(5e-4, 0.06, "diameter of the lead", "4.5 mm")] = 4.5e-3

    def record(self) -> Earth:
        """Frozen record; what the soil gives a rod is filled in by :func:`surroundings_of`."""
        return Earth(self.lead_diameter / 2, self.rod_impedance or 0j, self.rod_impedance is None)


def _read_earth(raw: Any, context: Context) -> Earth | None:
    """A lead to a rod, to that of the cable's bond, or None where the end stays open."""
    if isinstance(raw, dict):
        return EarthSection.model_validate(raw, context=context).record()
    if raw == _SHARED:
        return Earth(EarthSection().lead_diameter / 2, None)
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


_AN_EARTH = As(
    FieldKind(
        _read_earth,
        "open",
        {"anyOf": [{"enum": ["open", _SHARED]}, EarthSection.model_json_schema()]},
        _show_earth,
    )
)


class StandingMastSection(Section):
    """A mast below or beside the antenna that is not a part of it."""

    derived: ClassVar[Mapping[str, str]] = {"top": "just below the antenna, without touching it"}
    material: Annotated[str, As(kinds.one_of(Choice(("metal", "wood"), "what it is made of")))]
    diameter: Annotated[float, size(0.01, 0.3, "outside diameter of the mast", "42 mm")]
    length: Annotated[float, size(0.1, 100.0, "length from its top down", "3 m")]
    top: Annotated[
        float | None, size(-20.0, 100.0, "its top below the antenna's base line", "50 mm")
    ] = None
    stand_off: Annotated[
        float, size(0.0, 20.0, "from the antenna's axis to that of the mast", "0.3 m")
    ] = 0.0
    towards: Annotated[str, As(kinds.one_of(_SIDE))] = "back"
    bonded: Annotated[str, _YES] = "no"
    foot: Annotated[Earth | None, _AN_EARTH] = None

    def record(self) -> Mast:
        """Frozen record; what its foot is joined to is :attr:`foot`."""
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
_A_POINT = As(
    FieldKind(
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
)
_NAME_SCHEMA = {"type": "string", "maxLength": 30, "description": "what messages call it"}
_A_NAME = As(FieldKind(_read_name, "gutter", _NAME_SCHEMA))


class PieceSection(Section):
    """A gutter, ridge capping, railing or guy wire; a rod or the antenna may be joined to it."""

    name: Annotated[str, _A_NAME]
    diameter: Annotated[float, size(5e-4, 0.5, "as a round wire", "8 mm")]
    points: Annotated[
        list[Annotated[Point, _A_POINT]], Field(min_length=1, max_length=_MOST_POINTS)
    ]
    joined: Annotated[str, _JOINED] = "no"
    foot: Annotated[Earth | None, _AN_EARTH] = None

    def record(self) -> Piece:
        """Frozen record."""
        points, joined = tuple(self.points), self.joined == "yes"
        return Piece(self.name, self.diameter / 2, points, self.foot, joined)


class OtherFeedlineSection(Section):
    """The cable of another antenna that hangs beside the downward run of ours."""

    type: Annotated[CoaxClass, A_COAX]
    beside: Annotated[float, size(0.005, 5.0, "between the axes of the two cables", "60 mm")]
    towards: Annotated[str, As(kinds.one_of(_BESIDE))] = "left"
    high: Annotated[float, size(0.1, 200.0, "height of its upper end above ground", "7 m")]
    low: Annotated[float, size(0.05, 200.0, "height of its lower end above ground", "0.5 m")]
    strap: Annotated[
        complex | None,
        As(kinds.impedance("joint of its upper end with our shield", "open", may_be_open=True)),
    ] = None
    foot: Annotated[Earth | None, _AN_EARTH] = None

    def record(self) -> OtherFeedline:
        """Frozen record."""
        return OtherFeedline(
            self.type, self.beside, self.towards, self.high, self.low, self.strap, self.foot
        )


def surroundings_of(
    mast: StandingMastSection | None,
    pieces: list[PieceSection],
    other: OtherFeedlineSection | None,
    ground: Soil | None,
) -> Surroundings:
    """Frozen record of the sections that a study gives, rods without a value as the soil has it."""

    def rod(earth: Earth | None) -> Earth | None:
        if earth is None or not earth.usual or ground is None:
            return earth
        return replace(earth, impedance=common_rod(ground.sigma), usual=False)

    posts = (piece.record() for piece in pieces)
    beside = None if other is None else other.record()
    return Surroundings(
        mast=None if mast is None else mast.record(),
        mast_earth=None if mast is None else rod(mast.foot),
        pieces=tuple(replace(piece, earth=rod(piece.earth)) for piece in posts),
        other=None if beside is None else replace(beside, earth=rod(beside.earth)),
    )


def defaults_of(
    mast: StandingMastSection | None,
    pieces: list[PieceSection],
    other: OtherFeedlineSection | None,
) -> list[str]:
    """A sentence for every value that these sections leave out."""
    named: list[tuple[str, Section | None]] = [("mast", mast), ("other_feedline", other)]
    named += [(f"metalwork[{k}]", piece) for k, piece in enumerate(pieces)]
    return [s for key, section in named if section for s in section.stated_defaults(f"site.{key}")]
