"""The section ``build`` of a study: how the antenna is cut and joined, what its parts cost.

What a metre of each class of cable costs is a key beside it.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from models.quantities import Choice, Quantity
from pipeline.study import fields as kinds
from pipeline.study.prices import price, prices_by
from pipeline.study.records import Build, MeasuredFitting, Price
from pipeline.study.section import As, Section, size

_JOINTS = Choice(("fittings", "mitred"), "how pipes are joined; may be left out: what goes")
_PER_METRE = As(price("of one metre of the antenna's pipe", "9.80 EUR"))
_EACH = As(price("of one piece", "1.20 EUR"))
_REACH = size(0.005, 0.25, "from the fitting's centre to the rim of its cup", "27 mm")
_CUP = size(0.003, 0.1, "depth of the cup", "15.4 mm")


class PricesSection(Section):
    """What the parts cost; all in one currency."""

    pipe: Annotated[tuple[float, str] | None, _PER_METRE] = None
    elbow: Annotated[tuple[float, str] | None, _EACH] = None
    tee: Annotated[tuple[float, str] | None, _EACH] = None
    coupling: Annotated[tuple[float, str] | None, _EACH] = None
    cap: Annotated[tuple[float, str] | None, _EACH] = None
    clamp: Annotated[tuple[float, str] | None, _EACH] = None

    def records(self) -> tuple[Price, ...]:
        """Frozen records of what has a price."""
        given = ((key, getattr(self, key)) for key in type(self).model_fields)
        return tuple(Price(key, *price) for key, price in given if price is not None)


class MeasuredSection(Section):
    """A fitting as its owner measured it."""

    centre_to_end: Annotated[float | None, _REACH] = None
    cup: Annotated[float | None, _CUP] = None


class MeasuredCapSection(Section):
    """A cap as its owner measured it."""

    end: Annotated[float | None, size(2e-4, 0.02, "thickness of the cap's end", "1 mm")] = None
    cup: Annotated[float | None, _CUP] = None


class FittingsSection(Section):
    """Measured fittings; they stand in for those of the catalogue."""

    elbow_90: MeasuredSection | None = None
    elbow_45: MeasuredSection | None = None
    tee: MeasuredSection | None = None
    coupling: MeasuredSection | None = None
    cap: MeasuredCapSection | None = None

    def records(self) -> tuple[MeasuredFitting, ...]:
        """Frozen records of what was measured."""
        found = []
        for key in type(self).model_fields:
            given = getattr(self, key)
            if given is not None:
                reach, end = getattr(given, "centre_to_end", None), getattr(given, "end", None)
                found.append(MeasuredFitting(key.replace("_", " "), given.cup, reach, end))
        return tuple(found)


class BuildSection(Section):
    """How the antenna is cut and joined; used by the command that makes the cut list."""

    joints: Annotated[str | None, As(kinds.one_of(_JOINTS))] = None
    kerf: Annotated[
        float, size(0.0, 0.006, "width of a saw cut, 0 mm for a tube cutter", "1.5 mm")
    ] = 1.5e-3
    stock: Annotated[
        float | None,
        size(0.5, 12.0, "length that the pipe is sold in; may be left out: by its standard", "3 m"),
    ] = None
    wind_speed: Annotated[
        float,
        As(kinds.quantity(Quantity("m/s", 10.0, 90.0, "wind to find the load for", "40 m/s"))),
    ] = 40.0
    prices: PricesSection = Field(default_factory=PricesSection)
    fittings: FittingsSection = Field(default_factory=FittingsSection)

    def record(self) -> Build:
        """Frozen record."""
        plain = ("kerf", "wind_speed")
        stated = self.stated_defaults("build")
        return Build(
            joints=self.joints or "",
            kerf=self.kerf,
            stock=self.stock,
            wind_speed=self.wind_speed,
            prices=self.prices.records(),
            measured=self.fittings.records(),
            defaults=tuple(s for s in stated if s.split(":")[0].removeprefix("build.") in plain),
        )


_A_METRE = price("of one metre of cable", "2.10 EUR")


LINE_PRICES = prices_by(kinds.A_COAX, _A_METRE, "some classes of cable")
