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
    recommend,
    score,
)

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


def _percent(ratio: float) -> str:
    return f"{100 * ratio:.1f} %" if ratio < 0.1 else f"{100 * ratio:.0f} %"


def _signed_db(value: float) -> str:
    """A change in decibels with its sign; nothing that rounds to zero is called minus."""
    return f"{round(value, 1) + 0.0:+.1f} dB"


def _dbi(gain: float) -> str:
    """One decimal, and no sign on a nothing."""
    return f"{round(gain, 1) + 0.0:.1f}"


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


def _without(bare: Facts, ideal: Facts, elevation_deg: float) -> str:
    change = bare.mean_gain_change_db
    gain = (
        f"the mean gain at {elevation_deg:g} degrees of elevation is "
        f"{_dbi(bare.mean_gain_dbi)} dBi against "
        f"{_dbi(ideal.mean_gain_dbi)} dBi with an ideal choke ({_signed_db(change)})"
    )
    return (
        f"Without a choke, up to {_percent(bare.shield_ratio)} of the feed current flows on the "
        f"outside of the cable and {_percent(bare.station_ratio)} reaches the radio. Seen from "
        f"afar, {gain}; in single low directions the pattern moves by up to "
        f"{bare.pattern_max_db:.1f} dB, {bare.pattern_rms_db:.1f} dB rms. The SWR is "
        f"{bare.swr:.2f} instead of {ideal.swr:.2f}. What weighs most is {driver(bare)}."
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
    return (
        f"{_sentence(describe(chosen))}: the current that reaches the radio falls from "
        f"{_percent(bare.station_ratio)} to {_percent(chosen.station_ratio)} of the feed current, "
        f"the low-angle pattern is within {chosen.pattern_rms_db:.1f} dB rms of the ideal, the SWR "
        f"is {chosen.swr:.2f}.{impedance} At {power:g} W from the transmitter it has to get rid of "
        f"{chosen.choke_power:.2f} W.{_cost(chosen)}"
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
        f"{_sentence(describe(w))}: {_percent(w.shield_ratio)} of the feed current on the cable "
        f"({_percent(bare.shield_ratio)} without), mean gain {_signed_db(w.mean_gain_change_db)} "
        f"against the ideal; {_why_worse(w)}."
        for w in worse[:3]
    ]
    return "Worse than nothing: " + " ".join(sentences)


def _how_many(candidates: list[Facts]) -> str:
    """Same core, several counts at one place: what each step brings."""
    families: dict[tuple[str, float | None], list[Facts]] = {}
    for c in candidates:
        if c.kind == "ferrite":
            families.setdefault((c.part, c.position), []).append(c)
    largest = max(families.values(), key=len, default=[])
    if len(largest) < 2:
        return ""
    steps = ", ".join(
        f"{in_words(c.count)}: {_percent(c.station_ratio)}"
        for c in sorted(largest, key=lambda c: c.count)
    )
    return f"How many? Current at the radio with more and more of the same cores: {steps}."


def _certainty(chosen: Facts, bare: Facts, variations: list[Variation]) -> str:
    interval = (
        "Ferrite varies by a fifth to a third from piece to piece, and nobody knows the way of "
        "their cable to the centimetre."
    )
    grades = {chosen.grade, bare.grade}
    trust = (
        "The field computation behind this passed all its own checks."
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
    if worse:
        paragraphs.append(_worse(worse, bare))
    paragraphs.append(_how_many(candidates))
    advice = Advice(
        headline=_headline(bare, chosen, worse),
        paragraphs=tuple(p for p in paragraphs if p),
        recommended_case=chosen.id,
        certainty=_certainty(chosen, bare, variations),
        effect_none=effect(bare, bare),
    )
    return advice, variations
