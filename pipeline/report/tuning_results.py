"""The results of a tuning: table of its steps, plain data, figure, and the text that is printed."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from pipeline.design.match_search import Variable
from pipeline.design.tuned_study import as_written
from pipeline.design.tuning import Step, Tuned
from pipeline.design.tuning_check import Range, Response, Verification
from pipeline.design.tuning_choke import Matched
from pipeline.figures.registry import draw_page
from pipeline.figures.tuning import PAGE as FIGURES
from pipeline.figures.tuning import Match
from pipeline.report.findings import Findings
from pipeline.report.tuning_words import (
    CAUTION,
    band_words,
    choke_words,
    errors_words,
    headline,
    length_rows,
    plain_name,
    reason_missed,
    swr_words,
    trimming,
    unsound_reason,
    what_words,
)
from pipeline.study.records import Study, marker_of


def findings(found: Matched, verification: Verification, folder: Path) -> Findings:
    """Everything about a tuning; ``folder`` is where it will lie."""
    tuned = found.tuned
    title = headline(tuned, verification).replace(" ohm", " Ω")
    return Findings(
        report(found, verification, folder),
        {
            "tune.csv": step_table(tuned),
            "tune.json": summary_of(found, verification),
        },
        lambda folder: draw_page(FIGURES, folder, Match(tuned, verification, title)),
        met=tuned.met and verification.sound,
    )


def step_words(study: Study, variables: Sequence[Variable], step: Step) -> str:
    """Lengths and SWR of a step, on one line."""
    said = ", ".join(
        f"{plain_name(study, v.name)} {as_written(study, v.name, value, v.grid)}"
        for v, value in zip(variables, step.values, strict=True)
    )
    return f"{said}: SWR {step.swr:.2f}"


def step_table(tuned: Tuned) -> str:
    """Every step as CSV: lengths, impedance, standing-wave ratio, and whether it took a solve."""
    stream = io.StringIO()
    names = [f"{v.name}_{_si(marker_of(tuned.study, v.name).unit)}" for v in tuned.variables]
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["step", *names, "r_ohm", "x_ohm", "swr", "field_solve"])
    for k, step in enumerate(tuned.steps, start=1):
        values = [f"{v:.9g}" for v in step.values]
        numbers = [f"{x:.6g}" for x in (step.z.real, step.z.imag, step.swr)]
        writer.writerow([k, *values, *numbers, int(step.solved)])
    return stream.getvalue()


def _si(unit: str) -> str:
    """A unit as the end of a column's name."""
    return "ratio" if unit == "1" else unit.replace("/", "_per_")


def summary_of(found: Matched, verification: Verification) -> dict[str, Any]:
    """Everything that was found as plain data, SI units."""
    tuned = found.tuned
    study, best = tuned.study, tuned.best
    return {
        "study": study.name,
        "frequency_hz": study.frequency,
        "z0_ohm": study.cable.type.z0,
        "case": tuned.case.id,
        "on_the_cable": tuned.case.label,
        "recommended_case": found.recommended or None,
        "swr": _swr(verification),
        "shield_joins": tuned.study.cable.joins,
        "target_swr": study.tune.target_swr,
        "target_met": tuned.met and verification.sound,
        "reason": _reason(tuned, verification),
        "ended": tuned.found.ended,
        "field_solves": tuned.solves,
        "field_solves_allowed": study.tune.solves,
        "steps_refused": tuned.found.refused,
        "lengths": [
            {**asdict(variable), "unit": marker_of(study, variable.name).unit, "tuned": value}
            for variable, value in zip(tuned.variables, best.values, strict=True)
        ],
        "start": _feed(tuned.steps[0]),
        "tuned": _feed(best),
        "band": _band(verification),
        "ranges": [_range(verification.after, swr) for swr in (1.5, 2.0)],
        "best_match_hz": verification.after.best_frequency(),
        "sensitivities": [asdict(s) for s in verification.sensitivities],
        "cutting_errors": None if verification.errors is None else asdict(verification.errors),
        "geometry": verification.geometry.data(),
        "evidence": asdict(verification.evidence),
        "swr_refined": verification.swr_refined,
        "trimming": trimming(tuned, verification),
    }


def _reason(tuned: Tuned, verification: Verification) -> str | None:
    """Reason why the target is not met; None where it is."""
    if not verification.sound:
        return unsound_reason(verification)
    return None if tuned.met else reason_missed(tuned)


def _feed(step: Step) -> dict[str, float]:
    return {"r_ohm": step.z.real, "x_ohm": step.z.imag, "swr": step.swr}


def _swr(v: Verification) -> dict[str, Any]:
    """At the design frequency, as tuned and without the choke (none: it was tuned without)."""
    pairs = {"as_tuned": (v.before, v.after), "without_choke": (v.bare_before, v.bare_after)}
    return {
        name: None
        if before is None or after is None
        else {"before": before.swr_centre, "after": after.swr_centre}
        for name, (before, after) in pairs.items()
    }


def _band(v: Verification) -> list[dict[str, float]]:
    curves = {
        "swr_before": v.before,
        "swr_after": v.after,
        "swr_before_without_choke": v.bare_before,
        "swr_after_without_choke": v.bare_after,
    }
    return [
        {"frequency_hz": float(f)}
        | {name: float(curve.swr[k]) for name, curve in curves.items() if curve is not None}
        for k, f in enumerate(v.after.frequency)
    ]


def _range(response: Response, swr: float) -> dict[str, Any]:
    found: Range | None = response.within(swr)
    return {"swr": swr, "low": None, "high": None} if found is None else asdict(found)


def note_words(tuned: Tuned, verification: Verification) -> str:
    """First line of a tuned study, about itself."""
    return f"{what_words(tuned)}. SWR {swr_words(verification)}."


def report(found: Matched, verification: Verification, folder: Path) -> str:
    """Text that the command prints about one study."""
    tuned, e = found.tuned, verification.evidence
    lines = [
        f"{tuned.study.name}: {headline(tuned, verification)}",
        f"  on the cable  {tuned.case.label}; its shield on the {tuned.study.cable.joins}",
        f"                {choke_words(found)}",
        f"  SWR           {swr_words(verification)}",
    ]
    lines += [f"  {name:<14}{now}   (start {was})" for name, was, now in length_rows(tuned)]
    lines += [
        f"  band          {band_words(verification.before, verification.after)}",
        f"  drawing       {e.grade}: average gain {e.average_gain:.3f}, reciprocity "
        f"{100 * e.reciprocity:.1f} %, SWR {verification.swr_refined:.2f} with shorter segments",
        f"  errors        {errors_words(tuned, verification)}",
        "  trim in this order",
        *(f"    {k}. {text}" for k, text in enumerate(trimming(tuned, verification), start=1)),
        f"  {CAUTION}",
    ]
    if verification.sound:
        lines.append(f"  study         {folder / f'{tuned.study.name}_tuned.yaml'}")
    lines.append(f"  picture       {folder / 'tuning.png'}")
    return "\n".join(lines)
