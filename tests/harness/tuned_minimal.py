"""The smallest study, tuned once a session without a choke on its cable."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

from pipeline.design.tuning import Tuned, tune
from pipeline.design.tuning_check import Verification, verify
from pipeline.solver.cases import NONE
from pipeline.study.reader import load_study
from pipeline.study.records import Study

MINIMAL = Path(str(files("models") / "studies" / "minimal.yaml"))


@cache
def minimal() -> Study:
    study = load_study(MINIMAL)
    return replace(study, tune=replace(study.tune, choke=NONE))


@cache
def tuned() -> Tuned:
    return tune(minimal())


@cache
def verified() -> Verification:
    return verify(tuned())
