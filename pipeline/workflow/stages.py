"""The stages of the workflow, one a rule of the Snakefile: read files, call the rooms, write files.

``STAGES`` is the registry: what a stage runs, the words of its progress, and its time. Heavy
imports stand inside the stage that needs them, because every stage is a process.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.lengths import System, lengths_in
from pipeline.runtime.store import read_arrays_as, read_json, write_arrays, write_json, write_text

if TYPE_CHECKING:
    from pipeline.analysis.case_results import Solved
    from pipeline.judgement.judgement import Judgement
    from pipeline.mesh.evidence import GeometryEvidence
    from pipeline.runtime.csv_tables import Row
    from pipeline.study.records import Study

    # Rows by the name of their table; a part of the summary by its key, and its tables.
    Tables = dict[str, list[Row]]
    Part = tuple[dict[str, Any], Tables]


def geometry(study_path: Path, cache: Path) -> None:
    """Draw and check every geometry of a study; one request file each."""
    from pipeline.solver.solve_cache import made_requests, requests
    from pipeline.study.reader import load_study

    study = load_study(study_path)
    for entry in (*requests(study).values(), *made_requests(study).values()):
        target = cache / entry.digest() / "request.json"
        # Named by its content: what is there already is right.
        if not target.exists():
            write_text(target, entry.text())


def basis(folder: Path) -> None:
    """Solve one geometry for all ports and frequencies."""
    from pipeline.solver.port_basis import save_basis, solve_basis
    from pipeline.solver.solve_cache import read_request

    r = read_request(folder / "request.json")
    found = solve_basis(r.structure, r.frequency, r.centre, r.soil, r.azimuths)
    save_basis(folder / "basis.npz", found)


def check(folder: Path) -> None:
    """Solve the refined twin at the design frequency, and the lossless one in free space."""
    import numpy as np

    from pipeline.solver.field_solver import solved_average_gain
    from pipeline.solver.port_basis import save_basis, solve_basis
    from pipeline.solver.solve_cache import read_request

    r = read_request(folder / "request.json")
    f = r.frequency[r.centre : r.centre + 1]
    save_basis(folder / "refined.npz", solve_basis(r.refined, f, 0, r.soil, r.azimuths))
    gain = solved_average_gain(r.structure, float(f[0]), r.twin_loads)
    write_arrays(folder / "average_gain.npz", {"average_gain": np.array(gain)})


@dataclass(frozen=True)
class _Solves:
    """Solves of a study by geometry: as drawn, refined, of coils made otherwise; and checks."""

    solved: dict[str, Solved]
    refined: dict[str, Solved]
    made: dict[str, Solved]
    evidence: dict[str, GeometryEvidence]


def _load(study: Study, cache: Path) -> _Solves:
    """Read what is solved, on the study's own drawings.

    Those of the requests lack what port algebra puts in: a capacitor changes no solve, and two
    studies that differ in one share it.
    """
    from pipeline.analysis.case_results import Solved
    from pipeline.circuit.port_algebra import loaded_admittance
    from pipeline.mesh.evidence import geometry_evidence
    from pipeline.solver.antenna_loads import load_impedances
    from pipeline.solver.port_basis import load_basis
    from pipeline.solver.solve_cache import made_requests, requests

    found = _Solves({}, {}, {}, {})
    for name, r in requests(study).items():
        folder = cache / r.digest()
        here = Solved(r.structure, load_basis(folder / "basis.npz"))
        found.solved[name] = here
        found.refined[name] = Solved(r.refined, load_basis(folder / "refined.npz"))
        gain = read_arrays_as(folder / "average_gain.npz", lambda a: float(a["average_gain"]))
        at = r.frequency[r.centre : r.centre + 1]
        own = load_impedances(r.structure, at, study.frequency)[0]
        loaded = loaded_admittance(here.basis.y_port[r.centre], own)
        found.evidence[name] = geometry_evidence(r.structure, gain, loaded)
    for name, r in made_requests(study).items():
        found.made[name] = Solved(r.structure, load_basis(cache / r.digest() / "basis.npz"))
    return found


def combine(study_path: Path, cache: Path, results: Path) -> None:
    """All cases of a study by superposition: tables, arrays, exports, summary, verdict."""
    from pipeline.study.reader import load_study

    study = load_study(study_path)
    with lengths_in(study.lengths):
        _combine(study, cache, results)


def _combine(study: Study, cache: Path, results: Path) -> None:
    from pipeline.judgement.advised import advised
    from pipeline.judgement.judgement import along_cable, judge_study
    from pipeline.report.summary import advised_summary_data

    read = _load(study, cache)
    solved = read.solved
    j = judge_study(study, solved, read.refined, read.evidence)
    found = advised(j)
    chosen = found.advice.recommended_case
    parts: dict[str, Any] = {}
    tables = _case_tables(study, j) | {"choke_position": along_cable(j, chosen)}
    for part, own in (_use(study, j, chosen), _measured(study, j), _exposure(study, j, chosen)):
        parts |= part
        tables |= own
    _write_tables(results / "tables", tables)
    _write_exports(results, study, j, solved)
    # Last, since the workflow takes it as the sign that all is there.
    data = advised_summary_data(study, j, found, read.evidence, parts)
    write_json(results / "summary.json", data)


def _case_tables(study: Study, j: Judgement) -> Tables:
    from pipeline.analysis.case_results import low_gains
    from pipeline.judgement.intervals import band_intervals
    from pipeline.judgement.sweeps import core_count_rows
    from pipeline.report import tables

    cases, results, half = j.cases.values(), j.results, j.solved.uncertainty
    evidence, elevation = j.solved.evidence, j.solved.elevation_deg
    bands = {name: band_intervals(r, half[name]) for name, r in results.items()}
    return {
        "cases": tables.case_rows(cases, evidence, j.intervals, j.effects),
        "band": tables.band_rows(results.values(), evidence, bands),
        "azimuth_cut": tables.azimuth_rows(cases, results, half, elevation),
        "elevation_cut": tables.elevation_rows(cases, results),
        "low_elevation": tables.low_rows(cases, low_gains(list(results.values())), half),
        "shield_current": tables.shield_rows(cases, results, half),
        "nearby_current": tables.nearby_rows(cases, results),
        "choke_impedance": tables.choke_rows(study),
        "core_count": core_count_rows(j.solved),
    }


def _use(study: Study, j: Judgement, chosen: str) -> Part:
    """Noise, heat and choice of cable; ``chosen`` is the case that is taken."""
    from pipeline.analysis.noise_and_heat_tables import TABLES, use_data, use_of

    use = use_of(study, j.results, j.route, chosen)
    return {"in_use": use_data(use)}, {name: rows_of(use) for name, rows_of in TABLES.items()}


def _measured(study: Study, j: Judgement) -> Part:
    """The measured antenna beside its case, if there is one."""
    from models.antennas import generators
    from pipeline.judgement.intervals import band_intervals
    from pipeline.judgement.measured_antenna import (
        agreement,
        computed_curve,
        measured_curve,
        measured_rows,
    )
    from pipeline.report.measured_words import measured_data

    if study.measured is None:
        return {}, {"measured_antenna": []}
    name = study.measured.case
    result, interval = j.results[name], j.solved.uncertainty[name]
    run = result.line
    curves = (
        measured_curve(study.measured, run),
        computed_curve(result, run.pieces[0].cable.z0),
    )
    compared = agreement(study.measured, curves, study.frequency, interval.impedance)
    rows = measured_rows(compared, curves, band_intervals(result, interval))
    data = measured_data(compared, study, generators()[study.antenna.type], run)
    return {"measured": data}, {"measured_antenna": rows}


def _exposure(study: Study, j: Judgement, chosen: str) -> Part:
    """How far to keep away, without a choke and with the one that is taken, ``chosen``."""
    from pipeline.analysis.exposure_survey import survey
    from pipeline.analysis.exposure_tables import exposure_data, exposure_rows, view_rows

    wanted = tuple(dict.fromkeys(("none", chosen)))
    exposures, views = survey(study, j.results, wanted)
    rows = exposure_rows(exposures, study.frequency)
    tables = {"exposure": rows, "exposure_map": view_rows(views)}
    return {"exposure": exposure_data(study, exposures)}, tables


def _write_tables(folder: Path, tables: Tables) -> None:
    from pipeline.report.tables import MAY_BE_EMPTY
    from pipeline.runtime.csv_tables import write_table

    for name, rows in tables.items():
        target = folder / f"{name}.csv"
        if rows or name in MAY_BE_EMPTY:
            write_table(target, rows, MAY_BE_EMPTY.get(name, ()))
        else:
            # An earlier run of the same study may have had some.
            target.unlink(missing_ok=True)


def _write_exports(results: Path, study: Study, j: Judgement, solved: dict[str, Solved]) -> None:
    from pipeline.report.exports import write_decks, write_netcdf, write_touchstone
    from pipeline.solver.port_basis import structure_data

    found = list(j.results.values())
    write_netcdf(results / f"{study.name}.nc", study, found, solved)
    write_touchstone(results / "touchstone", study, found)
    write_decks(results / "decks", study, solved, study.site.ground)
    for name, entry in solved.items():
        target = results / "geometry" / f"{name}.json"
        write_json(target, {"structure": structure_data(entry.structure)})


def compared(summaries: list[Path], target: Path) -> None:
    """Set the studies of one run side by side; ``summaries`` lie in their results folders."""
    from pipeline.report.side_by_side import compare_studies

    folders = [path.parent for path in summaries]
    systems = {_lengths_of(folder) for folder in folders}
    # Studies in both kinds of units meet in metres.
    with lengths_in(systems.pop() if len(systems) == 1 else "metric"):
        compare_studies(folders, target.parent)


def _lengths_of(results: Path) -> System:
    """System of units that a study of a results folder is written in."""
    written: System = read_json(results / "summary.json")["study"].get("lengths_in", "metric")
    return written


def figures(group: str, results: Path) -> None:
    """Draw the figures of one group from their tables."""
    from pipeline.figures.registry import draw_report

    with lengths_in(_lengths_of(results)):
        draw_report(results, group=group)


def report(results: Path) -> None:
    """Build the one-file report from summary, tables and figures, and the page of limits."""
    from pipeline.report.page import build_report, write_limits

    with lengths_in(_lengths_of(results)):
        write_limits(results)
        build_report(results)


@dataclass(frozen=True)
class Stage:
    """A rule of the workflow: what it runs, the words of its progress, its time on an idle core.

    ``run`` takes the paths that the Snakefile hands over. ``seconds`` is zero where the time
    depends on the study (:mod:`time_left`). [s]
    """

    run: Callable[[Sequence[Path]], None]
    words: str
    seconds: float = 0.0


STAGES = {
    "geometry": Stage(
        lambda paths: geometry(paths[0], paths[1]), "drew and checked the geometries", 1.2
    ),
    "basis": Stage(lambda paths: basis(paths[0].parent), "solved the fields"),
    "check": Stage(lambda paths: check(paths[0].parent), "tested the geometry"),
    "combine": Stage(
        lambda paths: combine(paths[0], paths[1], paths[2].parent), "compared the cases"
    ),
    "figures": Stage(lambda paths: figures(paths[1].name, paths[0].parent), "drew figures", 3.2),
    "report": Stage(lambda paths: report(paths[0].parent), "wrote the report", 1.4),
    "compared": Stage(
        lambda paths: compared(list(paths[1:]), paths[0]), "set the studies side by side", 1.9
    ),
}
