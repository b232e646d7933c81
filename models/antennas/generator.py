"""Interface of an antenna generator: what it is asked for, and what it hands over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, get_type_hints

import numpy as np

from models.catalogues.parts import CoaxClass, Pipe
from models.construction.assembly import Assembly
from models.faults import Fault
from models.quantities import MU_0, Choice, Quantity
from models.wires.loads import Load
from models.wires.pipe_cage import Cage
from models.wires.structure import Point, Wire

# What radios are made for, whatever the line in front of them is. [ohm]
RADIO_OHM = 50.0


@dataclass(frozen=True)
class Joint:
    """Joint of a cable's shield with the antenna's metal.

    ``point`` lies on the drawn metal, ``away`` is the unit vector that leaves it, ``inside``
    is the distance [m] of the point from the axis from which a builder measures. ``first`` [m] is
    the wanted length of the shield's first segment, where it is not that of a joint on a pipe.
    """

    point: Point
    away: Point
    inside: float
    first: float | None = None


@dataclass(frozen=True)
class Drawing:
    """Settings of a drawing, the same for every generator.

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
    changed; ``step`` is how far it may be off from an honest cut, in the unit of
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

    In words: ``name`` as a study writes it; ``title`` with an article ("a J-pole"); ``theory``, a
    paragraph with its source; ``base_line``, what lies at ``site.height`` ("axis of the crossbar");
    ``azimuth_zero`` ("from the long leg to the short leg"); ``outlet``, from where distances along
    the cable count ("the sleeve's mouth").

    ``parameters`` is a frozen dataclass whose fields carry markers of models/quantities.py,
    ``joints`` are the places where a cable's shield may join, the usual one first, ``trims`` what
    is tuned, in that order. Functions, the first four always:

    - ``sized`` (parameters, pipe, frequency, shield_diameter) to a record with every length known,
      and a sentence for each derived one;
    - ``check`` (parameters, pipe) to what cannot be built; only given lengths count;
    - ``build`` (sized, drawing) to wires, with the base line on z = 0;
    - ``assembly`` (sized, pipe, joint) to what is cut and joined; marks and steps name the joint;
    - ``feed_height`` (parameters or sized) to the height [m] of the joint above the base line,
      ``None`` where it is derived;
    - ``thinnest`` (sized) to the radius [m] of the thinnest rod that is drawn as a single wire;
    - ``with_cable`` (parameters, cable class) to parameters that know what the cable gives them.

    ``leaves_downward``: the cable leaves straight down instead of sideways; ``carries_mast``: the
    pipe may go on below the base line as a mast; ``is_j_pole``: the surface solutions of J-poles
    speak for its drawing.
    """

    name: str
    title: str
    theory: str
    base_line: str
    parameters: type[Any]
    joints: tuple[str, ...]
    sized: Callable[[Any, Pipe, float, float], tuple[Any, tuple[str, ...]]]
    check: Callable[[Any, Pipe], list[Fault]]
    build: Callable[[Any, Drawing], FinishedAntenna]
    assembly: Callable[[Any, Pipe, str], Assembly]
    trims: tuple[Trim, ...]
    azimuth_zero: str
    outlet: str = "the antenna"
    leaves_downward: bool = False
    feed_height: Callable[[Any], float | None] = field(default=lambda lengths: 0.0)
    thinnest: Callable[[Any], float] | None = None
    with_cable: Callable[[Any, CoaxClass], Any] | None = None
    carries_mast: bool = False
    is_j_pole: bool = False

    def sized_on(
        self, parameters: Any, pipe: Pipe, frequency: float, cable: CoaxClass
    ) -> tuple[Any, tuple[str, ...]]:
        """Sized antenna on a cable that it is told of, and a sentence for each derived length.

        ``frequency`` is in Hz.
        """
        if self.with_cable is not None:
            parameters = self.with_cable(parameters, cable)
        return self.sized(parameters, pipe, frequency, cable.shield_diameter)

    def trim(self, parameter: str) -> Trim:
        """The trim of a parameter."""
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
    """Inductance of a conductor beyond that of the wire it is drawn with. [H]

    ``length`` and both radii in m; negative where the real part is thicker.
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
