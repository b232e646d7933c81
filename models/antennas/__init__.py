"""One file per antenna. Each has NAME, PARAMETERS, check, sized and build."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from types import ModuleType


@cache
def antenna_modules() -> dict[str, ModuleType]:
    """Antenna files by name: every module of this package that has a NAME.

    Examples
    --------
    >>> "j-pole" in antenna_modules()
    True
    """
    found = {}
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        if hasattr(module, "NAME"):
            found[str(module.NAME)] = module
    return found
