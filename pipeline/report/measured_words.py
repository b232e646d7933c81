"""Sentences about a measured antenna: where it lies, how well it agrees, what to trim.

An :class:`Agreement` in, sentences and plain data for the summary out.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from models.antennas.generator import Generator
from models.lengths import large
from pipeline.circuit.line import LineRun, matched_loss_db
from pipeline.judgement.measured_antenna import FURTHEST_OFFSET, SAME, Agreement
from pipeline.study.records import Study
from pipeline.text.formatting import megahertz, sentence_case

# What is not known of a line that nobody measured: its loss by a tenth, its electrical length by
# a hundredth. An analyser's reflection by a hundredth. Common practice, no source.
_LOSS_UNSURE = 0.1
_LENGTH_UNSURE = 0.01
_REFLECTION_UNSURE = 0.01


def _share(offset: float) -> str:
    """A shift in per cent, with the digits it bears."""
    return f"{abs(100 * offset):.2g} %" if abs(offset) < 1e-3 else f"{abs(100 * offset):.1f} %"


def _side(offset: float) -> str:
    return "below" if offset < 0 else "above"


def headline(found: Agreement) -> str:
    """Frequency of the antenna's best match in one line, or the shift of the whole curve."""
    if found.offset is None:
        return "The measured antenna does not look like the computed one at any small shift"
    if found.match is None or found.match_computed is None:
        if abs(found.offset) < SAME:
            return "The measured antenna's curve lies where it was computed"
        side = _side(found.offset)
        return f"The measured antenna's curve lies {_share(found.offset)} {side} the computed one"
    apart = found.match / found.match_computed - 1
    at = f"The measured antenna is matched best at {megahertz(found.match, 2)}"
    if abs(apart) < SAME:
        return f"{at}, where it was computed"
    return f"{at}, {_share(apart)} {_side(apart)} the computed {megahertz(found.match_computed, 2)}"


def offset_sentence(found: Agreement) -> str:
    """Weight of the shift, or the reason why there is none."""
    if found.offset is None:
        return (
            f"No shift up to {100 * FURTHEST_OFFSET:.0f} % brings the curves together. Sweep more "
            "than the band, or look for another length, joint or cable than the study says."
        )
    if abs(found.offset) < SAME:
        return "Over the whole band no shift is left between the two curves."
    known = f"A shift of {_share(found.offset_unsure)} is what the computation may be off by itself"
    weight = "not more than that" if abs(found.offset) <= found.offset_unsure else "more than that"
    return (
        f"Over the whole band the two curves differ least where the measured one is taken to lie "
        f"{_share(found.offset)} {_side(found.offset)} the computed one. {known}; this one is "
        f"{weight}."
    )


def agreement_sentence(found: Agreement) -> str:
    """Differences and counts before and after the shift."""
    what = (
        "reflection coefficients"
        if found.measured.at == "feed"
        else "sizes of the reflection coefficients"
    )
    kind = "impedance" if found.measured.at == "feed" else "SWR"
    said = "The rms difference cannot be told, as less than half of the band was measured"
    if np.isfinite(found.rms):
        said = f"The {what} differ by {found.rms:.3f} rms as measured"
    shifted = found.offset is not None and abs(found.offset) >= SAME
    if shifted and found.rms_shifted is not None:
        said += f" and by {found.rms_shifted:.3f} with the shift taken out"
    inside = f"{found.inside[0]} of {found.inside[1]} frequencies as measured"
    if shifted and found.inside_shifted is not None:
        inside += f", at {found.inside_shifted[0]} of {found.inside_shifted[1]} with it taken out"
    return (
        f"{said}. The measured {kind} lies in the computation's 95 % interval at {inside}; what "
        "the analyser is off by is not in that interval."
    )


