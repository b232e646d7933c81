"""One small study with a coil, a sleeve and a core, spread over how they were made."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from pipeline.chokes.coil import CoilChoke
from pipeline.montecarlo.spread import Spread, run
from pipeline.montecarlo.spread_solve import Drawn
from pipeline.montecarlo.spread_verdict import Judgement, judge
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from tests.harness.small_study import small_study_file

KEYS = ("route", "height", "lead", "antenna", "jacket", "station", "ferrite", "temperature")
KNOWN = dict.fromkeys((*KEYS, "sleeve"), "known")
COIL = {"id": "wound", "kind": "coil", "turns": 3, "diameter": "0.10 m", "pitch": "12 mm",
        "position": "0.60 m"}  # fmt: skip
SLEEVE = {"id": "sleeve", "kind": "sleeve", "pipe": "28x1 mm", "position": "0.30 m"}
CORE = {"id": "core", "kind": "ferrite", "core": "mix-43-clamp-12-7", "position": "0.05 m"}
LUMPED = COIL | {"id": "lumped", "model": "lumped"}


def read(folder: Path, unknowns: dict[str, object], *chokes: dict[str, object]) -> Study:
    listed = {"chokes": list(chokes)} if chokes else {}
    return load_study(small_study_file(folder, unknowns=unknowns, **listed))


@cache
def wound(pitch: str) -> Spread:
    """Eight pitches of one coil, or the one that is known, and everything else known too."""
    spread = "known" if pitch == "known" else {"from": 1.0, "to": 1.5}
    unknowns = KNOWN | {"sleeve": {"from": 0.97, "to": 1.03}, "coil_pitch": spread}
    n_draw = 128 if pitch == "known" else 16
    with tempfile.TemporaryDirectory() as folder:
        made = read(Path(folder), unknowns | {"geometries": 8, "draws": n_draw}, COIL, SLEEVE, CORE)
        return run(made, 2)


@cache
def judgement() -> Judgement:
    return judge(wound("drawn"))


def pitch_of(drawn: Drawn) -> float:
    (found,) = (x.pitch for x in drawn.study.chokes if isinstance(x, CoilChoke))
    return found
