"""`braidwise spread`: draws what is unknown, solves, judges; writes tables, figures and a page."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.figures.registry import draw_page
from pipeline.figures.spread import PAGE as FIGURES
from pipeline.figures.spread import Found
from pipeline.montecarlo.draws import quantile, unknowns_of
from pipeline.montecarlo.spread import GEOMETRIES, Spread, run, solves_of
from pipeline.montecarlo.spread_verdict import Judgement, judge
from pipeline.report.spread_page import page
from pipeline.report.spread_words import (
    assumed,
    bare_sentence,
    error_sentence,
    flip_sentences,
    headline,
    holds_sentence,
    left_out_sentence,
    made_sentences,
    measure_first,
    short,
)
from pipeline.runtime.csv_tables import Row, write_table
from pipeline.runtime.process import say
from pipeline.runtime.progress import PAGES, PAGES_SECONDS, Stretch, Telling
from pipeline.runtime.store import write_json, write_text
from pipeline.solver.cases import NONE
from pipeline.solver.solve_cache import solves_to_go_on_from
from pipeline.study.batch import of_every_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError


def plan_spread(paths: list[Path]) -> list[Study]:
    """Read all studies and see that each has something to spread; writes nothing.

    Raises
    ------
    StudyError
        With the faults of all of them, or if two have one name.
    """
    return of_every_study(paths, _unknown_study)


def _unknown_study(path: Path, study: Study) -> Study:
    if not unknowns_of(study):
        rule = "leaves nothing unknown, so there is nothing to spread"
        remedy = "take a key out of unknowns, or give it a range"
        raise StudyError(Fault(f"{path.name}  unknowns", "", rule, remedy, "all-known"))
    return study


def run_job(study: Study, results: Path, cores: int) -> str:
    """Spread one study, write everything; what to print.

    Raises
    ------
    StudyError
        If most draws make no installation.
    SolverError
        If the solver refuses, crashes or hangs.
    """
    tell = Telling(say)
    tell.plan(GEOMETRIES, solves_of(study, cores))
    tell.plan(PAGES, Stretch(1, PAGES_SECONDS))
    folder = results / study.name / "spread"
    with solves_to_go_on_from(folder, say) as store:
        spread = run(study, cores, tell, store)
        judgement = judge(spread)
        target = folder / "spread.html"
        # The page comes last and an old one goes first: where it is, all of it belongs together.
        target.unlink(missing_ok=True)
        write_table(folder / "candidates.csv", candidate_rows(judgement))
        write_table(folder / "causes.csv", cause_rows(judgement))
        write_table(folder / "draws.csv", draw_rows(spread, judgement))
        write_json(folder / "spread.json", data_of(spread, judgement))
        labels = {name: short(c.case) for name, c in judgement.candidates.items()}
        draw_page(FIGURES, folder, Found(spread, judgement, labels, _titles(spread, judgement)))
        write_text(target, page(folder, spread, judgement))
    tell("done", PAGES)
    return report(spread, judgement, target)


def candidate_rows(judgement: Judgement) -> list[Row]:
    """One row a case: chances with their errors, and bands of every figure."""
    rows: list[Row] = []
    for name, c in judgement.candidates.items():
        row: Row = {"case": name, "label": c.case.label, "score_as_stated": c.stated_score}
        for kind, chance in c.chances.items():
            row |= {f"chance_{kind}": chance.value, f"chance_{kind}_error": chance.error}
        for figure, band in {"score": c.score, **c.bands}.items():
            row |= {f"{figure}_{key}": value for key, value in asdict(band).items()}
        rows.append(row)
    return rows


def cause_rows(judgement: Judgement) -> list[Row]:
    """One row an unknown and case: its share of the spread, the chances over its range."""
    rows: list[Row] = []
    for case, causes in judgement.causes.items():
        whole = judgement.geometry[case]
        rows.append(
            {
                "case": case,
                "unknown": "geometry",
                "share": whole.value,
                "noise": whole.noise,
                "chance_low": None,
                "chance_high": None,
            }
        )
        rows += [
            {
                "case": case,
                "unknown": cause.label if cause.joint else cause.name,
                "share": cause.share.value,
                "noise": cause.share.noise,
                "chance_low": cause.low,
                "chance_high": cause.high,
            }
            for cause in causes
        ]
    return rows


def draw_rows(spread: Spread, judgement: Judgement) -> list[Row]:
    """One row a geometry: its unknowns in SI units, and the middle of what came out of it."""
    geometric = [u for u in spread.unknowns if u.geometric]
    rows: list[Row] = []
    for k, (u, drawn) in enumerate(zip(spread.u_geometric, spread.drawn, strict=True)):
        ground = drawn.study.site.ground
        row: Row = {"geometry": k + 1}
        row |= {
            x.name: float(quantile(x.spread, np.array([p]), x.nominal)[0])
            for x, p in zip(geometric, u, strict=True)
            if x.spread.shape != "classes"
        }
        row |= {
            "soil_eps_r": None if ground is None else ground.eps_r,
            "soil_sigma_s_per_m": None if ground is None else ground.sigma,
            "horizon_elevation_deg": drawn.reduced.elevation_deg,
            "asymmetry": drawn.asymmetry,
            "coil_asymmetry": drawn.coil_asymmetry if drawn.coils else None,
        }
        for case in dict.fromkeys((NONE, judgement.chosen)):
            score = spread.found[case].score().reshape(spread.shape)[k]
            station = spread.found[case].station_ratio.reshape(spread.shape)[k]
            row |= {
                f"score_median_{case}": float(np.median(score)),
                f"chance_invisible_{case}": float(np.mean(score <= 1)),
                f"station_ratio_median_{case}": float(np.median(station)),
            }
        rows.append(row)
    return rows


def data_of(spread: Spread, judgement: Judgement) -> dict[str, Any]:
    """Everything that was found as plain data, SI units."""
    n_geometry, n_draw = spread.shape
    return {
        "study": spread.study.name,
        "frequency_hz": spread.study.frequency,
        "headline": headline(judgement),
        "recommended_case": judgement.chosen,
        "sure": judgement.sure,
        "text": words_of(spread, judgement),
        "geometries": n_geometry,
        "draws_per_geometry": n_draw,
        "seed": spread.study.unknowns.seed,
        "refused": list(spread.refused),
        "left_out": list(spread.left_out),
        "assumed": assumed(spread),
        "unknowns": [
            {
                "name": u.name,
                "label": u.label,
                "unit": u.unit,
                "stated": u.nominal,
                "shape": u.spread.shape,
                "low": u.spread.low,
                "high": u.spread.high,
                "around_stated": u.spread.around,
                "changes_the_drawing": u.geometric,
            }
            for u in spread.unknowns
        ],
        "worst_asymmetry": max(d.asymmetry for d in spread.drawn),
        "worst_coil_asymmetry": max(d.coil_asymmetry for d in spread.drawn),
        "candidates": candidate_rows(judgement),
        "causes": cause_rows(judgement),
    }


def words_of(spread: Spread, judgement: Judgement) -> list[str]:
    """Every paragraph below the headline."""
    said = [
        bare_sentence(judgement),
        measure_first(spread, judgement),
        *flip_sentences(spread, judgement),
        holds_sentence(spread, judgement),
        *made_sentences(spread, judgement),
        error_sentence(spread, judgement),
        left_out_sentence(spread),
    ]
    return [text for text in said if text]


def _titles(spread: Spread, judgement: Judgement) -> dict[str, str]:
    """Findings of the figures by name."""
    first = measure_first(spread, judgement).split(". ")[0]
    return {"bands": headline(judgement), "shares": f"{first}."}


def report(spread: Spread, judgement: Judgement, target: Path) -> str:
    """What the command prints about one study."""
    lines = [f"{spread.study.name}: {headline(judgement)}", *words_of(spread, judgement)]
    typical = assumed(spread)
    if typical:
        lines.append(
            f"{len(typical)} keys of unknowns are assumed as typical; the page names them."
        )
    return "\n".join([*lines, f"Page: {target}"])
