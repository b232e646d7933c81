"""Time that a run still takes, from the weights of its jobs and their pace here and now. [s]

Weights are times on an idle core of the machine they were measured on. Only their proportions
are trusted: another machine, or other work on this one, shows in the pace of what is finished.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from pipeline.figures import FIGURE_GROUPS
from pipeline.runtime.progress import TELLING, basis_seconds
from pipeline.workflow.plans import StudyPlan
from pipeline.workflow.stages import STAGES

# What a job is: its rule, and the geometry or study it works on.
JobKey = tuple[str, str]

# What follows the solves of a study, in this order.
_AFTER = ("combine", "figures", "report")
# A job that takes longer than expected is never taken for nearly finished.
_MOST_OF_A_JOB = 0.9


def check_seconds(size: tuple[int, int, int]) -> float:
    """Time of the refined and the lossless twin of a geometry, at one frequency. [s]"""
    return 0.6 + 3 * basis_seconds(size) / size[2]


def combine_seconds(cases: int) -> float:
    """Time of putting the cases of a study together. [s]"""
    return 3.6 + 0.34 * cases


def planned_jobs(
    plans: Iterable[StudyPlan], finished: frozenset[JobKey] = frozenset()
) -> dict[JobKey, float]:
    """Weight of every job that a run may need, but for those finished before. [s]"""
    found: dict[JobKey, float] = {}
    for plan in plans:
        found["geometry", plan.name] = STAGES["geometry"].seconds
        for digest, size in plan.sizes.items():
            found["basis", digest] = basis_seconds(size)
            if digest not in plan.made_digests:
                found["check", digest] = check_seconds(size)
        found["combine", plan.name] = combine_seconds(plan.cases)
        for group in FIGURE_GROUPS:
            found["figures", f"{plan.name}/{group}"] = STAGES["figures"].seconds
        found["report", plan.name] = STAGES["report"].seconds
    found["compared", ""] = STAGES["compared"].seconds
    return {job: weight for job, weight in found.items() if job not in finished}


@dataclass
class Outlook:
    """Time left of a run. Times are those of one clock. [s]"""

    weights: dict[JobKey, float]
    cores: int
    begun: dict[JobKey, float] = field(default_factory=dict)
    finished: set[JobKey] = field(default_factory=set)
    spent: float = 0.0
    needed: Mapping[str, int] = field(init=False)

    def __post_init__(self) -> None:
        self.needed = Counter(rule for rule, _ in self.weights)

    def limit_to(self, needed: Mapping[str, int]) -> None:
        """Note how many jobs of each rule this run needs; which ones is not known before."""
        self.needed = needed

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
        begun = sum(self.weights.get(job, 0.0) for job in self.begun)
        whole = weight + begun + sum(self._waiting().values())
        telling = weight >= TELLING * whole and weight > 0
        return self.spent / weight if telling else None

    def left(self, now: float) -> float | None:
        """Time to the end of the run; ``None`` while it cannot be told. [s]

        Solves share the cores, but none is shared out. What follows for one study goes one after
        the other, its figures apart; several studies share the cores there too.
        """
        pace = self.pace()
        if pace is None:
            return None
        rest = self._waiting()
        for job in self.begun.keys() & self.weights.keys():
            rest[job] = self._rest(job, now / pace, pace)
        solves = [w for (rule, _), w in rest.items() if rule in ("geometry", "basis", "check")]
        after = {job: w for job, w in rest.items() if job[0] in _AFTER}
        chains: dict[str, float] = {}
        for job, weight in after.items():
            at_once = min(self.cores, len(FIGURE_GROUPS)) if job[0] == "figures" else 1
            study = _study(job)
            chains[study] = chains.get(study, 0.0) + weight / at_once
        compared = rest.get(("compared", ""), 0.0)
        return pace * (
            max(sum(solves) / self.cores, max(solves, default=0.0))
            + max((sum(after.values()) + compared) / self.cores, max(chains.values(), default=0.0))
        )

    def _waiting(self) -> dict[JobKey, float]:
        """Jobs that have not begun, each with its weight times the chance that it is needed."""
        started = self.begun.keys() | self.finished
        waiting = self.weights.keys() - started
        # Whatever is done for a study, its report comes last: their number is that of studies.
        studies = {_study(job) for job in started if job[0] in _AFTER}
        if len(studies) >= self.needed.get("report", 0):
            waiting = {job for job in waiting if job[0] not in _AFTER or _study(job) in studies}
        begun, open_ = (Counter(rule for rule, _ in jobs) for jobs in (started, waiting))
        chance = {r: max(0, self.needed.get(r, 0) - begun[r]) / n for r, n in open_.items()}
        return {job: self.weights[job] * chance[job[0]] for job in waiting}

    def _rest(self, job: JobKey, now: float, pace: float) -> float:
        """Weight of what is left of a job that has begun; ``now`` in units of weight."""
        weight = self.weights[job]
        return weight - min(_MOST_OF_A_JOB * weight, now - self.begun[job] / pace)


def _study(job: JobKey) -> str:
    """Study that a job after the solves belongs to; figures name their group as well."""
    return job[1].split("/")[0]
