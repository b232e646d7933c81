"""A choice of cores as tables, figures and a page: which to buy, what it costs, what it does.

A design in, everything that is written and printed about it out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.catalogues.parts import FerriteCore, every_core, is_split, takes_cable
from models.lengths import small
from pipeline.circuit.choke_materials import SHOWN_HZ, MaterialRow, material_rows, one_pass
from pipeline.design.choke_design import Design, RatedSet
from pipeline.design.choke_reactance import Reactance, reactance_sweep
from pipeline.figures.choke_design import PAGE as FIGURES
from pipeline.figures.choke_design import CoreChoice
from pipeline.figures.registry import draw_page
from pipeline.mesh.evidence import LIMITS
from pipeline.report.choke_words import cost_words, headline, reactance_sentence, sentences
from pipeline.report.findings import Findings
from pipeline.report.html import page_text, read_pictures
from pipeline.runtime.csv_tables import Row
from pipeline.study.records import Study
from pipeline.text.formatting import fixed, impedance_words, megahertz, percent


def findings(found: Design) -> Findings:
    """Everything about a choice of cores: tables, figures, page, and the text that is printed."""
    first = found.chosen.set.rows[0][1] if found.chosen.set.rows else found.places[0]
    sweep = reactance_sweep(found.spread.nominal, first.position)
    materials = material_rows(found.study.cable.type, SHOWN_HZ)
    said = sentences(found, sweep)
    choice = CoreChoice(found, sweep, materials, _titles(found, sweep, materials))
    text = [sentence for part in said.values() for sentence in part]
    return Findings(
        "\n".join([f"{found.study.name}: {headline(found)}", *text]),
        {
            "sets.csv": [set_row_of(found, j) for j in found.tried],
            "front.csv": [set_row_of(found, j) for j in found.front],
            "materials.csv": material_table(materials),
            "fits.csv": fit_table(found.study),
            "reactance.csv": reactance_table(sweep),
            "choke.json": data_of(found, sweep, text),
        },
        lambda folder: draw_page(FIGURES, folder, choice),
        lambda folder: page(folder, found, materials, said),
        found.met,
    )


def page(
    folder: Path, found: Design, materials: tuple[MaterialRow, ...], said: dict[str, list[str]]
) -> str:
    """The whole page as text; ``folder`` holds the figures."""
    return page_text(
        "choke",
        read_pictures(folder, FIGURES),
        study=found.study,
        headline=headline(found),
        said=said,
        front=[_set_row(found, j) for j in found.front],
        frequencies=[megahertz(f) for f in SHOWN_HZ],
        materials=[_material_row(row) for row in materials],
        size=size_words(materials[0].core),
        fits=[_fit_row(found, core) for core in every_core(found.study.own)],
        cable=found.study.cable.type,
        asymmetry=max(d.asymmetry for d in found.spread.drawn),
        sound=LIMITS["reciprocity"].sound,
        defaults=found.study.unknowns.defaults,
    )


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


def _set_row(found: Design, j: RatedSet) -> dict[str, Any]:
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


def _titles(found: Design, sweep: Reactance, materials: tuple[MaterialRow, ...]) -> dict[str, str]:
    """Findings of the figures that say more than their own numbers, by figure."""
    return {
        "front": headline(found),
        "materials": f"One core is not like another: {size_words(materials[0].core)}, one pass.",
        "reactance": reactance_sentence(sweep).split(": ")[0] + ".",
    }


def set_row_of(found: Design, rated: RatedSet) -> Row:
    """One set as a row."""
    return {
        "set": rated.set.id,
        "core": rated.set.core_id,
        "pieces": rated.set.pieces,
        "position_m": " ".join(f"{place.position:.3f}" for _, place in rated.set.rows),
        "cost": rated.cost,
        "currency": found.currency,
        "score_95": rated.score,
        "share_enough": rated.enough,
        "driver": rated.driver,
        "station_ratio_95": rated.station,
        "shield_ratio_95": rated.shield,
        "heat_share_95": rated.heat,
        "loss_db_95": rated.loss_db,
        "chosen": rated.set == found.chosen.set,
    }


def material_table(rows: tuple[MaterialRow, ...]) -> list[Row]:
    """One row a material and frequency; empty cells where its data end."""
    return [
        {
            "core": row.core.id,
            "material": row.material,
            "frequency_hz": f,
            "r_ohm": None if z is None else z.real,
            "x_ohm": None if z is None else z.imag,
            "data_from_hz": row.lowest,
            "data_to_hz": row.highest,
            "note": row.core.note,
        }
        for row in rows
        for f, z in zip(SHOWN_HZ, row.z, strict=True)
    ]


def fit_table(study: Study) -> list[Row]:
    """One row a core of the catalogue: whether it goes over the cable, and one pass of it."""
    rows: list[Row] = []
    for core in every_core(study.own):
        z = one_pass(core, study.frequency)
        rows.append(
            {
                "core": core.id,
                "hole_diameter_m": core.hole_diameter,
                "cable_diameter_m": study.cable.type.jacket_diameter,
                "fits": takes_cable(core, study.cable.type.jacket_diameter),
                "split": is_split(core),
                "on_sale": core.on_sale,
                "r_ohm": None if z is None else z.real,
                "x_ohm": None if z is None else z.imag,
            }
        )
    return rows


def reactance_table(sweep: Reactance) -> list[Row]:
    """One row a reactance."""
    columns = zip(
        sweep.x,
        sweep.swept["station_ratio"],
        sweep.swept["shield_ratio"],
        sweep.swept.score(),
        strict=True,
    )
    return [
        {"x_ohm": x, "station_ratio": station, "shield_ratio": shield, "score": score}
        for x, station, shield, score in columns
    ]


def data_of(found: Design, sweep: Reactance, text: list[str]) -> dict[str, Any]:
    """Everything that was found as plain data, SI units."""
    n_geometry, n_draw = found.spread.shape
    design_of = found.study.choke_design
    return {
        "study": found.study.name,
        "frequency_hz": found.study.frequency,
        "headline": headline(found),
        "target_met": found.met,
        "text": text,
        "budget": None if design_of.budget is None else design_of.budget.amount,
        "currency": found.currency,
        "most_pieces": design_of.most,
        "geometries": n_geometry,
        "draws_per_geometry": n_draw,
        "places": [{"label": p.label, "position_m": p.position} for p in found.places],
        "chosen": set_row_of(found, found.chosen),
        "without": set_row_of(found, found.bare),
        "perfect_choke_score_95": found.ideal.score,
        "front": [set_row_of(found, j) for j in found.front],
        "does_not_fit": [c.id for c in found.left_out.unfit],
        "not_on_sale": [c.id for c in found.left_out.unsold],
        "size_from_memory": [c.id for c in found.left_out.remembered],
        "looser_and_less": [c.id for c in found.left_out.loose],
        "no_data": [c.id for c in found.left_out.unknown],
        "cable_r_ohm": sweep.z_cable.real,
        "cable_x_ohm": sweep.z_cable.imag,
        "worst_asymmetry": max(d.asymmetry for d in found.spread.drawn),
    }
