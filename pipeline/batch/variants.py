"""Rows of one installation: every radio end and bond with every choke, on fields solved once.

An installation as data in; arrays by column out, one value a variant, and why what failed did so.
Cases, kernel and score are those of a single study as described: a row is what ``braidwise study``
says of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import Solved
from pipeline.analysis.figures_of_merit_and_score import FIGURES, Merit, Reference
from pipeline.analysis.many_cases import (
    ReducedBasis,
    Transmitter,
    many,
    reduce,
    reference,
)
from pipeline.answer.candidates import classes
from pipeline.answer.record import CLASSES
from pipeline.batch.described import Ground, study_of, with_values
from pipeline.batch.drawing_checks import DrawingChecks, ends_on
from pipeline.montecarlo.installations import settled, solve_drawn, solved_low
from pipeline.montecarlo.port_currents import digest
from pipeline.solver.cases import CABLE, IDEAL, NONE, Case, cases
from pipeline.solver.far_field import Directions
from pipeline.solver.standard_chokes import with_standard_chokes
from pipeline.solver.terminations import choke_series, route_length, told_impedance
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from pipeline.text.errors import BraidwiseError, Fault, WorkerEndedError
from pipeline.text.refusals import FieldsError

Complex = NDArray[np.complex128]
Columns = dict[str, NDArray[Any]]
# Figures of merit in the table: all that need not the whole pattern.
TOLD = tuple(f for f in FIGURES.values() if f.needs != "pattern")
_NOTHING = float("nan")


@dataclass(frozen=True)
class Installation:
    """One drawing of a batch: the values that make it, and those that are only impedances.

    ``number`` counts installations of the batch, ``values`` are by key of the study; each of
    ``ends`` has the values of one radio end and bond, ``shown`` those of the table for each.
    ``is_refined`` says that it is solved with finer segments as well.
    """

    number: int
    group: str
    values: Mapping[str, Any]
    ends: tuple[Mapping[str, Any], ...]
    shown: tuple[Mapping[str, float | str], ...]
    is_refined: bool

    def data(self) -> dict[str, Any]:
        """Plain data for a JSON file."""
        return dict(vars(self))

    @classmethod
    def of(cls, data: Mapping[str, Any]) -> Installation:
        """The inverse of :meth:`data`."""
        return cls(**{**data, "ends": tuple(data["ends"]), "shown": tuple(data["shown"])})


def studies_of(one: Installation, ground: Ground, ends: int | None = None) -> list[Study]:
    """Studies of an installation, one for each of its ends, or for the first so many.

    Raises StudyError if one has a fault.
    """
    every = [with_values(ground.data, {**one.values, **end}) for end in one.ends[:ends]]
    found = [study_of(ground, data) for data in every]
    if ground.with_standard:
        # Whether they have room is seen on the drawing, which is that of all ends.
        chokes = with_standard_chokes(found[0]).chokes
        found = [replace(study, chokes=chokes) for study in found]
    return [settled(study) for study in found]


def rows_of(one: Installation, ground: Ground, store: Path | None) -> list[Columns]:
    """Rows of an installation, case by case; solves are kept in ``store``.

    What cannot be read, drawn or solved is a row with its cause.
    """
    try:
        solved = _solved(one, studies_of(one, ground), store)
    except WorkerEndedError:
        # Memory ran out or somebody ended it: that says nothing about the installation.
        raise
    except (BraidwiseError, FieldsError) as error:
        return [_failed(one, "all", cause_of(error))]
    return [part for on in solved for part in _rows_of_cases(on, store)]


def _rows_of_cases(on: _On, store: Path | None) -> Iterator[Columns]:
    for case in cases(on.studies[0]):
        if case.id not in (NONE, IDEAL) and case.choke is None:
            continue
        try:
            yield _case_rows(on, case, store)
        except WorkerEndedError:
            raise
        except BraidwiseError as error:
            yield _failed(on.one, case.id, cause_of(error)) | _place(on)


def cause_of(error: BraidwiseError | FieldsError) -> str:
    """What went wrong in one line: key, value and rule of every fault."""
    if isinstance(error, FieldsError):
        return "; ".join(e.rule for e in error.errors)
    return "; ".join(dict.fromkeys(_told(fault) for fault in error.faults))


def _told(fault: Fault) -> str:
    value = f" = {fault.value}" if fault.value else ""
    return f"{fault.place.split('  ')[-1]}{value} {fault.rule}"


@dataclass(frozen=True)
class _On:
    """An installation solved, with those of its ends that have one elevation for the horizon.

    Its studies by end, the cable, and what its drawing is worth; ``z_ends`` (n_end, n_port) [ohm];
    ``ideal`` and ``bare`` have a row for each end.
    """

    one: Installation
    studies: list[Study]
    reduced: ReducedBasis
    directions: Directions
    z_ends: Complex
    ideal: Reference
    bare: Merit
    checks: DrawingChecks
    digest: str


def _digest(study: Study, reduced: ReducedBasis) -> str:
    return digest(reduced.structure, study.frequency, study.site.ground)


def _solved(one: Installation, studies: list[Study], store: Path | None) -> list[_On]:
    """An installation solved, its ends apart by the elevation that stands for the horizon."""
    solved, lobes = solved_low(studies, store, one_in=1)
    found = []
    for elevation in dict.fromkeys(lobes):
        own = [k for k, lobe in enumerate(lobes) if lobe == elevation]
        ends, shown = (tuple(part[k] for k in own) for part in (one.ends, one.shown))
        part = replace(one, ends=ends, shown=shown)
        found.append(_with_ends(part, [studies[k] for k in own], solved, elevation, store))
    return found


def _with_ends(
    one: Installation, studies: list[Study], solved: Solved, elevation: float, store: Path | None
) -> _On:
    study, directions = studies[0], solved.basis.directions
    reduced = reduce(solved, study, elevation)
    z_ends = ends_on(reduced, studies)
    ideal = reference(reduced, z_ends)
    nothing = np.zeros((1, z_ends.shape[1]), complex)
    bare = many(reduced, z_ends, nothing, ideal, _transmitter(study, None, reduced))
    checks = DrawingChecks(studies, (directions, elevation), store, one.is_refined)
    known = _digest(study, reduced)
    return _On(one, studies, reduced, directions, z_ends, ideal, bare, checks, known)


def _transmitter(study: Study, case: Case | None, reduced: ReducedBasis) -> Transmitter:
    choke = None if case is None else case.choke
    length = route_length(reduced.structure)
    if choke is not None and choke.is_drawn:
        length -= choke.own_cable(choke.cable_along(study.cable.type))
    return Transmitter(study.cable.run(choke, length), study.power)


def _case_rows(on: _On, case: Case, store: Path | None) -> Columns:
    """Rows of one case, one for each end."""
    study, reduced = on.studies[0], on.reduced
    if case.geometry != CABLE:
        elevation = on.reduced.elevation_deg
        drawn = solve_drawn(study, case, on.directions, elevation, store)
        if drawn is None:
            return _failed(on.one, case.id, "there is no room to draw it") | _place(on)
        reduced = drawn
    choke = case.choke
    f = np.array([study.frequency])
    series = choke_series(reduced.structure, study, choke, f)
    ends = on.z_ends if case.geometry == CABLE else ends_on(reduced, on.studies)
    merit = many(reduced, ends, series, on.ideal, _transmitter(study, case, reduced))
    if choke is not None and choke.is_resonant:
        merit = _as_told(merit, complex(told_impedance(choke, study, f)[0]))
    solve = on.digest if case.geometry == CABLE else _digest(study, reduced)
    return {
        **_place(on),
        **_case(case, len(ends)),
        **_figures(merit, on.bare, case.id),
        **on.checks.of(case, reduced, merit),
        "geometry": np.full(len(ends), solve),
        "cause": np.full(len(ends), ""),
    }


def _as_told(merit: Merit, z: complex) -> Merit:
    """A sleeve's impedance as it may be told, which is less than on paper."""
    n = len(merit)
    told = {"choke_r_ohm": np.full(n, z.real), "choke_x_ohm": np.full(n, z.imag)}
    return replace(merit, values={**merit.values, **told})


