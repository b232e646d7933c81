"""The verdict in words, as an experienced adviser answers a reader; text from numbers only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.verdict import (
    STRONG,
    Facts,
    Variation,
    driver,
    effect,
    flips,
    ranked,
    recommend,
    score,
)
from pipeline.wording import decibels, percent

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


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


# Below this share of the feed current nothing reaches a radio, as when its case floats.
_NOTHING = 5e-4


def _signed_db(value: float) -> str:
    """A change in decibels with its sign; nothing that rounds to zero has one."""
    rounded = round(value, 1)
    return f"{rounded:+.1f} dB".replace("-", "−") if rounded else "no change"


def in_words(count: int) -> str:
    """Small counts as words.

    Examples
    --------
    >>> in_words(2), in_words(12)
    ('two', '12')
    """
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def describe(facts: Facts) -> str:
    """A candidate as it would be named in a sentence."""
    where = "" if facts.position is None else f", starting {facts.position:.2f} m from the tap"
    if facts.kind == "ferrite":
        plural = "core" if facts.count == 1 else "cores"
        return f"{in_words(facts.count)} {plural}, {facts.part}{where}"
    return f"{facts.part}{where}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _headline(bare: Facts, chosen: Facts, worse: list[Facts]) -> str:
    tail = ""
    if worse:
        tail = f" What to avoid here: {worse[0].label}."
    if chosen.id == bare.id:
        if score(bare) <= 1:
            return f"This cable needs no choke: it changes nothing that could be seen.{tail}"
        return f"Of all that was tried nothing is better than no choke at all.{tail}"
    need = "needs" if score(bare) > STRONG else "is better off with"
    enough = "" if score(chosen) <= 1 else " It helps, but does not make the cable invisible."
    return f"This cable {need} a choke: take {describe(chosen)}.{enough}{tail}"


def _at_the_radio(facts: Facts) -> str:
    if facts.station_ratio < _NOTHING:
        return "next to none of it reaches the radio"
    return f"{percent(facts.station_ratio)} reaches the radio"


def _without(bare: Facts, ideal: Facts, elevation_deg: float) -> str:
    own, best = round(bare.mean_gain_dbi, 1), round(ideal.mean_gain_dbi, 1)
    against = (
        ", the same as with an ideal choke"
        if own == best
        else f" against {decibels(best)} dBi with an ideal choke ({_signed_db(own - best)})"
    )
    swr, swr_best = f"{bare.swr:.2f}", f"{ideal.swr:.2f}"
    match = f"{swr}, as with it" if swr == swr_best else f"{swr} instead of {swr_best}"
    weighs = f" What weighs most is {driver(bare)}." if score(bare) > 1 else ""
    return (
        f"Without a choke, up to {percent(bare.shield_ratio)} of the feed current flows on the "
        f"outside of the cable and {_at_the_radio(bare)}. Seen from afar, the mean gain in the "
        f"lowest lobe, at {elevation_deg:g} degrees of elevation, is {decibels(own)} dBi{against}; "
        f"in single low directions the pattern moves by up to {bare.pattern_max_db:.1f} dB, "
        f"{bare.pattern_rms_db:.1f} dB rms. The SWR is {match}.{weighs}"
    )


def _cost(facts: Facts) -> str:
    if facts.price is None:
        return ""
    return f" It costs {facts.price:.2f} {facts.currency}".rstrip() + "."


def _chosen(chosen: Facts, bare: Facts, power: float) -> str:
    impedance = ""
    if chosen.choke_impedance is not None:
        z = chosen.choke_impedance
        kind = "mostly resistance" if abs(z.real) > abs(z.imag) else "mostly reactance"
        impedance = f" It puts {abs(z):.0f} ohm in the current's way, {kind}."
    current = ""
    if bare.station_ratio >= _NOTHING:
        current = (
            f"the current that reaches the radio falls from {percent(bare.station_ratio)} to "
            f"{percent(chosen.station_ratio)} of the feed current, "
        )
    return (
        f"{_sentence(describe(chosen))}: {current}the low-angle pattern is within "
        f"{chosen.pattern_rms_db:.1f} dB rms of the ideal, the SWR is {chosen.swr:.2f}.{impedance} "
        f"At {power:g} W from the transmitter it has to get rid of {chosen.choke_power:.2f} W."
        f"{_cost(chosen)}"
    )


def _why_not_less(least: Facts, chosen: Facts, variations: list[Variation]) -> str:
    """Why the cheapest that is enough as described is not the one to take."""
    if least.id == chosen.id or any(v.score_recommended > 1 for v in variations):
        return ""
    return (
        f"{_sentence(describe(least))} would be enough as described, but not with everything "
        "that was varied, such as weaker ferrite; the recommended choice still is."
    )


def _why_worse(facts: Facts) -> str:
    if facts.kind == "coil":
        return (
            "far above its own resonance a coil of coax is a piece of helical line, not an "
            "inductor: a small reactance that can bring the cable into resonance, and nearly no "
            "resistance to damp it"
        )
    z = facts.choke_impedance
    if z is not None and abs(z.imag) > abs(z.real):
        return "a reactance can bring the cable into resonance"
    return "at that place it moves the maximum of current to where it hurts"


def _worse(worse: list[Facts], bare: Facts) -> str:
    sentences = [
        f"{_sentence(describe(w))}: here it is {driver(w)} that gets worse. In the lowest lobe the "
        f"mean gain changes by {_signed_db(w.mean_gain_change_db)} against the ideal, the pattern "
        f"by {w.pattern_rms_db:.1f} dB rms ({bare.pattern_rms_db:.1f} without), the SWR is "
        f"{w.swr:.2f}, and {_at_the_radio(w)}; {_why_worse(w)}."
        for w in worse[:3]
    ]
    return "Worse than nothing: " + " ".join(sentences)


def _how_many(candidates: list[Facts], bare: Facts) -> str:
    """Same core, several counts at one place: what each step brings where it matters."""
    families: dict[tuple[str, float | None], list[Facts]] = {}
    for c in candidates:
        if c.kind == "ferrite":
            families.setdefault((c.part, c.position), []).append(c)
    largest = max(families.values(), key=len, default=[])
    if len(largest) < 2:
        return ""
    at_radio = driver(bare) == "the current that reaches the radio"
    steps = ", ".join(
        f"{in_words(c.count)}: "
        + (percent(c.station_ratio) if at_radio else f"{c.pattern_rms_db:.1f} dB")
        for c in sorted(largest, key=lambda c: c.count)
    )
    what = "Current at the radio" if at_radio else "Rms change of the low-angle pattern"
    return f"How many? {what} with more and more of the same cores: {steps}."


def _certainty(chosen: Facts, bare: Facts, variations: list[Variation]) -> str:
    interval = (
        "Ferrite varies by a fifth to a third from piece to piece, and nobody knows the way of "
        "their cable to the centimetre."
    )
    grades = {chosen.grade, bare.grade}
    trust = (
        "The field computation behind this recommendation passed all its own checks."
        if grades == {"sound"}
        else "The field computation behind this passed its checks only in part; see the evidence."
    )
    changed = flips(variations, none_needed=chosen.id == bare.id and score(bare) <= 1)
    tried = "; ".join(v.what for v in variations)
    if changed:
        return f"How sure? {trust} {interval} It could change if: " + "; ".join(changed) + "."
    return f"How sure? {trust} {interval} The advice stays the same with: {tried}."


def advise(
    facts: dict[str, Facts],
    variations_of: Callable[[str], list[Variation]],
    power: float,
    elevation_deg: float,
) -> tuple[Advice, list[Variation]]:
    """The whole verdict, and the variations it was tried on.

    Parameters
    ----------
    facts : dict
        All cases by id; "none", "ideal" and "no-feedline" among them.
    variations_of : callable
        Gives, for the id of a case, what becomes of it when assumptions are changed.
    power : float
        Transmitter power. [W]
    elevation_deg : float
        Elevation at which the horizon gain is read. [deg]
    """
    bare, ideal = facts["none"], facts["ideal"]
    candidates = [f for f in facts.values() if f.id not in ("none", "ideal", "no-feedline")]
    chosen, variations = recommend(candidates, bare, variations_of)
    worse = sorted(
        (c for c in candidates if effect(c, bare) == "worse than none" and c.grade != "unsound"),
        key=score,
        reverse=True,
    )
    paragraphs = [_without(bare, ideal, elevation_deg)]
    if chosen.id != bare.id:
        paragraphs.append(_chosen(chosen, bare, power))
        paragraphs.append(_why_not_less((*ranked(candidates), chosen)[0], chosen, variations))
    if worse:
        paragraphs.append(_worse(worse, bare))
    if score(bare) > 1:
        paragraphs.append(_how_many(candidates, bare))
    advice = Advice(
        headline=_headline(bare, chosen, worse),
        paragraphs=tuple(p for p in paragraphs if p),
        recommended_case=chosen.id,
        certainty=_certainty(chosen, bare, variations),
        effect_none=effect(bare, bare),
    )
    return advice, variations
