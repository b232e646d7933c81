"""One function a workflow rule: reads files, calls the rooms, writes files.

Heavy imports stand inside the stage that needs them, because every stage is a process.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.store import read_json, write_json, write_text

if TYPE_CHECKING:
    from pipeline.choke_model import LineRun
    from pipeline.compare import CaseResult, Solved
    from pipeline.study_types import Study
    from pipeline.summary import Outcome
    from pipeline.sweeps import Bench


def geometry(study_path: Path, cache: Path) -> None:
    """Draw and check every geometry of a study; one request file each."""
    from pipeline.cache import requests
    from pipeline.study import load_study

    for entry in requests(load_study(study_path)).values():
        target = cache / entry.digest() / "request.json"
        # Named by its content: what is there already is right.
        if not target.exists():
            write_text(target, entry.text())


def basis(folder: Path) -> None:
    """Solve one geometry for all ports and frequencies."""
    from pipeline.cache import read_request
    from pipeline.port_basis import save_basis, solve_basis

    r = read_request(folder / "request.json")
    save_basis(folder / "basis.npz", solve_basis(r.structure, r.frequency, r.centre, r.soil))


def check(folder: Path) -> None:
    """Solve the refined twin at the design frequency, and the lossless one in free space."""
    from pipeline.cache import read_request
    from pipeline.port_basis import save_basis, solve_basis
    from pipeline.solver import in_worker, solver_pattern

    r = read_request(folder / "request.json")
    f = r.frequency[r.centre : r.centre + 1]
    save_basis(folder / "refined.npz", solve_basis(r.refined, f, 0, r.soil))
    built, at = r.structure, float(f[0])
    twin = in_worker(r.name, 300.0, solver_pattern, built, at, None, r.twin_loads, lossless=True)
    write_json(folder / "average_gain.json", {"average_gain": twin.average_gain})


def _load(study: Study, cache: Path) -> tuple[dict[str, Solved], dict[str, Solved], dict[str, Any]]:
    """Normal and refined solves of every geometry, and the evidence of each."""
    from pipeline.antenna_loads import load_impedances
    from pipeline.cache import requests
    from pipeline.compare import Solved
    from pipeline.evidence import geometry_evidence
    from pipeline.port_algebra import loaded_admittance
    from pipeline.port_basis import load_basis

    solved, refined, evidence = {}, {}, {}
    for name, r in requests(study).items():
        folder = cache / r.digest()
        solved[name] = Solved(r.structure, load_basis(folder / "basis.npz"))
        refined[name] = Solved(r.refined, load_basis(folder / "refined.npz"))
        gain = float(read_json(folder / "average_gain.json")["average_gain"])
        y_port = solved[name].basis.y_port[r.centre]
        own = load_impedances(r.structure, r.frequency[r.centre : r.centre + 1], study.frequency)[0]
        evidence[name] = geometry_evidence(r.structure, gain, loaded_admittance(y_port, own))
    return solved, refined, evidence


def _evaluated(
    study: Study, solved: dict[str, Solved]
) -> tuple[float, dict[str, CaseResult], dict[str, LineRun]]:
    """Length of the route, and of every case its results and the cable inside it."""
    from pipeline.compare import case_line, evaluate, route_length
    from pipeline.plan import CABLE, cases

    route = route_length(solved[CABLE].structure)
    found, lines = {}, {}
    for case in cases(study):
        entry = solved[case.geometry]
        found[case.id] = evaluate(entry, study, case, route=route)
        lines[case.id] = case_line(entry.structure, study, case, route)
    return route, found, lines


def combine(study_path: Path, cache: Path, results: Path) -> None:
    """All cases of a study by superposition: tables, arrays, exports, summary, verdict."""
    from pipeline.advice import advise
    from pipeline.compare import at_centre
    from pipeline.facts import judge
    from pipeline.intervals import case_intervals
    from pipeline.metrics import horizon_elevation_deg
    from pipeline.plan import CABLE
    from pipeline.self_checks import check_cases
    from pipeline.study import load_study
    from pipeline.summary import Outcome, summary_data
    from pipeline.sweeps import Bench, variations
    from pipeline.uncertainty import accuracy, expanded
    from pipeline.verdict import effect

    study = load_study(study_path)
    solved, refined, geometries = _load(study, cache)
    route, found, lines = _evaluated(study, solved)
    theta = solved[CABLE].basis.directions.theta
    elevation = horizon_elevation_deg(found["ideal"].gain, theta)
    evidence, checks = check_cases(study, solved, refined, geometries, elevation)
    half = {name: expanded(c, accuracy(c.compared)) for name, c in checks.items()}
    judged = {
        name: judge(r, found["ideal"], theta, elevation, evidence[name])
        for name, r in found.items()
    }
    facts = {name: j.facts for name, j in judged.items()}
    effects = {name: effect(f, facts["none"]) for name, f in facts.items()}
    intervals = {name: case_intervals(j, half[name], lines[name]) for name, j in judged.items()}
    centred = {n: at_centre(s) for n, s in solved.items()}
    bench = Bench(study, centred, evidence, half, elevation)
    advice, tried = advise(
        facts, intervals, lambda n: variations(bench, found[n].case), study.power, elevation
    )
    outcome = Outcome(
        study, route, elevation, judged, evidence, intervals, geometries, effects, advice, tried
    )
    _write_tables(results / "tables", bench, outcome, solved, lines)
    _write_exports(results, outcome, solved)
    # Last, since the workflow takes it as the sign that all is there.
    write_json(results / "summary.json", summary_data(outcome))


def _write_exports(results: Path, outcome: Outcome, solved: dict[str, Solved]) -> None:
    from pipeline.exports import write_decks, write_netcdf, write_touchstone
    from pipeline.geometry import soil_of
    from pipeline.port_basis import structure_data

    study, found = outcome.study, [j.result for j in outcome.judged.values()]
    write_netcdf(results / f"{study.name}.nc", study, found, solved)
    write_touchstone(results / "touchstone", study, found)
    write_decks(results / "decks", study, solved, soil_of(study))
    for name, entry in solved.items():
        target = results / "geometry" / f"{name}.json"
        write_json(target, {"structure": structure_data(entry.structure)})


def _write_tables(
    folder: Path,
    bench: Bench,
    outcome: Outcome,
    solved: dict[str, Solved],
    lines: dict[str, LineRun],
) -> None:
    from pipeline import tables
    from pipeline.intervals import band_intervals
    from pipeline.plan import CABLE
    from pipeline.sweeps import choke_position_rows, core_count_rows

    judged, evidence, half = outcome.judged, outcome.evidence, bench.uncertainty
    shown = (judged.values(), solved[CABLE].basis.directions)
    bands = {n: band_intervals(j.result, half[n], lines[n]) for n, j in judged.items()}
    content = {
        "cases": tables.case_rows(judged.values(), evidence, outcome.intervals, outcome.effects),
        "band": tables.band_rows((j.result for j in judged.values()), evidence, bands),
        "azimuth_cut": tables.azimuth_rows(*shown, half, bench.elevation_deg),
        "elevation_cut": tables.elevation_rows(*shown),
        "low_elevation": tables.low_rows(*shown, half),
        "shield_current": tables.shield_rows(judged.values(), solved, half),
        "choke_impedance": tables.choke_rows(bench.study),
        "core_count": core_count_rows(bench),
        "choke_position": choke_position_rows(bench),
    }
    nearby = tables.nearby_rows(judged.values())
    # Most studies have nothing around the antenna, and then no such table.
    if nearby:
        content["nearby_current"] = nearby
    for name, rows in content.items():
        tables.write_table(folder / f"{name}.csv", rows)


def compared(summaries: list[Path], target: Path) -> None:
    """Set the studies of one run side by side; ``summaries`` lie in their results folders."""
    from pipeline.side_by_side import compare_studies

    compare_studies([path.parent for path in summaries], target.parent)


def figure(names: list[str], results: Path) -> None:
    """Draw some of the figures from their tables."""
    from pipeline.figures import draw

    for name in names:
        draw(name, results)


def report(results: Path) -> None:
    """Build the one-file report from summary, tables and figures, and the page of limits."""
    from pipeline.limits import write_limits
    from pipeline.report import build_report

    write_limits(results)
    build_report(results)
