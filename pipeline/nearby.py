"""How much current flows on what stands around the antenna."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.metalwork import MAST, OWN_PARTS
from models.structure import Structure

# Segments of a cage at the same height carry one current together; hoops and spokes lie level.
_UPRIGHT = 0.5
_SAME_HEIGHT = 1e-4


@dataclass(frozen=True)
class NearbyCurrent:
    """Largest current on a part, per feed current, and the height where it flows [m]."""

    part: str
    ratio: float
    height: float


def nearby_currents(
    structure: Structure, current: NDArray[np.complex128], i_feed: complex
) -> tuple[NearbyCurrent, ...]:
    """Largest current on every part that is neither antenna nor our own cable.

    Parameters
    ----------
    structure : Structure
        Installation with what stands around it.
    current : ndarray, shape (n_segment,)
        Currents of all its segments. [A]
    i_feed : complex
        Current into the feed. [A]

    Returns
    -------
    tuple of NearbyCurrent
        In the order in which the parts were drawn; empty where nothing stands around.
    """
    seg = structure.segments
    part_of = np.array([w.part for w in structure.wires])[seg.wire]
    found = []
    for part in structure.parts():
        if part in OWN_PARTS:
            continue
        chosen = part_of == part
        if part == MAST:
            chosen &= np.abs(seg.direction[:, 2]) > _UPRIGHT
        height, along = seg.centre[chosen, 2], current[chosen]
        if part == MAST:
            level, which = np.unique(np.round(height / _SAME_HEIGHT), return_inverse=True)
            sums = np.zeros(len(level), complex)
            np.add.at(sums, which, along * np.sign(seg.direction[chosen, 2]))
            height, along = level * _SAME_HEIGHT, sums
        k = int(np.argmax(np.abs(along)))
        ratio = float(np.abs(along[k]) / np.abs(i_feed))
        found.append(NearbyCurrent(part, ratio, float(height[k])))
    return tuple(found)
