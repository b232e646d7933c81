"""What every antenna generator hands over: wires, a feed, places where a shield may join."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, get_type_hints

import numpy as np

from models.catalogues.parts import CoaxClass, Pipe
from models.construction.assembly import Assembly
from models.quantities import MU_0, Choice, Quantity
from models.wires.loads import Load
from models.wires.pipe_cage import Cage
from models.wires.structure import Point, Problem, Wire

# What radios are made for, whatever the line in front of them is. [ohm]
RADIO_OHM = 50.0


@dataclass(frozen=True)
class Joint:
    """Where a cable's shield meets the antenna's metal.

    ``point`` lies on the drawn metal, ``away`` is the unit vector that leaves it, ``inside``
    is the distance [m] of the point from the axis from which a builder measures.
    """

    point: Point
    away: Point
    inside: float


@dataclass(frozen=True)
class Drawing:
    """How an antenna is to be drawn, the same for every generator.

    ``shortest_wavelength`` [m] is that of the upper end of the band; ``mast`` [m] is the length of
    the same pipe going on below the antenna, bonded to it (0: insulated mount); ``refine`` below
    one asks for shorter segments.
    """

    cage: Cage
    pipe_radius: float
    shortest_wavelength: float
    refine: float
    mast: float


@dataclass(frozen=True)
class FinishedAntenna:
    """Wires of an antenna with its feed, drawn with its base line on z = 0.

    ``feed_wires`` are the indices, within ``wires``, of the wires whose middle segments hold the
    feed, driven in parallel where a pipe is cut through; ``joints`` maps the name of a part to
    the place where a shield meets it; ``feed_inductance`` [H] is what the real feed conductor
    adds to the drawn one; ``lowest`` is the height [m] of the lowest metal relative to the
    antenna's base line; ``loads`` are circuit elements in the antenna itself.
    """

    wires: tuple[Wire, ...]
    feed_wires: tuple[int, ...]
    joints: dict[str, Joint]
    feed_inductance: float
    lowest: float
    loads: tuple[Load, ...] = ()


@dataclass(frozen=True)
class Trim:
    """A length or part that a builder trims, in the order in which it is trimmed.

    ``parameter`` is a field of the sized antenna, ``advice`` says what it does and how it is
    changed at the bench; ``step`` is how far it may be off from an honest cut, in the unit of
    the parameter. ``called`` is its name in a sentence, where that is not the parameter's;
    ``slides`` says that it is moved and not cut although a piece is as long as it.
    """

    parameter: str
    advice: str
    step: float
    called: str = ""
    slides: bool = False

    @property
    def name(self) -> str:
        """Name in a sentence."""
        return self.called or self.parameter.replace("_", " ")


@dataclass(frozen=True)
class Generator:
    """Everything the project needs to know about one kind of antenna.

    Attributes
    ----------
    name : str
        As a study writes it.
    title : str
        In plain words, with an article: "a J-pole".
    theory : str
        How it works, in a paragraph, with the source.
    base_line : str
        What lies at ``site.height``: "axis of the crossbar".
    parameters : type
        Frozen dataclass whose fields carry markers of models/quantities.py.
    joints : tuple of str
        Where a cable's shield may join; the first is the usual place.
    sized : callable
        (parameters, pipe, frequency, shield_diameter) to a record with every length known, and
        a sentence for each derived one.
    check : callable
        (parameters, pipe) to what cannot be built; only given lengths are judged.
    build : callable
        (sized, drawing) to wires, with the base line on z = 0.
    assembly : callable
        (sized, pipe, joint) to what is cut and joined; ``joint`` is the one of ``joints`` that the
        study chose, and marks and steps say it.
    trims : tuple of Knob
        What is tuned, in the order in which it is trimmed.
    azimuth_zero : str
        What azimuth zero points to: "from the long leg to the short leg".
    outlet : str
        From where distances along the cable count: "the sleeve's mouth".
    leaves_downward : bool
        Whether the cable leaves straight down instead of sideways.
    feed_height : callable
        (parameters) to the height of the joint above the base line, as far as it is known. [m]
    thinnest : callable or None
        (sized) to the radius [m] of the thinnest rod that is drawn as a single wire.
    with_cable : callable or None
        (parameters, cable class) to parameters that know what they take from the cable.
    carries_mast : bool
        Whether its pipe may go on below the base line as a mast.
    is_j_pole : bool
        Whether the surface solutions of J-poles speak for its drawing.
    """

    name: str
    title: str
    theory: str
    base_line: str
    parameters: type[Any]
    joints: tuple[str, ...]
    sized: Callable[[Any, Pipe, float, float], tuple[Any, tuple[str, ...]]]
    check: Callable[[Any, Pipe], list[Problem]]
    build: Callable[[Any, Drawing], FinishedAntenna]
    assembly: Callable[[Any, Pipe, str], Assembly]
    trims: tuple[Trim, ...]
    azimuth_zero: str
    outlet: str = "the antenna"
    leaves_downward: bool = False
    feed_height: Callable[[Any], float] = field(default=lambda parameters: 0.0)
    thinnest: Callable[[Any], float] | None = None
    with_cable: Callable[[Any, CoaxClass], Any] | None = None
    carries_mast: bool = False
    is_j_pole: bool = False

    def trim(self, parameter: str) -> Trim:
        """The trim of a parameter.

        Raises
        ------
        KeyError
            If it is none of those that are tuned.
        """
        for trim in self.trims:
            if trim.parameter == parameter:
                return trim
        raise KeyError(parameter)

    def units(self) -> dict[str, str]:
        """SI unit of every parameter by its name, "1" for a number, "" for a word."""
        found = {}
        for name, hint in get_type_hints(self.parameters, include_extras=True).items():
            for marker in getattr(hint, "__metadata__", ()):
                if isinstance(marker, Quantity):
                    found[name] = marker.unit
                elif isinstance(marker, Choice):
                    found[name] = ""
        return found


def filled(
    parameters: object, own: Mapping[str, tuple[float, str]]
) -> tuple[dict[str, float], tuple[str, ...]]:
    """Values by field, those that are given or else our own, and a sentence for each of ours.

    ``own`` holds each field's value and what is said about it.

    Examples
    --------
    >>> filled(Joint((0, 0, 0), (1, 0, 0), None), {"inside": (0.01, "10 mm (a guess)")})
    ({'inside': 0.01}, ('antenna.inside: 10 mm (a guess)',))
    """
    given = {key: getattr(parameters, key) for key in own}
    values = {key: own[key][0] if value is None else value for key, value in given.items()}
    ours = (key for key, value in given.items() if value is None)
    return values, tuple(f"antenna.{key}: {own[key][1]}" for key in ours)


def thickness_inductance(length: float, drawn_radius: float, real_radius: float) -> float:
    """Inductance a conductor has beyond that of the wire it is drawn with.

    Parameters
    ----------
    length : float
        Length of the conductor. [m]
    drawn_radius, real_radius : float
        Radius in the model and in copper. [m]

    Returns
    -------
    float
        Difference of inductance, negative where the real part is thicker. [H]

    Notes
    -----
    mu0 l / (2 pi) ln(drawn / real): only the flux between the two surfaces differs.

    References
    ----------
    .. [1] E. B. Rosa, "The self and mutual inductances of linear conductors", Bulletin of the
       Bureau of Standards 4, 1908 (difference of two straight wires).

    Examples
    --------
    >>> round(1e9 * thickness_inductance(0.033, 0.004, 0.001), 2)
    9.15
    """
    return float(MU_0 * length / (2 * np.pi) * np.log(drawn_radius / real_radius))
