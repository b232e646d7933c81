"""Uncertainty of results: one standard uncertainty a source, one interval a result.

What is known about the drawing (how it compares with solutions on the real tubes) and about the
run (average gain, symmetry of the port matrix, what finer segments change) comes in; expanded
uncertainties for 95 % go out. What nobody knows about the installation is not in here.

Standard deviations found on the surface solutions (``accuracy.csv``) are combined with average
gain, reciprocity and the finer run after JCGM 100, with Student's factor for the few cases there
are. Thirteen antennas with joints of their own, solved with a cable hanging from them (C1 to C10,
E1 to E3), make up the rows "other" with the joints alone; the row of the gain is of these and the
six J-poles with legs apart, the more careful choice; that of J-poles is of all ten. The intervals
hold the tubes in nineteen of twenty points, also for a case that was left out
(tests/validation/test_calibration.py): after a change to the drawing, run it and write what it
finds. Soil and the cable's way are not in these intervals; the scatter of a core is put beside them
in judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
from scipy.special import ndtri, stdtrit

from models.catalogues.rows import read_rows

COVERAGE = 0.95
DB_PER_FIELD = 20 / np.log(10)
_FILE = Path(__file__).with_name("accuracy.csv")


# J-poles with legs apart; with so little room between them that the feed's segments are too short;
# all other antennas, with thirteen cases and four more for their joints.
Compared = Literal["apart", "close", "other"]


@dataclass(frozen=True)
class Accuracy:
    """Standard deviation of a quantity from its surface solutions, and how many there are."""

    standard: float
    cases: int


@dataclass(frozen=True)
class Checks:
    """Checks that a run makes of itself.

    ``average_gain`` of the lossless twin; ``reciprocity``, relative, of the transfer admittances
    between feed and cable; ``compared``, which comparisons with tubes speak for the drawing; and
    what a run with shorter segments changed: ``impedance`` (relative),
    ``shield_current`` and ``station_current`` (per feed current), ``gain_db`` and ``pattern_db``.
    ``before_match`` is the size of the impedance in front of a coil or capacitor in series with the
    feed over that behind it, one where there is none.
    """

    average_gain: float
    reciprocity: float
    compared: Compared
    impedance: float
    shield_current: float
    station_current: float
    gain_db: float
    pattern_db: float
    before_match: float = 1.0


@dataclass(frozen=True)
class Expanded:
    """Half-widths of 95 % intervals; relative ones are shares of the value.

    ``impedance`` (relative, any direction in the complex plane); ``current`` (relative) with
    ``shield_current`` and ``station_current`` added to it (per feed current); ``field``
    (relative, of the mean field); ``pattern_db`` added to ``current`` times a change of pattern.
    """

    impedance: float
    current: float
    shield_current: float
    station_current: float
    field: float
    pattern_db: float


@cache
def accuracy(compared: Compared) -> dict[str, Accuracy]:
    """Accuracy of each quantity that was compared, from ``accuracy.csv``.

    Legs that stand close are drawn less well, and joints other than a J-pole's otherwise: they
    have rows of their own.
    """
    columns = (
        "quantity",
        "compared",
        "standard",
        "unit",
        "cases",
        "worst",
        "worst_case",
        "source",
        "confidence",
    )
    rows = read_rows(_FILE.read_text(encoding="utf-8"), _FILE.name, columns)
    return {
        row.text("quantity"): Accuracy(
            row.number("standard", 0, 1), int(row.number("cases", 1, 99))
        )
        for row in rows
        if row.text("compared") == compared
    }


def half_width(model: Accuracy | None, *bounds: float) -> float:
    """Half-width of the 95 % interval of what has one measured and some bounded causes.

    All in one unit. ``model`` is the measured cause, with as many degrees of freedom as it has
    cases, if there is one; ``bounds`` are half-widths of the others, within which anything is as
    likely as anything else.

    Notes
    -----
    U^2 = (t_n s)^2 + k^2 sum(b^2 / 3): each cause is expanded with its own factor, Student's for
    the measured one and 1.96 for the bounds, and the results are added as squares. The effective
    degrees of freedom of G.4.1 are not used: where a cause is known from two cases, they would
    make an interval narrower when a second cause is added.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (bounds), 5.1.2 (combination), G.3 (Student's factor).

    Examples
    --------
    >>> round(half_width(Accuracy(0.02, 5)), 4), round(half_width(None, 0.03), 4)
    (0.0514, 0.0339)
    """
    tail = 0.5 + COVERAGE / 2
    measured = stdtrit(model.cases, tail) * model.standard if model else 0.0
    bounded = ndtri(tail) * np.sqrt(sum(b**2 for b in bounds) / 3)
    return float(np.hypot(measured, bounded))


def expanded(checks: Checks, known: dict[str, Accuracy]) -> Expanded:
    """Half-widths of the 95 % intervals of a case.

    Power that the twin loses or finds is an error of resistance and of gain alike. Of two
    transfer admittances that should be one, the truth is taken to lie anywhere in between. The
    antenna's own impedance was compared; what takes its reactance away leaves an error in ohms as
    it is, which is a larger share of what is left.
    """
    power = abs(checks.average_gain - 1)
    transfer = checks.reciprocity / 2
    impedance = known["impedance"]
    own = Accuracy(impedance.standard * checks.before_match, impedance.cases)
    gain = known["gain"]
    field = Accuracy(gain.standard / DB_PER_FIELD, gain.cases)
    return Expanded(
        impedance=half_width(own, power, checks.impedance),
        current=half_width(known["shield_current"], transfer),
        shield_current=half_width(None, checks.shield_current),
        station_current=half_width(None, checks.station_current),
        field=half_width(field, power / 2, checks.gain_db / DB_PER_FIELD),
        pattern_db=half_width(None, checks.pattern_db),
    )
