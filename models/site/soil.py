"""Soil below an installation, and the resistance of a rod driven into it.

Apart from what draws earth leads, since fields over soil need no drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Length and diameter of a common rod [m]; common practice, no source.
COMMON_ROD = (2.4, 0.016)
# Where soil hardly conducts a rod leads nowhere; the most that a study may state as well. [ohm]
_MOST = 1e5


@dataclass(frozen=True)
class Soil:
    """Homogeneous ground below z = 0: relative permittivity and conductivity [S/m].

    ``approximate`` takes plane-wave reflection coefficients in place of Sommerfeld's integrals
    for the field near the ground, as a check only; the conductivity must not be zero then.
    """

    eps_r: float
    sigma: float
    approximate: bool = False
    name: str = "as given"


def ground_rod_resistance(length: float, wire_radius: float, sigma: float) -> float:
    """Low-frequency resistance to far earth of one rod driven into even soil. [ohm]

    ``length`` [m] is driven, ``wire_radius`` [m] below a tenth of it, ``sigma`` [S/m] the soil's;
    else ValueError. (ln(4 L / a) - 1) / (2 pi sigma L). At VHF the rod is a lossy line in the soil:
    use the value to rank soils, not as its impedance.

    References
    ----------
    .. [1] H. B. Dwight, Calculation of resistances to ground, AIEE Trans. 55 (1936).

    Examples
    --------
    >>> round(ground_rod_resistance(2.4, 8e-3, 0.01), 1)
    40.4
    """
    if sigma <= 0 or wire_radius <= 0 or length < 10 * wire_radius:
        raise ValueError("need sigma > 0, wire_radius > 0 and length of at least ten radii")
    return float((np.log(4 * length / wire_radius) - 1) / (2 * np.pi * sigma * length))


def common_rod(sigma: float) -> complex:
    """Impedance that the rod of a study is taken to have where it states none. [ohm]

    ``sigma`` [S/m] is the conductivity of the soil; :func:`ground_rod_resistance` of a common rod
    (Dwight, 1936) to two digits, the value is no more certain.

    Examples
    --------
    >>> common_rod(0.005), common_rod(0.0)
    ((81+0j), (100000+0j))
    """
    if sigma <= 0:
        return complex(_MOST)
    length, diameter = COMMON_ROD
    resistance = ground_rod_resistance(length, diameter / 2, sigma)
    return complex(min(_MOST, float(f"{resistance:.2g}")))
