"""Cores by themselves: the impedance of one pass, and which of several do less than another.

Catalogue entries in, impedances and cores out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from models.catalogues.parts import (
    FerriteCore,
    ferrite_material,
)
from pipeline.circuit.ferrite_and_sleeve import ferrite_impedance, interpolate_over_log_f


def one_pass(core: FerriteCore, f: float) -> complex | None:
    """Impedance that one core adds to a cable through it once [ohm]; None beyond the mix's data.

    ``f`` [Hz]; :func:`ferrite_impedance` of the catalogue's size and permeability. Definition.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_cores
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
