"""Figure of a tuned antenna: SWR over the band before and after, and the way to the match."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from pipeline.design.match_search import swr_of
from pipeline.design.tuning import Tuned
from pipeline.design.tuning_check import Response, Verification
from pipeline.figures.page import (
    LEFT,
    EndLabel,
    Note,
    Page,
    Texts,
    band_axis,
    footer_of,
    height_of,
    label_ends,
    open_page,
    width_of,
)
from pipeline.figures.registry import figure
from pipeline.figures.style import (
    BRICK,
    CHOSEN_LINE,
    INK,
    MIST,
    NONE_LINE,
    OTHER_DASH,
    PAPER,
    SEA,
    SMALL,
    STEEL,
    Look,
)

PAGE = "tune"
_RIGHT = 1.1
# Above this nobody asks by how much; the curve leaves the picture.
_HIGHEST_SWR = 6.0


@dataclass(frozen=True)
class Match:
    """A tuned antenna as it is drawn; ``title`` is what it says as a whole."""

    tuned: Tuned
    verification: Verification
    title: str

    @property
    def best_name(self) -> str:
        """Name that the best trial deserves."""
        return "tuned" if self.tuned.met and self.verification.sound else "best found"


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

    Definition: the circle through z0 times the ratio and z0 over it. [ohm]

    Examples
    --------
    >>> centre, radius = target_circle(50.0, 2.0)
    >>> round(centre, 3), round(radius, 3)
    (62.5, 37.5)
    """
    return 0.5 * z0 * (swr + 1 / swr), 0.5 * z0 * (swr - 1 / swr)


def _swr(response: Response) -> NDArray[np.float64]:
    return np.array([swr_of(gamma) for gamma in response.fine()[1]])


def _band(ax: Axes, match: Match) -> None:
    v, target = match.verification, match.tuned.study.tune.target_swr
    x = v.before.fine()[0] / 1e6
    ax.axhline(target, color=INK, lw=0.9)
    band_axis(ax, match.tuned.study.frequency)
    curves: list[tuple[str, Response, str, Look]] = [
        ("before", v.before, STEEL, {"lw": 1.6, "ls": OTHER_DASH}),
        (match.best_name, v.after, SEA, CHOSEN_LINE.look),
    ]
    if v.bare_after is not None:
        curves.append(("without the choke", v.bare_after, BRICK, NONE_LINE.look))
    ends, highest = [], 0.0
    for name, response, colour, look in curves:
        swr = _swr(response)
        ax.plot(x, swr, **{"color": colour, **look})
        ends.append(EndLabel(float(swr[-1]), name, colour))
        highest = max(highest, float(swr.max()))
    ax.set_xlim(x.min(), x.max())
    ax.set_ylim(1.0, min(_HIGHEST_SWR, max(1.5, 1.05 * highest)))
    ax.set_ylabel("SWR at the antenna")
    ax.set_xlabel("frequency [MHz]")
    label_ends(ax, [*ends, EndLabel(target, f"target {target:g}", INK)], _RIGHT)


def _way(ax: Axes, match: Match) -> None:
    """Feed impedance of every trial in the plane of R and X, and the circle of the target."""
    tuned = match.tuned
    z0, z = tuned.study.cable.type.z0, np.array([step.z for step in tuned.steps])
    best = tuned.steps.index(tuned.best)
    centre, radius = target_circle(z0, tuned.study.tune.target_swr)
    ax.add_patch(Circle((centre, 0.0), radius, facecolor=MIST, edgecolor=BRICK, alpha=0.35, lw=0.9))
    ax.axhline(0.0, color=STEEL, lw=0.8)
    steps = improvements(np.abs((z - z0) / (z + z0)))
    ax.plot(z.real, z.imag, ls="", marker="o", ms=4, mfc=PAPER, mec=STEEL, mew=1.0)
    ax.plot(z[steps].real, z[steps].imag, color=SEA, lw=1.4, marker="o", ms=4.5)
    ax.plot([z[best].real], [z[best].imag], marker="o", ms=9, mfc="none", mec=INK, mew=1.6)
    r = np.append(z.real, [centre - radius, centre + radius])
    x = np.append(z.imag, [-radius, radius])
    width, height = width_of(ax), height_of(ax)
    # One ohm is as long one way as the other: a circle is one.
    scale = 1.25 * max(np.ptp(r) / width, np.ptp(x) / height)
    middle_r, middle_x = 0.5 * (r.min() + r.max()), 0.5 * (x.min() + x.max())
    ax.set_xlim(middle_r - 0.5 * scale * width, middle_r + 0.5 * scale * width)
    ax.set_ylim(middle_x - 0.5 * scale * height, middle_x + 0.5 * scale * height)
    found = match.best_name
    for k, name in ({0: "start", best: found} if best else {0: f"start and {found}"}).items():
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


@figure(PAGE, 10)
def tuning(match: Match) -> Page:
    """SWR over the band before and after, and the feed impedance of every trial."""
    study, e = match.tuned.study, match.verification.evidence
    z0 = study.cable.type.z0
    note = Note(
        f"Lower picture: feed impedance at the design frequency in every trial; filled, each "
        f"that was better than all before; shaded, SWR up to {study.tune.target_swr:g} in "
        f"{z0:g} Ω",
        STEEL,
    )
    evidence = (
        f"Drawing of the best lengths: {e.grade}; average gain {e.average_gain:.3f}, SWR "
        f"{match.verification.swr_refined:.2f} with segments a quarter shorter"
    )
    footer = footer_of(study.title, study.frequency)
    page = open_page(Texts(match.title, (note,), evidence, footer), 6.2)
    wide = page.width - LEFT - _RIGHT
    _band(page.panel(LEFT, 3.65, wide, 2.3), match)
    _way(page.panel(LEFT, 0.5, wide, 2.5), match)
    return page
