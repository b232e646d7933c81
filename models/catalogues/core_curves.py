"""What is known of cores beside their size and mix: printed or measured impedance, and scatter.

Curves of parts (``ferrite_curves.csv``) and how far what is computed from permeability and size may
be off, by class and frequency (``ferrite_scatter.csv``); CSV in, frozen records out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import ferrite_core, ferrite_material, named_in, rows_of
from models.catalogues.rows import DamagedCatalogue, Row

_CURVES, _SCATTER = "ferrite_curves.csv", "ferrite_scatter.csv"
# Rows of the scatter that are no class of ferrite: every other class, and a core of one's own.
ANY_OTHER, OWN_MEASUREMENT = "any-other", "own-measurement"


@dataclass(frozen=True, eq=False)
class CoreCurve:
    """Impedance of one pass through one core over ``frequency`` [Hz, rising], (n,) each.

    ``size`` is that of the impedance, ``z`` [ohm] the impedance itself where resistance and
    reactance are known, else ``None``; ``tolerance`` relative, from piece to piece.
    """

    core: str
    frequency: NDArray[np.float64]
    size: NDArray[np.float64]
    z: NDArray[np.complex128] | None
    tolerance: float
    source: str
    confidence: str

    def reaches(self, f: float) -> bool:
        """Whether a frequency [Hz] lies between its first and its last point."""
        return bool(self.frequency[0] <= f <= self.frequency[-1])


@dataclass(frozen=True)
class Scatter:
    """Factors ``low`` to ``high`` on a computed impedance between two frequencies. [Hz]"""

    of: str
    start: float
    stop: float
    low: float
    high: float
    source: str
    confidence: str


def _curve(rows: Sequence[Row]) -> CoreCurve:
    """Curve of the rows of one core: all with resistance and reactance, or all with the size."""
    first = rows[0]
    f = np.array([row.number("frequency_mhz", 0.1, 2000) * 1e6 for row in rows])
    falls = np.flatnonzero(np.diff(f) <= 0)
    if falls.size:
        raise DamagedCatalogue(first.file, rows[falls[0] + 1].line, "frequency does not rise")
    z = None
    if first.cells["z_ohm"].strip():
        size = np.array([row.number("z_ohm", 0.1, 1e5) for row in rows])
    else:
        r = np.array([row.number("r_ohm", 0, 1e5) for row in rows])
        z = r + 1j * np.array([row.number("x_ohm", -1e5, 1e5) for row in rows])
        size = np.abs(z)
    for values in (f, size, z):
        # Cached and shared: nobody may write into it.
        if values is not None:
            values.flags.writeable = False
    return CoreCurve(
        core=named_in(first, "core", ferrite_core).id,
        frequency=f,
        size=size,
        z=z,
        tolerance=max(row.number("tolerance", 0.01, 0.5) for row in rows),
        source=first.text("source"),
        confidence=first.confidence(),
    )


@cache
def core_curves() -> dict[str, CoreCurve]:
    """Every curve of ferrite_curves.csv by the id of its core."""
    values = ("frequency_mhz", "r_ohm", "x_ohm", "z_ohm", "tolerance")
    rows = rows_of(_CURVES, "core", *values, "source", "confidence", "note")
    found = [_curve(list(group)) for _, group in groupby(rows, key=lambda row: row.text("core"))]
    curves = {curve.core: curve for curve in found}
    if len(curves) < len(found):
        raise DamagedCatalogue(_CURVES, 1, "the rows of one core do not stand together")
    return curves


def spread_of_readings() -> tuple[float, float]:
    """Least and most that readings of ferrite parts are of what is computed, of all classes. [-]

    Definition.
    """
    return min(s.low for s in scatters()), max(s.high for s in scatters())


@cache
def scatters() -> tuple[Scatter, ...]:
    """Every row of ferrite_scatter.csv."""
    values = ("class", "from_mhz", "to_mhz", "low", "high")
    return tuple(
        Scatter(
            of=_class_of(row),
            start=row.number("from_mhz", 0.1, 2000, 1e6),
            stop=row.number("to_mhz", 0.1, 2000, 1e6),
            low=row.number("low", 0.1, 1),
            high=row.number("high", 1, 3),
            source=row.text("source"),
            confidence=row.confidence(),
        )
        for row in rows_of(_SCATTER, *values, "source", "confidence", "note")
    )


def _class_of(row: Row) -> str:
    """Mix that a row is about, or one of the words that are none."""
    word = row.text("class")
    if word in (ANY_OTHER, OWN_MEASUREMENT):
        return word
    return named_in(row, "class", ferrite_material).id


def scatter_of(of: str, f: float) -> Scatter:
    """Scatter of a class at a frequency [Hz]; that of any other where it has no row of its own.

    Examples
    --------
    >>> found = scatter_of("mix-43", 145e6)
    >>> found.low, found.high
    (0.8, 1.6)
    >>> scatter_of("mix-61", 145e6).of
    'any-other'
    """
    own = (row for row in scatters() if row.of == of and row.start <= f < row.stop)
    return next(own, None) or next(row for row in scatters() if row.of == ANY_OTHER)
