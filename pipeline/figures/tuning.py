"""Figure of a tuned antenna: SWR over the band before and after, and the way to the match.

Arrays in, one picture out; knows nothing of studies.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from pipeline.figures.style import (
    BRICK,
    INK,
    MIST,
    OCHRE,
    SEA,
    SMALL,
    STEEL,
    EndLabel,
    Note,
    Words,
    label_ends,
    open_page,
    save,
    style,
)

LEFT, RIGHT = 0.66, 1.1
WIDE = 5.8 - LEFT - RIGHT
# Above this nobody asks by how much; the curve leaves the picture.
HIGHEST_SWR = 6.0


@dataclass(frozen=True)
class Picture:
    """What is drawn.

    ``frequency``, ``swr_before`` and ``swr_after`` have shape (n_f,) [Hz, -, -]; ``z`` (n,) holds
    the feed impedance of every trial in order [ohm], ``best`` the index of the best one; ``z0``
    [ohm] is the cable's impedance, ``target_swr`` what was wanted, ``best_name`` how the best
    trial may be called, ``swr_bare`` (n_f,) that of the best lengths without a choke.
    """

    frequency: NDArray[np.float64]
    centre: float
    swr_before: NDArray[np.float64]
    swr_after: NDArray[np.float64]
    z: NDArray[np.complex128]
    best: int
    z0: float
    target_swr: float
    best_name: str
    swr_bare: NDArray[np.float64] | None = None


def improvements(size: NDArray[np.float64]) -> list[int]:
    """Indices of what is smaller than everything before it.

    Examples
    --------
    >>> improvements(np.array([0.3, 0.4, 0.2, 0.25, 0.1]))
    [0, 2, 4]
    """
    least = np.minimum.accumulate(size)
    return [k for k in range(len(size)) if k == 0 or least[k] < least[k - 1]]


def target_circle(z0: float, swr: float) -> tuple[float, float]:
    """Centre on the axis of resistances and radius of all impedances of one standing-wave ratio.

    Examples
    --------
    >>> centre, radius = target_circle(50.0, 2.0)
    >>> round(centre, 3), round(radius, 3)
    (62.5, 37.5)
    """
    return 0.5 * z0 * (swr + 1 / swr), 0.5 * z0 * (swr - 1 / swr)


def _band(ax: Axes, picture: Picture) -> None:
    x = picture.frequency / 1e6
    ax.axhline(picture.target_swr, color=BRICK, lw=0.9, ls=":")
    ax.axvline(picture.centre / 1e6, color=STEEL, lw=0.8, ls=":")
    ax.plot(x, picture.swr_before, color=STEEL, lw=1.6, ls=(0, (4, 2)))
    ax.plot(x, picture.swr_after, color=SEA, lw=2.2)
    bare = picture.swr_bare
    if bare is not None:
        ax.plot(x, bare, color=OCHRE, lw=1.6, ls=(0, (1.2, 1.6)))
    curves = [picture.swr_before, picture.swr_after, *([] if bare is None else [bare])]
    highest = float(max(curve.max() for curve in curves))
    ax.set_xlim(x.min(), x.max())
    ax.set_ylim(1.0, min(HIGHEST_SWR, max(1.5, 1.05 * highest)))
    ax.set_ylabel("SWR at the antenna")
    ax.set_xlabel("frequency [MHz]")
    ax.ticklabel_format(useOffset=False)
    ax.xaxis.set_major_locator(MaxNLocator(5))
    ends = (
        EndLabel(float(picture.swr_before[-1]), "before", STEEL),
        EndLabel(float(picture.swr_after[-1]), picture.best_name, SEA),
        *([] if bare is None else [EndLabel(float(bare[-1]), "without the choke", OCHRE)]),
        EndLabel(picture.target_swr, f"target {picture.target_swr:g}", BRICK),
    )
    label_ends(ax, ends, RIGHT)


def _way(ax: Axes, picture: Picture) -> None:
    z = picture.z
    centre, radius = target_circle(picture.z0, picture.target_swr)
    ax.add_patch(Circle((centre, 0.0), radius, facecolor=MIST, edgecolor=BRICK, alpha=0.35, lw=0.9))
    ax.axhline(0.0, color=STEEL, lw=0.8)
    steps = improvements(np.abs((z - picture.z0) / (z + picture.z0)))
    ax.plot(z.real, z.imag, ls="", marker="o", ms=4, mfc="white", mec=STEEL, mew=1.0)
    ax.plot(z[steps].real, z[steps].imag, color=SEA, lw=1.4, marker="o", ms=4.5)
    best = z[picture.best]
    ax.plot([best.real], [best.imag], marker="o", ms=9, mfc="none", mec=INK, mew=1.6)
    r = np.append(z.real, [centre - radius, centre + radius])
    x = np.append(z.imag, [-radius, radius])
    box = ax.get_position()
    width, height = box.width * 5.8, box.height * ax.figure.get_figheight()  # type: ignore[union-attr]
    # One ohm is as long one way as the other: a circle is one.
    scale = 1.25 * max(np.ptp(r) / width, np.ptp(x) / height)
    middle_r, middle_x = 0.5 * (r.min() + r.max()), 0.5 * (x.min() + x.max())
    ax.set_xlim(middle_r - 0.5 * scale * width, middle_r + 0.5 * scale * width)
    ax.set_ylim(middle_x - 0.5 * scale * height, middle_x + 0.5 * scale * height)
    found = picture.best_name
    names = {0: "start", picture.best: found} if picture.best else {0: f"start and {found}"}
    for k, name in names.items():
        ax.annotate(
            name,
            (z[k].real, z[k].imag),
            xytext=(-8, 8) if k == 0 else (9, -15),
            textcoords="offset points",
            ha="right" if k == 0 else "left",
            size=SMALL,
            color=STEEL if k == 0 else INK,
        )
    ax.set_xlabel("R [Ω]")
    ax.set_ylabel("X [Ω]")
    ax.xaxis.set_major_locator(MaxNLocator(6))
    ax.yaxis.set_major_locator(MaxNLocator(6))


def draw(target: Path, picture: Picture, title: str, evidence: str, footer: str) -> None:
    """Write the figure as ``target`` .png and .svg."""
    notes = (
        Note(
            f"Lower picture: feed impedance at the design frequency in every trial; filled, each "
            f"that was better than all before; shaded, SWR up to {picture.target_swr:g} in "
            f"{picture.z0:g} Ω",
            STEEL,
        ),
    )
    with style():
        page = open_page(Words(title, notes, evidence, footer), 6.2)
        _band(page.panel(LEFT, 3.65, WIDE, 2.3), picture)
        _way(page.panel(LEFT, 0.5, WIDE, 2.5), picture)
        save(page.figure, target, title)
