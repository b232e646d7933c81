"""A sleeve: pipe over the cable, open at one end and joined to the shield at the other.

Its outside is drawn (``models.site.sleeve``); what is inside, a shorted line, stands in series with
the port beside its mouth, so that its length, the cable's place in it and its jacket cost no solve.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self, get_args

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, Pipe, bore, conductor, goes_into
from models.catalogues.working_limits import working_value
from models.lengths import small
from models.quantities import Choice, Derived, Part, Quantity
from models.site.sleeve import SLEEVE, Sleeve
from models.wires.sleeve_wires import fits, free_of_mouth
from pipeline.chokes.kind import Choke, Host, OwnUnknown, SawnPipe
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

if TYPE_CHECKING:
    from pipeline.circuit.ferrite_and_sleeve import SleeveSection


Opening = Literal["antenna", "radio"]
_TOWARDS = {"antenna": "mouth towards the antenna", "radio": "mouth towards the radio"}
# The same in a name, which has to stay short.
_MOUTH = {"antenna": "mouth to antenna", "radio": "mouth to radio"}


@dataclass(frozen=True, kw_only=True)
class SleeveChoke(Choke):
    """Pipe over the cable, open at one end and joined to the shield at the other."""

    kind: ClassVar[str] = "sleeve"
    shorter: ClassVar[str] = "a shorter sleeve"
    is_resonant: ClassVar[bool] = True
    own_port: ClassVar[str] = SLEEVE
    # Room for the segments beside its mouth.
    usual_position: ClassVar[float] = 0.15
    unknowns: ClassVar[tuple[OwnUnknown, ...]] = (
        OwnUnknown("sleeve", "the length of the sleeve (1: as stated)", "measure the sleeve"),
        OwnUnknown(
            "sleeve_centre",
            "how far the cable lies out of the sleeve's middle (1: at its wall)",
            "centre the cable in the sleeve with spacers",
            stated=0.0,
        ),
    )

    pipe: Annotated[Pipe, Part("pipe")]
    length: Annotated[
        float | None,
        Quantity("m", 0.05, 3.0, "length of the sleeve", "0.5 m"),
        Derived("a quarter wave inside the sleeve less the end correction, derived"),
    ]
    mouth: Annotated[
        Opening,
        Choice(get_args(Opening), "what the open end points to"),
    ] = "antenna"

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Pipe of the sleeve, its length if that is stated, and where its mouth points."""
        length = given["length"]
        long = "" if length is None else f"{small(length)}, "
        return f"{given['pipe'].name} sleeve, {long}{_MOUTH[given['mouth']]}"

    def section(self, cable: CoaxClass) -> SleeveSection:
        """Cross-section over a cable."""
        from pipeline.circuit.ferrite_and_sleeve import SleeveSection
        from pipeline.circuit.line import SHIELD_METAL

        return SleeveSection(
            shield_diameter=cable.shield_diameter,
            jacket_diameter=cable.jacket_diameter,
            jacket_eps_r=cable.jacket_eps_r,
            sleeve_inner_diameter=bore(self.pipe),
            sigma_shield=conductor(SHIELD_METAL).sigma,
            sigma_sleeve=self.pipe.sigma,
        )

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Impedance of the line inside, at its mouth, shape (n_f,) [ohm]."""
        from pipeline.circuit.ferrite_and_sleeve import sleeve_impedance

        return sleeve_impedance(f, self.inside(host), self.section(host.cable))

    def drawn_impedance(
        self, host: Host, factors: Mapping[str, NDArray[np.float64]]
    ) -> NDArray[np.complex128]:
        """The same of sleeves that came out longer, with the cable off centre, shape (n,) [ohm]."""
        from pipeline.circuit.ferrite_and_sleeve import sleeve_impedance

        lengths, off = factors["sleeve"] * self.inside(host), factors["sleeve_centre"]
        return sleeve_impedance(host.frequency, lengths, self.section(host.cable), off)

    def told_impedance(
        self, f: NDArray[np.float64], host: Host, factors: NDArray[np.float64]
    ) -> NDArray[np.complex128]:
        """The least over lengths that it may have come out at, the field at its mouth counted.

        A quarter wave sawn to the last hair has a hundred kilohm, to a per cent five.
        """
        from pipeline.circuit.ferrite_and_sleeve import END_CORRECTION, sleeve_impedance

        section = self.section(host.cable)
        correction = END_CORRECTION * section.sleeve_inner_diameter / 2
        lengths = factors * self.inside(host) + correction
        z = np.stack([sleeve_impedance(f, length, section) for length in lengths])
        return np.asarray(np.take_along_axis(z, np.abs(z).argmin(axis=0)[None], axis=0)[0])

    def inside(self, host: Host) -> float:
        """Length from mouth to plate, as given or so that it is in resonance. [m]"""
        if self.length is not None:
            return self.length
        from pipeline.circuit.ferrite_and_sleeve import sleeve_length

        return sleeve_length(host.frequency, self.section(host.cable))

    def extent(self, host: Host) -> float:
        """Length without the plate, which is as thick as the wall. [m]"""
        return self.inside(host)

    @property
    def is_drawn(self) -> bool:
        """Always: its outside carries the antenna's current like the cable does."""
        return True

    def over_cable(self, host: Host) -> Sleeve:
        """Its outside on the cable."""
        return Sleeve(
            start=self.position,
            inside=self.inside(host),
            radius=self.pipe.outside_diameter / 2,
            wall=self.pipe.wall,
            shield_radius=host.cable.shield_diameter / 2,
            conductivity=self.pipe.sigma,
            opens_to_antenna=self.mouth == "antenna",
        )

    @property
    def opens_to(self) -> str:
        """The antenna or the radio."""
        return self.mouth

    def free_cable(self, host: Host) -> tuple[float, float]:
        """Straight cable before and behind it: room for the segments beside its mouth. [m]"""
        free = free_of_mouth(self.pipe.outside_diameter / 2, host.cable.shield_diameter / 2)
        return (free, 0.0) if self.mouth == "antenna" else (0.0, free)

    def redrawn(self, pitch: float, shift: float, stated: CoaxClass, drawn: CoaxClass) -> Self:
        """A sleeve keeps its distance below the bend before it."""
        return replace(self, position=self.position + shift)

    def cut_length(self, host: Host) -> float:
        """Length to cut the pipe to. [m]"""
        return self.inside(host)

    @property
    def is_cut_to_cable(self) -> bool:
        """Where the study states no length."""
        return self.length is None

    def sawn(self, host: Host) -> SawnPipe:
        """The sleeve with its ends."""
        length = self.extent(host)
        near, far = self.position, self.position + length
        mouth, plate = (near, far) if self.mouth == "antenna" else (far, near)
        return SawnPipe(self.pipe, length, mouth, plate, max(self.free_cable(host)))

    def settled(self, host: Host) -> Self:
        """A sleeve that stays as long as it was made, whatever cable is drawn later."""
        return replace(self, length=self.inside(host))

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """A pipe too narrow for the jacket, or for its mouth to be drawn."""
        if goes_into(main.jacket_diameter, self.pipe):
            return self._undrawn(main)
        jacket = show_quantity(main.jacket_diameter, "m")
        width = show_quantity(bore(self.pipe), "m")
        rule = f"is {width} wide inside, too narrow for the jacket of {jacket}"
        return FieldError(rule, "take a wider pipe", "sleeve-narrow", ("pipe",))

    def _undrawn(self, main: CoaxClass) -> FieldError | None:
        if fits(self.pipe.outside_diameter / 2, main.shield_diameter / 2):
            return None
        width = show_quantity(self.pipe.outside_diameter, "m")
        shield = show_quantity(main.shield_diameter, "m")
        rule = f"is {width} across, too narrow for a shield of {shield}: the mouth between them "
        rule += "cannot be drawn as it is"
        least = small(2.6 * main.shield_diameter, 1, "up")
        return FieldError(rule, f"a pipe of {least} or more", "mouth-narrow", ("pipe",))

    def derived_note(self, host: Host) -> str:
        """The derived length."""
        if self.length is not None:
            return ""
        why = "a quarter wave inside it, less 0.4 of its bore's radius for the field at its mouth"
        return f"chokes.{self.id}.length: {small(self.inside(host))} ({why})"

    @property
    def pieces_beside(self) -> int:
        """A new connector, and what joins its far end to the shield; common practice, no source."""
        return 2

    @property
    def begins(self) -> str:
        """How long it is and which way its mouth points, if its name does not say so, and where."""
        said = [super().begins]
        if _MOUTH[self.mouth] not in self.label:
            said.insert(0, _TOWARDS[self.mouth])
        if self.length is not None and small(self.length) not in self.label:
            said.insert(0, f"{small(self.length)} long")
        return ", ".join(said)

    def withstand(self, host: Host) -> float:
        """Peak voltage by the air at its mouth. [V]"""
        gap = 0.5 * (bore(self.pipe) - host.cable.shield_diameter)
        return working_value("air-strength") * gap
