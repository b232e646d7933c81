"""One core that its owner has measured: a network analyser's sweep in, its impedance out.

What is measured is one pass of a wire through one core; the methods and what a fixture adds are
those of :mod:`fixture_methods`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.chokes.fixture_methods import (
    Method,
    Standards,
    choke_table,
    fixture_impedance,
    fixture_remarks,
    trust,
)
from pipeline.text.refusals import FieldError

# What a file of one port or two is taken for where the study names no method.
_USUAL: dict[int, Method] = {1: "reflection", 2: "y21"}
# Keys that say how a core was measured, and mean nothing without a measurement.
KEYS = ("measured", "method", "fixture")


@dataclass(frozen=True)
class MeasuredCore:
    """Impedance ``z`` [ohm] of one pass through one core at rising frequencies ``f`` [Hz].

    ``file`` and ``fixture`` are names of files beside the study, ``method`` how the impedance
    follows from the first, ``remarks`` what is worth knowing about it.
    """

    file: str
    method: Method
    f: tuple[float, ...]
    z: tuple[complex, ...]
    remarks: tuple[str, ...] = ()
    fixture: tuple[str, ...] = ()

    def impedance(self, f: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Impedance between the measured points, shape (n_f,) [ohm]; ValueError beyond them."""
        from pipeline.circuit.ferrite_and_sleeve import tabulated_impedance

        return tabulated_impedance(f, self.f, self.z)

    def said(self, f: float, listed: complex | None) -> str:
        """How far it can be trusted at a frequency [Hz]; ``listed`` [ohm] is the catalogue's."""
        z = complex(self.impedance(np.array([f]))[0])
        beside = "" if listed is None else f"; the catalogue has {abs(listed):.0f} ohm"
        remarks = "".join(f"; {remark}" for remark in self.remarks)
        return f"one core {trust(z, f, self.method)}{beside}{remarks}"


def measured_core(given: Mapping[str, Any]) -> MeasuredCore | None:
    """What the keys ``measured``, ``method`` and ``fixture`` give together; None without the first.

    Raises FieldError at the key that is wrong.
    """
    found, method, beside = (given[key] for key in KEYS)
    if found is None:
        stray = next((k for k, v in (("method", method), ("fixture", beside.given)) if v), "")
        if stray:
            rule = "says how a core was measured, and no measurement is named"
            raise FieldError(rule, "measured: core.s1p", "core-unmeasured", (stray,))
        return None
    name, network = found
    chosen: Method = method or _USUAL[network.nports]
    without = Standards(**{key: network for key, (_, network) in beside.given.items()})
    try:
        z, clipped = choke_table(network.f, fixture_impedance(network, chosen, without))
    except FieldError as error:
        at = error.at if error.at and error.at != ("file",) else ("measured",)
        raise FieldError(error.rule, error.remedy, error.tag, at) from error
    return MeasuredCore(
        file=name,
        method=chosen,
        f=tuple(network.f.tolist()),
        z=tuple(z.tolist()),
        remarks=(*fixture_remarks(network, chosen, without), *clipped),
        fixture=tuple(name for name, _ in beside.given.values()),
    )
