"""Quantities, cases and ways of drawing that a convergence study tracks, in a reader's words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from pipeline.solver.structures import ANTENNA, AROUND, CABLE_RUN
from pipeline.study.records import USUAL

NONE, IDEAL = "none", "ideal"
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


def _signless(text: str) -> str:
    return text.replace("-", "−")


def _ohm(value: float) -> str:
    return _signless(f"{value:.1f} Ω")


def _plain(value: float) -> str:
    return _signless(f"{value:.2f}")


def _fine(value: float) -> str:
    return _signless(f"{value:.3f}")


def _share(value: float) -> str:
    return _signless(f"{100 * value:.1f} %")


def _gain(value: float) -> str:
    return _signless(f"{value:.2f} dB")


@dataclass(frozen=True)
class Tracked:
    """A quantity that is tracked: name for people, unit of the table, how it is written.

    ``resolution`` is the change that no reader would see in print; ``noticed`` that which the
    verdict counts as visible, where it has such a threshold.
    """

    label: str
    unit: str
    shown: Callable[[float], str]
    resolution: float
    noticed: float | None = None


QUANTITIES = {
    "r": Tracked("resistance at the antenna", "ohm", _ohm, 0.1),
    "x": Tracked("reactance at the antenna", "ohm", _ohm, 0.1),
    "swr_feed": Tracked("SWR at the antenna", "1", _plain, 0.01, USUAL.swr_step),
    "shield_current_ratio_max": Tracked("most current on the cable", "1", _share, 0.001),
    "station_current_ratio": Tracked(
        "current at the radio", "1", _share, 0.001, USUAL.station_ratio
    ),
    "horizon_gain_mean": Tracked("mean gain, lowest lobe", "dBi", _gain, 0.02, USUAL.mean_gain_db),
    "average_gain": Tracked("average gain (1 is right)", "1", _fine, 0.001),
    "reciprocity": Tracked("asymmetry at the feed", "1", _share, 0.001),
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


_WAYS = {
    SEGMENTS: "segments × {}",
    **{name: f"{part} alone × {{}}" for part, name in ONE_PART.items()},
    WIRES: "cages of {} wires",
    PORTS: "port spacing × {}",
    ZONES: "choke segments × {}",
    FIELD: "far-field steps × {}",
}


def way_label(variation: str, value: str) -> str:
    """A way of drawing as a short label.

    Examples
    --------
    >>> way_label("cage_wires", "6"), way_label("ground_model", "free_space")
    ('cages of 6 wires', 'free space')
    """
    if variation == GROUND:
        return {REFLECTION: "simpler ground", FREE_SPACE: "free space"}[value]
    return _WAYS[variation].format(value)


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


# What a study of convergence tries, each with the variations that do so.
_TRIALS = {
    "shorter segments": (SEGMENTS, *PARTS),
    "other numbers of wires in place of a pipe": (WIRES,),
    "ports closer together": (PORTS,),
    "shorter segments where chokes sit": (ZONES,),
    "finer steps of the far field": (FIELD,),
}


def untested(ways: Iterable[tuple[str, str]]) -> list[str]:
    """Variations that were not tried, in words; ``ways`` are pairs of variation and value.

    Examples
    --------
    >>> untested([("segment_length", "0.8"), ("cage_wires", "6"), ("port_spacing", "0.5")])
    ['shorter segments where chokes sit', 'finer steps of the far field']
    """
    tried = {variation for variation, value in ways if is_test(variation, value)}
    return [words for words, variations in _TRIALS.items() if not tried & set(variations)]


_TRIED = {
    SEGMENTS: "with other segment lengths",
    WIRES: "with another number of wires in place of a pipe",
    PORTS: "with other ports on the cable",
    ZONES: "with other segments where chokes sit",
    GROUND: "over another ground or none",
    FIELD: "with other steps of the far field",
}


def ways_tried(ways: Iterable[tuple[str, str]]) -> list[str]:
    """Variations that were tried, in words, each once; ``ways`` as for :func:`untested`.

    Examples
    --------
    >>> ways_tried([("port_spacing", "2"), ("segment_length", "1.25"), ("segment_length", "1")])
    ['with longer segments', 'with other ports on the cable']
    """
    others = [way for way in ways if way != DRAWN]
    tried = {variation for variation, _ in others}
    words = dict(_TRIED)
    if all(coarser(*way) for way in others if way[0] == SEGMENTS):
        words[SEGMENTS] = "with longer segments"
    return [said for variation, said in words.items() if variation in tried]
