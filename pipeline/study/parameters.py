"""Parameters of a study's antenna: what one of them is, and the study with others.

A study in; the marker of a parameter or a changed study out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import get_type_hints

from models.antennas import generators
from models.quantities import Quantity
from pipeline.study.records import Study


def marker_of(study: Study, name: str) -> Quantity:
    """Unit, limits and meaning of one of the antenna's parameters."""
    hints = get_type_hints(generators()[study.antenna.type].parameters, include_extras=True)
    marks = getattr(hints[name], "__metadata__", ())
    return next(m for m in marks if isinstance(m, Quantity))


def with_values(study: Study, names: Sequence[str], values: Sequence[float]) -> Study:
    """The study with some of its antenna's parameters changed."""
    changed = dict(zip(names, values, strict=True))
    parameters = replace(study.antenna.parameters, **changed)
    return replace(study, antenna=replace(study.antenna, parameters=parameters))
