"""The page of a spread: does the answer hold, with all that is unknown?

Results and figures in, one HTML file that needs nothing else out.
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.answer.unknown_words import range_words
from pipeline.chokes.kinds import own_unknowns
from pipeline.figures.registry import draw_page
from pipeline.figures.spread import PAGE as FIGURES
from pipeline.figures.spread import Found
from pipeline.mesh.evidence import LIMITS
from pipeline.montecarlo.draws import Unknown, quantile
from pipeline.montecarlo.sensitivity import Band
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_verdict import CLASSES, Candidate, Chance, Judgement
from pipeline.report.findings import Findings
from pipeline.report.html import page_text, read_pictures
from pipeline.report.spread_words import (
    assumed,
    headline,
    measure_first,
    rate,
    sentences,
    short,
)
from pipeline.runtime.csv_tables import Row
from pipeline.solver.cases import NONE
from pipeline.text.formatting import fixed, percent


def findings(spread: Spread, judgement: Judgement) -> Findings:
    """Everything about a spread: tables, figures, page, and the text that is printed."""
    said = sentences(spread, judgement)
    text = [sentence for part in said.values() for sentence in part]
    lines = [f"{spread.study.name}: {headline(judgement)}", *text]
    typical = assumed(spread)
    if typical:
        lines.append(
            f"{len(typical)} keys of unknowns are assumed as typical; the page names them."
        )
    labels = {name: short(c.case) for name, c in judgement.candidates.items()}
    drawn = Found(spread, judgement, labels, _titles(spread, judgement))
    return Findings(
        "\n".join(lines),
        {
            "candidates.csv": candidate_rows(judgement),
            "causes.csv": cause_rows(judgement),
            "draws.csv": draw_rows(spread, judgement),
            "spread.json": data_of(spread, judgement, text),
        },
        lambda folder: draw_page(FIGURES, folder, drawn),
        lambda folder: page(folder, spread, judgement, said),
    )


def page(folder: Path, spread: Spread, judgement: Judgement, said: dict[str, list[str]]) -> str:
    """The whole page as text; ``folder`` holds the two figures."""
    return page_text(
        "spread",
        read_pictures(folder, FIGURES),
        study=spread.study,
        headline=headline(judgement),
        said=said,
        rows=[_row(c, judgement.chosen) for c in judgement.candidates.values()],
        causes=_causes(spread, judgement),
        n_geometry=spread.shape[0],
        defaults=assumed(spread),
        refused=spread.refused,
        asymmetry=max(d.asymmetry for d in spread.drawn),
        sound=LIMITS["reciprocity"].sound,
        coils=coil_words(spread, judgement),
        own=judgement.chosen != NONE,
    )


def coil_words(spread: Spread, judgement: Judgement) -> str:
    """Symmetry of the coils' own geometries; empty where none is drawn as wire."""
    worst = max(d.coil_asymmetry for d in spread.drawn)
    if not worst:
        return ""
    said = f"where a coil is drawn as wire, within {percent(worst)}"
    out = [short(c.case) for c in judgement.candidates.values() if not c.trusted]
    if out:
        return f"{said}, too much to recommend: {', '.join(out)}"
    return said + ("" if worst <= LIMITS["reciprocity"].sound else ", usable at best")


def _row(candidate: Candidate, chosen: str) -> dict[str, Any]:
    b = candidate.bands
    return {
        "label": short(candidate.case),
        "chosen": candidate.case.id == chosen,
        "chances": [_chance(candidate.chances[name]) for name in CLASSES],
        "bands": [
            _shares(b["station_ratio"]),
            _shares(b["shield_ratio"]),
            _numbers(b["pattern_rms_db"], 1),
            _numbers(b["swr"], 2),
            _numbers(b["mean_gain_dbi"], 1),
            _shares(b["choke_share"]) if candidate.case.choke is not None else ("–", ""),
        ],
    }


def _chance(chance: Chance) -> str:
    error = 100 * chance.error
    return rate(chance.value) + (f" ± {error:.0f}" if error >= 0.5 else "")


def _shares(band: Band) -> tuple[str, str]:
    return f"{percent(band.p5)} to {percent(band.p95)}", percent(band.worst)


def _numbers(band: Band, decimals: int) -> tuple[str, str]:
    low, high = fixed(band.p5, decimals), fixed(band.p95, decimals)
    return low if low == high else f"{low} to {high}", fixed(band.worst, decimals)


def _causes(spread: Spread, judgement: Judgement) -> list[dict[str, str]]:
    known = {u.name: u for u in spread.unknowns}
    own = {c.label: rate(c.share.value) for c in judgement.causes[judgement.chosen]}
    found = [
        {
            "label": cause.label,
            "range": "all of it together" if cause.joint else _range(known[cause.name]),
            "share": rate(cause.share.value),
            "noise": rate(cause.share.noise),
            "chances": f"{rate(cause.low)} to {rate(cause.high)}",
            "own": own[cause.label],
        }
        for cause in judgement.causes[NONE]
    ]
    # How a candidate is made cannot matter where it is not fitted.
    nothing = dict.fromkeys(("share", "noise", "chances"), "–")
    found += [
        {"label": u.label, "range": _range(u), **nothing, "own": own.get(u.label, "–")}
        for u in spread.unknowns
        if u.name in own_unknowns()
    ]
    return found


def _range(unknown: Unknown) -> str:
    """The whole range of an unknown as a table says it."""
    if unknown.spread.shape == "chance":
        return f"nothing in {rate(unknown.spread.low)} of the draws"
    if unknown.spread.shape == "classes":
        return "any class of the catalogue but open water"
    return range_words(unknown, (0.0, 1.0))


def _titles(spread: Spread, judgement: Judgement) -> dict[str, str]:
    """Findings of the figures by name."""
    first = measure_first(spread, judgement).split(". ")[0]
    return {"bands": headline(judgement), "shares": f"{first}."}


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
            station = spread.found[case]["station_ratio"].reshape(spread.shape)[k]
            row |= {
                f"score_median_{case}": float(np.median(score)),
                f"chance_invisible_{case}": float(np.mean(score <= 1)),
                f"station_ratio_median_{case}": float(np.median(station)),
            }
        rows.append(row)
    return rows


def data_of(spread: Spread, judgement: Judgement, text: list[str]) -> dict[str, Any]:
    """Everything that was found as plain data, SI units."""
    n_geometry, n_draw = spread.shape
    return {
        "study": spread.study.name,
        "frequency_hz": spread.study.frequency,
        "headline": headline(judgement),
        "recommended_case": judgement.chosen,
        "sure": judgement.sure,
        "text": text,
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
