"""The plan of a batch: its installations, how they are shared out among jobs, and what they cost.

A batch in; one file a chunk of installations and one for the whole out, named by their content, so
that what has been computed is not computed again. Nothing is solved; some installations of every
group are drawn, to know how large they are.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pipeline.batch.batch_file import Batch, Group
from pipeline.batch.combinations import ALGEBRA, Combination, combinations
from pipeline.batch.described import BOND, Ground, has_bond, with_values
from pipeline.batch.table import axis_columns, column_data
from pipeline.batch.variants import Installation, studies_of
from pipeline.montecarlo.installations import cable_of, own_plan
from pipeline.runtime.progress import basis_seconds
from pipeline.runtime.store import write_json, write_text
from pipeline.solver.before_solving import memory_of
from pipeline.solver.cases import ALONE, CABLE, IDEAL, NONE, REFINED, GeometryPlan, cases
from pipeline.solver.structures import structure
from pipeline.study.records import Study
from pipeline.text.errors import BraidwiseError, Fault, StudyError
from pipeline.text.refusals import FieldsError
from pipeline.text.yaml_editing import yaml_text

PLAN, PLAN_FILE = ".plan", "plan.json"
# Installations of a group that are drawn to know its size.
_SAMPLE = 3
# Time that a job takes: long beside its start, short beside a worker's life. [s]
SHORTEST_JOB, LONGEST_JOB = 10.0, 120.0
# Jobs that a small batch is shared out among, and a large one: what runs them takes some time for
# each, and takes them one by one.
_JOBS, _MOST_JOBS = 16, 5000
# Of the rest of a process: its libraries, and what it keeps in hand. [MB]
_BESIDE_A_SOLVE = 400
# Reading, drawing and algebra of an installation. [s]
_WITHOUT_SOLVES = 0.4


@dataclass(frozen=True)
class Cost:
    """What an installation of a group takes: time [s], memory [MB], geometries, cases."""

    seconds: float
    memory: float
    geometries: float
    cases: float


@dataclass(frozen=True)
class Chunk:
    """Installations of one job, of one group; ``digest`` names it by its content."""

    digest: str
    group: str
    installations: tuple[Installation, ...]
    seconds: float
    memory: float


@dataclass(frozen=True)
class Plan:
    """A batch laid out: its chunks in the order of the table, columns, and numbers of all."""

    batch: Batch
    chunks: tuple[Chunk, ...]
    columns: tuple[dict[str, str], ...]
    cost: Mapping[str, Cost]

    @property
    def installations(self) -> int:
        """Number of installations."""
        return sum(len(chunk.installations) for chunk in self.chunks)

    @property
    def geometries(self) -> int:
        """Number of drawings that are solved, none of which is there yet."""
        return round(sum(self.cost[c.group].geometries * len(c.installations) for c in self.chunks))

    @property
    def variants(self) -> int:
        """Number of rows."""
        ends = ((c.group, sum(len(i.ends) for i in c.installations)) for c in self.chunks)
        return round(sum(self.cost[group].cases * n for group, n in ends))

    @property
    def seconds(self) -> float:
        """Time of one core. [s]"""
        return sum(chunk.seconds for chunk in self.chunks)


def plan_batch(batch: Batch, made_with: str) -> Plan:
    """Plan of a batch; ``made_with`` is a digest of the code that computes it.

    Raises StudyError if no installation of a group can be read and drawn, with what is wrong with
    the first.
    """
    found: dict[str, tuple[list[Installation], Cost]] = {}
    number = 0
    for group in batch.groups:
        own = [replace(i, number=number + i.number) for i in _installations(group, batch)]
        number += len(own)
        found[group.name] = (own, _cost(own, group, batch.refined_share))
    columns = _columns(batch, [i for own, _ in found.values() for i in own])
    total = sum(len(own) * cost.seconds for own, cost in found.values())
    job = max(min(max(total / _JOBS, SHORTEST_JOB), LONGEST_JOB), total / _MOST_JOBS)
    chunks = []
    for group in batch.groups:
        own, cost = found[group.name]
        content = [made_with, columns, *_content(group, own)]
        parts = _parts(own, max(1, round(job / cost.seconds)))
        chunks += [_chunk(part, group.name, cost, content) for part in parts]
    return Plan(batch, tuple(chunks), columns, {name: cost for name, (_, cost) in found.items()})


def _installations(group: Group, batch: Batch) -> Iterator[Installation]:
    """Installations of a group, each with all its ends, in the order of their first."""
    found: dict[str, list[Combination]] = {}
    for made in combinations(group):
        fixed = {key: raw for key, raw in made.values.items() if key not in ALGEBRA}
        found.setdefault(json.dumps(fixed, sort_keys=True), []).append(made)
    every = 0 if batch.refined_share == 0 else round(1 / batch.refined_share)
    for number, members in enumerate(found.values()):
        values = {key: raw for key, raw in members[0].values.items() if key not in ALGEBRA}
        ends, shown = _ends(group, members)
        is_refined = bool(every) and number % every == 0
        yield Installation(number, group.name, values, ends, shown, is_refined)


def _ends(
    group: Group, members: Sequence[Combination]
) -> tuple[tuple[dict[str, Any], ...], tuple[dict[str, float | str], ...]]:
    """Ends of an installation and what is shown of each; without a bond, none differs in its rod.

    A study that cannot be made of its values has one end more or less: it fails all the same.
    """
    try:
        is_bonded = has_bond(with_values(group.ground.data, members[0].values))
    except FieldsError:
        is_bonded = True
    known: dict[str, tuple[dict[str, Any], dict[str, float | str]]] = {}
    for made in members:
        end = {key: made.values[key] for key in ALGEBRA if key in made.values}
        shown = dict(made.shown)
        if not is_bonded:
            end = {key: raw for key, raw in end.items() if not key.startswith(BOND)}
            shown = {key: value for key, value in shown.items() if not key.startswith(BOND)}
        known.setdefault(json.dumps(end, sort_keys=True), (end, shown))
    ends, told = zip(*known.values(), strict=True)
    return tuple(ends), tuple(told)


def _columns(batch: Batch, every: Sequence[Installation]) -> tuple[dict[str, str], ...]:
    """Columns of the axes of all groups, as plain data."""
    units: dict[str, str] = {}
    for group in batch.groups:
        for axis in group.axes:
            units |= {axis.key.removeprefix("$"): c.unit for c in axis.choices}
        for drawn in () if group.draws is None else group.draws.axes:
            unit = drawn.choices[0].unit if drawn.choices else drawn.unit
            units[drawn.key.removeprefix("$")] = unit
        for row in group.paired:
            units |= {key.removeprefix("$"): choice.unit for key, choice in row.items()}
    shown = (row for one in every for row in one.shown)
    return tuple(column_data(column) for column in axis_columns(shown, units))


def _cost(own: Sequence[Installation], group: Group, share: float) -> Cost:
    """Mean of some installations of a group, those that can be drawn."""
    step = max(1, len(own) // _SAMPLE)
    found, first = [], None
    for one in own[::step][:_SAMPLE]:
        try:
            found.append(_drawn_cost(studies_of(one, group.ground, 1)[0], share))
        except (BraidwiseError, FieldsError) as error:
            first = first or error
    if not found:
        # Rows with a cause are for some of many; where all fail, the file is wrong.
        found = [_drawn_cost(studies_of(one, group.ground, 1)[0], share) for one in own[:1]]
    n = len(found)
    return Cost(
        sum(c.seconds for c in found) / n,
        max(c.memory for c in found),
        sum(c.geometries for c in found) / n,
        sum(c.cases for c in found) / n,
    )


def _drawn_cost(study: Study, share: float) -> Cost:
    """Cost of an installation, from its drawings."""
    tried = [c for c in cases(study) if c.choke is not None or c.id in (NONE, IDEAL)]
    drawn = [c for c in tried if c.geometry != CABLE]
    built = [cable_of(study), *(structure(study, own_plan(study, c)) for c in drawn)]
    alone = structure(study, GeometryPlan(ALONE, has_feedline=False))
    sizes = [(len(b.segments), len(b.ports), 1) for b in built]
    twins = [(n, 1, 1) for n, *_ in (*sizes, (len(alone.segments), 1, 1))]
    finer = [(math.ceil(n / REFINED), ports, 1) for n, ports, _ in sizes] if share else []
    seconds = _seconds([*sizes, *twins]) + share * _seconds(finer)
    return Cost(
        seconds + _WITHOUT_SOLVES,
        _BESIDE_A_SOLVE + memory_of([*sizes, *finer]),
        len(built),
        len(tried),
    )


def _seconds(sizes: Iterable[tuple[int, int, int]]) -> float:
    """Time of some solves in a process that is there already. [s]"""
    start = basis_seconds((0, 0, 0))
    return sum(basis_seconds(size) - start for size in sizes)


def _parts(own: Sequence[Installation], size: int) -> Iterator[tuple[Installation, ...]]:
    for begin in range(0, len(own), size):
        yield tuple(own[begin : begin + size])


def _chunk(
    part: tuple[Installation, ...],
    group: str,
    cost: Cost,
    content: Sequence[Any],
) -> Chunk:
    """A chunk, named by its installations and by what all of its group have in common."""
    own = [*content, [one.data() for one in part]]
    digest = hashlib.sha256(json.dumps(own, sort_keys=True).encode()).hexdigest()[:16]
    return Chunk(digest, group, part, cost.seconds * len(part), cost.memory)


def _content(group: Group, own: Sequence[Installation]) -> list[Any]:
    """All that rows of a group depend on beside their installations."""
    ground = group.ground
    return [ground.data, ground.with_standard, _files(own[0], ground)]


def _files(one: Installation, ground: Ground) -> list[str]:
    """Digests of files that the studies of a group name; none where the study cannot be read."""
    try:
        (study,) = studies_of(one, ground, 1)
    except (BraidwiseError, FieldsError):
        return []
    return [hashlib.sha256((ground.folder / name).read_bytes()).hexdigest() for name in study.files]


def write_plan(plan: Plan, folder: Path) -> None:
    """Write the plan into a folder of results: each chunk by itself, then the whole."""
    grounds = {group.name: group.ground for group in plan.batch.groups}
    for chunk in plan.chunks:
        ground = grounds[chunk.group]
        target = folder / PLAN / f"{chunk.digest}.json"
        # Named by its content: what is there already is right.
        if not target.exists():
            data = {
                "ground": {**vars(ground), "lines": {}, "folder": str(ground.folder)},
                "columns": plan.columns,
                "installations": [one.data() for one in chunk.installations],
            }
            write_json(target, data, None)
    write_json(folder / PLAN / PLAN_FILE, _whole(plan))


def write_studies(plan: Plan, number: int, folder: Path) -> list[Path]:
    """Study files of one installation of a plan, one for each of its radio ends and bonds.

    Raises StudyError if there is no such installation, or its values make no study.
    """
    found = [(c.group, i) for c in plan.chunks for i in c.installations if i.number == number]
    if not found:
        rule = f"is not among the {plan.installations} installations, counted from 0"
        remedy = f"--installation {plan.installations - 1}"
        fault = Fault("--installation", str(number), rule, remedy, "batch-installation")
        raise StudyError(fault)
    ((name, one),) = found
    ground = next(group.ground for group in plan.batch.groups if group.name == name)
    paths = []
    for k, end in enumerate(one.ends):
        data = with_values(ground.data, {**one.values, **end})
        path = folder / f"{plan.batch.name}-{number}-{k}.yaml"
        told = json.dumps(one.shown[k], ensure_ascii=True)
        remark = f"# Installation {number} of {plan.batch.name}, {json.dumps(name)}: {told}\n"
        write_text(path, remark + yaml_text(data))
        paths.append(path)
    return paths


def _whole(plan: Plan) -> dict[str, Any]:
    return {
        "name": plan.batch.name,
        "title": plan.batch.title,
        "groups": [group.name for group in plan.batch.groups],
        "columns": plan.columns,
        "refined_share": plan.batch.refined_share,
        "chunks": [
            {
                "digest": c.digest,
                "installations": len(c.installations),
                "seconds": round(c.seconds, 1),
                "memory_mb": math.ceil(c.memory),
            }
            for c in plan.chunks
        ],
    }
