"""Metal around an antenna: mast, gutters and guy wires, the shield of another cable.

A drawn installation and plain descriptions come in; wires, ports and the places of earth leads
go out. Nothing here is joined to the antenna but a bonded mast, and that by one short strap.

It is drawn behind antenna and cable, so that a study without it keeps its digests. Currents on all
of this stand in ``nearby_current.csv`` and in the summary.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass
from models.faults import Fault
from models.lengths import small
from models.site.earth import Earth, Footing
from models.site.feedline_route import Route
from models.site.mast import Mast, MastRule, draw_mast, way_past_mast
from models.site.rail import RailRule, draw_rail
from models.site.sleeve import ON_CABLE, SLEEVE
from models.wires.loads import Load, Termination
from models.wires.proximity import LineRule, graded_line, lines_of
from models.wires.structure import GeometryError, Material, Point, Port, Structure, Wire, grid_point

Real = NDArray[np.float64]

# Names of parts that an installation has anyway; a piece of metal may not be called so.
OWN_PARTS = ("antenna", "shield", "coil", SLEEVE, "bond lead", "rod star", "station lead")
MAST, OTHER = "mast", "other feedline"
# A cable's axis and the surface of something beside it keep this many radii of the shield apart.
# Line of cable and cage against two round conductors: 2 to 3 % high there, 7 to 9 % at two radii.
CLEAR_OF_CABLE = 3.0
# Thickest round metal in wavelengths: its segments are at least two radii and at most a tenth of a
# wavelength long.
THICKEST = 1 / 25
# Thickest wire that a lead is joined to, in wire radii: transfer admittances of feed and lead are
# 1 % unlike both ways where both are alike, 30 % at a step of five, 50 % at seven.
THICKEST_EARTHED = 2.0
# Longest segment of metal that is far from everything, in wavelengths.
LONGEST = 1 / 25


@dataclass(frozen=True)
class Piece:
    """A wire or rod with a name of its own, bent at ``points`` [m], z above ground.

    ``earth`` is a lead to a rod from the last of its points; ``joined`` says that the antenna is
    clamped to it.
    """

    name: str
    radius: float
    points: tuple[Point, ...]
    earth: Earth | None = None
    joined: bool = False


@dataclass(frozen=True)
class OtherFeedline:
    """Another cable alongside the downward run of ours, ``beside`` [m] from axis to axis.

    ``towards`` is the side, as the route's steps say it; ``high`` and ``low`` are its ends above
    ground [m]; ``strap`` [ohm] joins its upper end to our shield (None: open); ``earth`` leads
    from its lower end to a rod (None: open).
    """

    cable: CoaxClass
    beside: float
    towards: str
    high: float
    low: float
    strap: complex | None = None
    earth: Earth | None = None


@dataclass(frozen=True)
class Surroundings:
    """Everything around one antenna; empty: nothing but soil."""

    mast: Mast | None = None
    mast_earth: Earth | None = None
    pieces: tuple[Piece, ...] = ()
    other: OtherFeedline | None = None

    @property
    def drawn(self) -> bool:
        """Whether any of it is drawn; wood is not."""
        metal = self.mast is not None and self.mast.metal
        return metal or bool(self.pieces) or self.other is not None


NOTHING = Surroundings()


@dataclass(frozen=True)
class Run:
    """The longest downward stretch of our cable: its place and the way out of the route."""

    at: tuple[float, float]
    out: tuple[float, float]


@dataclass(frozen=True)
class Setting:
    """Surroundings together with what they are drawn with.

    ``base`` is the height of the antenna's base line [m], ``radius`` that of the wires near the
    antenna [m], ``sheath`` the material of the other cable's shield with its jacket, ``rod`` the
    impedance of the rod of our cable's bond [ohm], None without a bond.
    """

    around: Surroundings
    base: float
    radius: float
    shortest_wavelength: float
    refine: float
    metal: Material
    run: Run | None = None
    sheath: Material = field(default_factory=Material)
    rod: complex | None = None


@dataclass(frozen=True)
class Standing:
    """Wires, ports and loads of the surroundings, counted from the first of their wires."""

    wires: tuple[Wire, ...] = ()
    ports: tuple[Port, ...] = ()
    loads: tuple[Load, ...] = ()
    footings: tuple[Footing, ...] = ()


def downward_run(route: Route, out: Point) -> Run:
    """The longest downward stretch of a route, for what hangs beside it; ``out`` is unit length."""
    points = np.array([n.point for n in route.nodes])
    drops = points[:-1, 2] - points[1:, 2]
    longest = int(np.argmax(drops))
    x, y = points[longest, :2]
    return Run((float(x), float(y)), (out[0], out[1]))


def stand(structure: Structure, setting: Setting) -> Standing:
    """Draw what stands around a finished installation at its place above the ground."""
    around = setting.around
    found = Standing()
    if around.mast is not None and around.mast.metal:
        rule = MastRule(setting.radius, setting.shortest_wavelength, setting.refine, setting.metal)
        earthed = around.mast_earth is not None
        drawn = draw_mast(around.mast, structure.wires, setting.base, rule, earthed)
        footings: tuple[Footing, ...] = ()
        if around.mast_earth is not None:
            footings = (
                Footing(
                    "mast foot",
                    MAST,
                    drawn.foot,
                    rule.radius,
                    drawn.thick,
                    around.mast_earth,
                    drawn.rim,
                ),
            )
        found = Standing(drawn.wires, footings=footings)
    for piece in around.pieces:
        found = _with_piece(found, piece, structure, setting)
    if around.other is not None:
        found = _with_other(found, around.other, structure, setting)
    problems = _too_near(structure, found.wires, setting)
    if problems:
        raise GeometryError(*problems)
    return found


def earth_places(setting: Setting) -> list[tuple[Point, Earth]]:
    """Leads to a rod and where they go down; their height is not looked at."""
    around, found = setting.around, []
    if around.mast is not None and around.mast.metal and around.mast_earth is not None:
        x, y = around.mast.place
        found.append(((float(x), float(y), 0.0), around.mast_earth))
    found += [(p.points[-1], p.earth) for p in around.pieces if p.earth is not None]
    other = around.other
    if other is not None and other.earth is not None and setting.run is not None:
        x, y = np.asarray(setting.run.at) + other.beside * _sideways(setting.run, other)
        found.append(((float(x), float(y), 0.0), other.earth))
    return found


def keys_of(around: Surroundings) -> dict[str, str]:
    """Place in the study of every part that stands around."""
    pieces = {p.name: f"site.metalwork[{k}]" for k, p in enumerate(around.pieces)}
    return {MAST: "site.mast", OTHER: "site.other_feedline", **pieces}


def _with_piece(found: Standing, piece: Piece, structure: Structure, setting: Setting) -> Standing:
    _refuse_thick(piece, setting)
    points = [grid_point(p) for p in piece.points]
    if piece.joined:
        key = f"site.metalwork[{setting.around.pieces.index(piece)}]"
        rail = RailRule(
            setting.radius,
            setting.shortest_wavelength,
            setting.refine,
            setting.metal,
            piece.name,
            key,
        )
        wires = draw_rail(tuple(points), piece.radius, structure.wires, rail)
    else:
        rule = replace(_line(piece.radius, setting), part=piece.name)
        others = lines_of((*structure.wires, *found.wires))
        legs = itertools.pairwise(points)
        wires = tuple(w for a, b in legs for w in graded_line(a, b, others, rule))
    footings = found.footings
    if piece.earth is not None:
        port = f"{piece.name} rod"
        thick = setting.radius if piece.joined else piece.radius
        lead = Footing(port, piece.name, points[-1], setting.radius, thick, piece.earth)
        footings = (*footings, lead)
    return replace(found, wires=(*found.wires, *wires), footings=footings)


def _refuse_thick(piece: Piece, setting: Setting) -> None:
    """Raise if a piece is too thick for one wire, or for a lead that is joined to it."""
    key = f"site.metalwork[{setting.around.pieces.index(piece)}]"
    most = 2 * THICKEST_EARTHED * setting.radius
    if piece.earth is not None and not piece.joined and 2 * piece.radius > most:
        raise GeometryError(
            Fault(
                f"{key}.foot",
                "",
                f"joins a lead to the {piece.name}, which is too thick for that: at most "
                f"{small(most)} can be drawn",
                "describe its edge as a thinner wire, or foot: open",
                "metal-thick",
            )
        )
    if piece.radius > THICKEST * setting.shortest_wavelength:
        raise GeometryError(
            Fault(
                f"{key}.diameter",
                small(2 * piece.radius),
                f"is too thick for the {piece.name} to be one wire: at most "
                f"{small(2 * THICKEST * setting.shortest_wavelength)} in this band",
                "draw its edges as two thinner wires instead",
                "metal-thick",
            )
        )


def _line(radius: float, setting: Setting) -> LineRule:
    return LineRule(
        radius,
        setting.refine * LONGEST * setting.shortest_wavelength,
        2.5 * setting.radius,
        setting.refine,
        setting.metal,
        "",
    )


def _with_other(
    found: Standing, other: OtherFeedline, structure: Structure, setting: Setting
) -> Standing:
    """The other cable's shield, joined to ours or to the soil where the study says so."""
    if setting.run is None:
        raise ValueError("another cable hangs beside a run, and none was given")
    side = _sideways(setting.run, other)
    radius = other.cable.shield_diameter / 2
    x, y = np.asarray(setting.run.at) + other.beside * side
    joint = None if other.strap is None else _shield_node(structure, setting.run.at, other.high)
    top = grid_point((x, y, other.high if joint is None else joint[2]))
    foot = grid_point((x, y, other.low))
    rule = replace(_line(radius, setting), part=OTHER, material=setting.sheath)
    beside = lines_of((*structure.wires, *found.wires))
    wires = graded_line(top, foot, beside, rule)
    ports, loads, footings = found.ports, found.loads, found.footings
    first = len(found.wires)
    if joint is not None and other.strap is not None:
        index = first + len(wires)
        bare = replace(setting.sheath, jacket_inductance=0.0)
        wires.append(Wire(joint, top, 3, radius, OTHER, bare))
        ports = (*ports, Port("other top", index, 1))
        loads = (*loads, Load("other top", Termination(other.strap), index))
    if other.earth is not None:
        footings = (*footings, Footing("other foot", OTHER, foot, radius, 0.0, other.earth))
    return Standing((*found.wires, *wires), ports, loads, footings)


