"""The section ``exposure`` of a study: how much it transmits, and where people are."""

from __future__ import annotations

from typing import Annotated

from models.quantities import Quantity
from pipeline.study import fields as kinds
from pipeline.study.records import Exposure
from pipeline.study.section import As, Section, size

_MODE = Quantity("1", 0.01, 1.0, "mean power of the mode over that of a full carrier", "1")
_SHARE = Quantity("1", 0.01, 1.0, "part of any six minutes spent transmitting", "0.5")


class ExposureSection(Section):
    """How much the station transmits, and where people are; for the estimate of exposure."""

    mode_duty: Annotated[float, As(kinds.quantity(_MODE))] = 1.0
    transmit_share: Annotated[float, As(kinds.quantity(_SHARE))] = 1.0
    reach: Annotated[float, size(1.0, 10.0, "height up to which people walk", "2.5 m")] = 2.5
    cable_distance: Annotated[
        float, size(0.05, 2.0, "from a person to the cable at the radio", "0.2 m")
    ] = 0.2

    def record(self) -> Exposure:
        """Frozen record."""
        return Exposure(self.mode_duty, self.transmit_share, self.reach, self.cable_distance)
