"""Results of a study as files: tables, arrays, exports and summary, from what was judged.

A judgement as described and an answer in; rows, parts of the summary and files out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from models.antennas import generators
from pipeline.analysis.case_results import Solved, low_gains
from pipeline.analysis.exposure_survey import survey
from pipeline.analysis.exposure_tables import exposure_data, exposure_rows, view_rows
from pipeline.analysis.noise_and_heat_tables import TABLES, use_data, use_of
from pipeline.analysis.pattern_parts import carrier_rows, difference_rows
from pipeline.answer.phrases import standing_of
from pipeline.answer.record import Answer
from pipeline.judgement.intervals import band_intervals
from pipeline.judgement.judgement import Judgement, along_cable
from pipeline.judgement.sweeps import core_count_rows
from pipeline.report import answer_tables, tables
from pipeline.runtime.csv_tables import Row, write_table
from pipeline.runtime.store import write_json
from pipeline.solver.cases import NONE
from pipeline.study.records import Study

# Rows by the name of their table; a part of the summary by its key, and its tables.
Tables = dict[str, list[Row]]
Part = tuple[dict[str, Any], Tables]


def answer_parts(study: Study, judgement: Judgement, answer: Answer) -> Part:
    """Parts of the summary and tables that follow from what is taken, and the answer's own.

    Nothing of the band is in them.
    """
    chosen = answer.chosen
    found: Tables = {
        "candidates": answer_tables.candidate_rows(answer),
        "causes": answer_tables.cause_rows(answer),
        "front": answer_tables.front_rows(answer),
        "instead": answer_tables.instead_rows(answer),
        "cores": answer_tables.core_rows(answer),
        "choke_position": along_cable(judgement, chosen),
    }
    parts: dict[str, Any] = {}
    for part, own in (_use(study, judgement, chosen), _exposure(study, judgement, chosen)):
        parts |= part
        found |= own
    return parts, found


def case_parts(study: Study, judgement: Judgement, answer: Answer) -> Part:
    """Tables of the cases as described, and the antenna as measured, over the band."""
    parts, found = _measured(study, judgement)
    return parts, found | _case_tables(study, judgement, answer)


def _case_tables(study: Study, judgement: Judgement, answer: Answer) -> Tables:
    cases, results, half = judgement.cases.values(), judgement.results, judgement.solved.uncertainty
    evidence, elevation = judgement.solved.evidence, judgement.solved.elevation_deg
    bands = {name: band_intervals(r, half[name]) for name, r in results.items()}
    standing = {name: standing_of(name, answer) for name in judgement.cases}
    grades = {name: case.grade for name, case in judgement.cases.items()}
    main = {name: results[name] for name in dict.fromkeys((NONE, answer.chosen))}
    found = {
        "cases": tables.case_rows(cases, evidence, judgement.intervals, standing),
        "band": tables.band_rows(results.values(), evidence, bands),
        "azimuth_cut": tables.azimuth_rows(cases, results, half, elevation),
        "elevation_cut": tables.elevation_rows(cases, results),
        "low_elevation": tables.low_rows(cases, low_gains(list(results.values())), half),
        "shield_current": tables.shield_rows(cases, results, half),
        "nearby_current": tables.nearby_rows(cases, results),
        "choke_impedance": tables.choke_rows(study),
        "core_count": core_count_rows(judgement.solved),
        "difference_to_ideal": difference_rows(results, grades, elevation),
        "cable_radiation": carrier_rows(main, grades, elevation),
    }
    return {name: tables.with_bearings(rows, study.site.facing) for name, rows in found.items()}


def _use(study: Study, judgement: Judgement, chosen: str) -> Part:
    """Noise, heat and choice of cable; ``chosen`` is the case that is taken."""
    use = use_of(study, judgement.results, judgement.route, chosen)
    return {"in_use": use_data(use)}, {name: rows_of(use) for name, rows_of in TABLES.items()}


def _measured(study: Study, judgement: Judgement) -> Part:
    """The measured antenna beside its case, if there is one."""
    if study.measured is None:
        return {}, {"measured_antenna": []}
    # What few studies need, and takes long to load.
    from pipeline.judgement.measured_antenna import (
        agreement,
        computed_curve,
        measured_curve,
        measured_rows,
    )
    from pipeline.report.measured_words import measured_data

    name = study.measured.case
    result, interval = judgement.results[name], judgement.solved.uncertainty[name]
    run = result.line
    curves = (
        measured_curve(study.measured, run),
        computed_curve(result, run.pieces[0].cable.z0),
    )
    compared = agreement(study.measured, curves, study.frequency, interval.impedance)
    rows = measured_rows(compared, curves, band_intervals(result, interval))
    data = measured_data(compared, study, generators()[study.antenna.type], run)
    return {"measured": data}, {"measured_antenna": rows}


def _exposure(study: Study, judgement: Judgement, chosen: str) -> Part:
    """How far to keep away, without a choke and with the one that is taken, ``chosen``."""
    exposures, views = survey(study, judgement.results, tuple(dict.fromkeys((NONE, chosen))))
    rows = exposure_rows(exposures, study.frequency)
    found = {"exposure": rows, "exposure_map": view_rows(views)}
    return {"exposure": exposure_data(study, exposures)}, found


def write_tables(folder: Path, found: Tables) -> None:
    """One CSV a table; of one that has become empty the old file goes."""
    for name, rows in found.items():
        target = folder / f"{name}.csv"
        if rows or name in tables.MAY_BE_EMPTY:
            write_table(target, rows, tables.MAY_BE_EMPTY.get(name, ()))
        else:
            # An earlier run of the same study may have had some.
            target.unlink(missing_ok=True)


def write_exports(
    results: Path, study: Study, judgement: Judgement, solved: dict[str, Solved]
) -> None:
    """Arrays, Touchstone files, decks and geometries for other programs."""
    from pipeline.report.exports import write_decks, write_netcdf, write_touchstone
    from pipeline.solver.port_basis import structure_data

    found = list(judgement.results.values())
    write_netcdf(results / f"{study.name}.nc", study, found, solved)
    write_touchstone(results / "touchstone", study, found)
    write_decks(results / "decks", study, solved, study.site.ground)
    for name, entry in solved.items():
        target = results / "geometry" / f"{name}.json"
        write_json(target, {"structure": structure_data(entry.structure)}, indent=None)
