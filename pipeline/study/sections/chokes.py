"""The candidates a study may list: one section per kind of choke.

In go plain data, out come sections that give the frozen records of study_types.py, one for
every count and position.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

from pydantic import Field, model_validator

from models.catalogues.parts import CoaxClass, FerriteCore, Pipe
from models.quantities import Choice, Quantity
from pipeline.study import fields as kinds
from pipeline.study.candidates import AT_THE_FEED, coil_label, variants
from pipeline.study.choke_table import Table, measurement, read_table, table_path
from pipeline.study.fields import Context, FieldKind
from pipeline.study.fixture import (
    METHODS,
    Standards,
    choke_table,
    fixture_impedance,
    fixture_remarks,
)
from pipeline.study.records import (
    ChokeChoice,
    CoilChoice,
    CoilModel,
    FerriteChoice,
    Method,
    SleeveChoice,
    TableChoice,
)
from pipeline.study.section import A_COAX, A_PIPE, As, Section, pick, size, whole_number
from pipeline.study.sections.build import price

_POSITION = Quantity(
    "m", 0.01, 200.0, "along the shield, from the tap to the choke's antenna-side end", "0.05 m"
)


_A_CORE = As(kinds.A_CORE)


def _read_table(raw: Any, context: Context) -> tuple[str, Table]:
    return str(raw), read_table(table_path(raw, context.folder))


_LABEL = As(kinds.text("text shown for this candidate", "nine turns at the gable", 60))
_PRICE = As(price("price of one piece", "4.50 EUR"))
_A_POSITION = As(kinds.one_or_list(kinds.quantity(_POSITION)))
_COUNT = kinds.whole(Quantity("1", 1, 50, "number of cores", "4"))
_TABLE = FieldKind(
    _read_table,
    "choke.csv",
    {"type": "string", "description": "CSV with f_hz, r_ohm, x_ohm beside the study"},
    lambda table: str(table[0]),
)


def a_measurement(meaning: str, example: str) -> As:
    """Marker of a Touchstone file beside the study; gives its name and the network in it."""
    kind = measurement(meaning, example, 2, lambda name, network: (name, network))
    return As(replace(kind, show=lambda found: str(found[0])))


_MODEL = Choice(get_args(CoilModel), "drawn as turns of wire, or a lumped part by formula")
_METHOD = Choice(METHODS, "how the choke's impedance follows from what was measured")


class ChokeSection(Section):
    """Part common to all candidates; kind "ideal" has nothing more."""

    id: Annotated[str, As(kinds.identifier("short name of the candidate", "coil-9"))]
    kind: str
    label: Annotated[str | None, _LABEL] = None
    price: Annotated[tuple[float, str] | None, _PRICE] = None
    position: Annotated[float | tuple[float, ...] | None, _A_POSITION] = AT_THE_FEED

    def described(self) -> str:
        """Label for a candidate that has none of its own."""
        return "perfect choke"

    def counts(self) -> int | tuple[int, ...]:
        """How many cores; one unless cores are counted."""
        return 1

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """Class of the frozen record, and the values only this kind has."""
        del cable
        return ChokeChoice, {}

    def records(self, cable: CoaxClass, hanging: float = AT_THE_FEED) -> list[ChokeChoice]:
        """Frozen records, one per count and position.

        `cable` is the main one, `hanging` where a coil is put that has no position. [m]
        """
        record, own = self.own(cable)
        amount, currency = self.price or (None, "")
        label = self.label or self.described()
        position = hanging if self.position is None else self.position
        return [
            record(
                id=v.id,
                label=v.label,
                kind=self.kind,
                count=v.count,
                position=v.position,
                price=None if amount is None else amount * v.count,
                currency=currency,
                **own,
            )
            for v in variants(self.id, label, self.counts(), position)
        ]


class IdealSection(ChokeSection):
    """An infinite impedance, to see what the best choke could do at a place."""

    kind: Literal["ideal"]


class CoilSection(ChokeSection):
    """Turns of coax."""

    derived: ClassVar[Mapping[str, str]] = {
        "cable": "the main cable's class",
        "pitch": "the thickness of the coil's cable",
        "position": "just below the first bend that it can hang from",
    }
    position: Annotated[float | tuple[float, ...] | None, _A_POSITION] = None
    kind: Literal["coil"]
    turns: Annotated[int, whole_number(1, 40, "number of turns", "9")]
    diameter: Annotated[float, size(0.03, 1.0, "diameter, to the cable's axis", "0.30 m")]
    pitch: Annotated[float | None, size(2e-3, 0.2, "from turn to turn", "12 mm")] = None
    cable: Annotated[CoaxClass | None, A_COAX] = None
    model: Annotated[CoilModel, As(kinds.one_of(_MODEL))] = "wire"

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """Coil of its own or the main cable, wound close unless a pitch is given."""
        wound = self.cable or cable
        own = {"turns": self.turns, "diameter": self.diameter, "cable": wound, "model": self.model}
        return CoilChoice, {**own, "pitch": self.pitch or wound.jacket_diameter}

    def described(self) -> str:
        """Number of turns and size."""
        name = self.cable.name if self.cable else "the cable"
        return coil_label(self.turns, self.diameter, name, self.model)


class FerriteSection(ChokeSection):
    """Cores on the cable."""

    kind: Literal["ferrite"]
    core: Annotated[FerriteCore, _A_CORE]
    count: Annotated[int | tuple[int, ...], As(kinds.one_or_list(_COUNT))] = 1

    def counts(self) -> int | tuple[int, ...]:
        """Number of cores, or all numbers to try."""
        return self.count

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """The core."""
        del cable
        return FerriteChoice, {"core": self.core}

    def described(self) -> str:
        """Core, with the number of them if there is only one number."""
        return (
            self.core.name if isinstance(self.count, tuple) else f"{self.count} x {self.core.name}"
        )


class SleeveSection(ChokeSection):
    """Pipe over the cable, shorted to the shield at its far end."""

    derived: ClassVar[Mapping[str, str]] = {"length": "a quarter wave inside the sleeve, derived"}
    kind: Literal["sleeve"]
    pipe: Annotated[Pipe, A_PIPE]
    length: Annotated[float | None, size(0.05, 3.0, "length of the sleeve", "0.5 m")] = None

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """Pipe and length."""
        del cable
        return SleeveChoice, {"pipe": self.pipe, "length": self.length}

    def described(self) -> str:
        """Pipe of the sleeve."""
        return f"shorted sleeve of {self.pipe.name} pipe"


class TableSection(ChokeSection):
    """A choke that its owner has measured."""

    kind: Literal["table"]
    file: Annotated[tuple[str, Table], As(_TABLE)]

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """File name, frequencies and impedances."""
        del cable
        name, (f, z_choke) = self.file
        return TableChoice, {"file": name, "f": f, "z_choke": z_choke}

    def described(self) -> str:
        """Name of the table."""
        return f"measured choke {self.file[0]}"


class FixtureStandardsSection(Section):
    """The same fixture without the choke, to take off what it adds; each may be left out."""

    opened: Annotated[
        tuple[str, Any] | None, a_measurement("nothing in the choke's place", "empty.s2p")
    ] = Field(default=None, alias="open")
    shorted: Annotated[
        tuple[str, Any] | None, a_measurement("a straight wire in the choke's place", "wire.s2p")
    ] = Field(default=None, alias="short")
    joined: Annotated[
        tuple[str, Any] | None, a_measurement("both halves of the fixture joined", "thru.s2p")
    ] = Field(default=None, alias="thru")

    def given(self) -> dict[str, tuple[str, Any]]:
        """File name and network of each standard that was measured."""
        values = {key: getattr(self, key) for key in type(self).model_fields}
        return {key: value for key, value in values.items() if value is not None}


def _read_standards(raw: Any, context: Context) -> FixtureStandardsSection:
    return FixtureStandardsSection.model_validate(raw, context=context)


# Its schema stands in the place where it is used, like that of every kind of value.
_STANDARDS = FieldKind(
    _read_standards,
    "",
    FixtureStandardsSection.model_json_schema(),
    inside=lambda _: FixtureStandardsSection,
)


class FixtureSection(ChokeSection):
    """A choke that its owner has measured with a network analyser."""

    derived: ClassVar[Mapping[str, str]] = {"fixture": "nothing of it is taken off"}
    kind: Literal["fixture"]
    file: Annotated[tuple[str, Any], a_measurement("the choke in its fixture", "choke.s2p")]
    method: Annotated[Method, As(kinds.one_of(_METHOD))]
    fixture: Annotated[FixtureStandardsSection, As(_STANDARDS)] = Field(
        default_factory=FixtureStandardsSection
    )

    @model_validator(mode="after")
    def has_an_impedance(self) -> Self:
        """What the files give together is worked out once, so that its faults are found."""
        self.worked_out  # noqa: B018
        return self

    @cached_property
    def worked_out(self) -> dict[str, Any]:
        """Values of the frozen record that the measurement gives."""
        standards = {key: network for key, (_, network) in self.fixture.given().items()}
        name, network = self.file
        without = Standards(**standards)
        z, clipped = choke_table(network.f, fixture_impedance(network, self.method, without))
        return {
            "file": name,
            "f": tuple(network.f.tolist()),
            "z_choke": tuple(z.tolist()),
            "method": self.method,
            "remarks": (*fixture_remarks(network, self.method, without), *clipped),
            "beside": tuple(name for name, _ in self.fixture.given().values()),
        }

    def own(self, cable: CoaxClass) -> tuple[type[ChokeChoice], dict[str, Any]]:
        """File names, frequencies and impedances."""
        del cable
        return TableChoice, self.worked_out

    def described(self) -> str:
        """Name and method of the measurement."""
        return f"measured choke {self.file[0]} ({self.method})"


CHOKE_SECTIONS: dict[str, type[Section]] = {
    "coil": CoilSection,
    "ferrite": FerriteSection,
    "sleeve": SleeveSection,
    "ideal": IdealSection,
    "table": TableSection,
    "fixture": FixtureSection,
}


def _read_choke(raw: Any, context: Context) -> Section:
    return pick(raw, "kind", CHOKE_SECTIONS).model_validate(raw, context=context)


CHOKE = FieldKind(
    _read_choke,
    "",
    {"oneOf": [s.model_json_schema() for s in CHOKE_SECTIONS.values()]},
    inside=lambda raw: CHOKE_SECTIONS.get(str(raw.get("kind"))),
)
