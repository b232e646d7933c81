"""Sentences of a choice of cores, made from numbers only."""

from __future__ import annotations

from models.catalogues.parts import is_split
from models.lengths import large
from pipeline.analysis.heat import ZERO_CELSIUS
from pipeline.design.choke_design import Design, RatedSet
from pipeline.design.choke_reactance import Reactance
from pipeline.study.records import Thresholds
from pipeline.text.formatting import fixed, percent, solid_sentence, times


def sentences(found: Design, sweep: Reactance) -> dict[str, list[str]]:
    """Everything below the headline, by its part of the page, in the order in which it is said."""
    return {
        "obstacle": [] if found.met else [obstacle(found)],
        "remarks": remarks(found),
        "target": [target(found.study.verdict)],
        "scope": [scope(found)],
        "reactance": [reactance_sentence(sweep)],
    }


def cost_words(found: Design, rated: RatedSet) -> str:
    """Cost of a set, in money or pieces."""
    if rated.cost is None:
        return "no price given"
    solid = rated.set.core is not None and not is_split(rated.set.core)
    connector = " and a connector" if solid else ""
    if found.currency:
        return f"{rated.cost:.2f} {found.currency}{connector}"
    pieces = rated.set.pieces
    return f"{pieces} piece{'' if pieces == 1 else 's'}{connector}"


def headline(found: Design) -> str:
    """The answer in one sentence."""
    chosen = found.chosen
    if found.met and chosen.set.core is None:
        return (
            f"No choke is needed: without one the change stays at {times(chosen.score)} in "
            "nineteen draws of twenty."
        )
    if found.met:
        return (
            f"Take {chosen.set.label}; {cost_words(found, chosen)}. In nineteen draws of twenty "
            f"the change stays at {times(chosen.score)}, without a choke at "
            f"{times(found.bare.score)}."
        )
    if chosen.set.core is None:
        return (
            "No set of cores within reach is enough, and none does better than no choke: "
            f"{times(chosen.score)} in nineteen draws of twenty."
        )
    return (
        f"No set of cores within reach is enough. Nearest is {chosen.set.label}; "
        f"{cost_words(found, chosen)}: {times(chosen.score)} in nineteen draws of twenty, without "
        f"a choke {times(found.bare.score)}."
    )


def obstacle(found: Design) -> str:
    """Obstacle where no set is enough."""
    said = [f"What remains is set by {found.chosen.driver}."]
    if found.dearer is not None:
        said.append(
            f"The money is in the way: {found.dearer.set.label} would be enough for "
            f"{cost_words(found, found.dearer)}."
        )
    elif found.ideal.score > 1:
        said.append(
            "Cores are not what is missing: a perfect choke at the antenna leaves "
            f"{times(found.ideal.score)}, through {found.ideal.driver}. The cable picks that up "
            "from the antenna further down; lead it away differently, or bond it."
        )
    else:
        said.append(
            "The impedance of the cores is in the way: a perfect choke at the antenna would leave "
            f"{times(found.ideal.score)}. A wound choke or a sleeve may reach further; both are "
            "compared by the full study."
        )
    return " ".join(said)


def remarks(found: Design) -> list[str]:
    """Places, heat and kind of the chosen cores, and sets that were passed over."""
    chosen = found.chosen
    said = [
        f"The row {place.label} begins {large(place.position)} along the cable, counted from the "
        "axis that its shield is joined to."
        for _, place in chosen.set.rows
    ]
    if found.warmest is not None:
        core = found.warmest
        said.append(
            f"At {found.study.power:g} W the cores take at most {percent(chosen.heat)} of the "
            f"power ({fixed(chosen.loss_db, 2)} dB); the warmest of them gets "
            f"{core.rise[0]:.2g} to {core.rise[1]:.2g} K warmer than the air, "
            f"{core.margin:.0f} K below its Curie point of {core.curie - ZERO_CELSIUS:.0f} °C."
        )
    if chosen.set.core is not None and not is_split(chosen.set.core):
        said.append(solid_sentence(chosen.set.pieces))
    if chosen.set.core is not None and chosen.set.core.confidence == "derived":
        said.append(f"The core's catalogue entry is derived: {chosen.set.core.note}.")
    free = [j for j in found.tried if j.cost is None and j.score <= 1]
    fewest = min(free, key=lambda j: (j.set.pieces, j.order), default=None)
    if fewest is not None and (not found.met or fewest.set.pieces < chosen.set.pieces):
        said.append(
            "Cores without a price do not compete. With fewest pieces of those it would be "
            f"{fewest.set.label}."
        )
    said += [
        f"{j.set.label} would be enough for {cost_words(found, j)}, but gets too hot at "
        f"{found.study.power:g} W."
        for j in found.hot
    ]
    return said


