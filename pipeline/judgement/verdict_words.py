"""The verdict in words, as an experienced adviser answers a reader; text from numbers only."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from models.lengths import large, small
from pipeline.analysis.figures_of_merit_and_score import FIGURES
from pipeline.chokes.kinds import kind_of
from pipeline.judgement.case_merit import CaseMerit
from pipeline.judgement.choke_places import place_sentence
from pipeline.judgement.intervals import Interval
from pipeline.judgement.purchases import cost, refused
from pipeline.judgement.verdict import (
    OWN_ENDS,
    STRONG,
    WORSE_FACTOR,
    Moved,
    Variation,
    driver,
    effect,
    flips,
    grown,
    ranked,
    recommend,
)
from pipeline.text.formatting import (
    decibels,
    in_words,
    percent,
    percent_with_range,
    plus_minus,
    sentence_case,
    with_range,
)


@dataclass(frozen=True)
class Advice:
    """Headline, paragraphs, the case to take, how sure, and what the bare cable does."""

    headline: str
    paragraphs: tuple[str, ...]
    recommended_case: str
    certainty: str
    effect_none: str

    @property
    def text(self) -> str:
        """Everything as one text."""
        return "\n\n".join((self.headline, *self.paragraphs, self.certainty))


# Ends of the 95 % intervals of a case's numbers, by column of its table.
Ends = Mapping[str, Interval]
_SWR = "{:.2f}".format
# Below this share of the feed current nothing reaches a radio, as when its case floats.
_NOTHING = 5e-4
# Of what is worse than nothing the worst is told at length and these many are named.
_MOST_WORSE = 3


def _signed_db(value: float) -> str:
    """A change in decibels with its sign; nothing that rounds to zero has one."""
    rounded = round(value, 1)
    return f"{rounded:+.1f} dB".replace("-", "−") if rounded else "0.0 dB"


def describe(case: CaseMerit) -> str:
    """A candidate as it would be named in a sentence."""
    place = "" if case.position is None else f", starting {large(case.position)} from the antenna"
    what = kind_of(case.kind).counted(case.count, in_words(case.count), case.part)
    return f"{what}{place}"


def _headline(
    bare: CaseMerit, chosen: CaseMerit, worse: list[CaseMerit], candidates: list[CaseMerit]
) -> str:
    tail = ""
    if worse:
        tail = f" What to avoid here: {worse[0].label}."
    if chosen.id == bare.id:
        if bare.score <= 1:
            return f"This cable needs no choke: it changes nothing that could be seen.{tail}"
        if any(c.score < bare.score for c in candidates):
            return f"Of all that was tried nothing can be recommended.{tail}"
        return f"Of all that was tried nothing is better than no choke at all.{tail}"
    need = "needs" if bare.score > STRONG else "is better off with"
    enough = ""
    if chosen.score > 1:
        better = chosen.score < bare.score / WORSE_FACTOR
        enough = (
            " It helps, but does not make the cable invisible."
            if better
            else " Where the study has it, it hardly helps."
        )
    # Cores are counted out; any other choke goes by the name that the study gives it.
    what = f"take {describe(chosen)}" if kind_of(chosen.kind).is_counted else describe(chosen)
    return f"This cable {need} a choke: {what}.{enough}{tail}"


def _at_the_radio(case: CaseMerit, ends: Ends | None = None) -> str:
    """Share of the current that reaches the radio, with its interval where ``ends`` are given."""
    ratio = case["station_ratio"]
    low, high = ends["station_current_ratio"] if ends else (ratio, ratio)
    if ratio < _NOTHING:
        most = f" (at most {percent(high)})" if high >= _NOTHING else ""
        return f"next to none of it{most} reaches the radio"
    return f"{percent_with_range(ratio, (low, high))} reaches the radio"


def _without(bare: CaseMerit, ideal: CaseMerit, ends: Ends, elevation_deg: float) -> str:
    own, best = round(bare["mean_gain_dbi"], 1), round(ideal["mean_gain_dbi"], 1)
    gain = plus_minus(bare["mean_gain_dbi"], ends["horizon_gain_mean_dbi"])
    against = (
        ", the same as with an ideal choke"
        if own == best
        else f" against {decibels(best)} dBi with an ideal choke ({_signed_db(own - best)})"
    )
    swr = with_range(bare["swr"], ends["swr_feed"], _SWR)
    same = _SWR(bare["swr"]) == _SWR(ideal["swr"])
    match = f"{swr}, as with it" if same else f"{swr} instead of {_SWR(ideal['swr'])}"
    weighs = f" What weighs most is {FIGURES[driver(bare)].words}." if bare.score > 1 else ""
    at_radio = _at_the_radio(bare, ends)
    ranges = any(mark in f"{at_radio}{gain}{swr}" for mark in ("(", "±"))
    explained = " The ranges are this computation's own 95 % intervals." if ranges else ""
    return (
        f"Without a choke, up to {percent(bare['shield_ratio'])} of the feed current flows on the "
        f"outside of the cable and {at_radio}. Seen from afar, the mean gain in the "
        f"lowest lobe, at {_degrees(elevation_deg)} of elevation, is {gain} dBi{against}; "
        f"in single low directions the pattern moves by up to {bare['pattern_max_db']:.1f} dB, "
        f"{bare['pattern_rms_db']:.1f} dB rms. The SWR is {match}.{weighs}{explained}"
        f"{_ideal_is_worse(bare, ideal)}"
    )


def _degrees(value: float) -> str:
    return f"{value:g} degree{'' if value == 1 else 's'}"


def _ideal_is_worse(bare: CaseMerit, ideal: CaseMerit) -> str:
    """A perfect choke at the antenna may leave too much current at the radio, or bring more."""
    if ideal.score <= 1:
        return ""
    more = ", more than none" if ideal["station_ratio"] > bare["station_ratio"] else ""
    return (
        " Even a choke that lets nothing pass at the antenna leaves "
        f"{percent(ideal['station_ratio'])} at the radio{more}: the antenna's field drives the "
        "cable below it. What helps then sits further down the cable or at the radio."
    )


def _chosen(
    chosen: CaseMerit, bare: CaseMerit, ends: Ends, power: float, variations: list[Variation]
) -> str:
    impedance = ""
    if chosen.choke_impedance is not None:
        z = chosen.choke_impedance
        kind = "mostly resistance" if abs(z.real) > abs(z.imag) else "mostly reactance"
        impedance = f" It puts {abs(z):.0f} ohm in the current's way, {kind}."
        if kind_of(chosen.kind).is_resonant:
            made = as_made(chosen.score <= 1, variations)
            # In resonance a sleeve has no reactance.
            impedance = (
                f"{in_resonance(abs(z))}{made}"
                if kind.endswith("resistance")
                else (f"{impedance[:-1]}{made}")
            )
    to_cut = (
        f" It is {small(chosen.sleeve_length)} long, its open end towards the antenna."
        if chosen.sleeve_length is not None
        else ""
    )
    return (
        f"{sentence_case(describe(chosen))}: {_step_at_the_radio(chosen, bare, ends)}the low-angle "
        f"pattern is within {chosen['pattern_rms_db']:.1f} dB rms of the ideal, the SWR is "
        f"{with_range(chosen['swr'], ends['swr_feed'], _SWR)}.{to_cut}"
        f"{impedance} At {power:g} W from the transmitter it has to get rid of "
        f"{_power(chosen['choke_power'])}{_hottest(chosen)}.{cost(chosen, bare)}"
    )


def _power(value: float) -> str:
    """A power [W], unless it is too small to be worth a number."""
    return f"{value:.2f} W" if value >= 0.01 else "less than 0.01 W"


def _hottest(chosen: CaseMerit) -> str:
    """Power of the hottest core of several; current is seldom the same under all of them."""
    if not kind_of(chosen.kind).is_counted or chosen.count < 2:
        return ""
    return f", {chosen.hottest_power:.2f} W of it in the hottest core"


def _step_at_the_radio(chosen: CaseMerit, bare: CaseMerit, ends: Ends) -> str:
    if bare["station_ratio"] < _NOTHING:
        return ""
    before, after = percent(bare["station_ratio"]), percent(chosen["station_ratio"])
    if before == after:
        return f"the current that reaches the radio stays at {after} of the feed current, "
    verb = "falls" if chosen["station_ratio"] < bare["station_ratio"] else "rises"
    to = percent_with_range(chosen["station_ratio"], ends["station_current_ratio"])
    return f"the current that reaches the radio {verb} from {before} to {to} of the feed current, "


def _why_not_less(least: CaseMerit, chosen: CaseMerit, variations: list[Variation]) -> str:
    """Reason for passing over the cheapest that is enough as described."""
    if least.id == chosen.id or any(v.score_recommended > 1 for v in variations):
        return ""
    return (
        f"{sentence_case(describe(least))} would be enough as described, but not with everything "
        f"that was varied{_such_as(least)}; the recommended choice is enough even then."
    )


def _such_as(case: CaseMerit) -> str:
    """Variations of a choke of a kind, beside those of the installation."""
    own = kind_of(case.kind).varied_in
    return f", such as {own}" if own else ""


def _why_worse(case: CaseMerit) -> str:
    if own := kind_of(case.kind).why_worse:
        return own
    z = case.choke_impedance
    if z is not None and abs(z.imag) > abs(z.real):
        return "a reactance can bring the cable into resonance"
    return "at that place it moves the maximum of current to where it hurts"


def _worse(worse: list[CaseMerit], bare: CaseMerit) -> str:
    w, *others = worse[:_MOST_WORSE]
    said = (
        f"Worse than nothing: {describe(w)}: here it is {grown(w, bare)[0]} that gets worse. In "
        f"the lowest lobe the mean gain changes by {_signed_db(w.change('mean_gain_dbi'))} against "
        f"the ideal, the pattern by {w['pattern_rms_db']:.1f} dB rms ({bare['pattern_rms_db']:.1f} "
        f"without), the SWR is {w['swr']:.2f}, {_on_the_cable(w, bare)}and {_at_the_radio(w)}"
        f"; {_why_worse(w)}.{_in_part(w)}"
    )
    also = "; ".join(f"{describe(o)} ({grown(o, bare)[0]})" for o in others)
    return f"{said} Worse as well: {also}." if also else said


def _on_the_cable(worse: CaseMerit, bare: CaseMerit) -> str:
    """The current on the cable, where it is more than without a choke."""
    if worse["shield_ratio"] <= bare["shield_ratio"]:
        return ""
    return f"up to {percent(worse['shield_ratio'])} of the feed current flows on the cable "


def _in_part(case: CaseMerit) -> str:
    return "" if case.grade == "sound" else " Its own computation passed the checks only in part."


def _how_many(candidates: list[CaseMerit], bare: CaseMerit) -> str:
    """Same core, several counts at one place: what each step brings where it matters."""
    families: dict[tuple[str, float | None], list[CaseMerit]] = {}
    for c in candidates:
        if kind_of(c.kind).is_counted:
            families.setdefault((c.part, c.position), []).append(c)
    largest = max(families.values(), key=len, default=[])
    if len(largest) < 2:
        return ""
    at_radio = driver(bare) == "station_ratio"
    steps = ", ".join(
        f"{in_words(c.count)}: "
        + (percent(c["station_ratio"]) if at_radio else f"{c['pattern_rms_db']:.1f} dB")
        for c in sorted(largest, key=lambda c: c.count)
    )
    what = "Current at the radio" if at_radio else "Rms change of the low-angle pattern"
    limits = bare.merit.limits
    limit = f"{100 * limits.station_ratio:g} %" if at_radio else f"{limits.pattern_rms_db:g} dB"
    return (
        f"How many? {what} with more and more of the same cores: {steps}. It begins to count at "
        f"{limit}.{_more_elsewhere(largest)}"
    )


def _more_elsewhere(cores: list[CaseMerit]) -> str:
    """Hint at other cores and places where more of the same at one place do not get there."""
    if min(c.score for c in cores) <= 1:
        return ""
    return (
        " No number of them that was tried is enough at that place; the command braidwise choke "
        "tries other cores, and two places."
    )


def _certainty(
    chosen: CaseMerit, bare: CaseMerit, ideal: CaseMerit, variations: list[Variation]
) -> str:
    grades = {chosen.grade, bare.grade}
    trust = (
        "The ideal choke that everything is compared with did not pass its own checks, so changes "
        "against it, and the words for them, may not be relied on."
        if ideal.grade == "unsound"
        else "The cable without a choke, which every choke is compared with, did not pass its own "
        "checks, so what is said about it may not be relied on."
        if bare.grade == "unsound"
        else "The field computation behind this recommendation passed all its own checks."
        if grades == {"sound"}
        else "The field computation behind this passed its checks only in part; see the evidence."
    )
    spread = (
        "Ferrite varies by a fifth to a third from piece to piece, and nobody knows the way of "
        "their cable to the centimetre."
    )
    if chosen.is_size_assumed:
        spread += (
            " No print was found that gives the size of this core; its catalogue entry says what "
            "stands in."
        )
    kept, changed = [], []
    for own in (True, False):
        tried = [v for v in variations if (v.what in OWN_ENDS) == own]
        turned = flips(tried, chosen.id == bare.id and bare.score <= 1, chosen.score <= 1)
        if turned:
            changed.append((" at " if own else " with ") + "; ".join(turned))
        elif tried and own:
            kept.append("at either end of this computation's own 95 % intervals")
        elif tried:
            kept.append("with: " + "; ".join(v.what for v in tried))
    said = [f"The advice stays the same {', and '.join(kept)}."] if kept else []
    said += [f"It could change{', and'.join(changed)}."] if changed else []
    return " ".join(["How sure?", trust, spread, *said])


def advise(
    cases: dict[str, CaseMerit],
    intervals: Mapping[str, Ends],
    variations_of: Callable[[str], list[Variation]],
    places_of: Callable[[str], list[Moved]],
    power: float,
    elevation_deg: float,
) -> tuple[Advice, list[Variation]]:
    """The whole verdict, and the variations it was tried on.

    ``cases`` are all by id, "none", "ideal" and "no-feedline" among them, ``intervals`` the ends of
    their numbers by case and column. ``variations_of`` and ``places_of`` give, for the id of a
    case, what becomes of it when assumptions are changed and how its choke would do at other
    places. ``power`` is the transmitter's [W]; ``elevation_deg`` [deg] is where the horizon gain is
    read.
    """
    bare, ideal = cases["none"], cases["ideal"]
    candidates = [f for f in cases.values() if f.id not in ("none", "ideal", "no-feedline")]
    chosen, variations = recommend(candidates, bare, variations_of, intervals)
    worse = sorted(
        (c for c in candidates if effect(c, bare) == "worse than none" and c.grade != "unsound"),
        key=lambda c: c.score,
        reverse=True,
    )
    places = places_of(chosen.id)
    paragraphs = [_without(bare, ideal, intervals[bare.id], elevation_deg)]
    if chosen.id != bare.id:
        paragraphs.append(_chosen(chosen, bare, intervals[chosen.id], power, variations))
        paragraphs.append(_why_not_less((*ranked(candidates), chosen)[0], chosen, variations))
    if bare.score > 1:
        paragraphs.append(refused(candidates, chosen, bare, variations_of, intervals))
    if worse:
        paragraphs.append(_worse(worse, bare))
    if bare.score > 1:
        paragraphs.append(_how_many(candidates, bare))
        paragraphs.append(place_sentence(places, chosen, bare))
    advice = Advice(
        headline=_headline(bare, chosen, worse, candidates),
        paragraphs=tuple(p for p in paragraphs if p),
        recommended_case=chosen.id,
        certainty=_certainty(chosen, bare, ideal, variations),
        effect_none=effect(bare, bare),
    )
    return advice, variations


def in_resonance(size: float) -> str:
    """A sleeve's impedance [ohm] is that of a perfect one, and is told as no more than that."""
    rounded = float(f"{size:.2g}")
    return (
        f" At exactly its length it would put {rounded:g} ohm in the current's way: an upper "
        "limit, for smooth metal and nothing lost at its mouth. A few per cent of length off "
        "leave a small part of that, nearly all reactance"
    )


def as_made(enough: bool, variations: list[Variation]) -> str:
    """End of a sleeve's sentence: may it come out longer or shorter?"""
    off = [v for v in variations if v.made]
    lost = [v.made for v in off if v.score_recommended > 1]
    if enough and lost:
        return f"; {' or '.join(lost)} it is no longer enough: trim it by measurement."
    if enough and off:
        return f"; {' and '.join(v.made for v in off)} it would still be enough."
    return ": trim it by measurement."
