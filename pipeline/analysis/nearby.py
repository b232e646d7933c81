"""Current on what stands around the antenna."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.site.metalwork import MAST, OWN_PARTS
from models.wires.structure import Structure

# Segments of a cage at the same height carry one current together; hoops and spokes lie level.
_UPRIGHT = 0.5
_SAME_HEIGHT = 1e-4
# Fewest wires of a cage; a gutter that turns back has two legs abreast.
_CAGE = 3


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

    ``current`` (n_segment,) [A] of all segments, ``i_feed`` [A] into the feed; in the order in
    which the parts were drawn, empty where nothing stands around.
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
            level, which = np.unique(np.round(height / _SAME_HEIGHT), return_inverse=True)
            sums = np.zeros(len(level), complex)
            np.add.at(sums, which, along * np.sign(seg.direction[chosen, 2]))
            height, along = level * _SAME_HEIGHT, sums
        else:
            height, along = _side_by_side(
                seg.centre[chosen], seg.direction[chosen], current[chosen]
            )
        k = int(np.argmax(np.abs(along)))
        ratio = float(np.abs(along[k]) / np.abs(i_feed))
        found.append(NearbyCurrent(part, ratio, float(height[k])))
    return tuple(found)


def _side_by_side(
    centre: NDArray[np.float64],
    direction: NDArray[np.float64],
    current: NDArray[np.complex128],
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Heights [m] and currents of conductors: three or more segments abreast are one, a cage.

    ``centre`` and ``direction`` have shape (n, 3), ``current`` (n,).
    """
    largest = np.take_along_axis(direction, np.abs(direction).argmax(axis=1)[:, None], axis=1)
    sign = np.sign(largest[:, 0])
    way = direction * sign[:, None]
    place = np.einsum("ij,ij->i", centre, way) / _SAME_HEIGHT
    # Off the round numbers, on which places that are equal would fall to either side.
    keys = np.round(np.column_stack([100 * way, place]) + 0.37)
    _, which, count = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    which = np.where(count[which] >= _CAGE, which, len(count) + np.arange(len(which)))
    _, which, count = np.unique(which, return_inverse=True, return_counts=True)
    sums = np.zeros(len(count), complex)
    np.add.at(sums, which, current * sign)
    return np.bincount(which, centre[:, 2]) / count, sums
