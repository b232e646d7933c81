"""Section ``weather`` of a study: what the antenna has to bear beside the wind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from models.quantities import Choice, Quantity
from pipeline.study.section import study_section
from pipeline.study.sections_read import Parts
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity


@study_section("weather")
@dataclass(frozen=True)
class Weather:
    """What the antenna has to bear beside the wind."""

    ice: Annotated[float, Quantity("m", 0.0, 0.05, "thickness of ice all round", "5 mm")] = 0.0
    salt: Annotated[str, Choice(("no", "yes"), "spray of the sea reaches the antenna")] = "no"

    def check(self, parts: Parts) -> list[FieldError]:
        """Ice that is thicker than the pipe is a slip of the pen."""
        if parts.pipe is None or self.ice <= parts.pipe.outside_diameter:
            return []
        most = show_quantity(parts.pipe.outside_diameter, "m")
        rule = f"is thicker than the pipe ({most})"
        return [FieldError(rule, f"ice: {most} or less", "ice-thick", ("weather", "ice"))]
