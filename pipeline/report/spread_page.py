"""The page of a spread: does the answer hold, with all that is unknown?

Results and figures in, one HTML file that needs nothing else out.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.chokes.kinds import own_unknowns
from pipeline.figures.spread import PAGE as FIGURES
from pipeline.mesh.evidence import LIMITS
from pipeline.montecarlo.draws import Unknown
from pipeline.montecarlo.sensitivity import Band
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_verdict import CLASSES, Candidate, Chance, Judgement
from pipeline.report.page import page_environment, read_pictures, style_sheet
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
    range_words,
    rate,
    short,
)
from pipeline.solver.cases import NONE
from pipeline.text.formatting import fixed, percent


def page(folder: Path, spread: Spread, judgement: Judgement) -> str:
    """The whole page as text; ``folder`` holds the two figures.

    Raises
    ------
    ResultError
        If a figure is missing or damaged.
    """
    css, digest = style_sheet()
    asymmetry = max(d.asymmetry for d in spread.drawn)
    sound = asymmetry <= LIMITS["reciprocity"].sound
    context: dict[str, Any] = {
        "study": spread.study,
        "headline": headline(judgement),
        "bare": bare_sentence(judgement),
        "first": measure_first(spread, judgement),
        "turning": flip_sentences(spread, judgement),
        "holds": holds_sentence(spread, judgement),
        "made": made_sentences(spread, judgement),
        "error": error_sentence(spread, judgement),
        "out": left_out_sentence(spread),
        "rows": [_row(c, judgement.chosen) for c in judgement.candidates.values()],
        "causes": _causes(spread, judgement),
        "n_geometry": spread.shape[0],
        "defaults": assumed(spread),
        "refused": spread.refused,
        "asymmetry": percent(asymmetry),
        "asymmetry_word": "" if sound else ", more than a sound computation has",
        "coils": coil_words(spread, judgement),
        "own": judgement.chosen != NONE,
        "pictures": read_pictures(folder, FIGURES),
    }
    template = page_environment().get_template("spread.html.j2")
    return template.render(css=css, digest=digest, **context)


def coil_words(spread: Spread, judgement: Judgement) -> str:
    """How symmetric the coils' own geometries are; empty where none is drawn as wire."""
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
