"""A tuned copy of a study file: differs by the tuned lengths only and reads back as meant."""

from __future__ import annotations

import math
import shutil
from dataclasses import fields, replace
from pathlib import Path

from pipeline.design.tuning import Tuned
from pipeline.runtime.store import write_text
from pipeline.study.reader import load_study
from pipeline.study.records import Study, marker_of
from pipeline.text.errors import Fault, ResultError
from pipeline.text.units import in_unit
from pipeline.text.yaml_editing import with_values
from pipeline.text.yaml_reading import LARGEST_STUDY, read_text

# How a tuned copy begins.
_TUNED_WITH = "# Tuned with"


# What a tuned copy may say otherwise than the study it was made from.
_MAY_DIFFER = {"name", "title", "defaults", "warnings", "lines", "rows"}


def as_written(study: Study, name: str, value: float, grid: float) -> str:
    """A parameter's value as the study would write it, a length to the grid it is rounded to."""
    return in_unit(value, marker_of(study, name).unit, grid)


def tuned_values(tuned: Tuned) -> dict[str, str]:
    """The tuned lengths as a study writes them; those it already has so are left out."""
    given = tuned.study.antenna.parameters
    return {
        v.name: as_written(tuned.study, v.name, x, v.grid)
        for v, x in zip(tuned.variables, tuned.found.best.values, strict=True)
        if getattr(given, v.name) is None or abs(getattr(given, v.name) - x) > 1e-9 * abs(x)
    }


def write_tuned_study(path: Path, tuned: Tuned, target: Path, note: str) -> None:
    """Write the tuned copy of a study file and read it back.

    Its first line, a comment, ends with ``note``, in place of that of an earlier tuning.
    Measurements that it names are copied beside it, where a study looks for them.

    Raises
    ------
    ResultError
        If the copy does not say what it should; it is removed then.
    """
    text = read_text(path, LARGEST_STUDY, path.name)
    first, _, rest = text.partition("\n")
    kept = rest if first.startswith(_TUNED_WITH) else text
    write_text(target, f"{_TUNED_WITH} {note}\n{with_values(kept, 'antenna', tuned_values(tuned))}")
    for name in tuned.study.files:
        place = target.parent / name
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path.parent / name, place)
    strange = differences(load_study(target), tuned, chokes_listed="chokes" in _top_keys(text))
    if strange:
        target.unlink()
        raise ResultError(
            Fault(
                str(target),
                "",
                f"would not say the same as {path.name} in {', '.join(strange)}",
                "copy the lengths of tune.json into the study by hand",
                "tuned-study",
            )
        )


def _top_keys(text: str) -> set[str]:
    return {line.split(":")[0] for line in text.splitlines() if line and line[0].isalpha()}


def differences(read: Study, tuned: Tuned, chokes_listed: bool) -> list[str]:
    """Sections of a tuned study that differ from what is meant.

    Lengths may differ by a rounding error of their unit; standard candidates and places for cores,
    which depend on the height of the tap, are made anew. What is taken from the catalogue is none
    of the file's candidates.
    """
    own = {c.id for c in read.chokes}
    listed = tuple(c for c in tuned.after.chokes if c.id in own or c != tuned.case.choke)
    meant = replace(tuned.after, chokes=listed)
    leave = _MAY_DIFFER if chokes_listed else _MAY_DIFFER | {"chokes"}
    strange = [
        f.name
        for f in fields(Study)
        if f.name not in leave | {"antenna"} and getattr(read, f.name) != getattr(meant, f.name)
    ]
    names = [v.name for v in tuned.variables]
    close = all(
        math.isclose(
            getattr(read.antenna.parameters, name),
            getattr(meant.antenna.parameters, name),
            rel_tol=1e-9,
        )
        for name in names
    )
    same = {name: getattr(meant.antenna.parameters, name) for name in names}
    rest = replace(read.antenna, parameters=replace(read.antenna.parameters, **same))
    return strange + ([] if close and rest == meant.antenna else ["antenna"])
