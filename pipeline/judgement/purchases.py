"""Price of a choke, and reasons for passing over one that looks good; text from numbers only."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from models.lengths import large
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.verdict import (
    Interval,
    Variation,
    can_be_had,
    is_lottery,
    worsened,
)
from pipeline.text.formatting import sentence_case, solid_sentence, times

# A loss below this is no number to a reader. [dB]
_LEAST_LOSS_DB = 0.005
# A reader wants the reason for one or two, not for all.
_MOST_REFUSED = 2


def cost(case: CaseMerit, bare: CaseMerit) -> str:
    """Price of a choke, and the cable that it takes."""
    price = None if case.price is None else f"{case.price:.2f} {case.currency}".rstrip()
    if case.coil_cable > 0:
        more = case["line_loss_db"] - bare["line_loss_db"]
        loses = f"; the line loses {more:.2f} dB more with it" if more >= _LEAST_LOSS_DB else ""
        costs = "no price of it is given" if price is None else f"it costs {price}"
        return f" It takes {large(case.coil_cable, 1)} of cable, and {costs}{loses}."
    costs = "" if price is None else f" It costs {price}."
    return f"{costs} {solid_sentence(case.count)}" if case.is_solid else costs


def refused(
    candidates: list[CaseMerit],
    chosen: CaseMerit,
    bare: CaseMerit,
    variations_of: Callable[[str], list[Variation]],
    intervals: Mapping[str, Mapping[str, Interval]],
) -> str:
    """Reasons for passing over candidates that do better than what is recommended.

    ``variations_of`` gives those of a case by its id, ``intervals`` the ends of its numbers by
    column.
    """
    said = []
    for c in sorted(candidates, key=lambda c: c.score):
        if not can_be_had(c) or c.id == chosen.id or c.score >= bare.score:
            continue
        reason = _reason(c, chosen, bare, variations_of(c.id), intervals.get(c.id, {}))
        if reason:
            said.append(
                f"{sentence_case(c.label)} is passed over, though {times(c.score)} "
                f"would be left in place of {times(bare.score)}: {reason}."
            )
    return " ".join(said[:_MOST_REFUSED])


def _reason(
    case: CaseMerit,
    chosen: CaseMerit,
    bare: CaseMerit,
    tried: list[Variation],
    ends: Mapping[str, Interval],
) -> str:
    """Empty where a candidate is only dearer, or no better than what is taken."""
    if chosen.score > 1 and (worse := worsened(case, bare, ends)):
        return f"with it {' and '.join(worse)} would be worse than without a choke"
    if not is_lottery(case, tried):
        return ""
    if case.score > 1:
        return (
            "that is not enough, and a coil is taken only if it is, however it is wound"
            if case.score < chosen.score
            else ""
        )
    made = [v for v in tried if v.made]
    if not made:
        return "it could be computed in one shape only, and no coil comes out exactly so"
    worst = max(made, key=lambda v: v.score_recommended)
    return (
        f"that holds for one shape of it only; {worst.made}, as it may well come out, it leaves "
        f"{times(worst.score_recommended)}"
    )
