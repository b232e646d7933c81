"""The cut list in words and numbers: for the terminal, for a spreadsheet and for programs."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import asdict
from typing import Any

from models.construction.cutting import Cut
from models.construction.fittings import FittingSize
from models.construction.joints import FoundMark
from models.construction.wind_load import WindLoad
from models.lengths import MARKED, METRE_PER_INCH, beside, large, on_rule, small, system
from models.site.earth import Earth
from models.site.mast import Mast
from pipeline.construction.cut_plan import AT_EDGE, CutPlan, CutRow, Part
from pipeline.text.units import in_other_unit

CAUTIONS = (
    "Hot work: brazing and soldering start fires. Clear the place, keep an extinguisher at hand, "
    "watch it for half an hour afterwards.",
    "Flux and metal fumes are harmful: work in moving air, wear eye protection and gloves, deburr "
    "every cut.",
    "Power lines: never put up anything that could reach one if it fell. Look up first.",
    "Falls: no work on a roof or ladder alone, in wind or in the wet.",
    "Lightning: bond the mast and the cable's shield to earth as local codes ask; stay away from "
    "it in a storm.",
    "The mount is not checked here. Wind load and mass are for whoever designs it; local building "
    "and electrical codes and licensed practice come first.",
)


def _ruled(length: float) -> str:
    return on_rule(length)[0]


def joined(plan: CutPlan) -> str:
    """Making of the joints between pipes, in words; empty where there are none."""
    if set(plan.fittings) - {"cap", "coupling"}:
        return ", solder fittings"
    pipes = [piece for piece in plan.pieces if piece.stock == "pipe"]
    if all(cut.shape == "square" for piece in pipes for cut in (piece.start, piece.end)):
        return ""
    if plan.joinery.pipe.material == "aluminium":
        return ", mitred and welded (aluminium takes no plumber's solder)"
    return ", mitred and brazed"


def cut_words(cut: Cut) -> str:
    """One end of a piece, in words."""
    if cut.shape == "mitre":
        return f"{math.degrees(cut.angle):.3g}°"
    if cut.shape == "saddle":
        return f"saddle, mouth {_ruled(cut.reach)} deep"
    return "square"


def ends_words(row: CutRow) -> str:
    """Both ends of a piece, in words; which way two mitres face."""
    piece = row.piece
    a, b = cut_words(piece.start), cut_words(piece.end)
    if a == b:
        text = f"both ends {a}"
    elif len(row.names) > 1:
        text = f"{a} and {b}"
    else:
        text = f"{a} at the {piece.start.joint}, {b} at the {piece.end.joint}"
    side = _ruled(piece.centre_length)
    facing = {
        "same": ", long points on one side",
        "opposite": f", long points on opposite sides, either side {side}",
        "turned": ", long points not on one side: see the drawing",
    }
    return text + facing.get(piece.sides, "")


def money(plan: CutPlan, amount: float) -> str:
    """An amount in the study's currency."""
    currency = plan.study.build.prices[0].currency if plan.study.build.prices else ""
    return f"{amount:.2f} {currency}".strip()


def part_words(plan: CutPlan, part: Part) -> str:
    """A line of the parts list."""
    text = f"{part.quantity} x {part.name}"
    return text if part.price is None else f"{text}: {money(plan, part.quantity * part.price)}"


def work_steps(plan: CutPlan) -> list[str]:
    """Order of work: what goes for every antenna, and between it what its own file says."""
    own = list(plan.assembly.steps)
    mitred = any(piece.mitres for piece in plan.pieces)
    saddled = any("saddle" in (p.start.shape, p.end.shape) for p in plan.pieces)
    first = ["Mark every piece with its letter before it is cut; measure twice, from the same end."]
    if mitred:
        first.append("Saw mitres in a guide; lengths are to the long points.")
    if saddled:
        first.append("File each saddle to the pipe it lands on until no light shows.")
    cups = [f"{kind}: {_ruled(depth)}" for kind, depth in _cups(plan)]
    home = []
    if cups:
        home = [
            "Mark every end that goes into a fitting at the depth of its cup "
            f"({', '.join(cups)}) and push it to the stop."
        ]
    check = "Lay the pieces out dry; check the distances between pipe axes before any heat."
    return [*first, *own[:1], check, *home, *own[1:], *_mount_words(plan)]


def _mount_words(plan: CutPlan) -> list[str]:
    """Mount of the antenna, rails that it is clamped to, and the mast it stands on or beside."""
    site, base = plan.study.site, plan.generator.base_line
    mast = site.around.mast
    rails = [piece for piece in site.around.pieces if piece.joined]
    said = []
    if site.mast:
        own = (
            f"its own pipe goes on for {large(site.mast, None)} below the {base} and is held there"
        )
        said.append(f"Mount: {own}.")
    elif plan.generator.carries_mast:
        metal = [f"the clamp to the {rail.name}" for rail in rails]
        metal += ["the strap from the mast"] if mast is not None and mast.bonded else []
        but = f" but {' and '.join(metal)}" if metal else ""
        said.append(f"Mount: hold it with insulating material; no metal{but} may touch its pipes.")
    said += [
        f"Clamp: metal, from the antenna to the {rail.name} where the two are nearest; clean both "
        f"to bare metal{_earthed(rail.earth, 'far end')}."
        for rail in rails
    ]
    return said if mast is None else [*said, _mast_words(mast, site.around.mast_earth, base)]


