"""Does the answer hold when much is unknown: geometries drawn and solved, many draws on each.

A study in, figures of merit of every candidate out, each for all draws. Geometric unknowns cost a
field solve at the design frequency with no more ports than the candidates need, and one more for
every coil that is drawn as wire; all others are port algebra on it.

What changes the drawing costs a solve, 24 of them by default; what is only an impedance is drawn
many times on each. Shares of the spread are first-order Sobol indices from the draws themselves,
with Kelley's correction; a geometric unknown is seen in as few points as there are geometries, so
its share has a level of chance beside it and is not named below that. A coil keeps its distance
below the bend that it hangs from: at a fixed place on the cable, draws with that bend further down
would drop out, for all other candidates too. How a candidate is made is a cause of what that
candidate does and of nothing else. A choke is recommended where it is enough nineteen times in
twenty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import joined
from pipeline.montecarlo.draws import Unknown, sobol, unknowns_of, varied_study
from pipeline.montecarlo.spread_solve import (
    Drawn,
    candidates,
    draw,
    draw_and_solve,
    left_out,
    outcomes_of,
    settled,
    stated_outcomes,
)
from pipeline.runtime.progress import Stretch, Tell, basis_seconds
from pipeline.runtime.workers import worker_pool
from pipeline.solver.cases import Case
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError

# What is said to be finished, step by step.
GEOMETRIES = "geometries"
# Draws at hand for each geometry wanted: where half of them cannot be built, ranges are too wide.
_SPARE = 2


@dataclass(frozen=True)
class Spread:
    """Everything drawn and found.

    ``u_geometric`` (n_geometry, n) and ``u_circuit`` (n_geometry, n_draw, m) are probabilities of
    the ``unknowns`` in their order; ``found`` holds for every case arrays of shape
    (n_geometry * n_draw,), geometry slowest; ``stated`` one row for the study as it stands.
    ``left_out`` names candidates that would need a geometry of their own, ``refused`` why a draw
    could not be drawn.
    """

    study: Study
    unknowns: tuple[Unknown, ...]
    u_geometric: NDArray[np.float64]
    u_circuit: NDArray[np.float64]
    cases: tuple[Case, ...]
    left_out: tuple[str, ...]
    nominal: Drawn
    drawn: tuple[Drawn, ...]
    stated: dict[str, Merit]
    found: dict[str, Merit]
    refused: tuple[str, ...]

    @property
    def shape(self) -> tuple[int, int]:
        """Geometries, and draws on each."""
        return self.u_circuit.shape[0], self.u_circuit.shape[1]


def solves_of(study: Study, cores: int) -> Stretch:
    """Geometries to be solved, and the time that each takes."""
    several = any(x.geometric for x in unknowns_of(study))
    cable, coils = draw(settled(study))
    each = sum(basis_seconds((len(b.segments), len(b.ports), 1)) for b in (cable, *coils))
    return Stretch(1 + (study.unknowns.geometries if several else 1), each / cores)


def run(
    study: Study,
    cores: int,
    say: Tell = lambda text, stretch: None,
    store: Path | None = None,
) -> Spread:
    """Draw, solve and combine, ``cores`` geometries at a time; ``say`` is told of every step.

    ``store`` is a folder in which solves are kept, for a run that is stopped to go on from. Raises
    StudyError if the study as it stands, or most draws, cannot be drawn.
    """
    study = settled(study)
    # What cannot be drawn as stated is told with its own faults, not as one draw of many.
    draw(study)
    unknowns = unknowns_of(study)
    geometric = tuple(x for x in unknowns if x.geometric)
    wanted = study.unknowns.geometries if geometric else 1
    circuit = tuple(x for x in unknowns if not x.geometric)
    n_draw, seed = study.unknowns.draws if circuit else 1, study.unknowns.seed
    u = sobol(_SPARE * wanted, len(geometric), seed)
    jobs = [_Job(study, circuit, sobol(1, len(circuit), seed))]
    jobs += [
        _Job(varied_study(study, geometric, row), circuit, sobol(n_draw, len(circuit), seed + k))
        for k, row in enumerate(u, start=1)
    ]
    done, refused = _solve(_each(jobs, wanted + 1, cores, store), wanted, say)
    if len(done) <= wanted:
        raise StudyError(_too_wide(study, refused))
    first, *rest = done.values()
    kept = [k - 1 for k in done if k]
    return Spread(
        study=study,
        unknowns=unknowns,
        u_geometric=u[kept],
        u_circuit=np.stack([jobs[k + 1].u for k in kept]),
        cases=candidates(study),
        left_out=left_out(study),
        nominal=first.drawn,
        drawn=tuple(d.drawn for d in rest),
        stated=stated_outcomes(first.drawn),
        found={c.id: joined([d.found[c.id] for d in rest]) for c in candidates(study)},
        refused=tuple(dict.fromkeys(refused)),
    )


@dataclass(frozen=True)
class _Job:
    """One draw of the geometry, and draws of all that is only an impedance, ``u`` (n_draw, m)."""

    study: Study
    circuit: tuple[Unknown, ...]
    u: NDArray[np.float64]


@dataclass(frozen=True)
class _Done:
    """One geometry with its outcomes."""

    drawn: Drawn
    found: dict[str, Merit]


def _too_wide(study: Study, refused: list[str]) -> Fault:
    return Fault(
        study.place("unknowns"),
        "",
        f"lets most draws make no installation; among the reasons: {refused[0]}",
        "narrow the ranges of route, height, antenna and lead",
        "unknowns-wide",
    )


def _solve(
    each: Iterator[_Done | str], wanted: int, say: Tell
) -> tuple[dict[int, _Done], list[str]]:
    """Solve the study as stated and the first so many draws that can be built, by their number.

    Also why others could not.
    """
    done: dict[int, _Done] = {}
    refused: list[str] = []
    for k, found in enumerate(each):
        if isinstance(found, str):
            refused.append(found)
            continue
        done[k] = found
        solved = (found.drawn.reduced, *found.drawn.coils.values())
        n = sum(len(reduced.structure.segments) for reduced in solved)
        say(f"geometry {len(done)}/{wanted + 1}, {n} segments", GEOMETRIES)
        if len(done) == wanted + 1:
            break
    return done, refused


def _each(jobs: list[_Job], first: int, cores: int, store: Path | None) -> Iterator[_Done | str]:
    """Geometries in order, solved a few at a time; spare ones only once they are asked for."""
    with worker_pool(cores, f"{jobs[0].study.name}: solving geometries") as pool:
        # Every solve has a worker of its own inside, so that a crash names its geometry.
        begun = [pool.submit(_attempt, job, store) for job in jobs[:first]]
        yield from (future.result() for future in begun)
        for job in jobs[first:]:
            yield pool.submit(_attempt, job, store).result()


def _attempt(job: _Job, store: Path | None) -> _Done | str:
    """A geometry with its outcomes, or why it cannot be drawn."""
    try:
        drawn = draw_and_solve(job.study, store)
    except StudyError as error:
        return "; ".join(f"{f.place.split('  ')[-1]} {f.rule}" for f in error.faults)
    return _Done(drawn, outcomes_of(drawn, job.circuit, job.u))
