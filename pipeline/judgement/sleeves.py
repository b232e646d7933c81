"""What a recommended sleeve is worth, and whether it may come out longer or shorter."""

from __future__ import annotations

from pipeline.judgement.verdict import Variation


def in_resonance(size: float) -> str:
    """A sleeve's impedance [ohm] is that of a perfect one, and is told as no more than that."""
    rounded = float(f"{size:.2g}")
    return (
        f" At exactly its length it would put {rounded:g} ohm in the current's way: an upper "
        "limit, for smooth metal and nothing lost at its mouth. A few per cent of length off "
        "leave a small part of that, nearly all reactance"
    )


def as_made(enough: bool, variations: list[Variation]) -> str:
    """Whether a sleeve may come out longer or shorter, and the end of its sentence."""
    off = [v for v in variations if v.made]
    lost = [v.made for v in off if v.score_recommended > 1]
    if enough and lost:
        return f"; {' or '.join(lost)} it is no longer enough: trim it by measurement."
    if enough and off:
        return f"; {' and '.join(v.made for v in off)} it would still be enough."
    return ": trim it by measurement."
