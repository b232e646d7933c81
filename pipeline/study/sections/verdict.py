"""The section ``verdict`` of a study: from where on a change counts as visible."""

from __future__ import annotations

from typing import Annotated

from models.quantities import Quantity
from pipeline.study import fields as kinds
from pipeline.study.records import Thresholds
from pipeline.study.section import As, Section

_PATTERN = Quantity("dB", 0.05, 10.0, "rms change of the low-angle pattern", "0.5 dB")
_GAIN = Quantity("dB", 0.05, 10.0, "change of the mean gain towards the horizon", "0.5 dB")
_MATCH = Quantity("1", 0.01, 5.0, "change of SWR at the antenna", "0.2")
_CURRENT = Quantity("1", 0.001, 1.0, "current at the radio over that at the feed", "0.05")
_USUAL = Thresholds()


class VerdictSection(Section):
    """From where on a change against an ideal choke counts as visible."""

    pattern_rms: Annotated[float, As(kinds.quantity(_PATTERN))] = _USUAL.pattern_rms_db
    mean_gain: Annotated[float, As(kinds.quantity(_GAIN))] = _USUAL.mean_gain_db
    swr: Annotated[float, As(kinds.quantity(_MATCH))] = _USUAL.swr_step
    radio_current: Annotated[float, As(kinds.quantity(_CURRENT))] = _USUAL.station_ratio

    def record(self) -> Thresholds:
        """Frozen record."""
        return Thresholds(self.pattern_rms, self.mean_gain, self.swr, self.radio_current)
