"""The coil of its cable and the sleeve that every study is judged with, where it lists none.

A study in; the same with them among its chokes out, or with a sentence that says why there is none.
The reader cannot tell: whether they keep clear of a mast is seen when they are drawn.
"""

from __future__ import annotations

from dataclasses import replace

from models.catalogues.parts import Pipe, bore, pipes
from models.lengths import large
from pipeline.chokes.kind import SLACK, Choke
from pipeline.chokes.kinds import BELOW_A_BEND
from pipeline.chokes.sleeve import SleeveChoke
from pipeline.solver.cases import geometry_plans
from pipeline.solver.catalogue_sets import prices_of
from pipeline.solver.structures import structure
from pipeline.study.records import Study
from pipeline.study.whole_study import NO_ROOM_FOR_COIL, standard_coil, walk_of
from pipeline.text.errors import StudyError

# Bore of a sleeve in jackets of its cable: in a tighter one the line inside is of few ohm, and its
# resonance so narrow that the saw decides; common practice, no source.
_SLEEVE_BORE = 2.0


def with_standard_chokes(study: Study) -> Study:
    """The study with what is always judged; its defaults say so, or why something is not."""
    return _with_sleeve(_with_coil(study))


def _with_coil(study: Study) -> Study:
    """As it is where it has a coil of its main cable that is drawn as wire."""
    main = study.cable.type
    coils = [c for c in study.chokes if c.is_drawn and c.helix is not None]
    if any(choke.cable_along(main) == main for choke in coils):
        return study
    coil = standard_coil(study)
    if coil is None:
        return _saying(study, NO_ROOM_FOR_COIL)
    wider = replace(study, chokes=(*study.chokes, coil))
    if not _can_be_drawn(wider, coil):
        hung = f"{large(coil.position)} from the antenna"
        return _saying(study, f"no coil of the cable: something is in its way, {hung}")
    return _saying(wider, f"{coil.id} is judged as well: {coil.label}, {coil.begins}")


def _with_sleeve(study: Study) -> Study:
    """As it is where it has a sleeve, or goes by prices, of which the standard one has none."""
    if any(choke.is_resonant for choke in study.chokes) or prices_of(study)[1]:
        return study
    sleeve = _standard_sleeve(study)
    if sleeve is None:
        return study
    wider = replace(study, chokes=(*study.chokes, sleeve))
    if not _can_be_drawn(wider, sleeve):
        return study
    return _saying(wider, f"{sleeve.id} is judged as well: {sleeve.label}, {sleeve.begins}")


def _standard_sleeve(study: Study) -> SleeveChoke | None:
    """A sleeve of the narrowest pipe that does, mouth towards the antenna.

    It sits at the first place that has room for it; ``None`` where there is no pipe or no place.
    """
    tube = _sleeve_pipe(study)
    if tube is None:
        return None
    walk = walk_of(study)
    label = f"shorted quarter-wave sleeve of {tube.name} pipe"
    one = SleeveChoke(id=f"sleeve-{tube.id}", label=label, position=0.0, pipe=tube, length=None)
    before, length = one.free_cable(study.host)[0], one.extent(study.host)
    for begin in (0.0, *walk.corners):
        place = round(begin + before + BELOW_A_BEND, 3)
        fits = place + length <= walk.length + SLACK
        if fits and not walk.bends_under(place - before, before + length):
            return replace(one, position=place)
    return None


def _sleeve_pipe(study: Study) -> Pipe | None:
    """The narrowest pipe of the antenna's own standard, else of any, with air around the jacket."""
    cable = study.cable.type
    least = _SLEEVE_BORE * cable.jacket_diameter
    wide = [tube for tube in pipes() if bore(tube) >= least]
    own = [tube for tube in wide if tube.standard == study.pipe.standard]
    return min(own or wide, key=lambda tube: (tube.outside_diameter, tube.wall), default=None)


def _saying(study: Study, sentence: str) -> Study:
    told = f"chokes: {sentence}"
    return study if told in study.defaults else replace(study, defaults=(*study.defaults, told))


def _can_be_drawn(study: Study, choke: Choke) -> bool:
    """Whether a choke of a study clears all that stands around it."""
    (plan,) = (p for p in geometry_plans(study) if p.choke == choke)
    try:
        structure(study, plan)
    except StudyError:
        return False
    return True
