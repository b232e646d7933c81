"""Ferrite cores on the cable, in one row or in two: a lossy inductance over their whole length."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from models.catalogues.core_curves import OWN_MEASUREMENT, scatter_of
from models.catalogues.parts import (
    CoaxClass,
    FerriteCore,
    ferrite_cores,
    is_split,
    least_hole,
    takes_cable,
)
from models.lengths import large
from models.quantities import Choice, KeyGroup, Part, Quantity, Several
from pipeline.chokes.fixture_methods import METHODS, Method
from pipeline.chokes.kind import SLACK, Choke, Host
from pipeline.chokes.measured_choke import FixtureStandards, measurement
from pipeline.chokes.measured_core import KEYS, MeasuredCore, measured_core
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity


def cores_that_fit(jacket_diameter: float, material: str) -> list[FerriteCore]:
    """Cores on sale that take a cable, those of the same material and the tightest first."""
    fitting = [c for c in ferrite_cores() if c.on_sale and takes_cable(c, jacket_diameter)]
    return sorted(fitting, key=lambda core: (core.material != material, core.hole_diameter))


@dataclass(frozen=True, kw_only=True)
class FerriteChoke(Choke):
    """Cores on the cable, all in one row, or half of them at ``also_at`` [m]."""

    kind: ClassVar[str] = "ferrite"
    is_counted: ClassVar[bool] = True
    place_keys: ClassVar[tuple[tuple[str, ...], ...]] = (("position",), ("also_at",))
    goes_with_others: ClassVar[bool] = True
    data_key: ClassVar[str] = "measured"
    shorter: ClassVar[str] = "fewer cores"

    core: Annotated[FerriteCore, Part("core")]
    count: Annotated[int, Quantity("1", 1, 50, "number of cores", "4"), Several()] = 1
    also_at: Annotated[
        float | None,
        Quantity("m", 0.01, 200.0, "a second place along the shield, for half of the cores", "1 m"),
    ] = None
    measured: Annotated[
        MeasuredCore | None,
        measurement("one core of these, measured: one pass of a wire through it", "core.s1p"),
    ] = None
    method: Annotated[
        Method | None,
        Choice(METHODS, "how that core's impedance follows; else reflection of .s1p, y21 of .s2p"),
    ] = None
    fixture: Annotated[tuple[str, ...], KeyGroup(FixtureStandards)] = ()
    # Factor on the impedance: a batch that is weaker or stronger than its data sheet. [-]
    strength: float = 1.0

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Core, with the number of them if there is only one number."""
        core, count = given["core"], given["count"]
        return str(core.name) if isinstance(count, tuple) else f"{count} x {core.name}"

    @classmethod
    def read(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Core and places, and what was measured of one core."""
        values = {key: value for key, value in given.items() if key not in KEYS}
        found = measured_core(given)
        if found is None:
            return values
        more = {"measured": found, "method": found.method, "fixture": found.fixture}
        return values | more

    def labelled(self) -> Self:
        """Cores in two rows are told with both of their places."""
        if self.also_at is None:
            return self
        return replace(self, label=f"{self.count} x {self.core.name}, {self.spread_out}")

    @property
    def spread_out(self) -> str:
        """How many cores are where: "at 0.20 m", "4 at 0.20 m and 4 at 0.57 m"."""
        if self.also_at is None:
            return f"at {large(self.position)}"
        return " and ".join(f"{row.count} at {large(row.position)}" for row in self.placed)

    @property
    def placed(self) -> tuple[Choke, ...]:
        """Its row, or two of half the cores."""
        if self.also_at is None:
            return (self,)
        price = None if self.price is None else self.price / 2
        one = replace(self, count=self.count // 2, also_at=None, price=price)
        return one, replace(one, position=self.also_at)

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Impedance of all cores, one pass of the cable, shape (n_f,) [ohm]."""
        from pipeline.circuit.choke_materials import core_impedance

        if self.measured is not None:
            return self.strength * self.count * self.measured.impedance(f)
        return self.strength * self.count * core_impedance(self.core, f)

    def spread(self, host: Host) -> tuple[float, float]:
        """Least and largest factor by which its impedance may be off."""
        from pipeline.circuit.choke_materials import core_spread

        if self.measured is not None:
            own = scatter_of(OWN_MEASUREMENT, host.frequency)
            return own.low, own.high
        return core_spread(self.core, host.frequency)

    @property
    def known_range(self) -> tuple[float, float] | None:
        """First and last frequency of a measurement of its own. [Hz]"""
        return None if self.measured is None else (self.measured.f[0], self.measured.f[-1])

    @property
    def files(self) -> tuple[str, ...]:
        """What was measured of its core, and of the fixture alone."""
        return () if self.measured is None else (self.measured.file, *self.measured.fixture)

    @property
    def measurement(self) -> MeasuredCore | None:
        """What was measured of its core."""
        return self.measured

    def with_measurement(self, known: Mapping[str, MeasuredCore]) -> Self:
        """The same with what is known of its core, unless it has a measurement of its own."""
        if self.measured is not None or self.core.id not in known:
            return self
        return replace(self, measured=known[self.core.id])

    def notes(self, host: Host) -> tuple[str, ...]:
        """How far a measurement of its core can be trusted at the design frequency."""
        from pipeline.circuit.choke_materials import one_pass

        if self.measured is None:
            return ()
        said = self.measured.said(host.frequency, one_pass(self.core, host.frequency))
        return (f"{self.measured.file}: {said}",)

    def drawn_impedance(
        self, host: Host, factors: Mapping[str, NDArray[np.float64]]
    ) -> NDArray[np.complex128]:
        """Impedance with the strength of every draw's ferrite, shape (n,) [ohm].

        Where each class has its own scatter, ``ferrite_of_class`` is the place in it from 0 to 1.
        """
        z = factors["ferrite"] * self.impedance(np.array([host.frequency]), host)
        place = factors.get("ferrite_of_class")
        if place is None:
            return z
        low, high = self.spread(host)
        return z * low * (high / low) ** place

    @property
    def acts_over(self) -> float:
        """Length of its row, of both together where there are two. [m]"""
        return self.count * self.core.length

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """A hole too small for the jacket, or two rows that are not equal or not apart."""
        if self.also_at is not None and (fault := self._rows_fault(self.also_at)) is not None:
            return fault
        if takes_cable(self.core, main.jacket_diameter):
            return None
        fitting = cores_that_fit(main.jacket_diameter, self.core.material)
        names = ", ".join(core.id for core in fitting[:4]) or "a thinner cable"
        jacket = show_quantity(main.jacket_diameter, "m")
        hole = show_quantity(self.core.hole_diameter, "m")
        rule = f"has a hole of {hole}, too small for the jacket of {jacket}"
        if self.core.hole_diameter >= main.jacket_diameter:
            least = show_quantity(least_hole(self.core, main.jacket_diameter), "m")
            rule += f": both scatter, and a solid core wants {least}"
        return FieldError(rule, names, "core-too-small", ("core",))

    def _rows_fault(self, also_at: float) -> FieldError | None:
        """What is wrong with two rows, the second at ``also_at`` [m]."""
        if self.count % 2:
            rule = "is odd, and half of the cores go to the second place, also_at"
            return FieldError(rule, f"count: {self.count + 1}", "cores-odd", ("count",))
        end = self.position + self.count // 2 * self.core.length
        if also_at >= end - SLACK:
            return None
        here = show_quantity(self.position, "m")
        rule = f"lies before the end of the first row, which begins {here} from the antenna"
        remedy = f"also_at: {show_quantity(end, 'm', 'up')} or more"
        return FieldError(rule, remedy, "rows-overlap", ("also_at",))

    @property
    def ferrite_core(self) -> FerriteCore:
        """The core."""
        return self.core

    @property
    def pieces_beside(self) -> int:
        """A new connector where the cores are solid."""
        return 0 if is_split(self.core) else 1

    @property
    def on_sale(self) -> bool:
        """Whether somebody sells the core."""
        return self.core.on_sale

    @classmethod
    def counted(cls, count: int, said: str, part: str) -> str:
        """How many cores, then which."""
        return f"{said} {'core' if count == 1 else 'cores'}, {part}"

    @property
    def part(self) -> str:
        """Name of the core."""
        return self.core.name

    @property
    def named(self) -> str:
        """How many cores, then which."""
        return f"{'one core' if self.count == 1 else f'{self.count} cores'}, {self.core.name}"

    @property
    def short(self) -> str:
        """How many of which core, and where."""
        name = self.core.name.split(" clamp")[0]
        return f"{self.count} × {name}, {self.spread_out}"

    @property
    def begins(self) -> str:
        """Where its row begins, or both."""
        if self.also_at is None:
            return super().begins
        rows = (f"{row.count} starting {large(row.position)}" for row in self.placed)
        return f"{' and '.join(rows)} from the antenna"

    def curves(self) -> tuple[tuple[Choke, tuple[Any, ...], str], ...]:
        """One core, the same for every number and place; a measured one beside the catalogue's."""
        one = replace(self, count=1, also_at=None)
        key, label = (self.kind, self.core.id), f"one {self.core.name}"
        if self.measured is None:
            return ((one, key, label),)
        name, catalogue = self.measured.file, replace(one, id=f"{self.id}-catalogue", measured=None)
        return (
            (one, (*key, name), f"{name}: {label}"),
            (catalogue, key, f"catalogue: {label}"),
        )


def measured_cores(chokes: Sequence[Choke]) -> dict[str, MeasuredCore]:
    """What was measured of the cores of some candidates, the first of each core, by its id."""
    found: dict[str, MeasuredCore] = {}
    for part in (part for choke in chokes for part in choke.placed):
        if part.ferrite_core is not None and part.measurement is not None:
            found.setdefault(part.ferrite_core.id, part.measurement)
    return found


def with_measurements(chokes: Sequence[Choke]) -> tuple[Choke, ...]:
    """Candidates of which all with the same core have what was measured of it once."""
    known = measured_cores(chokes)
    return tuple(choke.with_measurement(known) for choke in chokes)
