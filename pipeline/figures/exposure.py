"""Side view of where the exposure limits are passed, to scale, round antenna and cable."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from models.lengths import large
from pipeline.figures.data import Cases, Table
from pipeline.figures.page import Note, Page, heading, length_axis, open_page
from pipeline.figures.registry import REPORT, figure
from pipeline.figures.style import (
    BRICK,
    CHOSEN_LINE,
    HAIR,
    INK,
    NONE_LINE,
    OCHRE,
    STEEL,
    sheet,
)
from pipeline.figures.wires import draw_lines
from pipeline.solver.cases import NONE
from pipeline.text.formatting import keep_away, megahertz

# Colour of each group's contour; the stricter one lies outside.
_GROUPS = (("general public", OCHRE), ("occupational", BRICK))
_LEFT, _BELOW, _ROOM = 0.6, 0.55, 5.0


def _strictest(part: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Limit with the least power density of each group."""
    return {
        group: min(
            (limit for limit in part["limits"] if limit["group"] == group),
            key=lambda limit: float(limit["power_density_w_per_m2"]),
        )
        for group, _ in _GROUPS
    }


def _case(part: dict[str, Any], case: str) -> dict[str, Any]:
    chosen: dict[str, Any] = next(c for c in part["cases"] if c["case"] == case)
    return chosen


def _reach(part: dict[str, Any], case: str) -> dict[str, str]:
    """Distance from every conductor at which the strictest limit for the public holds."""
    limit = _strictest(part)["general public"]["id"]
    row = next(d for d in _case(part, case)["distances"] if d["limit"] == limit)
    near = part["nearest_m"]
    return {
        z["conductor"]: keep_away(
            z["distance_m"], near["antenna" if z["conductor"] == "antenna" else "other"]
        )
        for z in row["zones"]
    }


def _strongest(part: dict[str, Any], case: str) -> dict[str, Any] | None:
    """The place among those where people can be that has the strongest field."""
    people = _case(part, case)["people"]
    return max(people, key=lambda p: float(p["density_w_per_m2"]), default=None)


def _title(part: dict[str, Any], cases: Cases) -> str:
    limit = _strictest(part)["general public"]
    worst = _strongest(part, cases.chosen)
    said = "Estimate: "
    if worst is not None and limit["id"] in worst["above"]:
        said += (
            f"where people can be, up to {worst['density_w_per_m2']:.2g} W/m², above the limits "
            "for the public; "
        )
    reach = _reach(part, cases.chosen)
    said += "below them beyond " if "above" in said else "below the limits for the public beyond "
    said += ", ".join(f"{distance} from the {name}" for name, distance in reach.items())
    return said


def _field(ax: Axes, rows: Table, levels: dict[str, float], filled: bool) -> None:
    across, height = (np.unique(rows.number(name)) for name in ("across_m", "height_m"))
    density = rows.number("density_w_per_m2").reshape(len(height), len(across))
    for group, colour in _GROUPS:
        if density.max() <= levels[group]:
            continue
        shown = np.log(np.maximum(density, 1e-6) / levels[group])
        if filled:
            ax.contourf(across, height, shown, [0.0, 1e9], colors=[colour], alpha=0.28)
        style = CHOSEN_LINE.dash if filled else NONE_LINE.dash
        ax.contour(
            across, height, shown, [0.0], colors=[colour], linewidths=1.3, linestyles=[style]
        )


def _notes(part: dict[str, Any], cases: Cases) -> tuple[Note, ...]:
    strictest, same = _strictest(part), cases.chosen == NONE
    notes = [
        Note(
            f"above {strictest[group]['power_density_w_per_m2']:.3g} W/m², the strictest limit for "
            f"the {group if group.endswith('public') else group + ' group'}",
            colour,
        )
        for group, colour in _GROUPS
    ]
    case, worst = _case(part, cases.chosen), _strongest(part, cases.chosen)
    if worst is not None:
        x, y, z = (large(c, 1).replace("-", "−") for c in worst["place_m"])
        notes.append(
            Note(
                f"cross: strongest field where people can be, {worst['density_w_per_m2']:.2g} W/m² "
                f"at x {x}, y {y}, {z} up "
                f"({large(worst['distance_m'], 2)} from the {worst['nearest']})",
                INK,
            )
        )
    if not same:
        with_it, bare = (_reach(part, which) for which in (cases.chosen, NONE))
        further = [f"{far} from the {name}" for name, far in bare.items() if far != with_it[name]]
        if further:
            notes.append(Note(f"without the choke beyond {', '.join(further)}", STEEL))
    lines = "filled: without a choke" if same else "filled: chosen choke; dotted: without a choke"
    notes.append(Note(f"{lines}; {case['power_w']:.3g} W on average into the antenna", STEEL))
    notes.append(
        Note(
            "an estimate for the installation as drawn, without people or walls in it; not a "
            "certificate",
            STEEL,
        )
    )
    return tuple(notes)


@figure(REPORT, 130, table="exposure_map", part="exposure", section="exposure")
def exposure(cases: Cases, table: Table) -> Page:
    """Where the power density is above the strictest limits, to scale: an estimate.

    Near the cable it is the current on the shield that makes the field, and a choke takes it away.
    """
    part = cases.summary["exposure"]
    across, height = table.number("across_m"), table.number("height_m")
    grounded = cases.summary["study"]["site"]["ground"] is not None
    low = min(0.0, float(height.min())) if grounded else float(height.min())
    wide, tall = float(np.ptp(across)), float(height.max()) - low
    scale = max(wide / (sheet().width - _LEFT - 0.3), tall / _ROOM)
    texts = cases.texts(_title(part, cases), *_notes(part, cases))
    page = open_page(texts, tall / scale + _BELOW + 0.15)
    ax = page.panel(_LEFT, _BELOW, wide / scale, tall / scale)
    levels = {g: float(x["power_density_w_per_m2"]) for g, x in _strictest(part).items()}
    for case in dict.fromkeys((NONE, cases.chosen)):
        _field(ax, table.select(case=case), levels, filled=case == cases.chosen)
    axis = "xy".index(table.text("plane")[0][0])
    draw_lines(ax, cases.cable.wires, (axis, 2), INK, 1.4)
    if grounded:
        ax.axhline(0.0, color=STEEL, lw=1.2)
        ax.axhline(part["reach_m"], color=STEEL, lw=0.8)
    worst = _strongest(part, cases.chosen)
    if worst is not None:
        place = (worst["place_m"][axis], worst["place_m"][2])
        ax.plot(*place, marker="x", ms=7, mew=1.6, color=INK, ls="none")
    ax.set(xlim=(across.min(), across.max()), ylim=(low, height.max()))
    length_axis(ax.xaxis, "xy"[axis])
    length_axis(ax.yaxis, "height")
    ax.grid(color=HAIR)
    heading(ax, f"side view at {megahertz(cases.frequency)}")
    return page
