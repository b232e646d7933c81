"""What a live page shows of a study beside what it computes: names, bounds, candidates, the advice.

A study, its judgement and its answer in; plain data as ``page/src/contract.ts`` has them out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from models.wires.structure import Structure
from pipeline.analysis.figures_of_merit_and_score import scored
from pipeline.answer.record import Answer, Candidate
from pipeline.chokes.kind import Choke
from pipeline.judgement.judgement import Judgement
from pipeline.live.kinds import LiveKind, kind_id
from pipeline.live.variants import AS_DESCRIBED
from pipeline.solver.cases import IDEAL, NO_FEEDLINE
from pipeline.solver.terminations import is_covered
from pipeline.study.records import Study

# The rod's end is open then, its lead stays where it is: taken off at the arrester, a lead would be
# no wire of the drawing.
BOND_OFF = "bond taken off at the rod, only to compare: it protects from lightning"


@dataclass(frozen=True)
class Offered:
    """What a reader can put on the cable: ``built`` is its geometry in the page.

    ``named`` are chokes at the places that the answer names.
    """

    built: Structure
    kinds: tuple[LiveKind, ...]
    named: tuple[Choke, ...]

    def has(self, choke: Choke | None) -> bool:
        """Whether it can be put on the cable at its place."""
        if choke is None or choke.is_drawn:
            return True
        if not {kind_id(part) for part in choke.placed} <= {kind.id for kind in self.kinds}:
            return False
        # The page's ports do not reach everywhere, such as before the radio.
        return is_covered(self.built, choke)


def named_chokes(study: Study, answer: Answer) -> tuple[Choke, ...]:
    """Chokes that an answer names and a study lists, those that matter most first."""
    moved = [way.choke for way in answer.instead if way.choke is not None]
    others = (candidate.case.choke for candidate in answer.candidates.values())
    found = [answer.best.case.choke, *moved, *study.chokes, *others]
    return tuple(choke for choke in found if choke is not None)


def shown_of(
    study: Study,
    judgement: Judgement,
    answer: Answer,
    offered: Offered,
    written: Mapping[str, Any],
) -> dict[str, Any]:
    """Plain data of the page's head; ``written`` is the study's file as it was read."""
    settings = {
        name: _setting(study, result.case.choke)
        for name, result in judgement.results.items()
        if name not in (NO_FEEDLINE, IDEAL) and offered.has(result.case.choke)
    }
    start = settings.get(answer.chosen, _setting(study, None))
    return {
        "title": study.title,
        "name": study.name,
        "frequency": study.frequency,
        "band": [study.band.start, study.band.stop],
        "power": study.power,
        "lengths": study.lengths,
        "overGround": study.site.ground is not None,
        "facing": study.site.facing,
        "candidates": [
            {
                "id": name,
                "label": judgement.cases[name].label,
                "setting": setting,
                "intervals": _ranges(answer.candidates.get(name)),
            }
            for name, setting in settings.items()
        ],
        "start": start,
        "places": sorted({place for choke in offered.named for place in choke.positions}),
        "hasBond": study.bond is not None,
        "bondOff": BOND_OFF,
        "thresholds": {f.name: getattr(study.verdict, f.threshold) for f in scored(study.verdict)},
        "study": dict(written),
    }


def _setting(study: Study, choke: Choke | None) -> dict[str, Any]:
    """A case as a reader would set it."""
    station = study.station.impedance
    rod = None if study.bond is None else study.bond.rod_impedance
    placed = [] if choke is None else [_on_cable(part) for part in choke.placed]
    first, second = [*placed, None, None][:2]
    return {
        "variant": AS_DESCRIBED,
        "first": first,
        "second": second,
        "bond": "none" if rod is None else _pair(rod),
        "radio": "open" if station is None else _pair(station),
        "frequency": study.frequency,
    }


def _on_cable(part: Choke) -> dict[str, Any]:
    return {"kind": kind_id(part), "count": part.count, "position": part.position}


def _pair(z: complex) -> list[float]:
    return [z.real, z.imag]


def _ranges(candidate: Candidate | None) -> dict[str, list[float]]:
    """Ends of the figures over all installations, by name, as the first screen has them."""
    figures = {} if candidate is None else candidate.figures
    return {name: [float(found.low), float(found.high)] for name, found in figures.items()}
