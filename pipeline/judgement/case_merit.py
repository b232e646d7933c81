"""A case as described with its figures of merit: what tables and pages go by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.mesh.evidence import Grade


@dataclass(frozen=True)
class CaseMerit:
    """One case at the design frequency: its figures of merit, its grade, and what is on the cable.

    ``merit`` has one row. ``hottest_power`` [W] is that in the core that takes most, ``also_at``
    [m] where a second row begins.
    """

    id: str
    label: str
    kind: str
    count: int
    position: float | None
    price: float | None
    currency: str
    grade: Grade
    merit: Merit
    hottest_power: float
    also_at: float | None = None

    def __getitem__(self, name: str) -> float:
        """A figure of merit by its name."""
        return float(self.merit[name][0])

    def change(self, name: str) -> float:
        """Change of a scored figure."""
        return float(self.merit.changes[name][0])

    @cached_property
    def score(self) -> float:
        """Largest change over its threshold: one or less is no visible change."""
        return float(self.merit.score()[0])

    @property
    def choke_impedance(self) -> complex | None:
        """Impedance of the choke; None where none is in series. [ohm]"""
        z = complex(self["choke_r_ohm"], self["choke_x_ohm"])
        return None if np.isnan(z) else z


def case_merit(result: CaseResult, merit: Merit, grade: Grade) -> CaseMerit:
    """A case from its result and its figures of merit."""
    case, choke = result.case, result.case.choke
    return CaseMerit(
        id=case.id,
        label=case.label,
        kind=choke.kind if choke else "none",
        count=choke.count if choke else 0,
        position=choke.position if choke else None,
        price=choke.price if choke else None,
        currency=choke.currency if choke else "",
        grade=grade,
        merit=merit,
        hottest_power=result.hottest_share * result.choke_power,
        also_at=choke.positions[1] if choke and len(choke.positions) > 1 else None,
    )