def _mast_words(mast: Mast, earth: Earth | None, base: str) -> str:
    """The mast: what it is of, where it stands, what it is joined to."""
    kind = "metal" if mast.metal else "wooden"
    off = large(mast.stand_off, None)
    place = f"{off} to its {mast.towards}" if mast.stand_off else "in line"
    top = "just below it" if mast.top is None else f"{large(mast.top, None)} below the {base}"
    bond = "joined to it by a short strap" if mast.bonded else "not touching it"
    return (
        f"Mast: {kind}, {small(2 * mast.radius)} thick, {place}, its top {top}, "
        f"{bond}{_earthed(earth, 'foot')}."
    )


def _earthed(earth: Earth | None, end: str) -> str:
    if earth is None:
        return ""
    rod = "the ground rod of the cable" if earth.impedance is None else "a ground rod"
    return f"; a lead joins its {end} to {rod}"


def _cups(plan: CutPlan) -> list[tuple[str, float]]:
    """Kinds of fittings used and the depth of their cups [m], where it is known."""
    depths = ((kind, plan.joinery.sizes[kind].cup_depth) for kind in plan.fittings)
    return [(kind, depth) for kind, depth in depths if depth is not None]


def landing_words(mark: FoundMark) -> str:
    """Where a member lands on a piece that goes through, or a mark that is at its edge."""
    at = mark.from_edge < AT_EDGE
    place = "at" if at else f"{beside(mark.from_edge, MARKED)} from"
    return f"{mark.name}: {place} {mark.edge}, on the {mark.piece}"


def joint_words(plan: CutPlan) -> list[str]:
    """Where members land on others, and what is to be known about single joints."""
    notes = (f"{joint.name}: {joint.note}" for joint in plan.assembly.joints if joint.note)
    return [*map(landing_words, plan.landings), *notes]


def short_words(row: CutRow, before: str = "", after: str = "") -> str:
    """Length of the short side of a mitred piece, between two texts; empty where there is none."""
    short = row.piece.short_length
    return "" if short is None else f"{before}{beside(short)}{after}"


def notes(plan: CutPlan) -> list[str]:
    """Sentences on everything that was derived, assumed or decided."""
    lines = [f"derived: {sentence}" for sentence in plan.derived]
    lines += [f"default: {sentence}" for sentence in plan.study.build.defaults]
    lines += [f"joints: {reason}" for reason in plan.reasons]
    return lines


def wind_words(plan: CutPlan) -> str:
    """Wind load in one sentence."""
    wind, speed = plan.wind, plan.study.build.wind_speed
    force, moment = f"{wind.force:.0f} N", f"{wind.moment:.0f} N m"
    fast = f"{3.6 * speed:.0f} km/h"
    if system() == "imperial":
        force = f"{in_other_unit(wind.force, 'N', 'lbf'):.0f} lbf"
        moment = f"{in_other_unit(wind.moment, 'N m', 'lbf ft'):.0f} lbf ft"
        fast = f"{in_other_unit(speed, 'm/s', 'mph'):.0f} mph"
    return (
        f"{force} at {speed:g} m/s ({fast}), {moment} about the {plan.generator.base_line}; "
        "without ice, cable and mount"
    )


def _weight(mass: float) -> str:
    if system() == "imperial":
        return f"{in_other_unit(mass, 'kg', 'lb'):.2f} lb"
    return f"{mass:.2f} kg"


def mass_words(plan: CutPlan) -> str:
    """Mass in one sentence."""
    text = _weight(plan.mass.total)
    if plan.mass.fittings:
        text += f", of which fittings about {_weight(plan.mass.fittings)}"
    return text + "; without clamps and cable"


