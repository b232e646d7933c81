"""Parts and materials as frozen SI records: metal, pipe, coax, ferrite, soil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Conductor:
    """A metal and its direct-current conductivity ``sigma`` in S/m."""

    id: str
    name: str
    sigma: float
    source: str
    confidence: str


@dataclass(frozen=True)
class Pipe:
    """A tube as sold: diameter and wall in m, mass in kg/m, ``sigma`` of its metal in S/m."""

    id: str
    name: str
    standard: str
    material: str
    conductor: str
    outside_diameter: float
    wall: float
    mass_per_m: float
    sigma: float
    source: str
    confidence: str


@dataclass(frozen=True)
class CoaxClass:
    """A class of coaxial cable, lengths in m.

    The matched loss is ``k1 * sqrt(f) + k2 * f`` in dB per metre with f in Hz, so k1 is in
    dB/(m sqrt(Hz)) and k2 in dB/(m Hz). ``loss_confidence`` belongs to k1 and k2,
    ``confidence`` to everything else. ``average_power`` [W] is what the maker allows all the time
    into a match at ``average_power_frequency`` [Hz], ``None`` where no source gives it;
    ``power_source`` says where it is from. ``also`` are other words it goes by.
    """

    id: str
    name: str
    also: str
    z0: float
    velocity_factor: float
    shield_diameter: float
    jacket_diameter: float
    jacket_material: str
    jacket_eps_r: float
    bend_radius_install: float
    bend_radius_repeated: float
    k1: float
    k2: float
    loss_confidence: str
    mass_per_m: float
    average_power: float | None
    average_power_frequency: float | None
    power_source: str
    source: str
    confidence: str
    note: str


@dataclass(frozen=True)
class FerriteCore:
    """A ring, bead or clamp-on core; lengths in m, mass in kg.

    ``inner_diameter`` is that of the ferrite, ``hole_diameter`` the thickest cable that goes
    through; ``material`` is the id of a :class:`FerriteMaterial`. One that is not ``on_sale`` is
    there to compare materials and is never recommended.
    """

    id: str
    name: str
    shape: str
    material: str
    outer_diameter: float
    inner_diameter: float
    length: float
    hole_diameter: float
    mass: float
    on_sale: bool
    source: str
    confidence: str
    note: str


@dataclass(frozen=True, eq=False)
class FerriteMaterial:
    """Complex permeability ``mu_r`` = mu' - j mu'' over ``frequency`` (Hz, rising)."""

    id: str
    name: str
    frequency: NDArray[np.float64]
    mu_r: NDArray[np.complex128]
    source: str
    confidence: str


@dataclass(frozen=True)
class SoilClass:
    """A class of ground: relative permittivity and conductivity in S/m."""

    id: str
    name: str
    eps_r: float
    sigma: float
    source: str
    confidence: str
    note: str


@dataclass(frozen=True)
class OwnParts:
    """Parts that a study brings along, beside those of the catalogue; ``files`` they stand in."""

    cables: tuple[CoaxClass, ...] = ()
    cores: tuple[FerriteCore, ...] = ()
    pipes: tuple[Pipe, ...] = ()
    files: tuple[str, ...] = ()


NO_PARTS = OwnParts()
