"""Heat that a body gives to still air: natural convection and radiation, numbers in and out."""

from __future__ import annotations

from dataclasses import dataclass

from models.catalogues.working_limits import AirTable

# Exact since 2019, 2 pi^5 k^4 / (15 h^3 c^2) (SI brochure, 9th ed., 2019). [W/(m2 K4)]
STEFAN_BOLTZMANN = 5.6703744191844314e-08
# Standard acceleration of free fall (3rd CGPM, 1901). [m/s2]
FREE_FALL = 9.80665


@dataclass(frozen=True)
class Body:
    """A round body in air: diameter [m], area that gives off heat [m2], emissivity [-]."""

    diameter: float
    area: float
    emissivity: float

    def __post_init__(self) -> None:
        if self.diameter <= 0 or self.area <= 0 or not 0 < self.emissivity <= 1:
            raise ValueError("need diameter > 0, area > 0 and 0 < emissivity <= 1")


def horizontal_cylinder_nusselt(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number of a long horizontal cylinder in a fluid at rest. [-]

    Both numbers are on the diameter; ``rayleigh`` from 0 to 1e12, else ValueError.

    References
    ----------
    .. [1] S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975), 1049.

    Examples
    --------
    >>> round(horizontal_cylinder_nusselt(1.867e6, 0.7241), 2)
    17.39
    """
    if not 0 <= rayleigh <= 1e12:
        raise ValueError(f"a Rayleigh number of {rayleigh:g} is outside 0 to 1e12")
    fluid = (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float((0.6 + 0.387 * rayleigh ** (1 / 6) / fluid) ** 2)


def film_coefficient(surface: float, ambient: float, diameter: float, air: AirTable) -> float:
    """Heat per area and temperature difference that still air carries away. [W/(m2 K)]

    ``surface`` and ``ambient`` are temperatures [K], ``diameter`` [m] that of the cylinder; the
    properties of ``air`` are taken half way between both temperatures.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, ch. 9 (h = k
       Nu / D, properties at the film temperature); from memory.
    """
    mean = 0.5 * (surface + ambient)
    conductivity, viscosity, prandtl = air.at(mean)
    buoyancy = FREE_FALL * (surface - ambient) / mean
    rayleigh = buoyancy * diameter**3 * prandtl / viscosity**2
    return conductivity / diameter * horizontal_cylinder_nusselt(rayleigh, prandtl)


def heat_given(surface: float, ambient: float, body: Body, air: AirTable) -> float:
    """Heat that a body gives to air and to walls of the same temperature. [W]

    ``surface`` and ``ambient`` are temperatures [K].

    Notes
    -----
    :func:`film_coefficient` on the whole area, ends included, and grey-body radiation to
    surroundings that are large. Correlations of this kind are good to about a tenth to a fifth.

    References
    ----------
    .. [1] F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, ch. 1 (small
       grey body in large surroundings); from memory.

    Examples
    --------
    >>> from models.catalogues.working_limits import still_air
    >>> round(heat_given(343.0, 293.0, Body(0.08, 1.508, 1.0), still_air()) / 10)     # ten watts
    100
    """
    convected = film_coefficient(surface, ambient, body.diameter, air) * (surface - ambient)
    radiated = body.emissivity * STEFAN_BOLTZMANN * (surface**4 - ambient**4)
    return float(body.area * (convected + radiated))


def temperature_rise(heat: float, body: Body, ambient: float, air: AirTable) -> float:
    """Excess over the air's temperature of a body that has to give off some heat. [K]

    ``heat`` [W], ValueError if it is negative; ``ambient`` [K] is the temperature of air and walls.
    Definition: the rise at which :func:`heat_given` is the heat.

    Examples
    --------
    >>> from models.catalogues.working_limits import still_air
    >>> temperature_rise(0.0, Body(0.026, 2e-3, 0.9), 300.0, still_air())
    0.0
    """
    if heat < 0:
        raise ValueError(f"heat = {heat} must not be negative")
    if heat == 0:
        return 0.0
    # Takes longer to load than all else here, and many jobs heat nothing.
    from scipy.optimize import brentq

    # Radiation alone would need this temperature: with the air's help it is less.
    hottest = (heat / (body.area * body.emissivity * STEFAN_BOLTZMANN) + ambient**4) ** 0.25
    found = brentq(lambda t: heat_given(t, ambient, body, air) - heat, ambient, hottest, xtol=1e-9)
    return float(found) - ambient