def _sideways(run: Run, other: OtherFeedline) -> Real:
    out = np.asarray(run.out)
    left = np.array([-out[1], out[0]])
    return {"out": out, "back": -out, "left": left, "right": -left}[other.towards]


def _shield_node(structure: Structure, at: tuple[float, float], high: float) -> Point | None:
    """End of a segment of our shield in its downward run, nearest to a height; None without it."""
    nodes = {
        p
        for w in structure.wires
        if w.part == "shield"
        for p in (w.start, w.end)
        if np.hypot(p[0] - at[0], p[1] - at[1]) < 1e-5
    }
    return min(nodes, key=lambda p: abs(p[2] - high), default=None)


def _too_near(structure: Structure, wires: Iterable[Wire], setting: Setting) -> list[Fault]:
    """Parts that come nearer to our cable than thin wires may; one problem a part."""
    shield = [w for w in structure.wires if w.part in ON_CABLE]
    if not shield:
        return []
    cable = lines_of(shield)
    radius = max(w.radius for w in shield)
    pieces = {p.name: p for p in setting.around.pieces}
    mast, other = setting.around.mast, setting.around.other
    problems = []
    parts = dict.fromkeys(w.part for w in wires)
    for part in parts:
        lines = [(w.start, w.end) for w in wires if w.part == part]
        if part == MAST and mast is not None:
            lines, own = [mast.axis(structure.wires, setting.base)], mast.radius
        elif part == OTHER and other is not None:
            # Its strap may touch; what runs alongside may not.
            lines = [(a, b) for a, b in lines if a[2] != b[2]]
            own = other.cable.shield_diameter / 2
        else:
            own = pieces[part].radius
            if pieces[part].joined:
                lines = list(itertools.pairwise(pieces[part].points))
        gap = min(cable.nearest(a, b) for a, b in lines) - own
        if gap < CLEAR_OF_CABLE * radius:
            problems.append(_near_problem(part, gap, radius, structure, setting))
    return problems


def _near_problem(
    part: str, gap: float, radius: float, structure: Structure, setting: Setting
) -> Fault:
    least = CLEAR_OF_CABLE * radius
    far = "passes through it" if gap < 0 else f"comes within {small(gap)} of its surface"
    mast, remedy = setting.around.mast, f"move the {part} or the cable"
    if part == MAST and mast is not None:
        remedy = way_past_mast(
            mast, structure.wires, setting.base, least, setting.shortest_wavelength
        )
    elif part == OTHER and setting.around.other is not None:
        remedy = f"beside: {small(setting.around.other.beside + least - gap + 1e-3, 0, 'up')}"
    return Fault(
        keys_of(setting.around)[part],
        "",
        f"is too close to the cable for thin wires: the axis of the cable {far} ({part}), and "
        f"{small(least, 0)} are needed",
        remedy,
        "cable-near-metal",
    )
