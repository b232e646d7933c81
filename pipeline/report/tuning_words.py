"""A tuned antenna in words: what was found, how to trim it, why it may fall short.

Numbers in, plain sentences out; every number in a sentence is computed.
"""

from __future__ import annotations

from models.antennas import generators
from pipeline.design.tuned_study import as_written
from pipeline.design.tuning import Tuned
from pipeline.design.tuning_check import Range, Response, Sensitivity, Verification
from pipeline.design.tuning_choke import Matched
from pipeline.solver.cases import NONE
from pipeline.study.records import Study
from pipeline.text.formatting import fixed, impedance_words, sentence_case
from pipeline.text.units import show_quantity

CAUTION = (
    "Measure with the least power that does and with nobody near the antenna; keep it, and "
    "yourself on a ladder or roof, clear of power lines. Local codes come first."
)


def plain_name(study: Study, parameter: str) -> str:
    """A parameter's name in words."""
    return generators()[study.antenna.type].trim(parameter).name


def reason_missed(tuned: Tuned) -> str:
    """Reason why the target is not met, a sentence without its full stop."""
    best, target = tuned.best, tuned.study.tune.target_swr
    pairs = list(zip(tuned.variables, best.values, strict=True))
    at_end = [
        plain_name(tuned.study, v.name)
        for v, x in pairs
        if min(x - v.low, v.high - x) < 0.01 * (v.high - v.low)
    ]
    head = f"SWR {best.swr:.2f} is the best found, {target:g} was wanted: "
    if tuned.found.ended == "out of solves":
        return head + f"the {tuned.study.tune.solves} field solves of tune.solves are used up"
    if at_end:
        return head + f"{' and '.join(at_end)} came to the end of what is allowed"
    if tuned.refusals:
        return head + f"further steps cannot be built: {tuned.refusals[-1]}"
    names = " and ".join(plain_name(tuned.study, v.name) for v in tuned.variables)
    shown = impedance_words(best.z, unit="ohm")
    return f"{head}no change of {names} brings it nearer; the feed shows {shown} there"


def headline(tuned: Tuned, verification: Verification) -> str:
    """The outcome in one sentence; an unsound drawing is never called tuned."""
    study = tuned.study
    at = show_quantity(study.frequency, "Hz")
    solves = f"{tuned.solves} field solves"
    if not verification.sound:
        return f"Not tuned: {unsound_reason(verification)} ({solves})"
    if not tuned.met:
        return f"Not on target at {at}: {reason_missed(tuned)} ({solves})"
    return (
        f"Matched at {at} with {what_words(tuned)}: SWR {tuned.best.swr:.2f} at the feed, "
        f"{impedance_words(tuned.best.z, unit='ohm')}; {study.tune.target_swr:g} was wanted "
        f"({solves})"
        f"{_without(verification)}"
    )


def what_words(tuned: Tuned) -> str:
    """The choke on the cable, or none, in words."""
    return "no choke on the cable" if tuned.case.id == NONE else " ".join(tuned.case.label.split())


def _without(verification: Verification) -> str:
    bare = verification.bare_after
    return "" if bare is None else f". Without the choke the SWR is {bare.swr_centre:.2f}"


def choke_words(found: Matched) -> str:
    """Reason for the choke on the cable, and the report's advice for the tuned lengths."""
    if not found.recommended:
        return "as tune.choke of the study says"
    if found.settled:
        return "as the study takes, before tuning or after"
    return (
        f"at the tuned lengths the study takes {found.recommended}; write what you want "
        "under tune.choke and tune again"
    )


def swr_words(verification: Verification) -> str:
    """SWR at the design frequency before and after, with what is on the cable and without."""
    v = verification
    own = f"{v.after.swr_centre:.2f} (before {v.before.swr_centre:.2f})"
    if v.bare_before is None or v.bare_after is None:
        return own
    return (
        f"{own} with the choke, {v.bare_after.swr_centre:.2f} (before "
        f"{v.bare_before.swr_centre:.2f}) without"
    )


def unsound_reason(verification: Verification) -> str:
    """Reason why the drawing of the best lengths may not be believed."""
    e, g = verification.evidence, verification.geometry
    return (
        f"the drawing of these lengths is graded unsound (average gain {e.average_gain:.3f}, "
        f"reciprocity {100 * e.reciprocity:.1f} %, {100 * e.convergence:.0f} % change with "
        f"shorter segments, neighbouring segments 1 to {g.neighbour_ratio:.1f})"
    )