def _but_loose(found: Design) -> str:
    """Clause: a looser core of the same mix and shape is no set of its own."""
    return "but for looser ones of the same mix that do less, " if found.left_out.loose else ""


def _but_remembered(found: Design) -> str:
    """Clause: nobody is told to buy by a size that was read nowhere."""
    return "but for those whose size is from memory, " if found.left_out.remembered else ""


def scope(found: Design) -> str:
    """Sets that were tried, on how many draws, and those that were not."""
    n_geometry, n_draw = found.spread.shape
    names = {c.material for c in found.left_out.unknown}
    unknown = (
        f" Left out for want of data at this frequency: {', '.join(sorted(names))}."
        if names
        else ""
    )
    priced = sum(j.cost is not None for j in found.tried)
    money = (
        f"{priced - 1} of them have a price and compete; " if found.currency else "Pieces count; "
    )
    return (
        f"{len(found.tried) - 1} sets were tried: every core on sale that goes over the cable, "
        f"{_but_loose(found)}{_but_remembered(found)}up "
        f"to {found.study.choke_design.most} pieces, at {len(found.places)} "
        f"place{'' if len(found.places) == 1 else 's'} and in equal halves at two, no row across a "
        f"bend. {money}"
        f"each was computed on {n_geometry} geometries with {n_draw} draws of impedances, at the "
        f"design frequency.{unknown} Coils are not among them: one changes the geometry and needs "
        "a field solve of its own, so name it in the study's chokes. The cheapest of many on the "
        "same draws looks a little better than it is; spread tells about one set with more draws."
    )


def target(limits: Thresholds) -> str:
    """Thresholds that a set has to meet."""
    return (
        f"Enough is: pattern within {limits.pattern_rms_db:g} dB rms, mean gain within "
        f"{limits.mean_gain_db:g} dB and SWR within {limits.swr_step:g} of an ideal choke, and no "
        f"more than {percent(limits.station_ratio)} of the feed current at the radio, all in "
        "nineteen draws of twenty."
    )


def reactance_sentence(sweep: Reactance) -> str:
    """Reactances at which a choke makes a current larger than none does, and the reason."""
    reactance = sweep.z_cable.imag
    shows = "capacitive" if reactance < 0 else "inductive"
    parts = []
    for name, text in (("station_ratio", "at the radio"), ("shield_ratio", "largest on the cable")):
        stretches = sweep.worse(name)
        if not stretches:
            continue
        values = sweep.swept[name]
        top = int(values.argmax())
        ends = " and ".join(f"{fixed(a, 0)} to {fixed(b, 0)}" for a, b in stretches)
        gain = values[top] / sweep.bare[name][0]
        parts.append(
            f"the current {text} from {ends} ohm, {fixed(gain, 2)} times as large at "
            f"{fixed(float(sweep.x[top]), 0)} ohm"
        )
    why = (
        f"the cable itself shows {fixed(sweep.z_cable.real, 0)} ohm with {fixed(reactance, 0)} ohm "
        f"of {shows} reactance at {large(sweep.position)}, and a reactance of the other sign takes "
        "that away"
    )
    if not parts:
        return (
            f"A pure reactance makes no current clearly larger than none here: {why} only in part."
        )
    return (
        f"A choke that is only reactance can be worse than none: it raises {'; '.join(parts)}. "
        f"The reason is resonance: {why}. Resistance has no sign and cannot do that."
    )
