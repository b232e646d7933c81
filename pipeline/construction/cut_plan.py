"""From a study to everything a workshop needs: pieces, bars, parts, marks, mass and wind load."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase

from models.antennas import generators
from models.antennas.generator import Generator
from models.catalogues.parts import Pipe
from models.construction.assembly import Assembly, JointKind, JointPoint, Member
from models.construction.cutting import Joinery, Piece, cut_pieces, fitting_at, split_long
from models.construction.fittings import FITTING_KINDS, FittingKind, FittingSize, fitting_size
from models.construction.joints import (
    Choice,
    FoundMark,
    choose_joinery,
    find_mark,
    landings,
    short_pieces,
)
from models.construction.stock import Bar, nest, stock_length
from models.construction.wind_load import Rod, WindLoad, wind_load
from models.lengths import large
from models.wires.structure import GeometryError, Problem
from pipeline.solver.structures import assembled, sized_antenna
from pipeline.study.records import Build, Study
from pipeline.text.errors import Fault, StudyError

# Pieces that differ by less [m] are one line of the list.
_ALIKE = 5e-5
# A mark that is nearer to its edge than this [m] is at the edge.
_NOTHING = 5e-4
_ARMS: dict[FittingKind, int] = {
    "elbow 90": 2,
    "elbow 45": 2,
    "tee": 3,
    "coupling": 2,
    "cap": 1,
}


@dataclass(frozen=True)
class CutRow:
    """Pieces that are alike: a letter, the piece, and the names of all of them."""

    letter: str
    piece: Piece
    names: tuple[str, ...]


@dataclass(frozen=True)
class StockBars:
    """Bars of one stock and the letters of what is sawn from each."""

    stock: str
    bars: tuple[tuple[tuple[str, ...], float], ...]


@dataclass(frozen=True)
class Part:
    """A line of the parts list; ``price`` is of one, None where the study gives none."""

    quantity: int
    name: str
    price: float | None = None


@dataclass(frozen=True)
class Mass:
    """Mass of pipe as cut and of fittings as estimated from their size [kg]."""

    stock: float
    fittings: float

    @property
    def total(self) -> float:
        """Both together [kg]."""
        return self.stock + self.fittings


@dataclass(frozen=True)
class CutPlan:
    """All that is known about the build of one study's antenna.

    ``bar`` [m] is how long stock is; ``marks`` are measured from an edge, ``landings`` are where
    members meet a piece that goes through, and marks that lie on their edge.
    """

    study: Study
    generator: Generator
    assembly: Assembly
    joinery: Joinery
    bar: float
    reasons: tuple[str, ...]
    pieces: tuple[Piece, ...]
    rows: tuple[CutRow, ...]
    stocks: tuple[StockBars, ...]
    marks: tuple[FoundMark, ...]
    landings: tuple[FoundMark, ...]
    parts: tuple[Part, ...]
    mass: Mass
    wind: WindLoad
    derived: tuple[str, ...]

    @property
    def cost(self) -> float | None:
        """Sum of what has a price; None where nothing has."""
        priced = [p.quantity * p.price for p in self.parts if p.price is not None]
        return sum(priced) if priced else None


def fitting_sizes(pipe: Pipe, build: Build) -> dict[FittingKind, FittingSize]:
    """Every kind of fitting for a pipe, measured sizes before those of the catalogue."""
    sizes = {kind: fitting_size(kind, pipe) for kind in FITTING_KINDS}
    measured = build.fittings.measured()
    for kind in FITTING_KINDS:
        if (given := measured.get(kind)) is None:
            continue
        cup = sizes[kind].cup_depth if given.cup is None else given.cup
        laying = given.laying_length(cup, sizes[kind].laying_length)
        sizes[kind] = FittingSize(kind, cup, laying, "measured, as the study says")
    return sizes


def with_mast(assembly: Assembly, mast: float) -> Assembly:
    """The antenna with its pipe going on below the base line.

    Raises
    ------
    GeometryError
        If no joint of the assembly lies where the mast begins.
    """
    if not mast:
        return assembly
    top = next((j for j in assembly.joints if j.point == (0.0, 0.0, 0.0)), None)
    if top is None:
        raise GeometryError(
            Problem(
                "site.mount.mast",
                large(mast, None),
                "cannot be drawn: this antenna has no joint on its base line",
                "mount: insulated",
                "mast-none",
            )
        )
    kinds: dict[int, JointKind] = {1: "coupling", 2: "tee"}
    kind = kinds.get(len(assembly.at(top.name)), top.kind)
    joints = tuple(replace(j, kind=kind) if j == top else j for j in assembly.joints)
    foot = JointPoint("foot of the mast", (0.0, 0.0, -mast), "open")
    member = Member("mast", "foot of the mast", top.name)
    return replace(assembly, members=(*assembly.members, member), joints=(*joints, foot))


def plan_cuts(study: Study) -> CutPlan:
    """Pieces, bars, parts, marks, mass and wind load of a study's antenna.

    Parameters
    ----------
    study : Study

    Returns
    -------
    CutPlan

    Raises
    ------
    StudyError
        If lengths do not go together, a piece is too short for its joints, or stock too short.
    """
    generator = generators()[study.antenna.type]
    try:
        sized = sized_antenna(study)
        whole = with_mast(assembled(study), study.site.mast)
    except GeometryError as error:
        raise _refusal(study, error.problems) from error
    sizes = fitting_sizes(study.pipe, study.build)
    choice = choose_joinery(whole, study.pipe, sizes, study.build.joints)
    bar, told = _bar(study)
    assembly, pieces = _pieces(study, whole, choice, bar)
    rows = _rows(pieces)
    mass = _mass(assembly, pieces, choice.joinery)
    stocks = _stocks(rows, bar, study.build.kerf)
    found = [find_mark(assembly, pieces, choice.joinery, mark) for mark in assembly.marks]
    return CutPlan(
        study=study,
        generator=generator,
        assembly=assembly,
        joinery=choice.joinery,
        bar=bar,
        reasons=choice.reasons,
        pieces=pieces,
        rows=rows,
        stocks=stocks,
        marks=tuple(mark for mark in found if mark.from_edge > _NOTHING),
        landings=(
            *(mark for mark in found if mark.from_edge <= _NOTHING),
            *landings(assembly, pieces),
        ),
        parts=_parts(assembly, choice.joinery, (bar, stocks), study.build),
        mass=mass,
        wind=wind_load(_in_the_wind(whole, choice.joinery), study.build.wind_speed),
        derived=(*sized.sentences, *told),
    )


def _bar(study: Study) -> tuple[float, tuple[str, ...]]:
    """Length of a bar of stock [m], and a sentence where the study leaves it out."""
    if study.build.stock is not None:
        return study.build.stock, ()
    sold = stock_length(study.pipe.standard, study.lengths == "imperial")
    how = sold.confidence.replace("-", " ")
    return sold.length, (f"build.stock: {large(sold.length, None)} ({sold.name}; {how})",)


def _pieces(
    study: Study, whole: Assembly, choice: Choice, stock: float
) -> tuple[Assembly, tuple[Piece, ...]]:
    """Assembly with long members split, and its pieces; refuses what cannot be cut."""
    problems = list(choice.problems)
    assembly = split_long(whole, choice.joinery, stock)
    pieces = cut_pieces(assembly, choice.joinery)
    if not problems:
        problems += short_pieces(pieces)
    for piece in pieces:
        if piece.overall_length > stock + 1e-9:
            problems.append(
                Problem(
                    "build.stock",
                    large(stock, None),
                    f"is shorter than the {piece.name}, which is one piece of "
                    f"{large(piece.overall_length, 3)}",
                    f"stock: {large(piece.overall_length, 1, 'up')}",
                    "stock-short",
                )
            )
    if problems:
        raise _refusal(study, problems)
    return assembly, pieces


def _refusal(study: Study, problems: Sequence[Problem]) -> StudyError:
    return StudyError(
        *(Fault(study.place(p.key), p.value, p.rule, p.remedy, p.tag) for p in problems)
    )


def _rows(pieces: Sequence[Piece]) -> tuple[CutRow, ...]:
    groups: list[list[Piece]] = []
    for piece in pieces:
        alike = next((g for g in groups if _same(g[0], piece)), None)
        if alike is None:
            groups.append([piece])
        else:
            alike.append(piece)
    return tuple(
        CutRow(_letter(k), group[0], tuple(piece.name for piece in group))
        for k, group in enumerate(groups)
    )


def _letter(index: int) -> str:
    turn, place = divmod(index, 26)
    return ascii_uppercase[place] + (str(turn + 1) if turn else "")


def _same(a: Piece, b: Piece) -> bool:
    def ends(piece: Piece) -> list[tuple[str, float]]:
        return sorted((cut.shape, round(cut.angle, 3)) for cut in (piece.start, piece.end))

    return (
        a.stock == b.stock
        and a.sides == b.sides
        and ends(a) == ends(b)
        and abs(a.diameter - b.diameter) < _ALIKE
        and abs(a.overall_length - b.overall_length) < _ALIKE
        and abs(a.centre_length - b.centre_length) < _ALIKE
    )


def _stocks(rows: Sequence[CutRow], length: float, kerf: float) -> tuple[StockBars, ...]:
    found = []
    for stock in dict.fromkeys(row.piece.stock for row in rows):
        items = [
            (row.letter, row.piece.overall_length)
            for row in rows
            if row.piece.stock == stock
            for _ in row.names
        ]
        bars: tuple[Bar, ...] = nest([piece for _, piece in items], length, kerf)
        found.append(
            StockBars(
                stock, tuple((tuple(items[i][0] for i in bar.pieces), bar.waste) for bar in bars)
            )
        )
    return tuple(found)


def fittings_used(assembly: Assembly, joinery: Joinery) -> Counter[FittingKind]:
    """How many of each kind of fitting an assembly takes."""
    kinds = [
        fitting_at(assembly, joint)
        for joint in assembly.joints
        if joinery.fitting(assembly, joint) is not None
    ]
    return Counter(kind for kind in kinds if kind is not None)


def _parts(
    assembly: Assembly, joinery: Joinery, bars: tuple[float, Sequence[StockBars]], build: Build
) -> tuple[Part, ...]:
    prices = {price.part: price.amount for price in build.prices}
    length, stocks = bars
    parts = []
    for entry in stocks:
        own = entry.stock == "pipe"
        name = f"{joinery.pipe.material} pipe {joinery.pipe.name}" if own else entry.stock
        price = prices.get("pipe") if own else None
        parts.append(
            Part(
                len(entry.bars),
                f"bar of {large(length, None)}, {name}",
                None if price is None else price * length,
            )
        )
    for kind, count in fittings_used(assembly, joinery).items():
        name = f"{kind}°" if kind[-1].isdigit() else kind
        parts.append(Part(count, f"{name} for {joinery.pipe.name}", prices.get(kind.split()[0])))
    for quantity, name in assembly.extras:
        # "Pipe clamps for the tap", not "blocks that clamp".
        clamp = any(word.startswith("clamp") for word in name.split()[:2])
        parts.append(Part(quantity, name, prices.get("clamp") if clamp else None))
    return tuple(parts)


def _mass(assembly: Assembly, pieces: Sequence[Piece], joinery: Joinery) -> Mass:
    """Pipe by its catalogue mass; other stock as of the same metal; fittings as tube over tube."""
    pipe = joinery.pipe
    wall, across = pipe.wall, pipe.outside_diameter
    density = pipe.mass_per_m / (math.pi * (across - wall) * wall)
    walls = {m.name: m.wall for m in assembly.members}
    stock = 0.0
    for piece in pieces:
        own, d = walls[piece.members[0]], piece.diameter
        if own is None and any(word in piece.stock for word in ("pipe", "tube")):
            own = wall
        section = math.pi * d**2 / 4 if own is None else math.pi * (d - own) * own
        per_metre = pipe.mass_per_m if piece.stock == "pipe" else density * section
        stock += per_metre * piece.centre_length
    fittings = 0.0
    for kind, count in fittings_used(assembly, joinery).items():
        size = joinery.sizes[kind]
        arm = (size.cup_depth or 0.0) + (size.laying_length or 0.0)
        fittings += count * _ARMS[kind] * arm * density * math.pi * (across + wall) * wall
    return Mass(stock, fittings)


def _in_the_wind(assembly: Assembly, joinery: Joinery) -> list[Rod]:
    return [
        Rod(
            assembly.joint(member.start).point,
            assembly.joint(member.end).point,
            joinery.diameter(member),
        )
        for member in assembly.members
    ]
