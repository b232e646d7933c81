"""`braidwise choke`: chooses cores for the cable; writes tables, figures and a page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.catalogues.parts import every_core, is_split, takes_cable
from pipeline.circuit.choke_materials import SHOWN_HZ, MaterialRow, material_rows, one_pass
from pipeline.design.choke_design import Design, Judged, design
from pipeline.design.choke_reactance import Reactance, reactance_sweep
from pipeline.figures.choke_design import PAGE as FIGURES
from pipeline.figures.choke_design import CoreChoice
from pipeline.figures.registry import draw_page
from pipeline.report.choke_page import page, size_words
from pipeline.report.choke_words import (
    headline,
    obstacle,
    reactance_sentence,
    remarks,
    scope,
    target,
)
from pipeline.runtime.csv_tables import Row, write_table
from pipeline.runtime.process import say
from pipeline.runtime.progress import PAGES, PAGES_SECONDS, Stretch, Telling
from pipeline.runtime.store import write_json, write_text
from pipeline.solver.solve_cache import solves_to_go_on_from
from pipeline.study.batch import of_every_study
from pipeline.study.records import Study


def plan_chokes(paths: list[Path]) -> list[Study]:
    """Read all studies; writes nothing.

    Raises
    ------
    StudyError
        With the faults of all of them, or if two have one name.
    """
    return of_every_study(paths, lambda path, study: study)


def run_job(study: Study, results: Path, cores: int) -> tuple[bool, str]:
    """Choose for one study, write everything; whether the target is met, and what to print.

    Raises
    ------
    StudyError
        If most draws make no installation.
    SolverError
        If the solver refuses, crashes or hangs.
    """
    tell = Telling(say)
    tell.plan(PAGES, Stretch(1, PAGES_SECONDS))
    folder = results / study.name / "choke"
    with solves_to_go_on_from(folder, say) as store:
        found = design(study, cores, tell, store)
        shown = folder / "choke.html"
        # The page comes last and an old one goes first: where it is, all of it belongs together.
        shown.unlink(missing_ok=True)
        first = found.chosen.set.rows[0][1] if found.chosen.set.rows else found.places[0]
        sweep = reactance_sweep(found.spread.nominal, first.position)
        materials = material_rows(study.cable.type, SHOWN_HZ)
        write_table(folder / "sets.csv", [set_row_of(found, j) for j in found.tried])
        write_table(folder / "front.csv", [set_row_of(found, j) for j in found.front])
        write_table(folder / "materials.csv", material_table(materials))
        write_table(folder / "fits.csv", fit_table(study))
        write_table(folder / "reactance.csv", reactance_table(sweep))
        write_json(folder / "choke.json", data_of(found, sweep))
        choice = CoreChoice(found, sweep, materials, _titles(found, sweep, materials))
        draw_page(FIGURES, folder, choice)
        write_text(shown, page(folder, found, sweep, materials))
    tell("done", PAGES)
    return found.met, report(found, sweep, shown)


def set_row_of(found: Design, judged: Judged) -> Row:
    """One set as a row."""
    return {
        "set": judged.set.id,
        "core": judged.set.core_id,
        "pieces": judged.set.pieces,
        "position_m": " ".join(f"{place.position:.3f}" for _, place in judged.set.rows),
        "cost": judged.cost,
        "currency": found.currency,
        "score_95": judged.score,
        "share_enough": judged.enough,
        "driver": judged.driver,
        "station_ratio_95": judged.station,
        "shield_ratio_95": judged.shield,
        "heat_share_95": judged.heat,
        "loss_db_95": judged.loss_db,
        "chosen": judged.set == found.chosen.set,
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
        sweep.swept.station_ratio,
        sweep.swept.shield_ratio,
        sweep.swept.score(),
        strict=True,
    )
    return [
        {"x_ohm": x, "station_ratio": station, "shield_ratio": shield, "score": score}
        for x, station, shield, score in columns
    ]


def data_of(found: Design, sweep: Reactance) -> dict[str, Any]:
    """Everything that was found as plain data, SI units."""
    n_geometry, n_draw = found.spread.shape
    design_of = found.study.choke_design
    return {
        "study": found.study.name,
        "frequency_hz": found.study.frequency,
        "headline": headline(found),
        "target_met": found.met,
        "text": words_of(found, sweep),
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


def words_of(found: Design, sweep: Reactance) -> list[str]:
    """Every paragraph below the headline."""
    said = [
        obstacle(found),
        *remarks(found),
        target(found.study.verdict),
        scope(found),
        reactance_sentence(sweep),
    ]
    return [text for text in said if text]


def _titles(found: Design, sweep: Reactance, materials: tuple[MaterialRow, ...]) -> dict[str, str]:
    """Findings of the figures that say more than their own numbers, by figure."""
    return {
        "front": headline(found),
        "materials": (f"One core is not like another: {size_words(materials[0].core)}, one pass."),
        "reactance": reactance_sentence(sweep).split(": ")[0] + ".",
    }


def report(found: Design, sweep: Reactance, shown: Path) -> str:
    """What the command prints about one study."""
    lines = [f"{found.study.name}: {headline(found)}", *words_of(found, sweep)]
    return "\n".join([*lines, f"Page: {shown}"])
