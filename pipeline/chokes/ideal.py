"""An infinite series impedance: the reference, and what the best choke could do at a place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from pipeline.chokes.kind import Choke, Host

# Ten thousand times the impedance of the best resonant sleeve, and still small enough for
# 1 + Y Z to keep its digits in double precision.
IDEAL_CHOKE_OHM = 1e9


# Nearest to the axis of what the cable is joined to that a choke can sit. [m]
_NEAREST, _IN_PIPE_DIAMETERS = 0.05, 1.5


def first_place(pipe_diameter: float) -> float:
    """Place of a first core along the cable, for a pipe of a diameter [m]. [m] Definition.

    Examples
    --------
    >>> first_place(0.022), first_place(0.042)
    (0.05, 0.063)
    """
    return max(_NEAREST, _IN_PIPE_DIAMETERS * pipe_diameter)


@dataclass(frozen=True, kw_only=True)
class IdealChoke(Choke):
    """An infinite impedance, to see what the best choke could do at a place."""

    kind: ClassVar[str] = "ideal"
    is_real: ClassVar[bool] = False

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Its one name."""
        return "perfect choke"

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """So much at all frequencies that no current passes, shape (n_f,) [ohm]."""
        return np.full(len(f), IDEAL_CHOKE_OHM, dtype=np.complex128)

    def curves(self) -> tuple[()]:
        """No curve: it has no frequency dependence to show."""
        return ()
