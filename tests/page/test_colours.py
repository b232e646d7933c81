"""Lines of the three states stay apart for those who see few colours, on screenshots of the page.

What they see is simulated after Machado, Oliveira and Fernandes, "A physiologically-based model for
simulation of color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291: a matrix on
linear RGB, here for cones that lack altogether. Lightness is that of CIE 15 (L*), contrast that of
WCAG 2.2.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.page.watched import Watched, wait_until

# Severity 1.0 of the authors' tables.
MATRICES = {
    "all colours": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
STATES = ("set", "ideal", "bare")
# Apart in lightness, for lines of like dashes: a tenth of the whole scale is plain beside another.
APART = 10
# WCAG 2.2, success criterion 1.4.11: graphics beside what is around them.
CONTRAST = 3


def linear(picture: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear RGB of sRGB (IEC 61966-2-1)."""
    return np.where(picture <= 0.04045, picture / 12.92, ((picture + 0.055) / 1.055) ** 2.4)


def luminance(picture: NDArray[np.float64], matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Relative luminance of each dot as it is seen."""
    simulated = np.clip(linear(picture) @ matrix.T, 0, 1)
    return np.asarray(simulated @ [0.2126, 0.7152, 0.0722])


def lightness(y: float) -> float:
    """L* of a relative luminance."""
    return 116 * np.cbrt(y) - 16 if y > 0.008856 else 903.3 * y


def contrast(one: float, other: float) -> float:
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def pieces(row: NDArray[np.bool_]) -> int:
    """Pieces of ink along a line."""
    return int(np.count_nonzero(np.diff(row.astype(int), prepend=0) == 1))


def test_the_simulation_leaves_grey_as_it_is() -> None:
    """What has no colour is seen alike by all: rows of the matrices have the sum one."""
    for matrix in MATRICES.values():
        assert matrix.sum(axis=1) == pytest.approx(1, abs=2e-6)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_three_states_stay_apart_in_lightness_or_dashes(
    scheme: str, report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report, color_scheme=scheme, device_scale_factor=4).page
    # Until the script has made its legend the still one stands there.
    wait_until(page, "document.documentElement.dataset.live !== undefined")
    lines = {}
    for state in STATES:
        picture = page.locator(f".legend svg:has(.{state}):visible").first.screenshot()
        lines[state] = matplotlib.image.imread(io.BytesIO(picture))[:, :, :3].astype(float)
    for deficiency, matrix in MATRICES.items():
        found = {}
        for state, picture in lines.items():
            y = luminance(picture, matrix)
            paper = y[0, 0]
            far = np.abs(y - paper)
            ink = y.flat[far.argmax()]
            assert contrast(ink, paper) >= CONTRAST, (state, deficiency)
            row = far[far.sum(axis=1).argmax()] > 0.5 * far.max()
            found[state] = (pieces(row), lightness(float(ink)))
        for one, other in itertools.combinations(STATES, 2):
            apart = abs(found[one][1] - found[other][1])
            assert found[one][0] != found[other][0] or apart >= APART, (one, other, deficiency)


def test_lines_of_the_pictures_are_drawn_as_their_legend_is(
    report: Path, opened: Callable[..., Watched]
) -> None:
    page = opened(report).page
    look = """(state) => [...document.querySelectorAll(`path.${state}`)].map((e) =>
      [getComputedStyle(e).stroke, getComputedStyle(e).strokeDasharray].join(' '))"""
    looks = {state: set(page.evaluate(look, state)) for state in STATES}
    assert {state: len(found) for state, found in looks.items()} == dict.fromkeys(STATES, 1)
    assert len(set.union(*looks.values())) == len(STATES)
