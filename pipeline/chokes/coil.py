"""A coil of coax: turns drawn as wire, or one lumped part by handbook formulas."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar, Literal, Self, get_args

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, conductor
from models.lengths import small
from models.quantities import Choice, Derived, Part, Quantity
from models.site.feedline_route import Helix
from pipeline.chokes.kind import SLACK, Choke, Host, Least, OwnUnknown
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

CoilModel = Literal["wire", "lumped"]


def coil_label(turns: int, diameter: float, cable: str, model: CoilModel = "wire") -> str:
    """Text of a coil for people.

    Examples
    --------
    >>> coil_label(9, 0.3, "the cable", "lumped")
    '9 turns of the cable, 0.3 m across, as a lumped part'
    """
    plural = "turn" if turns == 1 else "turns"
    end = ", as a lumped part" if model == "lumped" else ""
    return f"{turns} {plural} of {cable}, {show_quantity(diameter, 'm')} across{end}"


@dataclass(frozen=True, kw_only=True)
class CoilChoke(Choke):
    """Turns of coax."""

    kind: ClassVar[str] = "coil"
    hangs: ClassVar[bool] = True
    hangs_on_making: ClassVar[bool] = True
    is_inductor: ClassVar[bool] = True
    unknowns: ClassVar[tuple[OwnUnknown, ...]] = (
        OwnUnknown(
            "coil_pitch",
            "the coil's pitch (1: as stated)",
            "measure the coil's pitch",
            is_geometric=True,
        ),
    )
    why_worse: ClassVar[str] = (
        "a coil of coax is nearly all reactance, which can bring the cable into resonance"
    )

    turns: Annotated[int, Quantity("1", 1, 40, "number of turns", "9")]
    diameter: Annotated[float, Quantity("m", 0.03, 1.0, "diameter, to the cable's axis", "0.30 m")]
    pitch: Annotated[
        float,
        Quantity("m", 2e-3, 0.2, "from turn to turn", "12 mm"),
        Derived("the thickness of the coil's cable"),
    ]
    cable: Annotated[CoaxClass, Part("cable"), Derived("the main cable's class")]
    model: Annotated[
        CoilModel,
        Choice(get_args(CoilModel), "drawn as turns of wire, or a lumped part by formula"),
    ] = "wire"

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Number of turns and size."""
        name = given["cable"].name if given["cable"] else "the cable"
        return coil_label(given["turns"], given["diameter"], name, given["model"])

    @classmethod
    def completed(cls, values: Mapping[str, Any], main: CoaxClass) -> dict[str, Any]:
        """Coil of its own or the main cable, wound close unless a pitch is given."""
        cable = values["cable"] or main
        return {**values, "cable": cable, "pitch": values["pitch"] or cable.jacket_diameter}

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Impedance as a lumped part, also of a coil that is drawn, shape (n_f,) [ohm]."""
        from pipeline.circuit.coil import coil_impedance
        from pipeline.circuit.line import SHIELD_METAL

        shield, sigma = self.cable.shield_diameter, conductor(SHIELD_METAL).sigma
        return coil_impedance(f, self.turns, self.diameter, self.pitch, shield, sigma)

    @property
    def data_remedy(self) -> str:
        """The pitch that the formula allows, or wire in place of it."""
        from pipeline.circuit.coil import WINDING_LENGTH

        least, most = (part * self.diameter / self.turns for part in WINDING_LENGTH)
        if self.pitch < least:
            return f"pitch: {small(least, 1, 'up')} or more, or model: wire"
        return f"pitch: {small(most, 1, 'down')} or less, or model: wire"

    def extent(self, host: Host) -> float:
        """Height of the winding. [m]"""
        return self.turns * self.pitch

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """Turns that would overlap."""
        if self.pitch >= self.cable.jacket_diameter - SLACK:
            return None
        own = show_quantity(self.cable.jacket_diameter, "m")
        rule = f"is less than the thickness of the cable, {own}: the turns would overlap"
        return FieldError(rule, f"pitch: {own} or more", "pitch-small", ("pitch",))

    def notes(self, host: Host) -> tuple[str, ...]:
        """A coil tighter than the cable's maker wants it bent more than once, or at all."""
        repeated = 2 * self.cable.bend_radius_repeated
        once = 2 * self.cable.bend_radius_install
        if self.diameter >= repeated - SLACK:
            return ()
        bends = f"{self.id}: a coil of {show_quantity(self.diameter, 'm')} bends {self.cable.name} "
        if self.diameter < once - SLACK:
            return (
                f"{bends}tighter than it may be bent even once "
                f"({show_quantity(once, 'm')} across): it will kink, and its centre moves; wind it "
                f"{show_quantity(repeated, 'm')} across or more, or use a thinner cable",
            )
        allowed = f"({show_quantity(repeated, 'm')} across)"
        return (f"{bends}tighter than its repeated bend radius allows {allowed}",)

    @property
    def helix(self) -> Helix:
        """Winding of the cable."""
        return Helix(self.position, self.turns, self.diameter, self.pitch)

    @property
    def is_drawn(self) -> bool:
        """Whether wire stands for it: far above its resonance no lumped part does."""
        return self.model == "wire"

    def cable_along(self, main: CoaxClass) -> CoaxClass:
        """Class of the cable it is wound of."""
        return self.cable

    def redrawn(self, pitch: float, shift: float, stated: CoaxClass, drawn: CoaxClass) -> Self:
        """A coil keeps its distance below its bend, and has the jacket of the drawn main cable."""
        return replace(
            self,
            pitch=pitch * self.pitch,
            position=self.position + shift,
            cable=drawn if self.cable == stated else self.cable,
        )

    @property
    def least(self) -> Least:
        """Least factor on its pitch: no draw may wind it closer than its cable is thick."""
        thick = show_quantity(self.cable.jacket_diameter, "m")
        reason = f"turns of {self.id} would overlap, its cable is {thick} thick"
        return Least(self.cable.jacket_diameter / self.pitch, reason, "pitch-small")

    def curves(self) -> tuple[tuple[Choke, tuple[Any, ...], str], ...]:
        """The same winding once, at whatever place."""
        sizes = (self.turns, self.diameter, self.pitch, self.cable.id)
        return ((self, (self.kind, *sizes), f"{self.label} (handbook formulas)"),)
