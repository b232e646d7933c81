"""The section ``measured`` of a study: a measurement of the antenna that was built."""

from __future__ import annotations

from typing import Annotated, Any

from models.quantities import Choice, Quantity
from pipeline.study import fields as kinds
from pipeline.study.records import MeasuredAntenna
from pipeline.study.section import As, Section
from pipeline.study.sections.chokes import a_measurement

_PLACE = Choice(("feed", "radio"), "where the analyser was joined")
_POWER = Quantity("W", 1e-9, 5e3, "what the analyser sent into the antenna, as a note", "1 mW")
_CASE = kinds.text("case it stands beside: none, ideal, no-feedline or a candidate", "none", 60)


class MeasuredAntennaSection(Section):
    """A measurement of the antenna, to be laid over what is computed."""

    antenna: Annotated[tuple[str, Any], a_measurement("reflection, one port", "antenna.s1p", 1)]
    at: Annotated[str, As(kinds.one_of(_PLACE))]
    case: Annotated[str, As(_CASE)] = "none"
    power: Annotated[float | None, As(kinds.quantity(_POWER))] = None

    def record(self) -> MeasuredAntenna:
        """Frozen record."""
        name, network = self.antenna
        return MeasuredAntenna(
            file=name,
            f=tuple(network.f.tolist()),
            gamma=tuple(network.s[:, 0, 0].tolist()),
            at=self.at,
            case=self.case,
            power=self.power,
        )
