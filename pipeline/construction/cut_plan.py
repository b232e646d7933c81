"""From a study to everything a workshop needs: pieces, bars, parts, marks, mass and wind load."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
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
from models.construction.stock import nest, stock_length
from models.construction.wind_load import Rod, WindLoad, wind_load
from models.lengths import large
from models.wires.structure import GeometryError
from pipeline.solver.structures import assembled, sized_antenna
from pipeline.study.records import Build, Study
from pipeline.text.errors import Fault, StudyError

# Pieces that differ by less [m] are one line of the list.
_ALIKE = 5e-5
# A mark that is nearer to its edge than this [m] is at the edge.
AT_EDGE = 5e-4
# Arms of a fitting, for its mass.
_ARMS: dict[FittingKind, int] = {
    "elbow 90": 2,
    "elbow 45": 2,
    "tee": 3,
    "coupling": 2,
    "cap": 1,
}


@dataclass(frozen=True)
class CutRow:
    """Pieces that are alike, under one letter."""

    letter: str
    pieces: tuple[Piece, ...]

    @property
    def piece(self) -> Piece:
        """One of them."""
        return self.pieces[0]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all of them."""
        return tuple(piece.name for piece in self.pieces)

    @property
    def label(self) -> str:
        """Their names, and of what they are sawn where that is not the antenna's pipe."""
        stock = self.piece.stock
        return "; ".join(self.names) + ("" if stock == "pipe" else f" of {stock}")


