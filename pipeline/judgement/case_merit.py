"""A case with its figures of merit: what the rules of the verdict and its words go by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from models.catalogues.parts import is_split
from pipeline.analysis.case_results import CaseResult
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.mesh.evidence import Grade

# How a core's size got into the catalogue where no print gives it.
_ASSUMED = ("derived", "from-memory")


@dataclass(frozen=True)
class CaseMerit:
    """One case at the design frequency: its figures of merit, its grade, and what is on the cable.

    ``merit`` has one row. ``part`` is the name of a core, or the label; ``hottest_power`` [W] is
    that in the core that takes most, ``sleeve_length`` [m] that of a sleeve as it is to be cut,
    ``coil_cable`` [m] what a coil takes of cable beside the run's own, ``also_at`` [m] where a
    second row begins.
    """

    id: str
    label: str
    part: str
    kind: str
    count: int
    position: float | None
    price: float | None
    currency: str
    grade: Grade
    merit: Merit
    hottest_power: float
    sleeve_length: float | None = None
    on_sale: bool = True
    coil_cable: float = 0.0
    is_solid: bool = False
    is_size_assumed: bool = False
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

    @cached_property
    def over_thresholds(self) -> dict[str, float]:
        """Every change over its threshold, by name of the figure."""
        return {name: float(part[0]) for name, part in self.merit.over_thresholds.items()}

    @property
    def choke_impedance(self) -> complex | None:
        """Impedance of the choke; None where none is in series. [ohm]"""
        z = complex(self["choke_r_ohm"], self["choke_x_ohm"])
        return None if np.isnan(z) else z


def case_merit(result: CaseResult, merit: Merit, grade: Grade) -> CaseMerit:
    """A case from its result and its figures of merit."""
    case, choke = result.case, result.case.choke
    core = None if choke is None else choke.ferrite_core
    return CaseMerit(
        id=case.id,
        label=case.label,
        part=choke.part if choke else case.label,
        kind=choke.kind if choke else "none",
        count=choke.count if choke else 0,
        position=choke.position if choke else None,
        price=choke.price if choke else None,
        currency=choke.currency if choke else "",
        grade=grade,
        merit=merit,
        hottest_power=result.hottest_share * result.choke_power,
        sleeve_length=choke.cut_length(result.study.host) if choke else None,
        on_sale=choke is None or choke.on_sale,
        coil_cable=choke.own_cable(result.study.cable.type) if choke else 0.0,
        is_solid=core is not None and not is_split(core),
        is_size_assumed=core is not None and core.confidence in _ASSUMED,
        also_at=choke.positions[1] if choke and len(choke.positions) > 1 else None,
    )
