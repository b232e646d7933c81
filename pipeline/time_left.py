"""How long a run still takes: what its jobs weigh, and the pace at which they go here and now.

Weights are times on an idle core of the machine they were measured on. Only their proportions
are trusted: another machine, or other work on this one, shows in the pace of what is finished.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from pipeline.workflow import FIGURE_GROUPS, StudyPlan

# What a job is: its rule, and the geometry or study it works on.
JobKey = tuple[str, str]

# Jobs that do not depend on a study's size. [s]
_FIXED = {"geometry": 1.2, "figures": 3.2, "report": 1.4, "compared": 1.9}
# Less than this part of a run says nothing about its pace.
_TELLING = 0.1
# A job that takes longer than expected is never taken for nearly finished.
_MOST_OF_A_JOB = 0.9


def basis_seconds(size: tuple[int, int, int]) -> float:
    """Time of one port basis on an idle core. [s]

    ``size`` is (segments, ports, frequencies). Filling goes with the square of the number of
    segments, factoring with its cube, both once a frequency; fields are made once for each port.
    """
    n, ports, frequencies = size
    per_frequency = 1.2e-6 * n**2 + 4e-10 * n**3 + 2.5e-6 * n * ports
    return 0.6 + frequencies * per_frequency + 1e-5 * n * ports


def check_seconds(size: tuple[int, int, int]) -> float:
    """Time of the refined and the lossless twin of a geometry, at one frequency. [s]"""
    return 0.6 + 3 * basis_seconds(size) / size[2]


def combine_seconds(cases: int) -> float:
    """Time of putting the cases of a study together. [s]"""
    return 3.6 + 0.34 * cases


def planned_jobs(plans: Iterable[StudyPlan], solved: frozenset[str]) -> dict[JobKey, float]:
    """Weight of every job that a run may need; ``solved`` are geometries solved before. [s]"""
    found: dict[JobKey, float] = {}
    for plan in plans:
        found["geometry", plan.name] = _FIXED["geometry"]
        for digest, size in plan.sizes.items():
            if digest not in solved:
                found["basis", digest] = basis_seconds(size)
                found["check", digest] = check_seconds(size)
        found["combine", plan.name] = combine_seconds(plan.cases)
        for group in FIGURE_GROUPS:
            found["figures", f"{plan.name}/{group}"] = _FIXED["figures"]
        found["report", plan.name] = _FIXED["report"]
    found["compared", ""] = _FIXED["compared"]
    return found


@dataclass
class Outlook:
    """What is left of a run. Times are those of one clock. [s]"""

    weights: dict[JobKey, float]
    cores: int
    begun: dict[JobKey, float] = field(default_factory=dict)
    finished: set[JobKey] = field(default_factory=set)
    spent: float = 0.0

    def limit_to(self, needed: Collection[str]) -> None:
        """Forget jobs whose rule is not among those this run needs."""
        self.weights = {key: w for key, w in self.weights.items() if key[0] in needed}

    def begin(self, task: JobKey, now: float) -> None:
        """Note that a job has begun."""
        self.begun[task] = now

    def end(self, task: JobKey, now: float) -> None:
        """Note that a job is finished."""
        if task in self.weights and task in self.begun:
            self.finished.add(task)
            self.spent += now - self.begun.pop(task)

    def pace(self) -> float | None:
        """Time taken over time expected; ``None`` while too little is finished to tell."""
        weight = sum(self.weights[job] for job in self.finished)
        telling = weight >= _TELLING * sum(self.weights.values()) and weight > 0
        return self.spent / weight if telling else None

    def left(self, now: float) -> float | None:
        """Time to the end of the run; ``None`` while it cannot be told. [s]

        Solves share the cores, but none is shared out. What follows for one study goes one after
        the other, its figures apart; several studies share the cores there too.
        """
        pace = self.pace()
        if pace is None:
            return None
        rest = {job: self._rest(job, now / pace, pace) for job in self._open()}
        solves = [w for (rule, _), w in rest.items() if rule in ("geometry", "basis", "check")]
        after = {job: w for job, w in rest.items() if job[0] in ("combine", "figures", "report")}
        chains: dict[str, float] = {}
        for (rule, what), weight in after.items():
            at_once = min(self.cores, len(FIGURE_GROUPS)) if rule == "figures" else 1
            study = what.split("/")[0]
            chains[study] = chains.get(study, 0.0) + weight / at_once
        compared = rest.get(("compared", ""), 0.0)
        return pace * (
            max(sum(solves) / self.cores, max(solves, default=0.0))
            + max((sum(after.values()) + compared) / self.cores, max(chains.values(), default=0.0))
        )

    def _open(self) -> list[JobKey]:
        return [job for job in self.weights if job not in self.finished]

    def _rest(self, job: JobKey, now: float, pace: float) -> float:
        """Weight of what is left of a job; ``now`` in units of weight."""
        weight = self.weights[job]
        if job not in self.begun:
            return weight
        return weight - min(_MOST_OF_A_JOB * weight, now - self.begun[job] / pace)


def in_words(seconds: float) -> str:
    """A time as roughly as it is known.

    Examples
    --------
    >>> in_words(7.3), in_words(48), in_words(130), in_words(5400)
    ('about 10 s', 'about 50 s', 'about 2 min', 'about 90 min')
    """
    if seconds < 90:
        return f"about {max(10, round(seconds / 10) * 10)} s"
    return f"about {round(seconds / 60)} min"