def range_words(found: Range | None, swr: float) -> str:
    """Frequencies that keep a standing-wave ratio, in words."""
    if found is None:
        return f"SWR is above {swr:g} at the design frequency"
    low, high = show_quantity(found.low, "Hz"), show_quantity(found.high, "Hz")
    if found.open_low and found.open_high:
        return f"SWR at most {swr:g} over the whole band"
    ends = [end for end, is_open in ((low, found.open_low), (high, found.open_high)) if is_open]
    more = f", and beyond {ends[0]}, the end of the band" if ends else ""
    width = show_quantity(round(found.high - found.low, -4), "Hz")
    return f"SWR at most {swr:g} from {low} to {high} ({width}){more}"


def band_words(before: Response, after: Response) -> str:
    """SWR over the band, before and after."""
    low, high = (show_quantity(float(f), "Hz") for f in after.frequency[[0, -1]])
    # What holds over the whole band need not be said of a higher ratio again.
    said = list(dict.fromkeys(range_words(after.within(swr), swr) for swr in (1.5, 2.0)))
    whole = [k for k, text in enumerate(said) if text.endswith("whole band")]
    kept = "; ".join(said[: whole[0] + 1] if whole else said)
    return (
        f"{low} to {high}: SWR up to {after.swr.max():.2f} (before {before.swr.max():.2f}); {kept}"
    )


def _shift_words(shift: float) -> str:
    """Size of a shift in kilohertz, from one megahertz up in megahertz."""
    size = abs(shift)
    return f"{fixed(size / 1e6, 1)} MHz" if size >= 0.9995e6 else f"{fixed(size / 1e3, 0)} kHz"


def effect_words(study: Study, sensitivity: Sensitivity) -> str:
    """Effect of one step of a variable on the match.

    A cut piece gets shorter on the bench, so that is the way it is told.
    """
    s = sensitivity
    step = as_written(study, s.name, s.step, s.step)
    name = plain_name(study, s.name)
    shift = -s.shift if s.kind == "cut" else s.shift
    action = (
        f"cutting {step} off the {name}" if s.kind == "cut" else f"setting the {name} {step} larger"
    )
    swr = s.swr_less if s.kind == "cut" else s.swr_more
    other = s.swr_more if s.kind == "cut" else s.swr_less
    moves = f"moves the best match {'up' if shift > 0 else 'down'} by {_shift_words(shift)}"
    return f"{action} {moves} (SWR {swr:.2f} then, {other:.2f} with as much the other way)"


def trimming(tuned: Tuned, verification: Verification) -> list[str]:
    """Advice in the order in which a builder trims, one sentence or two for each variable."""
    study = tuned.study
    trims = {trim.parameter: trim for trim in generators()[study.antenna.type].trims}
    found = []
    for s in verification.sensitivities:
        said = effect_words(study, s)
        text = f"{sentence_case(said)}."
        if s.start_long:
            start = as_written(study, s.name, s.start_long, s.step)
            text += f" Cut it {start} too long first and take it off in small bites."
        elif s.kind == "cut":
            text += " Too long can be mended, too short cannot."
        elif s.kind == "gap":
            text += " Too small can be mended by cutting, too large cannot."
        else:
            text += " It errs safely: it can be moved both ways."
        found.append(f"{text} From the antenna's file: {trims[s.name].advice}.")
    return found


def errors_words(tuned: Tuned, verification: Verification) -> str:
    """SWR with cutting errors, each length with its own."""
    study = tuned.study
    steps = ", ".join(
        f"{plain_name(study, v.name)} {as_written(study, v.name, v.step, v.step)}"
        for v in tuned.variables
    )
    errors = verification.errors
    if errors is None:
        return "not known: the field solves were used up before every length had its slope"
    return (
        f"with each length off by its step ({steps}): SWR {errors.expected:.2f} to be expected, "
        f"{errors.worst:.2f} at worst"
    )


def length_rows(tuned: Tuned) -> list[tuple[str, str, str]]:
    """Name, start and tuned value of every variable."""
    study, rows = tuned.study, []
    for v, x in zip(tuned.variables, tuned.found.best.values, strict=True):
        start, now = (as_written(study, v.name, value, v.grid) for value in (v.start, x))
        rows.append((plain_name(study, v.name), start, now))
    return rows
