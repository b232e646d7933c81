"""The page of a choice of cores: which to buy, what it costs, what it does.

Results and figures in, one HTML file that needs nothing else out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.catalogues.parts import FerriteCore, every_core, is_split, takes_cable
from models.lengths import small
from pipeline.circuit.choke_materials import SHOWN_HZ, MaterialRow
from pipeline.design.choke_design import Design, Judged
from pipeline.design.choke_reactance import Reactance
from pipeline.figures.choke_design import PAGE as FIGURES
from pipeline.mesh.evidence import LIMITS
from pipeline.report.choke_words import (
    cost_words,
    headline,
    obstacle,
    reactance_sentence,
    remarks,
    scope,
    target,
)
from pipeline.report.page import page_environment, read_pictures, style_sheet
from pipeline.text.formatting import fixed, impedance_words, percent


def page(folder: Path, found: Design, sweep: Reactance, materials: tuple[MaterialRow, ...]) -> str:
    """The whole page as text; ``folder`` holds the figures.

    Raises
    ------
    ResultError
        If a figure is missing or damaged.
    """
    css, digest = style_sheet()
    asymmetry = max(d.asymmetry for d in found.spread.drawn)
    context: dict[str, Any] = {
        "study": found.study,
        "headline": headline(found),
        "obstacle": obstacle(found),
        "remarks": remarks(found),
        "target": target(found.study.verdict),
        "scope": scope(found),
        "reactance": reactance_sentence(sweep),
        "front": [_set_row(found, j) for j in found.front],
        "frequencies": [f"{f / 1e6:g} MHz" for f in SHOWN_HZ],
        "materials": [_material_row(row) for row in materials],
        "size": size_words(materials[0].core),
        "fits": [_fit_row(found, core) for core in every_core(found.study.own)],
        "cable": found.study.cable.type,
        "asymmetry": percent(asymmetry),
        "asymmetry_word": ""
        if asymmetry <= LIMITS["reciprocity"].sound
        else ", more than a sound computation has",
        "defaults": found.study.unknowns.defaults,
        "pictures": read_pictures(folder, FIGURES),
    }
    template = page_environment().get_template("choke.html.j2")
    return template.render(css=css, digest=digest, **context)


def size_words(core: FerriteCore) -> str:
    """Outer and inner diameter and length.

    Examples
    --------
    >>> from models.catalogues.parts import ferrite_core
    >>> size_words(ferrite_core("mix-43-bead-25-9"))
    '25.9 x 12.8 x 28.6 mm'
    """
    sizes = (core.outer_diameter, core.inner_diameter, core.length)
    *first, last = (small(size, None) for size in sizes)
    return " x ".join([*(size.split()[0] for size in first), last])


def _set_row(found: Design, j: Judged) -> dict[str, Any]:
    return {
        "label": j.set.label,
        "chosen": j.set == found.chosen.set,
        "cells": (
            cost_words(found, j) if j.set.core is not None else "nothing",
            fixed(j.score, 2),
            percent(j.enough),
            percent(j.station),
            percent(j.shield),
            percent(j.heat),
            j.driver,
        ),
    }


def impedance(z: complex | None, row: MaterialRow) -> str:
    """R and X of one pass, or where the data end."""
    if z is None:
        return f"data from {row.lowest / 1e6:g} to {row.highest / 1e6:g} MHz"
    return impedance_words(z, 0)


def _material_row(row: MaterialRow) -> dict[str, Any]:
    return {"label": row.material, "cells": [impedance(z, row) for z in row.z]}


def _fit_row(found: Design, core: FerriteCore) -> dict[str, Any]:
    air = core.hole_diameter - found.study.cable.type.jacket_diameter
    goes = takes_cable(core, found.study.cable.type.jacket_diameter)
    return {
        "label": core.name,
        "hole": small(core.hole_diameter, None),
        "goes": "yes" if goes else "no",
        "air": small(air, 1).replace("-", "−"),
        "kind": "split" if is_split(core) else "solid",
        "sold": "yes" if core.on_sale else "no: for comparison",
    }
