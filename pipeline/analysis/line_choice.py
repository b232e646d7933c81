"""Choice of a cable: loss, radiated share, power and cost of every class for a study's run.

A study and one of its cases in, rows and sentences out. Only the inside of the cable is changed:
a class of another thickness would also carry a little other current on its outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import CoaxClass, every_cable
from models.lengths import large
from models.site.feedline_route import Helix
from pipeline.analysis.case_results import CaseResult
from pipeline.chokes.kind import Choke
from pipeline.circuit.line import LinePiece, LineRun, matched_loss_db, through_line
from pipeline.study.records import Study

# Less than this between two cables buys nothing that could be heard. [dB]
_LEAST_GAIN_DB = 0.01

CAUTIONS = (
    "Cheap cable that only looks like a known class can have a thin braid and a leaky foil: it "
    "loses more than the table says and lets through the shield what a choke was to keep out, so "
    "weigh a metre of it or measure its loss before you trust it (common practice, no source).",
    "Water that gets into a braid or foam raises the loss for good, often without a sign outside: "
    "seal every outdoor connector, leave a drip loop, and replace cable that has been wet (common "
    "practice, no source).",
)


@dataclass(frozen=True)
class LineOption:
    """One class of cable over the study's run.

    ``matched_loss_db`` of cable and connectors into a match, ``loss_db`` with the antenna's own
    impedance; ``radiated`` is the share of the transmitter's power that leaves as a wave.
    ``average_power`` [W] is what the maker allows, taken to this frequency and standing-wave ratio;
    ``None`` where no source gives a rating. ``cost`` is that of the run, ``per_db`` what a decibel
    costs that it saves over ``cheapest``; both ``None`` without prices.
    """

    cable: CoaxClass
    own: bool
    matched_loss_db: float
    loss_db: float
    radiated: float
    average_power: float | None
    cost: float | None
    per_db: float | None


@dataclass(frozen=True)
class CoilCable:
    """Effect of a coil on the line beside choking: cable wound up, connectors, bend.

    ``extra_db`` is what the line loses more than without the coil, ``connectors_db`` the part of
    it that two more connectors take. ``smallest`` [m] is the least diameter for bending more than
    once, ``smallest_once`` [m] that for bending once.
    """

    case: str
    cable: CoaxClass
    diameter: float
    wound: float
    connectors: int
    extra_db: float
    connectors_db: float
    smallest: float
    smallest_once: float

    @property
    def bend(self) -> str:
        """The bend in words."""
        if self.diameter < self.smallest_once - 1e-9:
            return "too tight even once"
        if self.diameter < self.smallest - 1e-9:
            return "too tight"
        return "allowed"


@dataclass(frozen=True)
class LineChoice:
    """All classes over one run of ``length`` [m], and the study's coils."""

    length: float
    options: tuple[LineOption, ...]
    coils: tuple[CoilCable, ...]
    currency: str


def average_power(cable: CoaxClass, f: float, swr: float) -> float | None:
    """Power that a cable bears all the time; ``None`` where no rating is known. [W]

    ``f`` [Hz]; ``swr`` >= 1 on the line. The rating is a temperature of the inner conductor, so it
    falls as the loss per metre rises with frequency. With standing waves the maxima of current are
    hotter: divided by their ratio, the rule on the safe side (antenna handbooks; from memory).

    Examples
    --------
    >>> from models.catalogues.parts import coax_class
    >>> round(average_power(coax_class("10.3 mm foam low-loss"), 450e6, 1.0), -1)
    830.0
    """
    if cable.average_power is None or cable.average_power_frequency is None:
        return None
    rated_loss = float(matched_loss_db(cable.average_power_frequency, cable.k1, cable.k2))
    loss = float(matched_loss_db(f, cable.k1, cable.k2))
    return cable.average_power * rated_loss / loss / swr


def price_per_db(
    losses: Sequence[float], costs: Sequence[float | None]
) -> tuple[float | None, ...]:
    """Cost of each decibel that is saved over the cheapest of several cables.

    ``losses`` [dB] and ``costs`` of each run, where known; ``None`` for the cheapest, for what has
    no price and for what saves nothing.

    Examples
    --------
    >>> price_per_db([2.0, 1.0, 3.0], [20.0, 50.0, None])
    (None, 30.0, None)
    """
    priced = [(cost, loss) for cost, loss in zip(costs, losses, strict=True) if cost is not None]
    if not priced:
        return (None,) * len(losses)
    cheapest, most = min(priced)
    return tuple(
        (cost - cheapest) / (most - loss)
        if cost is not None and cost > cheapest and most - loss > _LEAST_GAIN_DB
        else None
        for loss, cost in zip(losses, costs, strict=True)
    )