def _figures(merit: Merit, bare: Merit, case: str) -> Columns:
    own, other = merit.score(), bare.score()
    held = classes(own, other, case == NONE)
    named = np.full(len(own), "", dtype=object)
    for name in CLASSES:
        named[held[name]] = name
    changes = merit.over_thresholds
    top = np.array(list(changes))[np.argmax(np.stack(list(changes.values())), axis=0)]
    told = {f.name: merit[f.name] for f in TOLD}
    return {**told, "score": own, "driver": top, "change": named.astype(str)}


def _case(case: Case, n: int) -> Columns:
    choke = case.choke
    values = {
        "case": case.id,
        "label": case.label,
        "kind": "none" if choke is None else choke.kind,
        "core": "" if choke is None else choke.core_ids,
        "count": 0 if choke is None or not choke.cores else choke.count,
        "position": _NOTHING if choke is None else choke.position,
    }
    return {name: np.full(n, value) for name, value in values.items()}


def _place(on: _On) -> Columns:
    length = float(walk_of(on.studies[0]).length)
    return _shown(on.one) | {"route": np.full(len(on.studies), length)}


def _shown(one: Installation) -> Columns:
    """What the table shows of an installation's axes, one row for each end."""
    n = len(one.ends)
    whole = {"group": np.full(n, one.group), "installation": np.full(n, one.number)}
    return whole | {
        f"axis:{name}": np.array([row[name] for row in one.shown], dtype=object)
        for name in one.shown[0]
    }


def _failed(one: Installation, case: str, cause: str) -> Columns:
    n = len(one.ends)
    return _shown(one) | {"case": np.full(n, case), "cause": np.full(n, cause)}
