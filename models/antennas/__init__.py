"""One file per antenna; each holds one :class:`generator.Generator` called GENERATOR."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from models.antennas.generator import Generator


@cache
def generators() -> dict[str, Generator]:
    """Antennas by name: every module of this package that has a GENERATOR.

    Examples
    --------
    >>> "j-pole" in generators()
    True
    """
    found: dict[str, Generator] = {}
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        generator = getattr(module, "GENERATOR", None)
        if isinstance(generator, Generator):
            found[generator.name] = generator
    return found
