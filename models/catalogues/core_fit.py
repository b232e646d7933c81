"""Which ferrite cores and pipes go over a cable: hole, jacket and the scatter of both."""

from __future__ import annotations

from models.catalogues.parts import FerriteCore, Pipe
from models.catalogues.working_limits import working_value

# Written lengths and their conversions differ by rounding [m].
_SLACK = 1e-9


def is_split(core: FerriteCore) -> bool:
    """Whether a core closes round a cable that already has its connectors.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> is_split(ferrite_core("mix-43-clamp-12-7")), is_split(ferrite_core("mix-43-ring-21"))
    (True, False)
    """
    return core.shape == "clamp-on"


def least_hole(core: FerriteCore, jacket_diameter: float) -> float:
    """Smallest hole of a core of this shape that a cable is sure to go through. [m]

    The hole of a split core is the thickest cable that its maker names. That of a solid one is a
    nominal bore: bore and jacket scatter, and a cable has to be pulled through.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> round(1e3 * least_hole(ferrite_core("mix-43-bead-14-3"), 6.1e-3), 2)
    6.4
    """
    return jacket_diameter + (0.0 if is_split(core) else working_value("core-clearance"))


def takes_cable(core: FerriteCore, jacket_diameter: float) -> bool:
    """Whether a cable with its jacket [m] goes through a core's hole.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> bead = ferrite_core("mix-43-bead-14-3")
    >>> takes_cable(bead, 4.95e-3), takes_cable(bead, 6.1e-3)
    (True, False)
    """
    return core.hole_diameter >= least_hole(core, jacket_diameter) - _SLACK


def bore(tube: Pipe) -> float:
    """Inner diameter of a pipe. [m]

    Examples
    --------
    >>> from models.catalogues.parts import pipe
    >>> round(1e3 * bore(pipe("28x1 mm")), 3)
    26.0
    """
    return tube.outside_diameter - 2 * tube.wall


def goes_into(jacket_diameter: float, tube: Pipe) -> bool:
    """Whether a cable with its jacket [m] goes into a pipe with air to spare.

    Examples
    --------
    >>> from models.catalogues.parts import pipe
    >>> goes_into(10.3e-3, pipe("12x0.6 mm")), goes_into(10.3e-3, pipe("12x1 mm"))
    (True, False)
    """
    return bore(tube) > jacket_diameter
