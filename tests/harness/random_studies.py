"""Valid studies drawn at random over the documented ranges, small enough to be solved.

Ranges are those of the reader and of the antennas' own files, so a range that is widened is drawn
from at once. What does not go together is refused by the reader; the rest has to be answered.
"""

from __future__ import annotations

from dataclasses import is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from models.antennas import generators
from models.catalogues.parts import coax_classes, ferrite_cores, pipes
from models.quantities import Quantity
from models.site.feedline_route import OPPOSITE
from pipeline.study.records import Bond, Exposure, Station
from pipeline.study.section import section_of
from pipeline.study.sections.antenna_and_cable import antenna_section
from pipeline.study.sections.chokes import choke_section
from pipeline.study.sections.surroundings import MetalPiece, StandingMast

# Longest step of a route: a longer cable has more segments and nothing new.
_LONGEST_STEP_WAVELENGTHS = 1.5
_HIGHEST = 30.0
_WAYS = tuple(OPPOSITE)


class Draw:
    """One study's worth of random values."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def likely(self, chance: float) -> bool:
        """True that often."""
        return bool(self.rng.random() < chance)

    def one_of(self, items: Any) -> Any:
        """One of several."""
        return items[int(self.rng.integers(len(items)))]

    def between(self, low: float, high: float) -> float:
        """A value over the whole range, every factor of ten as often where it spans several.

        One time in twelve an end of the range itself.
        """
        if self.likely(1 / 12):
            return low if self.likely(0.5) else high
        if low > 0 and high / low > 20:
            return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))
        return float(self.rng.uniform(low, high))

    def value(self, q: Quantity, high: float = np.inf) -> str | float | int:
        """A value of a quantity as a study writes it."""
        found = self.between(q.low, min(q.high, high))
        if q.unit == "1":
            return round(found, 3)
        return f"{found:.6g} {q.unit}"

    def of(self, record: type, key: str, high: float = np.inf) -> Any:
        """A value of a key of a section, by its record."""
        section = section_of(record) if is_dataclass(record) else record
        kind = section.kind_of(key)
        if kind is None or kind.limits is None:
            raise TypeError(f"{section.__name__}.{key} has no range")
        found = self.value(kind.limits, high)
        return round(float(found)) if section.model_fields[key].annotation is int else found

    def impedance(self) -> str:
        """A passive impedance."""
        real = self.one_of(["0", f"{self.between(0.1, 1e5):.4g}"])
        size = f"{self.between(0.1, 1e5):.4g}"
        return self.one_of([f"{real} ohm", f"{real}+{size}j ohm", f"{real}-{size}j ohm"])


def random_study(seed: int) -> dict[str, Any]:
    """A study as plain data; the reader may refuse it."""
    draw = Draw(seed)
    frequency = draw.between(30e6, 500e6)
    wavelength = 3e8 / frequency
    width = draw.between(0.001, 0.1)
    low, high = max(30e6, frequency * (1 - width)), min(500e6, frequency * (1 + width))
    height = draw.between(0.3, _HIGHEST)
    site: dict[str, Any] = {"height": f"{height:.6g} m", "ground": _ground(draw)}
    antenna = _antenna(draw, frequency)
    straight = generators()[antenna["type"]].leaves_downward
    route, moves = _route(draw, wavelength, height, straight)
    has_soil = site["ground"] != "free space"
    if has_soil and draw.likely(0.4):
        route.insert(int(draw.rng.integers(1, len(route) + 1)), {"bond": "here"})
    cable = draw.one_of(coax_classes())
    study: dict[str, Any] = {
        "frequency": f"{frequency:.9g} Hz",
        "band": {"from": f"{low:.9g} Hz", "to": f"{high:.9g} Hz", "points": 3},
        "antenna": antenna,
        "site": site,
        "cable": {"type": cable.id, "route": route},
    }
    if draw.likely(0.25):
        site["mast"] = _mast(draw, height, has_soil)
    if draw.likely(0.2):
        site["metalwork"] = [_piece(draw, has_soil)]
    if {"bond": "here"} in route:
        study["bond"] = {
            "lead_diameter": draw.of(Bond, "lead_diameter"),
            "rod_impedance": draw.impedance(),
        }
    study["station"] = {"lead": draw.of(Station, "lead", 2 * wavelength)}
    study["station"]["impedance"] = draw.one_of(["open", draw.impedance()])
    if draw.likely(0.3):
        study["exposure"] = {key: draw.of(Exposure, key) for key in ("mode_duty", "reach")}
    count = int(draw.rng.integers(1, 4))
    study["chokes"] = [_choke(draw, k, moves, cable.jacket_diameter) for k in range(count)]
    return study


def random_study_file(folder: Path, seed: int) -> Path:
    """The study in a file, with few draws: a test wants laws and no answer."""
    path = folder / f"drawn-{seed}.yaml"
    data = random_study(seed) | {"unknowns": {"geometries": 8, "draws": 16}}
    path.write_text(yaml.safe_dump(data, allow_unicode=True), encoding="utf-8")
    return path


def _ground(draw: Draw) -> Any:
    if draw.likely(0.3):
        return draw.one_of(["free space", "average", "sea water"])
    return {
        "permittivity": round(draw.between(1.0, 100.0), 3),
        "conductivity": f"{draw.one_of([0.0, draw.between(1e-5, 10.0)]):.4g} S/m",
    }


def _antenna(draw: Draw, frequency: float) -> dict[str, Any]:
    name = draw.one_of(sorted(generators()))
    section = antenna_section(name)
    antenna: dict[str, Any] = {"type": name, "pipe": draw.one_of(pipes()).id}
    for key in section.model_fields:
        kind = section.kind_of(key)
        if key in antenna or kind is None:
            continue
        needed = section.model_fields[key].is_required()
        if not (needed or draw.likely(0.08)):
            continue
        if kind.limits is not None:
            antenna[key] = draw.of(section, key)
        elif "enum" in kind.described():
            antenna[key] = draw.one_of(kind.described()["enum"])
    if "upper_band" in antenna:
        # Two bands a factor of three apart; drawn by themselves they hardly ever are.
        antenna["lower_band"] = f"{min(frequency, 500e6 / 3.3):.6g} Hz"
        antenna["upper_band"] = f"{3 * min(frequency, 500e6 / 3.3):.6g} Hz"
    return antenna


def _route(
    draw: Draw, wavelength: float, height: float, straight: bool
) -> tuple[list[dict[str, str]], list[float]]:
    """Steps that stay above the soil and never turn back at once, and their lengths [m]."""
    steps: list[dict[str, str]] = []
    moves: list[float] = []
    last = ""
    for k in range(int(draw.rng.integers(1, 5))):
        ways = [w for w in _WAYS if OPPOSITE[w] != last]
        go = draw.one_of(ways if k else [["out", "out", "out", "down"], ["down"]][straight])
        move = draw.between(0.02, min(100.0, _LONGEST_STEP_WAVELENGTHS * wavelength))
        if go == "down":
            move = min(move, height - 0.05)
            go = draw.one_of(["down", "down_to"])
        if move < 0.02:
            break
        height += {"up": move, "down": -move, "down_to": -move}.get(go, 0.0)
        steps.append({go: f"{height if go == 'down_to' else move:.6g} m"})
        moves.append(move)
        last = "down" if go == "down_to" else go
    if not steps or last == "down":
        steps.append({"left": "0.5 m"})
        moves.append(0.5)
    return steps, moves


def _mast(draw: Draw, height: float, has_soil: bool) -> dict[str, Any]:
    mast = {
        "material": "metal",
        "diameter": draw.of(StandingMast, "diameter", 0.08),
        "length": f"{draw.between(0.1, max(0.1, height - 0.1)):.6g} m",
        "bonded": draw.one_of(["yes", "no"]),
    }
    if draw.likely(0.5):
        mast["stand_off"] = draw.of(StandingMast, "stand_off", 2.0)
        mast["towards"] = draw.one_of(["front", "back", "left", "right"])
    if has_soil and draw.likely(0.4):
        mast["foot"] = {"rod_impedance": draw.impedance()}
    return mast


def _piece(draw: Draw, has_soil: bool) -> dict[str, Any]:
    def place() -> list[str]:
        x, y = draw.rng.uniform(-4, 4, 2)
        return [f"{x:.3f} m", f"{y:.3f} m", f"{draw.between(0.3, 8.0):.3f} m"]

    piece: dict[str, Any] = {"name": "gutter", "diameter": draw.of(MetalPiece, "diameter", 0.1)}
    piece["points"] = [place() for _ in range(int(draw.rng.integers(2, 4)))]
    if has_soil and draw.likely(0.3):
        piece["foot"] = {"rod_impedance": draw.impedance()}
    return piece


def _choke(draw: Draw, k: int, moves: list[float], jacket: float) -> dict[str, Any]:
    """A candidate within one step of the route, where it has room."""
    at = int(draw.rng.integers(len(moves)))
    begin, room = sum(moves[:at]) + 0.05, moves[at] - 0.1
    # A sleeve has its mouth's segments beside it on straight cable.
    kinds = ["ideal", "ferrite", "sleeve", "coil"] if room > 0.6 else ["ideal", "ferrite", "coil"]
    kind = draw.one_of(kinds) if room > 0.1 else "ideal"
    choke: dict[str, Any] = {"id": f"choke-{k}", "kind": kind}
    extent = 0.0
    if kind == "ferrite":
        fitting = [core for core in ferrite_cores() if core.hole_diameter > 1.1 * jacket]
        core = draw.one_of([c for c in fitting if c.length < room] or fitting)
        most = max(1, min(8, int(room / core.length)))
        choke |= {"core": core.id, "count": int(draw.rng.integers(1, most + 1))}
        extent = choke["count"] * core.length
    elif kind == "sleeve":
        fitting_pipes = [p for p in pipes() if 2.6 * jacket < p.outside_diameter < 0.06]
        begin, room = begin + 0.25, room - 0.5
        extent = draw.between(0.05, min(3.0, room))
        choke |= {"pipe": draw.one_of(fitting_pipes).id, "length": f"{extent:.4g} m"}
        choke["mouth"] = draw.one_of(["antenna", "radio"])
    elif kind == "coil":
        diameter = draw.of(choke_section(kind), "diameter", 0.3)
        choke |= {"turns": int(draw.rng.integers(1, 6)), "diameter": diameter}
        choke["model"] = draw.one_of(["wire", "lumped", "lumped"])
    last = max(begin, begin + room - extent)
    place = draw.between(begin, last)
    choke["position"] = f"{place:.4g} m"
    if kind == "ferrite" and choke["count"] % 2 == 0 and draw.likely(0.5):
        # Two rows of half the length: the second begins no later than one of the whole would.
        second = draw.between(place + extent / 2 + 1e-3, last + extent / 2)
        choke["also_at"] = f"{max(second, place + extent / 2 + 1e-3):.4g} m"
    return choke
