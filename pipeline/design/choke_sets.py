"""Sets of cores on a cable: number and place of each, series impedance, outcomes.

A study in; out come sets, the series impedance of each, and its outcomes over all draws. A coil is
no part of it: it changes the geometry and needs a field solve of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from models.catalogues.parts import FerriteCore
from models.quantities import SPEED_OF_LIGHT
from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import many, reference, termination_rows
from pipeline.chokes.ferrite import FerriteChoke
from pipeline.chokes.kinds import BELOW_A_BEND
from pipeline.circuit.choke_materials import one_pass
from pipeline.montecarlo.draws import CircuitDraws, circuit_draws, unknowns_of
from pipeline.montecarlo.spread import Spread
from pipeline.montecarlo.spread_solve import Drawn
from pipeline.runtime.progress import Stretch, Tell
from pipeline.runtime.workers import worker_pool
from pipeline.solver.cases import ideal_choke
from pipeline.solver.terminations import choke_weights
from pipeline.study.checks.route import Walk, follow_route
from pipeline.study.records import Study
from pipeline.study.whole_study import feed_height

# Time of one set on one draw, on the core that pace.basis_seconds was measured on. [s]
_SET_SECONDS = 1.2e-4
# Name of these steps in the progress of a run.
COMPARISONS = "comparisons"
# Of the spread's own numbers never more than these: a thousand sets are tried on each draw.
GEOMETRIES, DRAWS = 12, 32
# The pattern from ten to ten degrees of azimuth: half the work, and the same to a hundredth.
_AZIMUTHS = 2
# Free cable kept between the last core and the end of the route, which draws may shorten [m].
_SPARE = 0.4


@dataclass(frozen=True)
class Place:
    """Somewhere on the cable where cores may begin; ``position`` [m] along the shield."""

    label: str
    position: float


@dataclass(frozen=True)
class CoreSet:
    """Equal cores in one or two rows: (number, place) each. No rows: the bare cable."""

    core: FerriteCore | None
    rows: tuple[tuple[int, Place], ...]

    @property
    def pieces(self) -> int:
        """Cores in all."""
        return sum(count for count, _ in self.rows)

    @property
    def core_id(self) -> str:
        """Of its cores, empty without."""
        return "" if self.core is None else self.core.id

    @property
    def core_name(self) -> str:
        """Of its cores, empty without."""
        return "" if self.core is None else self.core.name

    @property
    def id(self) -> str:
        """Short name.

        Examples
        --------
        >>> CoreSet(None, ()).id
        'none'
        """
        if self.core is None:
            return "none"
        rows = "-and-".join(f"x{count}-at-{place.position:.2f}m" for count, place in self.rows)
        return f"{self.core.id}-{rows}"

    @property
    def label(self) -> str:
        """Text for people.

        Examples
        --------
        >>> CoreSet(None, ()).label
        'no choke'
        """
        if self.core is None:
            return "no choke"
        rows = " and ".join(f"{count} {place.label}" for count, place in self.rows)
        return f"{self.core.name}: {rows}"

    def choices(self) -> tuple[FerriteChoke, ...]:
        """Its rows as candidates of a study."""
        if self.core is None:
            return ()
        return tuple(
            FerriteChoke(
                id=self.id,
                label=self.label,
                position=place.position,
                count=count,
                core=self.core,
            )
            for count, place in self.rows
        )


def places_of(study: Study, row: float) -> tuple[Place, ...]:
    """Where cores may begin: at the antenna, a quarter and half a wave down, before the radio.

    Below the first bend in place of the half wave, where the longest row would lie across it;
    ``row`` [m] is its length.
    """
    walk = walk_of(study)
    length, wavelength = walk.length, SPEED_OF_LIGHT / study.frequency
    first = ideal_choke(study).position
    quarter = Place("a quarter wave down the cable", round(first + wavelength / 4, 3))
    half = Place("half a wave down the cable", round(first + wavelength / 2, 3))
    # A row is stiff: what does not end before the first bend begins below it.
    below = [
        Place("below the first bend", round(corner + BELOW_A_BEND, 3))
        for corner in walk.bends_under(first, row)[:1]
    ]
    down = sorted([*below, quarter, *([] if below else [half])], key=lambda p: p.position)
    wanted = (
        Place("at the antenna", first),
        *down,
        Place("before the radio", math.floor(1e3 * (length - row - _SPARE)) / 1e3),
    )
    room = [p for p in wanted[:-1] if p.position + row <= length - _SPARE + 1e-9]
    if wanted[-1].position >= (room[-1].position if room else 0.0) + row:
        room.append(wanted[-1])
    # A cable too short for a whole row still has its first place.
    return tuple(room or wanted[:1])


def core_sets(
    cores: Iterable[FerriteCore], places: tuple[Place, ...], most: int, room: float
) -> tuple[CoreSet, ...]:
    """Every number of every core at one place, and equal halves at two.

    ``places`` are in order from the antenna to the radio; ``most`` is how many cores a set has at
    most, ``room`` [m] the length of the longest row.
    """
    sets = []
    pairs = [(a, b) for k, a in enumerate(places) for b in places[k + 1 :]]
    for core in cores:
        for count in range(1, most + 1):
            if count * core.length > room + 1e-9:
                break
            sets += [CoreSet(core, ((count, place),)) for place in places]
            if 2 * count <= most:
                sets += [
                    CoreSet(core, ((count, a), (count, b)))
                    for a, b in pairs
                    if a.position + count * core.length <= b.position
                ]
    return tuple(sets)


def set_row(drawn: Drawn, tried: CoreSet) -> NDArray[np.complex128]:
    """Series impedance of a set on every port, shape (n_port,). [ohm]

    Definition: one pass through every core of a row, spread over the ports that the row covers.

    Raises
    ------
    ValueError
        If the geometry has no ports where a row sits.
    """
    structure = drawn.reduced.structure
    row = np.zeros(len(structure.ports), complex)
    if tried.core is None:
        return row
    each = one_pass(tried.core, drawn.study.frequency)
    if each is None:
        raise ValueError(f"the data of {tried.core.material} do not reach the frequency")
    for count, place in tried.rows:
        weights = choke_weights(structure, place.position, count * tried.core.length)
        row += count * each * weights
    return row


def comparisons_of(study: Study, sets: tuple[CoreSet, ...], cores: int) -> Stretch:
    """Number of geometries on which sets are compared, and the time of each."""
    unknowns = unknowns_of(study)
    geometries = study.unknowns.geometries if any(x.geometric for x in unknowns) else 1
    draws = 1 if all(x.geometric for x in unknowns) else study.unknowns.draws
    return Stretch(geometries, _SET_SECONDS * len(sets) * draws / cores)


def evaluate_sets(
    spread: Spread,
    sets: tuple[CoreSet, ...],
    cores: int,
    say: Tell = lambda text, stretch: None,
) -> dict[str, list[Merit]]:
    """Merit of every set, one entry a geometry, by the id of the set.

    Sets whose cores differ in their holes only are computed once. Patterns are compared on every
    second azimuth of the spread's own. The geometries have ports where the sets sit; ``cores`` of
    them are worked on at a time.
    """
    circuit = tuple(x for x in spread.unknowns if not x.geometric)
    jobs = [
        (drawn, circuit_draws(drawn.study, circuit, u), sets)
        for drawn, u in zip(spread.drawn, spread.u_circuit, strict=True)
    ]
    with worker_pool(cores, f"{spread.study.name}: comparing cores") as pool:
        parts = []
        for part in pool.map(_on_one, jobs):
            parts.append(part)
            say(f"compared on {len(parts)} of {len(jobs)} geometries", COMPARISONS)
    return {tried.id: [part[tried.id] for part in parts] for tried in sets}


def _on_one(job: tuple[Drawn, CircuitDraws, tuple[CoreSet, ...]]) -> dict[str, Merit]:
    """Every set on one geometry."""
    drawn, draws, sets = job
    reduced = replace(drawn.reduced, e_low=drawn.reduced.e_low[..., ::_AZIMUTHS])
    ends = termination_rows(reduced.structure, drawn.study, draws.ends)
    ideal = reference(reduced, ends)
    known: dict[tuple[object, ...], Merit] = {}
    found = {}
    for tried in sets:
        key = _twin(tried)
        if key not in known:
            rows = draws.factors["ferrite"][:, None] * set_row(drawn, tried)
            known[key] = many(reduced, ends, rows, ideal)
        found[tried.id] = known[key]
    return found


def _twin(tried: CoreSet) -> tuple[object, ...]:
    core = tried.core
    if core is None:
        return ()
    return (core.material, core.outer_diameter, core.inner_diameter, core.length, tried.rows)


def room_at(study: Study, places: tuple[Place, ...], row: float) -> float:
    """Longest row that the last place has room for, no longer than ``row``. [m]"""
    return min(row, max(0.0, walk_of(study).length - _SPARE - places[-1].position))


def walk_of(study: Study) -> Walk:
    """The way of a study's cable."""
    start = feed_height(study.site, study.antenna)
    return follow_route(study.cable.route, start, study.site.ground is not None)


def with_rows(
    study: Study, known: list[FerriteCore], places: tuple[Place, ...], room: float
) -> Study:
    """The study with one row of ``room`` [m] at each place that covers all others, and fewer draws.

    ``known`` are cores that fit and have data.
    """
    unknowns = study.unknowns
    fewer = replace(
        unknowns,
        geometries=min(GEOMETRIES, unknowns.geometries),
        draws=min(DRAWS, unknowns.draws),
    )
    # A stand-in that is as long as the longest row: only its ports are wanted.
    stand_ins = tuple(
        FerriteChoke(
            id=f"row-{k}",
            label=place.label,
            position=place.position,
            core=replace(known[0], length=room),
        )
        for k, place in enumerate(places)
        if known and room > 0
    )
    return replace(study, chokes=stand_ins, unknowns=fewer)


def bends_under(walk: Walk, tried: CoreSet) -> tuple[float, ...]:
    """Corners of the route that a row of cores would lie across. [m]"""
    if tried.core is None:
        return ()
    return tuple(
        corner
        for count, place in tried.rows
        for corner in walk.bends_under(place.position, count * tried.core.length)
    )
