"""One function a workflow rule: reads files, calls the rooms, writes files.

Heavy imports stand inside the stage that needs them, because every stage is a process.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models.lengths import System, lengths_in
from pipeline.runtime.store import read_arrays_as, read_json, write_arrays, write_json, write_text

if TYPE_CHECKING:
    from pipeline.analysis.case_results import CaseResult, Solved
    from pipeline.circuit.choke_model import LineRun
    from pipeline.judgement.sweeps import Bench
    from pipeline.mesh.uncertainty import Expanded
    from pipeline.report.summary import Outcome
    from pipeline.runtime.csv_tables import Row
    from pipeline.study.records import Study


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


def _load_made(study: Study, cache: Path) -> dict[str, Solved]:
    """Coils as they may come out, solved at the design frequency."""
    from pipeline.analysis.case_results import Solved
    from pipeline.solver.port_basis import load_basis
    from pipeline.solver.solve_cache import made_requests

    return {
        name: Solved(r.structure, load_basis(cache / r.digest() / "basis.npz"))
        for name, r in made_requests(study).items()
    }


def _load(study: Study, cache: Path) -> tuple[dict[str, Solved], dict[str, Solved], dict[str, Any]]:
    """Normal and refined solves of every geometry, and the evidence of each."""
    from pipeline.analysis.case_results import Solved
    from pipeline.circuit.port_algebra import loaded_admittance
    from pipeline.mesh.evidence import geometry_evidence
    from pipeline.solver.antenna_loads import load_impedances
    from pipeline.solver.port_basis import load_basis
    from pipeline.solver.solve_cache import requests

    solved, refined, evidence = {}, {}, {}
    for name, r in requests(study).items():
        folder = cache / r.digest()
        solved[name] = Solved(r.structure, load_basis(folder / "basis.npz"))
        refined[name] = Solved(r.refined, load_basis(folder / "refined.npz"))
        gain = read_arrays_as(folder / "average_gain.npz", lambda a: float(a["average_gain"]))
        y_port = solved[name].basis.y_port[r.centre]
        own = load_impedances(r.structure, r.frequency[r.centre : r.centre + 1], study.frequency)[0]
        evidence[name] = geometry_evidence(r.structure, gain, loaded_admittance(y_port, own))
    return solved, refined, evidence


def combine(study_path: Path, cache: Path, results: Path) -> None:
    """All cases of a study by superposition: tables, arrays, exports, summary, verdict."""
    from pipeline.study.reader import load_study

    study = load_study(study_path)
    with lengths_in(study.lengths):
        _combine(study, cache, results)


def _combine(study: Study, cache: Path, results: Path) -> None:
    from pipeline.judgement.judgement import judge_study
    from pipeline.report.summary import Outcome, summary_data

    solved, refined, geometries = _load(study, cache)
    j = judge_study(study, solved, refined, geometries, _load_made(study, cache))
    outcome = Outcome(
        study,
        j.route,
        j.bench.elevation_deg,
        j.judged,
        j.bench.evidence,
        j.intervals,
        geometries,
        j.effects,
        j.advice,
        j.tried,
    )
    found, lines = {name: x.result for name, x in j.judged.items()}, j.lines
    measured = _measured(results / "tables", study, found, j.bench.uncertainty, lines)
    outcome = replace(outcome, measured=measured)
    outcome = _with_use(results / "tables", outcome, solved)
    _write_tables(results / "tables", j.bench, outcome, solved, lines, j.along)
    _write_exports(results, outcome, solved)
    # Last, since the workflow takes it as the sign that all is there.
    write_json(results / "summary.json", summary_data(outcome))


def _measured(
    folder: Path,
    study: Study,
    found: dict[str, CaseResult],
    half: dict[str, Expanded],
    lines: dict[str, LineRun],
) -> dict[str, Any] | None:
    """Compare the measured antenna with its case, if there is one, and write its table."""
    from models.antennas import generators
    from pipeline.judgement.intervals import band_intervals
    from pipeline.judgement.measured import agreement, computed_curve, measured_curve, measured_rows
    from pipeline.report.measured_words import measured_data
    from pipeline.runtime.csv_tables import write_table

    target = folder / "measured_antenna.csv"
    if study.measured is None:
        # An earlier run of the same study may have had one.
        target.unlink(missing_ok=True)
        return None
    name = study.measured.case
    run, interval = lines[name], half[name]
    curves = (
        measured_curve(study.measured, run),
        computed_curve(found[name], run.pieces[0].cable.z0),
    )
    compared = agreement(study.measured, curves, study.frequency, interval.impedance)
    ends = band_intervals(found[name], interval, run)
    write_table(target, measured_rows(compared, curves, ends))
    return measured_data(compared, study, generators()[study.antenna.type], run)


def _with_use(folder: Path, outcome: Outcome, solved: dict[str, Solved]) -> Outcome:
    """The outcome with what the installation is like in use and how far to keep away from it."""
    return replace(
        outcome,
        in_use=_in_use(folder, outcome, solved),
        exposure=_exposure(folder, outcome, solved),
    )


def _in_use(folder: Path, outcome: Outcome, solved: dict[str, Solved]) -> dict[str, Any]:
    """Noise, heat and choice of cable: their part of the summary, and their tables."""
    from pipeline.analysis.in_use_tables import TABLES, in_use, in_use_data
    from pipeline.runtime.csv_tables import write_table

    found = {name: j.result for name, j in outcome.judged.items()}
    chosen = outcome.advice.recommended_case
    use = in_use(outcome.study, solved, found, outcome.route_length, chosen)
    for name, rows_of in TABLES.items():
        rows, target = rows_of(use), folder / f"{name}.csv"
        if rows:
            write_table(target, rows)
        else:
            # An earlier run of the same study may have had some.
            target.unlink(missing_ok=True)
    return in_use_data(use)


def _exposure(folder: Path, outcome: Outcome, solved: dict[str, Solved]) -> dict[str, Any]:
    """How far to keep away, without a choke and with the recommended one; with its tables."""
    from pipeline.analysis.exposure_survey import survey
    from pipeline.report.exposure_tables import exposure_data, exposure_rows, view_rows
    from pipeline.runtime.csv_tables import write_table

    study, found = outcome.study, {name: j.result for name, j in outcome.judged.items()}
    wanted = tuple(dict.fromkeys(("none", outcome.advice.recommended_case)))
    exposures, views = survey(study, solved, found, wanted)
    write_table(folder / "exposure.csv", exposure_rows(exposures, study.frequency))
    write_table(folder / "exposure_map.csv", view_rows(views))
    return exposure_data(study, exposures)


def _write_exports(results: Path, outcome: Outcome, solved: dict[str, Solved]) -> None:
    from pipeline.report.exports import write_decks, write_netcdf, write_touchstone
    from pipeline.solver.port_basis import structure_data

    study, found = outcome.study, [j.result for j in outcome.judged.values()]
    write_netcdf(results / f"{study.name}.nc", study, found, solved)
    write_touchstone(results / "touchstone", study, found)
    write_decks(results / "decks", study, solved, study.site.ground)
    for name, entry in solved.items():
        target = results / "geometry" / f"{name}.json"
        write_json(target, {"structure": structure_data(entry.structure)})


def _write_tables(
    folder: Path,
    bench: Bench,
    outcome: Outcome,
    solved: dict[str, Solved],
    lines: dict[str, LineRun],
    along: list[Row],
) -> None:
    from pipeline.analysis.low_angles import low_gains
    from pipeline.judgement.intervals import band_intervals
    from pipeline.judgement.sweeps import core_count_rows
    from pipeline.report import tables
    from pipeline.runtime.csv_tables import write_table
    from pipeline.solver.cases import CABLE

    judged, evidence, half = outcome.judged, outcome.evidence, bench.uncertainty
    shown = (judged.values(), solved[CABLE].basis.directions)
    low = low_gains(bench.study, solved, [j.result for j in judged.values()])
    bands = {n: band_intervals(j.result, half[n], lines[n]) for n, j in judged.items()}
    content = {
        "cases": tables.case_rows(judged.values(), evidence, outcome.intervals, outcome.effects),
        "band": tables.band_rows((j.result for j in judged.values()), evidence, bands),
        "azimuth_cut": tables.azimuth_rows(*shown, half, bench.elevation_deg),
        "elevation_cut": tables.elevation_rows(*shown),
        "low_elevation": tables.low_rows(judged.values(), low, half),
        "shield_current": tables.shield_rows(judged.values(), solved, half),
        "choke_impedance": tables.choke_rows(bench.study),
        "core_count": core_count_rows(bench),
        "choke_position": along,
    }
    nearby = tables.nearby_rows(judged.values())
    # Most studies have nothing around the antenna, and then no such table.
    if nearby:
        content["nearby_current"] = nearby
    for name, rows in content.items():
        write_table(folder / f"{name}.csv", rows, tables.MAY_BE_EMPTY.get(name, ()))


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


def figure(names: list[str], results: Path) -> None:
    """Draw some of the figures from their tables."""
    from pipeline.figures.registry import draw

    with lengths_in(_lengths_of(results)):
        for name in names:
            draw(name, results)


def report(results: Path) -> None:
    """Build the one-file report from summary, tables and figures, and the page of limits."""
    from pipeline.report.known_limits import write_limits
    from pipeline.report.page import build_report

    with lengths_in(_lengths_of(results)):
        write_limits(results)
        build_report(results)