def trim_sentence(found: Agreement, study: Study, generator: Generator) -> str:
    """Trimming that brings the match to the design frequency.

    Lengths go with the wavelength, so a match that is low by a share means lengths that are too
    long by that share; how many millimetres of which, only a computation of slopes tells.
    """
    f, target = study.frequency, study.tune.target_swr
    at = f"{f / 1e6:.7g} MHz"
    if found.swr is None:
        return f"The design frequency {at} was not measured, so what to trim cannot be said."
    if found.swr <= target:
        return f"Nothing to trim: the SWR is {found.swr:.2f} at {at}, and {target:g} is asked for."
    place = found.match
    if place is None:
        return (
            f"The SWR is {found.swr:.2f} at {at}, and the sweep does not reach the best match; "
            "sweep wider before anything is cut."
        )
    off = place / f - 1
    trims = "; ".join(f"{trim.name}: {trim.advice}" for trim in generator.trims)
    if abs(off) < 5 * SAME:
        return (
            f"The SWR is {found.swr:.2f} at {at} although the best match lies there: it is the "
            f"resistance that is off, not a length as a whole. {sentence_case(trims)}. "
            "braidwise tune gives the millimetres."
        )
    best = ""
    if found.swr_match is not None and found.swr_match > target:
        best = f" It is {found.swr_match:.2f} there, so the resistance is off as well."
    act = "too long" if off < 0 else "too short"
    return (
        f"The SWR is {found.swr:.2f} at {at}, and the best match lies at {megahertz(place, 2)}, "
        f"{_share(off)} {_side(off)} the design frequency: the lengths that set it act "
        f"{_share(off)} {act}.{best} In the order of trimming: {trims}. braidwise tune gives the "
        "millimetres."
    )


def line_sentence(found: Agreement, run: LineRun, f: float) -> str:
    """Certainty that moving a measurement through the line costs; "" at the feed."""
    if found.measured.at == "feed":
        return ""
    loss = turn = 0.0
    for piece in run.pieces:
        cable = piece.cable
        loss += piece.length * float(matched_loss_db(f, cable.k1, cable.k2))
        wavelength = 299_792_458.0 * cable.velocity_factor / f
        turn += 720 * _LENGTH_UNSURE * piece.length / wavelength
    back = 10 ** (2 * (_LOSS_UNSURE * loss + run.connector_loss_db) / 20) - 1
    error = _REFLECTION_UNSURE * 10 ** (2 * loss / 20)
    angle = (
        "which leaves nothing of it" if turn >= 90 else "so R and X at the feed are a rough guide"
    )
    return (
        f"It was measured at the radio and moved to the antenna through {large(run.length(), 1)} "
        f"of line with {loss:.2f} dB. That costs certainty: a tenth more or less of that loss and "
        f"the connectors ({run.connector_loss_db:.2f} dB, not taken off) make the reflection "
        f"uncertain by {100 * back:.0f} % of itself; an analyser's error of "
        f"{_REFLECTION_UNSURE:g} becomes {error:.3f}; and a hundredth of the line's electrical "
        f"length turns its angle by {turn:.0f} degrees, {angle}. So SWR and shift are judged by "
        "the size of the reflection alone."
    )


def measured_data(
    found: Agreement, study: Study, generator: Generator, run: LineRun
) -> dict[str, Any]:
    """Everything about a measured antenna for the summary."""
    m = found.measured
    power = "" if m.power is None else f", with {1e3 * m.power:g} mW"
    first = (
        f"{m.antenna.file}: {len(m.antenna.f)} frequencies, measured at the {m.at}{power}, beside "
        f'the case "{m.case}".'
    )
    sentences = [
        first,
        offset_sentence(found),
        agreement_sentence(found),
        trim_sentence(found, study, generator),
        line_sentence(found, run, study.frequency),
    ]
    return {
        "file": m.antenna.file,
        "at": m.at,
        "case": m.case,
        "power_w": m.power,
        "offset": found.offset,
        "offset_unsure": found.offset_unsure,
        "rms": found.rms if np.isfinite(found.rms) else None,
        "rms_shifted": found.rms_shifted,
        "inside": list(found.inside),
        "inside_shifted": None if found.inside_shifted is None else list(found.inside_shifted),
        "match_hz": found.match,
        "match_computed_hz": found.match_computed,
        "swr": found.swr,
        "swr_match": found.swr_match,
        "headline": headline(found),
        "sentences": [s for s in sentences if s],
    }
