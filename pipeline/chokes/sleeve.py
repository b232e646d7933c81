"""A sleeve: pipe over the cable, shorted to the shield at its far end, open towards the antenna."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, Pipe, bore, conductor, goes_into
from models.catalogues.working_limits import working_value
from models.lengths import small
from models.quantities import Derived, Part, Quantity
from pipeline.chokes.kind import Choke, Host, OwnUnknown
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity

if TYPE_CHECKING:
    from pipeline.circuit.ferrite_and_sleeve import SleeveSection


@dataclass(frozen=True, kw_only=True)
class SleeveChoke(Choke):
    """Pipe over the cable, shorted to the shield at its far end."""

    kind: ClassVar[str] = "sleeve"
    shorter: ClassVar[str] = "a shorter sleeve"
    is_resonant: ClassVar[bool] = True
    unknown: ClassVar[OwnUnknown] = OwnUnknown(
        "sleeve", "the length of the sleeve (1: as stated)", "measure the sleeve"
    )

    pipe: Annotated[Pipe, Part("pipe")]
    length: Annotated[
        float | None,
        Quantity("m", 0.05, 3.0, "length of the sleeve", "0.5 m"),
        Derived("a quarter wave inside the sleeve, derived"),
    ]

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Pipe of the sleeve."""
        return f"shorted sleeve of {given['pipe'].name} pipe"

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
        """Impedance at its mouth, shape (n_f,) [ohm]."""
        from pipeline.circuit.ferrite_and_sleeve import sleeve_impedance

        return sleeve_impedance(f, self.extent(host), self.section(host.cable))

    def drawn_impedance(
        self, host: Host, factors: Mapping[str, NDArray[np.float64]]
    ) -> NDArray[np.complex128]:
        """Impedance of sleeves that came out longer or shorter, shape (n,) [ohm]."""
        from pipeline.circuit.ferrite_and_sleeve import sleeve_impedance

        lengths = factors["sleeve"] * self.extent(host)
        return sleeve_impedance(host.frequency, lengths, self.section(host.cable))

    def extent(self, host: Host) -> float:
        """Length as given, or a quarter wave of its line at the design frequency. [m]"""
        if self.length is not None:
            return self.length
        from pipeline.circuit.ferrite_and_sleeve import sleeve_quarter_wave_length

        return sleeve_quarter_wave_length(host.frequency, self.section(host.cable))

    def cut_length(self, host: Host) -> float:
        """Length to cut the pipe to. [m]"""
        return self.extent(host)

    def settled(self, host: Host) -> Self:
        """A sleeve that stays as long as it was made, whatever cable is drawn later."""
        return replace(self, length=self.extent(host))

    def misfit(self, main: CoaxClass) -> FieldError | None:
        """A pipe too narrow for the jacket."""
        if goes_into(main.jacket_diameter, self.pipe):
            return None
        jacket = show_quantity(main.jacket_diameter, "m")
        width = show_quantity(bore(self.pipe), "m")
        rule = f"is {width} wide inside, too narrow for the jacket of {jacket}"
        return FieldError(rule, "take a wider pipe", "sleeve-narrow", ("pipe",))

    def derived_note(self, host: Host) -> str:
        """The derived length."""
        if self.length is not None:
            return ""
        return f"chokes.{self.id}.length: {small(self.extent(host))} (a quarter wave inside it)"

    @property
    def pieces_beside(self) -> int:
        """A new connector, and what joins its far end to the shield; common practice, no source."""
        return 2

    def withstand(self, host: Host) -> float:
        """Peak voltage by the air at its mouth. [V]"""
        gap = 0.5 * (bore(self.pipe) - host.cable.shield_diameter)
        return working_value("air-strength") * gap
