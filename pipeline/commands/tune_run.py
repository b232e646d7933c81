"""`braidwise tune`: tunes studies; writes tables, a tuned study, a figure; says what came out."""

from __future__ import annotations

import csv
import io
import math
import shutil
import sys
import time
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from pipeline.design.tuning import Step, Tuned, tuned_case, variables_of
from pipeline.design.tuning_check import Range, Response, Verification, verify
from pipeline.design.tuning_choke import Matched, match
from pipeline.figures.registry import draw_page
from pipeline.figures.tuning import PAGE as FIGURES
from pipeline.figures.tuning import Match
from pipeline.report.tuning_words import (
    CAUTION,
    band_words,
    choke_words,
    errors_words,
    headline,
    in_unit,
    length_rows,
    plain_name,
    reason_missed,
    swr_words,
    trimming,
    unsound_reason,
    what_words,
)
from pipeline.runtime.store import write_json, write_text
from pipeline.study.batch import of_every_study
from pipeline.study.reader import load_study
from pipeline.study.records import RECOMMENDED, Study, marker_of
from pipeline.text.errors import Fault, ResultError
from pipeline.text.yaml_editing import with_values
from pipeline.text.yaml_reading import LARGEST_STUDY, read_text

# How a tuned copy begins.
_TUNED_WITH = "# Tuned with"
# What a tuned copy may say otherwise than the study it was made from.
_MAY_DIFFER = {"name", "title", "defaults", "warnings", "lines"}


@dataclass(frozen=True)
class Job:
    """A valid study that can be tuned, and the file it stands in."""

    path: Path
    study: Study


def plan_tuning(paths: list[Path]) -> list[Job]:
    """Read all studies and see that each can be tuned; writes nothing.

    Raises
    ------
    StudyError
        With the faults of all of them, or if two have one name.
    """
    return of_every_study(paths, _job)


def _job(path: Path, study: Study) -> Job:
    # Each refuses a study that leaves it nothing to do.
    if study.tune.choke != RECOMMENDED:
        tuned_case(study)
    variables_of(study)
    return Job(path, study)


class _Progress:
    """Says every step on the error stream."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._grids = {v.name: v.grid for v in variables_of(study)}
        self._begun = time.monotonic()
        self._n = 0

    def tell(self, text: str) -> None:
        """Say what is being done."""
        print(f"{time.monotonic() - self._begun:5.0f} s  {text}", file=sys.stderr)

    def __call__(self, step: Step) -> None:
        self._n += step.solved
        study, pairs = self._study, zip(self._grids.items(), step.values, strict=True)
        said = ", ".join(
            f"{plain_name(study, name)} {in_unit(value, marker_of(study, name).unit, grid)}"
            for (name, grid), value in pairs
        )
        print(
            f"{time.monotonic() - self._begun:5.0f} s  solve {self._n:2d}  {said}: "
            f"SWR {step.swr:.2f}",
            file=sys.stderr,
        )


def run_job(job: Job, results: Path) -> tuple[bool, str]:
    """Tune one study and write what was found; whether the target is met, and what to print.

    Raises
    ------
    StudyError
        If the antenna cannot be drawn as the study has it.
    SolverError
        If the solver refuses, crashes or hangs.
    ResultError
        If the tuned study does not read back as it was meant.
    """
    progress = _Progress(job.study)
    found = match(job.study, progress, progress.tell)
    tuned = found.tuned
    progress.tell("the best lengths once more: band, evidence, finer drawing")
    verification = verify(tuned)
    folder = results / job.study.name / "tune"
    copy = folder / f"{job.study.name}_tuned.yaml"
    copy.unlink(missing_ok=True)
    if verification.sound:
        write_tuned_study(job, tuned, copy, f"{_TUNED_WITH} {note_words(tuned, verification)}")
    write_text(folder / "tune.csv", step_table(tuned))
    write_json(folder / "tune.json", summary_of(found, verification))
    title = headline(tuned, verification).replace(" ohm", " Ω")
    draw_page(FIGURES, folder, Match(tuned, verification, title))
    return tuned.met and verification.sound, report(found, verification, folder)


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


def tuned_values(tuned: Tuned) -> dict[str, str]:
    """The tuned lengths as a study writes them; those it already has so are left out."""
    given = tuned.study.antenna.parameters
    return {
        v.name: in_unit(x, marker_of(tuned.study, v.name).unit, v.grid)
        for v, x in zip(tuned.variables, tuned.found.best.values, strict=True)
        if getattr(given, v.name) is None or abs(getattr(given, v.name) - x) > 1e-9 * abs(x)
    }


def write_tuned_study(job: Job, tuned: Tuned, target: Path, note: str) -> None:
    """Write a copy of a study file that differs by the tuned lengths only, and read it back.

    Its first line, a comment, is ``note``, in place of that of an earlier tuning. Measurements
    that it names are copied beside it, where a study looks for them.

    Raises
    ------
    ResultError
        If the copy does not say what it should; it is removed then.
    """
    text = read_text(job.path, LARGEST_STUDY, job.path.name)
    first, _, rest = text.partition("\n")
    kept = rest if first.startswith(_TUNED_WITH) else text
    write_text(target, f"{note}\n{with_values(kept, 'antenna', tuned_values(tuned))}")
    for name in job.study.files:
        place = target.parent / name
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(job.path.parent / name, place)
    strange = differences(load_study(target), tuned, chokes_listed="chokes" in _top_keys(text))
    if strange:
        target.unlink()
        raise ResultError(
            Fault(
                str(target),
                "",
                f"would not say the same as {job.path.name} in {', '.join(strange)}",
                "copy the lengths of tune.json into the study by hand",
                "tuned-study",
            )
        )


def _top_keys(text: str) -> set[str]:
    return {line.split(":")[0] for line in text.splitlines() if line and line[0].isalpha()}


def differences(read: Study, tuned: Tuned, chokes_listed: bool) -> list[str]:
    """Sections of a tuned study that differ from what is meant.

    Lengths may differ by a rounding error of their unit; standard candidates, which depend on
    the height of the tap, are made anew.
    """
    meant = tuned.after
    leave = _MAY_DIFFER if chokes_listed else _MAY_DIFFER | {"chokes"}
    strange = [
        f.name
        for f in fields(Study)
        if f.name not in leave | {"antenna"} and getattr(read, f.name) != getattr(meant, f.name)
    ]
    names = [v.name for v in tuned.variables]
    close = all(
        math.isclose(
            getattr(read.antenna.parameters, name),
            getattr(meant.antenna.parameters, name),
            rel_tol=1e-9,
        )
        for name in names
    )
    same = {name: getattr(meant.antenna.parameters, name) for name in names}
    rest = replace(read.antenna, parameters=replace(read.antenna.parameters, **same))
    return strange + ([] if close and rest == meant.antenna else ["antenna"])


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
    """Why the target is not met; None where it is."""
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
    """What a tuned study says of itself."""
    return f"{what_words(tuned)}. SWR {swr_words(verification)}."


def report(found: Matched, verification: Verification, folder: Path) -> str:
    """What the command prints about one study."""
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
