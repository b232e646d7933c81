"""Worked example of a kind of choke: a trap, tuned to one frequency."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from models.quantities import Quantity
from pipeline.chokes.kind import Choke


@dataclass(frozen=True, kw_only=True)
class TrapChoke(Choke):
    """Coil of the cable with a capacitor across it, tuned to one frequency."""

    kind: ClassVar[str] = "trap"
    resonance: Annotated[float, Quantity("Hz", 30e6, 500e6, "its resonance", "145 MHz")]
    peak: Annotated[float, Quantity("ohm", 10, 1e5, "resistance in resonance", "8 kohm")]
    quality: Annotated[float, Quantity("1", 1, 1e3, "that over the coil's reactance", "60")]

    def impedance(self, f, host):
        """Resistance, coil and capacitor side by side, shape (n_f,) [ohm]."""
        return self.peak / (1 + 1j * self.quality * (f / self.resonance - self.resonance / f))