@dataclass(frozen=True)
class StockBars:
    """Bars of one stock: letters of what is sawn from each, and what is left over [m]."""

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
    """The build of one study's antenna.

    ``whole`` is the antenna with its mast, ``assembly`` the same with members split that are
    longer than ``bar`` [m], the length of stock; ``reasons`` say why the joints are made so.
    """

    study: Study
    whole: Assembly
    assembly: Assembly
    joinery: Joinery
    bar: float
    reasons: tuple[str, ...]
    pieces: tuple[Piece, ...]
    derived: tuple[str, ...]

    @property
    def generator(self) -> Generator:
        """The kind of antenna."""
        return generators()[self.study.antenna.type]

    @cached_property
    def rows(self) -> tuple[CutRow, ...]:
        """Kinds of pieces, in the order in which they first come."""
        groups: list[list[Piece]] = []
        for piece in self.pieces:
            alike = next((g for g in groups if _same(g[0], piece)), None)
            if alike is None:
                groups.append([piece])
            else:
                alike.append(piece)
        return tuple(CutRow(_letter(k), tuple(group)) for k, group in enumerate(groups))

    @cached_property
    def stocks(self) -> tuple[StockBars, ...]:
        """Bars of every stock, as few as will do."""
        found = []
        for stock in dict.fromkeys(row.piece.stock for row in self.rows):
            rows = [row for row in self.rows if row.piece.stock == stock]
            letters = [row.letter for row in rows for _ in row.pieces]
            lengths = [row.piece.overall_length for row in rows for _ in row.pieces]
            bars = nest(lengths, self.bar, self.study.build.kerf)
            sawn = tuple((tuple(letters[i] for i in bar.pieces), bar.waste) for bar in bars)
            found.append(StockBars(stock, sawn))
        return tuple(found)

    @cached_property
    def _found_marks(self) -> list[FoundMark]:
        marks = self.assembly.marks
        return [find_mark(self.assembly, self.pieces, self.joinery, mark) for mark in marks]

    @property
    def marks(self) -> tuple[FoundMark, ...]:
        """Places that are measured from an edge."""
        return tuple(mark for mark in self._found_marks if mark.from_edge > AT_EDGE)

    @property
    def landings(self) -> tuple[FoundMark, ...]:
        """Marks that lie on their edge, and where members meet a piece that goes through."""
        at_edge = (mark for mark in self._found_marks if mark.from_edge <= AT_EDGE)
        return (*at_edge, *landings(self.assembly, self.pieces))

    @property
    def fittings(self) -> Counter[FittingKind]:
        """Number of each kind of fitting."""
        used = (j for j in self.assembly.joints if self.joinery.fitting(self.assembly, j))
        kinds = (fitting_at(self.assembly, joint) for joint in used)
        return Counter(kind for kind in kinds if kind is not None)

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Everything that is bought, with its price where the study gives one."""
        prices = {price.part: price.amount for price in self.study.build.prices}
        pipe, parts = self.joinery.pipe, []
        for entry in self.stocks:
            own = entry.stock == "pipe"
            name = f"bar of {large(self.bar, None)}, {self.stock_name(entry.stock, full=True)}"
            price = prices["pipe"] * self.bar if own and "pipe" in prices else None
            parts.append(Part(len(entry.bars), name, price))
        for kind, count in self.fittings.items():
            name = f"{kind}°" if kind[-1].isdigit() else kind
            parts.append(Part(count, f"{name} for {pipe.name}", prices.get(kind.split()[0])))
        for quantity, name in self.assembly.extras:
            # "Pipe clamps for the tap", not "blocks that clamp".
            clamp = any(word.startswith("clamp") for word in name.split()[:2])
            parts.append(Part(quantity, name, prices.get("clamp") if clamp else None))
        return tuple(parts)

    def stock_name(self, stock: str, *, full: bool = False) -> str:
        """Name of a stock; that of the antenna's pipe ``full`` with its material."""
        if stock != "pipe":
            return stock
        pipe = self.joinery.pipe
        return f"{pipe.material} pipe {pipe.name}" if full else pipe.name

    @property
    def cost(self) -> float | None:
        """Sum of what has a price; None where nothing has."""
        priced = [p.quantity * p.price for p in self.parts if p.price is not None]
        return sum(priced) if priced else None

    @cached_property
    def mass(self) -> Mass:
        """Pipe by its catalogue mass; other stock as of its metal; fittings as tube over tube."""
        pipe = self.joinery.pipe
        wall, across = pipe.wall, pipe.outside_diameter
        density = pipe.mass_per_m / (math.pi * (across - wall) * wall)
        walls = {m.name: m.wall for m in self.assembly.members}
        stock = 0.0
        for piece in self.pieces:
            own, d = walls[piece.members[0]], piece.diameter
            if own is None and any(word in piece.stock for word in ("pipe", "tube")):
                own = wall
            section = math.pi * d**2 / 4 if own is None else math.pi * (d - own) * own
            per_metre = pipe.mass_per_m if piece.stock == "pipe" else density * section
            stock += per_metre * piece.centre_length
        fittings = 0.0
        for kind, count in self.fittings.items():
            size = self.joinery.sizes[kind]
            arm = (size.cup_depth or 0.0) + (size.laying_length or 0.0)
            fittings += count * _ARMS[kind] * arm * density * math.pi * (across + wall) * wall
        return Mass(stock, fittings)

    @cached_property
    def wind(self) -> WindLoad:
        """Load of the study's wind on the antenna and its mast."""
        rods = [
            Rod(
                self.whole.joint(member.start).point,
                self.whole.joint(member.end).point,
                self.joinery.diameter(member),
            )
            for member in self.whole.members
        ]
        return wind_load(rods, self.study.build.wind_speed)


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
        rule = "cannot be drawn: this antenna has no joint on its base line"
        value, remedy = large(mast, None), "mount: insulated"
        raise GeometryError(Fault("site.mount.mast", value, rule, remedy, "mast-none"))
    kinds: dict[int, JointKind] = {1: "coupling", 2: "tee"}
    kind = kinds.get(len(assembly.at(top.name)), top.kind)
    joints = tuple(replace(j, kind=kind) if j == top else j for j in assembly.joints)
    foot = JointPoint("foot of the mast", (0.0, 0.0, -mast), "open")
    member = Member("mast", "foot of the mast", top.name)
    return replace(assembly, members=(*assembly.members, member), joints=(*joints, foot))


def plan_cuts(study: Study) -> CutPlan:
    """Pieces, bars, parts, marks, mass and wind load of a study's antenna.

    Raises
    ------
    StudyError
        If lengths do not go together, a piece is too short for its joints, or stock too short.
    """
    try:
        sized = sized_antenna(study)
        whole = with_mast(assembled(study), study.site.mast)
    except GeometryError as error:
        raise _refusal(study, error.problems) from error
    sizes = fitting_sizes(study.pipe, study.build)
    choice = choose_joinery(whole, study.pipe, sizes, study.build.joints)
    bar, told = _bar(study)
    assembly, pieces = _pieces(study, whole, choice, bar)
    derived = (*sized.sentences, *told)
    return CutPlan(study, whole, assembly, choice.joinery, bar, choice.reasons, pieces, derived)


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
        length = piece.overall_length
        if length > stock + 1e-9:
            rule = f"is shorter than the {piece.name}, which is one piece of {large(length, 3)}"
            remedy = f"stock: {large(length, 1, 'up')}"
            problems.append(Fault("build.stock", large(stock, None), rule, remedy, "stock-short"))
    if problems:
        raise _refusal(study, problems)
    return assembly, pieces


def _refusal(study: Study, problems: Sequence[Fault]) -> StudyError:
    return StudyError(*(replace(problem, place=study.place(problem.place)) for problem in problems))


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
