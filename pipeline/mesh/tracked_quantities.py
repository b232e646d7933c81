"""Quantities, cases and ways of drawing that a convergence study tracks, in a reader's words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.solver.cases import IDEAL, NONE
from pipeline.solver.structures import ANTENNA, AROUND, CABLE_RUN
from pipeline.study.records import USUAL

# What a choke changes, and what belongs to the geometry whatever is on the cable.
DIFFERENCE, GEOMETRY = "difference", "geometry"
CASES = {NONE: "no choke", IDEAL: "ideal choke", DIFFERENCE: "what the choke changes"}

SEGMENTS, WIRES, PORTS = "segment_length", "cage_wires", "port_spacing"
ZONES, GROUND, FIELD = "choke_zone_segments", "ground_model", "far_field_step"
REFLECTION, FREE_SPACE = "reflection", "free_space"
# Segments of one part of the installation at a time, where all at once are too many.
ONE_PART = {
    ANTENNA: "antenna_segment_length",
    CABLE_RUN: "cable_segment_length",
    AROUND: "metalwork_segment_length",
}
PARTS = tuple(ONE_PART.values())
# The drawing that all others are held against.
DRAWN = (SEGMENTS, "1")


@dataclass(frozen=True)
class Tracked:
    """A quantity that is tracked: name for people, unit of the table, how it is written.

    ``resolution`` is the change that no reader would see in print; ``noticed`` that which the
    verdict counts as visible, where it has such a threshold.
    """

    label: str
    unit: str
    text: str
    resolution: float
    noticed: float | None = None

    def shown(self, value: float) -> str:
        """A value in print; a share in per cent."""
        printed = 100 * value if self.text.endswith("%") else value
        return self.text.format(printed).replace("-", "−")


QUANTITIES = {
    "r": Tracked("resistance at the antenna", "ohm", "{:.1f} Ω", 0.1),
    "x": Tracked("reactance at the antenna", "ohm", "{:.1f} Ω", 0.1),
    "swr_feed": Tracked("SWR at the antenna", "1", "{:.2f}", 0.01, USUAL.swr_step),
    "shield_current_ratio_max": Tracked("most current on the cable", "1", "{:.1f} %", 0.001),
    "station_current_ratio": Tracked(
        "current at the radio", "1", "{:.1f} %", 0.001, USUAL.station_ratio
    ),
    "horizon_gain_mean": Tracked(
        "mean gain, lowest lobe", "dBi", "{:.2f} dB", 0.02, USUAL.mean_gain_db
    ),
    "average_gain": Tracked("average gain (1 is right)", "1", "{:.3f}", 0.001),
    "reciprocity": Tracked("asymmetry at the feed", "1", "{:.1f} %", 0.001),
}


def amount(quantity: str, change: float) -> str:
    """A change as it is told, nothing finer than a reader sees in print.

    Examples
    --------
    >>> amount("swr_feed", 0.034), amount("swr_feed", 0.004)
    ('by up to 0.03', 'by less than 0.01')
    """
    tracked = QUANTITIES[quantity]
    if change < tracked.resolution:
        return f"by less than {tracked.shown(tracked.resolution)}"
    return f"by up to {tracked.shown(change)}"


def unit_of(case: str, quantity: str) -> str:
    """Unit of a result in the table.

    Examples
    --------
    >>> unit_of("none", "horizon_gain_mean"), unit_of("difference", "horizon_gain_mean")
    ('dBi', 'dB')
    """
    unit = QUANTITIES[quantity].unit
    return "dB" if case == DIFFERENCE and unit == "dBi" else unit


@dataclass(frozen=True)
class Variation:
    """A kind of other drawing in words: of one such drawing, as a test, and once it was tried."""

    label: str
    test: str = ""
    tried: str = ""


_VARIATIONS = {
    SEGMENTS: Variation("segments × {}", "shorter segments", "with other segment lengths"),
    **{ONE_PART[p]: Variation(f"{p} alone × {{}}", "shorter segments") for p in ONE_PART},
    WIRES: Variation(
        "cages of {} wires",
        "other numbers of wires in place of a pipe",
        "with another number of wires in place of a pipe",
    ),
    PORTS: Variation("port spacing × {}", "ports closer together", "with other ports on the cable"),
    ZONES: Variation(
        "choke segments × {}",
        "shorter segments where chokes sit",
        "with other segments where chokes sit",
    ),
    GROUND: Variation("{}", tried="over another ground or none"),
    FIELD: Variation(
        "far-field steps × {}",
        "finer steps of the far field",
        "with other steps of the far field",
    ),
}
_GROUNDS = {REFLECTION: "simpler ground", FREE_SPACE: "free space"}


def way_label(variation: str, value: str) -> str:
    """A way of drawing as a short label.

    Examples
    --------
    >>> way_label("cage_wires", "6"), way_label("ground_model", "free_space")
    ('cages of 6 wires', 'free space')
    """
    return _VARIATIONS[variation].label.format(_GROUNDS.get(value, value))


def coarser(variation: str, value: str) -> bool:
    """Whether a way of drawing is coarser than the usual one: shows what would be lost.

    Examples
    --------
    >>> coarser("segment_length", "1.25"), coarser("cage_wires", "6")
    (True, False)
    """
    return variation in (SEGMENTS, PORTS, ZONES, FIELD) and float(value) > 1


def is_test(variation: str, value: str) -> bool:
    """Whether a way of drawing tests the usual one: another, as fine or finer, on the same ground.

    Examples
    --------
    >>> is_test("segment_length", "0.8"), is_test("segment_length", "1")
    (True, False)
    """
    if (variation, value) == DRAWN or variation == GROUND:
        return False
    return not coarser(variation, value)


def untested(ways: Iterable[tuple[str, str]]) -> list[str]:
    """Variations that were not tried, in words; ``ways`` are pairs of variation and value.

    Examples
    --------
    >>> untested([("segment_length", "0.8"), ("cage_wires", "6"), ("port_spacing", "0.5")])
    ['shorter segments where chokes sit', 'finer steps of the far field']
    """
    tried = {_VARIATIONS[variation].test for variation, value in ways if is_test(variation, value)}
    every = dict.fromkeys(v.test for v in _VARIATIONS.values() if v.test)
    return [test for test in every if test not in tried]


def ways_tried(ways: Iterable[tuple[str, str]]) -> list[str]:
    """Variations that were tried, in words, each once; ``ways`` as for :func:`untested`.

    Examples
    --------
    >>> ways_tried([("port_spacing", "2"), ("segment_length", "1.25"), ("segment_length", "1")])
    ['with longer segments', 'with other ports on the cable']
    """
    others = [way for way in ways if way != DRAWN]
    tried = {variation for variation, _ in others}
    words = {name: v.tried for name, v in _VARIATIONS.items() if v.tried}
    if all(coarser(*way) for way in others if way[0] == SEGMENTS):
        words[SEGMENTS] = "with longer segments"
    return [said for variation, said in words.items() if variation in tried]