def cut_list_text(plan: CutPlan) -> str:
    """The cut list as it is printed."""
    lines = [
        f"{plan.study.name}: {plan.study.title}",
        f"{plan.generator.title} of {plan.stock_name('pipe', full=True)}{joined(plan)}",
        "",
        f"{'':6}{'count':>5}  {'saw to, overall':<26}{'short side':<24}ends",
    ]
    for row in plan.rows:
        piece = row.piece
        lines.append(
            f"{row.letter:<6}{len(row.names):>5}  {beside(piece.overall_length):<26}"
            f"{short_words(row):<24}{ends_words(row)}"
        )
        stock = "" if piece.stock == "pipe" else f"; of {piece.stock}"
        lines.append(
            f"{'':13}{'; '.join(row.names)}: electrical length {beside(piece.axis_length)}{stock}"
        )
    lines.append("")
    for mark in plan.marks:
        lines.append(landing_words(mark))
        lines.append(f"{'':13}before joining: {beside(mark.from_cut, MARKED)} from {mark.cut_end}")
        if mark.note:
            lines.append(f"{'':13}{mark.note}")
    lines += joint_words(plan)
    if plan.marks or lines[-1]:
        lines.append("")
    for entry in plan.stocks:
        name = plan.stock_name(entry.stock)
        for number, (letters, waste) in enumerate(entry.bars, start=1):
            lines.append(f"bar {number} of {name}: {' '.join(letters)}; left over {beside(waste)}")
    lines += [f"parts: {part_words(plan, part)}" for part in plan.parts]
    if plan.cost is not None:
        lines.append(f"cost: {money(plan, plan.cost)} for the parts that have a price")
    lines += [f"mass: {mass_words(plan)}", f"wind: {wind_words(plan)}", *notes(plan)]
    lines.append("caution: the mount is not checked; see the build sheet for the other cautions")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def cut_list_csv(plan: CutPlan) -> str:
    """The cut list for a spreadsheet: one row a kind of piece."""
    stream = io.StringIO()
    rows = [_csv_row(plan, row) for row in plan.rows]
    writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def _csv_row(plan: CutPlan, row: CutRow) -> dict[str, Any]:
    p = row.piece
    return {
        "piece": row.letter,
        "count": len(row.names),
        "names": "; ".join(row.names),
        "stock": plan.stock_name(p.stock),
        "diameter_mm": f"{1e3 * p.diameter:g}",
        "axis_mm": f"{1e3 * p.axis_length:.2f}",
        "cut_mm": f"{1e3 * p.overall_length:.2f}",
        "cut_in": f"{p.overall_length / METRE_PER_INCH:.3f}",
        "short_mm": "" if p.short_length is None else f"{1e3 * p.short_length:.2f}",
        "sides": p.sides,
        **{
            f"{end}_{key}": value
            for end, cut in (("start", p.start), ("end", p.end))
            for key, value in _cut(cut).items()
        },
    }


def _cut(cut: Cut) -> dict[str, Any]:
    return {
        "joint": cut.joint,
        "shape": cut.shape,
        "angle_deg": round(math.degrees(cut.angle), 3),
        "takeoff_mm": round(1e3 * cut.takeoff, 3),
        "reach_mm": round(1e3 * cut.reach, 3),
        "cup_mm": round(1e3 * cut.cup, 3),
    }


def _mm(length: float | None) -> float | None:
    return None if length is None else 1e3 * length


def build_record(plan: CutPlan) -> dict[str, Any]:
    """All numbers of the build as plain data: lengths in mm, mass in kg, force in N."""
    build = plan.study.build
    return {
        "study": plan.study.name,
        "antenna": plan.study.antenna.type,
        "pipe": plan.joinery.pipe.id,
        "shield_joins": plan.study.cable.joins,
        "joints": plan.joinery.style,
        "reasons": list(plan.reasons),
        "derived": list(plan.derived),
        "defaults": list(build.defaults),
        "pieces": [_row(row) for row in plan.rows],
        "joint_points_mm": {
            joint.name: [round(1e3 * c, 3) for c in joint.point] for joint in plan.assembly.joints
        },
        "marks": [_mark(mark) for mark in plan.marks],
        "landings": [_mark(mark) for mark in plan.landings],
        "steps": work_steps(plan),
        "bars": [
            {"stock": entry.stock, "pieces": list(letters), "waste_mm": _mm(waste)}
            for entry in plan.stocks
            for letters, waste in entry.bars
        ],
        "stock_mm": _mm(plan.bar),
        "kerf_mm": _mm(build.kerf),
        "fittings": [_size(size) for size in plan.joinery.sizes.values()],
        "parts": [asdict(part) for part in plan.parts],
        "cost": plan.cost,
        "currency": build.prices[0].currency if build.prices else None,
        "mass_kg": asdict(plan.mass),
        "wind": {"speed_m_per_s": build.wind_speed, **_wind(plan.wind)},
    }


def _wind(wind: WindLoad) -> dict[str, Any]:
    return {
        "force_n": wind.force,
        "moment_nm": wind.moment,
        "area_m2": wind.area,
        "reynolds": list(wind.reynolds),
        "drag": [asdict(coefficient) for coefficient in wind.coefficients],
    }


def _size(size: FittingSize) -> dict[str, Any]:
    return {
        "fitting": size.kind,
        "cup_mm": _mm(size.cup_depth),
        "laying_mm": _mm(size.laying_length),
        "source": size.source,
    }


def _row(row: CutRow) -> dict[str, Any]:
    piece = row.piece
    return {
        "piece": row.letter,
        "names": list(row.names),
        "stock": piece.stock,
        "diameter_mm": _mm(piece.diameter),
        "axis_mm": _mm(piece.axis_length),
        "cut_mm": _mm(piece.overall_length),
        "centre_mm": _mm(piece.centre_length),
        "short_mm": _mm(piece.short_length),
        "sides": piece.sides,
        "start": _cut(piece.start),
        "end": _cut(piece.end),
    }


def _mark(mark: FoundMark) -> dict[str, Any]:
    return {
        "name": mark.name,
        "piece": mark.piece,
        "edge": mark.edge,
        "from_edge_mm": _mm(mark.from_edge),
        "from_end_of_piece_mm": _mm(mark.from_cut),
        "end_of_piece": mark.cut_end,
    }
