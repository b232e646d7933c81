"""Cores compared: the same size in every material, and what goes over a cable.

Catalogue entries in, impedances of one pass and fits out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from models.catalogues.parts import (
    CoaxClass,
    FerriteCore,
    ferrite_cores,
    ferrite_material,
    takes_cable,
)
from pipeline.circuit.ferrite_and_sleeve import ferrite_impedance, interpolate_over_log_f

# Two short-wave and two FM or land-mobile bands: resistance moves from one mix to another [Hz].
SHOWN_HZ = (7e6, 50e6, 145e6, 435e6)


@dataclass(frozen=True)
class MaterialRow:
    """One core with its impedance [ohm] at some frequencies; ``None`` where its data end."""

    core: FerriteCore
    material: str
    z: tuple[complex | None, ...]
    lowest: float
    highest: float


def one_pass(core: FerriteCore, f: float) -> complex | None:
    """Impedance that one core adds to a cable through it once [ohm]; None beyond the mix's data.

    ``f`` [Hz]; :func:`ferrite_impedance` of the catalogue's size and permeability. Definition.

    Examples
    --------
    >>> core = next(c for c in ferrite_cores() if c.id == "mix-43-clamp-12-7")
    >>> one_pass(core, 145e6).real > 100, one_pass(core, 1.0)
    (True, None)
    """
    material = ferrite_material(core.material)
    if not material.frequency[0] <= f <= material.frequency[-1]:
        return None
    mu_r = interpolate_over_log_f(f, material.frequency, material.mu_r)
    size = (core.outer_diameter, core.inner_diameter, core.length)
    return complex(ferrite_impedance(f, mu_r, *size))


def looser(
    cores: Sequence[FerriteCore], f: float, prices: Mapping[str, float]
) -> tuple[FerriteCore, ...]:
    """Cores that a tighter one of the same mix and shape betters: no longer, and no less of it.

    ``cores`` are all that go over the cable, ``f`` is in Hz; one that has a price (by id) may be
    worth its while.
    """

    def betters(tight: FerriteCore, core: FerriteCore) -> bool:
        alike = (tight.material, tight.shape) == (core.material, core.shape)
        smaller = tight.hole_diameter < core.hole_diameter and tight.length <= core.length
        z, other = one_pass(tight, f), one_pass(core, f)
        return alike and smaller and z is not None and other is not None and abs(z) >= abs(other)

    return tuple(c for c in cores if c.id not in prices and any(betters(t, c) for t in cores))


def common_size(cable: CoaxClass) -> tuple[FerriteCore, ...]:
    """One core of every material in the size that comes in most materials and takes the cable.

    Of all sizes where none takes it.
    """
    every = ferrite_cores()
    usable = [core for core in every if takes_cable(core, cable.jacket_diameter)] or list(every)
    kinds = {(_size(core), core.material) for core in usable}
    counted = Counter(size for size, _ in kinds)
    best = max(counted, key=lambda size: counted[size])
    first: dict[str, FerriteCore] = {}
    for core in usable:
        if _size(core) == best:
            first.setdefault(core.material, core)
    return tuple(first.values())


def _size(core: FerriteCore) -> tuple[float, float, float]:
    return core.outer_diameter, core.inner_diameter, core.length


def material_rows(cable: CoaxClass, frequencies: tuple[float, ...]) -> tuple[MaterialRow, ...]:
    """The same size in every material, most resistance at the last frequency but one first.

    ``frequencies`` [Hz] are those where impedances are wanted.
    """
    rows = []
    for core in common_size(cable):
        material = ferrite_material(core.material)
        z = tuple(one_pass(core, f) for f in frequencies)
        ends = float(material.frequency[0]), float(material.frequency[-1])
        rows.append(MaterialRow(core, material.name, z, *ends))
    return tuple(sorted(rows, key=lambda row: -_resistance(row.z[-2:][0])))


def _resistance(z: complex | None) -> float:
    return -np.inf if z is None else z.real
