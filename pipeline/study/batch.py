"""Several study files of one command: each is read, all faults are told together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from models.lengths import lengths_in
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

T = TypeVar("T")


def refuse_if_all_are_wrong(paths: Sequence[Path]) -> None:
    """Read studies before what solves and draws is loaded, which takes longer than to read them.

    Where one is sound, the faults of the others wait for those that only a drawing shows.
    """
    faults: list[Fault] = []
    for path in paths:
        try:
            load_study(path)
        except StudyError as error:
            faults += error.faults
        else:
            return
    raise StudyError(*faults)


def of_every_study(paths: Sequence[Path], make: Callable[[Path, Study], T]) -> list[T]:
    """What a command makes of each of its studies before it writes anything.

    The faults of all of them are raised together; two of one name would write the same results.
    """
    made: list[T] = []
    owner: dict[str, Path] = {}
    faults: list[Fault] = []
    for path in paths:
        try:
            study = load_study(path)
            if study.name in owner:
                rule = (
                    f"has the same name as {owner[study.name]}; both would write the same results"
                )
                remedy = "rename one of the two files"
                raise StudyError(Fault(str(path), "", rule, remedy, "study-twice"))
            owner[study.name] = path
            with lengths_in(study.lengths):
                made.append(make(path, study))
        except StudyError as error:
            faults += error.faults
    if faults:
        raise StudyError(*faults)
    return made
