"""Cores by themselves: the impedance of one pass, how sure it is, and which do less than another.

Catalogue entries in, impedances and cores out. What is printed or measured of a core goes before
what its size and the permeability of its mix give; how far either may be off is asked here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from models.catalogues.core_curves import CoreCurve, core_curves, scatter_of
from models.catalogues.parts import FerriteCore, ferrite_material, is_split
from models.catalogues.working_limits import working_value
from pipeline.circuit.ferrite_and_sleeve import (
    ferrite_impedance,
    gapped_permeability,
    interpolate_over_log_f,
)

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


def computed_impedance(core: FerriteCore, f: Real) -> Complex:
    """Impedance of one pass from size and permeability alone, shape (n_f,). [ohm]

    ``f`` [Hz]. A clamp-on has air between its halves, twice that of in_use.csv. Raises ValueError
    beyond the data of the mix. Definition: :func:`ferrite_impedance`.
    """
    material = ferrite_material(core.material)
    mu_r = interpolate_over_log_f(f, material.frequency, material.mu_r)
    if is_split(core):
        gap = 2 * working_value("clamp-gap")
        mu_r = gapped_permeability(mu_r, gap, core.outer_diameter, core.inner_diameter)
    return ferrite_impedance(f, mu_r, core.outer_diameter, core.inner_diameter, core.length)


def core_impedance(core: FerriteCore, f: Real) -> Complex:
    """Impedance of one pass as far as it is known, shape (n_f,). [ohm]

    ``f`` [Hz]. Where the core has a curve of its own, that: resistance and reactance as they are,
    or a size with the phase that is computed, along lines over log f. Beyond its ends what is
    computed keeps the ratio of the nearest one. Raises ValueError where neither is known.
    Definition.
    """
    curve = core_curves().get(core.id)
    if curve is None:
        return computed_impedance(core, f)
    inside = (curve.frequency[0] <= f) & (f <= curve.frequency[-1])
    z = np.zeros(f.shape, complex)
    if (~inside).any():
        z[~inside] = _held_ratio(core, curve, f[~inside]) * computed_impedance(core, f[~inside])
    if inside.any():
        z[inside] = _on_curve(core, curve, f[inside])
    return z


def _on_curve(core: FerriteCore, curve: CoreCurve, f: Real) -> Complex:
    """Impedance between the first and the last point of a curve, shape (n_f,). [ohm]"""
    if curve.z is not None:
        return interpolate_over_log_f(f, curve.frequency, curve.z)
    size = interpolate_over_log_f(f, curve.frequency, curve.size).real
    computed = computed_impedance(core, f)
    return np.asarray(size * computed / np.abs(computed))


def _held_ratio(core: FerriteCore, curve: CoreCurve, f: Real) -> Real:
    """Known over computed size at the end of a curve that is nearest to each frequency. [-]"""
    ends = curve.frequency[[0, -1]]
    low, high = curve.size[[0, -1]] / np.abs(computed_impedance(core, ends))
    return np.asarray(np.where(f < ends[0], low, high))


def core_spread(core: FerriteCore, f: float) -> tuple[float, float]:
    """Least and largest factor on :func:`core_impedance` at a frequency [Hz]. [-]

    The tolerance of a curve of its own; else the scatter of its class about what is computed.
    Definition.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> core_spread(ferrite_core("mix-43-clamp-18"), 145e6)
    (0.8, 1.6)
    >>> core_spread(ferrite_core("mix-43-clamp-12-7"), 25e6)
    (0.8, 1.2)
    """
    curve = core_curves().get(core.id)
    if curve is not None and curve.reaches(f):
        return 1 - curve.tolerance, 1 + curve.tolerance
    scatter = scatter_of(core.material, f)
    held = 1.0 if curve is None else float(_held_ratio(core, curve, np.array([f]))[0])
    return scatter.low / held, scatter.high / held


def known_from(core: FerriteCore, f: float) -> str:
    """Where the impedance at a frequency [Hz] is from: a confidence of the catalogue, "computed".

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> known_from(ferrite_core("mix-43-clamp-12-7"), 25e6)
    'handbook'
    >>> known_from(ferrite_core("mix-43-clamp-12-7"), 145e6)
    'computed'
    """
    curve = core_curves().get(core.id)
    return curve.confidence if curve is not None and curve.reaches(f) else "computed"


def one_pass(core: FerriteCore, f: float) -> complex | None:
    """Impedance that one core adds to a cable through it once [ohm]; None where it is not known.

    ``f`` [Hz]; :func:`core_impedance`. Definition.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_cores
    >>> core = next(c for c in ferrite_cores() if c.id == "mix-43-clamp-12-7")
    >>> one_pass(core, 145e6).real > 100, one_pass(core, 1.0)
    (True, None)
    """
    try:
        return complex(core_impedance(core, np.array([f]))[0])
    except ValueError:
        return None


def least_and_most(core: FerriteCore, f: float) -> tuple[float, float] | None:
    """Size of the impedance of one pass at a frequency [Hz], between which it lies [ohm].

    None where it is not known. Definition.
    """
    z = one_pass(core, f)
    if z is None:
        return None
    low, high = core_spread(core, f)
    return low * abs(z), high * abs(z)


def looser(
    cores: Sequence[FerriteCore], f: float, prices: Mapping[str, float]
) -> tuple[FerriteCore, ...]:
    """Cores that a tighter one of the same mix and shape betters: no longer, and no less of it.

    ``cores`` are all that go over the cable, ``f`` is in Hz; one that has a price (by id) may be
    worth its while. Pieces of one mix scatter alike, so sizes decide; mixes are not held against
    each other.
    """

    def betters(tight: FerriteCore, core: FerriteCore) -> bool:
        alike = (tight.material, tight.shape) == (core.material, core.shape)
        smaller = tight.hole_diameter < core.hole_diameter and tight.length <= core.length
        if not (alike and smaller):
            return False
        ends, other = least_and_most(tight, f), least_and_most(core, f)
        return (
            ends is not None and other is not None and ends[0] >= other[0] and ends[1] >= other[1]
        )

    return tuple(c for c in cores if c.id not in prices and any(betters(t, c) for t in cores))