def _loss(run: LineRun, f: float, z: complex) -> float:
    found: NDArray[np.float64] = through_line(run, np.array([f]), np.array([z]))[1]
    return float(found[0])


def line_choice(study: Study, result: CaseResult, route_length: float) -> LineChoice:
    """Every class of the catalogue over the study's run, in the order of their loss.

    ``result`` is the case whose feed impedance and radiated share count, ``route_length`` [m] that
    of the cable's way.
    """
    f, z = study.frequency, complex(result.z_feed[result.centre])
    swr = float(result.swr_feed[result.centre])
    plain = study.cable.run(None, route_length)
    length = plain.length()
    prices = {price.part: price.amount for price in study.line_prices}
    options = []
    for cable in every_cable(study.own):
        run = LineRun((LinePiece(cable, length),), plain.connector_loss_db)
        loss = _loss(run, f, z)
        options.append(
            LineOption(
                cable=cable,
                own=cable == study.cable.type,
                matched_loss_db=_loss(run, f, complex(cable.z0)),
                loss_db=loss,
                radiated=result.balance.radiated * 10 ** (-loss / 10),
                average_power=average_power(cable, f, swr),
                cost=prices[cable.id] * length if cable.id in prices else None,
                per_db=None,
            )
        )
    each = price_per_db([o.loss_db for o in options], [o.cost for o in options])
    options = [replace(o, per_db=p) for o, p in zip(options, each, strict=True)]
    return LineChoice(
        length=length,
        options=tuple(sorted(options, key=lambda o: o.loss_db)),
        coils=tuple(
            coil_line(study, choke, choke.helix, route_length, z)
            for choke in study.chokes
            if choke.helix is not None
        ),
        currency=study.line_prices[0].currency if study.line_prices else "",
    )


def coil_line(
    study: Study, choke: Choke, helix: Helix, route_length: float, z_feed: complex
) -> CoilCable:
    """Effect of the winding of a choke on the line, beside choking.

    ``route_length`` [m] is that of the cable's way without it, ``z_feed`` [ohm].
    """
    plain, run = study.cable.run(None, route_length), study.cable.run(choke, route_length)
    cable = choke.cable_along(study.cable.type)
    extra = _loss(run, study.frequency, z_feed) - _loss(plain, study.frequency, z_feed)
    each = study.cable.connector_loss_db
    connectors = 0 if cable == study.cable.type else 2
    return CoilCable(
        case=choke.id,
        cable=cable,
        diameter=helix.diameter,
        wound=helix.cable,
        connectors=connectors,
        extra_db=extra,
        connectors_db=connectors * each,
        smallest=2 * cable.bend_radius_repeated,
        smallest_once=2 * cable.bend_radius_install,
    )


def line_words(choice: LineChoice, study: Study) -> tuple[str, ...]:
    """Choice of cable in sentences.

    Bends that are too tight are named among the study's warnings.
    """
    own = next(o for o in choice.options if o.own)
    best = choice.options[0]
    sentences = [
        f"Over {large(choice.length, 1)} the study's {own.cable.name} loses {own.loss_db:.2f} dB "
        f"at {study.frequency / 1e6:g} MHz, and {100 * own.radiated:.0f} % of the transmitter's "
        "power is radiated; the rest warms cable, soil and metal."
    ]
    if not best.own:
        gain = own.loss_db - best.loss_db
        sentences.append(
            f"The best of the catalogue, {best.cable.name}, would save {gain:.2f} dB"
            + (": nothing that anybody hears." if gain < 0.5 else ".")
        )
    mean = study.duty * study.power
    if own.average_power is None:
        sentences.append(
            f"No source was found for the power that {own.cable.name} bears all the time."
        )
    elif mean > own.average_power:
        sentences.append(
            f"{mean:.3g} W on average is more than the {own.average_power:.3g} W that "
            f"{own.cable.name} bears at this frequency and SWR: take a thicker cable."
        )
    return tuple(sentences)
