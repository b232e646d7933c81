"""From a study to the structures it needs: the one room that knows both.

Drawing rules live in ``models``; here the study's parts are handed to them, at the wanted
refinement, and what ``models`` refuses is turned into an error that names the study.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

from models.antennas import generators
from models.antennas.generator import Drawing, FinishedAntenna
from models.catalogues.parts import CoaxClass, conductor
from models.construction.assembly import Assembly
from models.quantities import SPEED_OF_LIGHT_NEC
from models.site.installation import (
    Feedline,
    ShieldCable,
    assemble,
    own_run,
    refuse_bad_segments,
    shield_rule,
)
from models.site.metalwork import Setting
from models.wires.pipe_cage import (
    THICKEST_WIRE,
    Cage,
    cage_conductivity,
    cage_ring_radius,
    choose_wire_count,
)
from models.wires.structure import GeometryError, Material, Structure
from pipeline.circuit.line import SHIELD_METAL, jacket_inductance
from pipeline.solver.cases import CABLE, GeometryPlan, zones
from pipeline.study.records import Study
from pipeline.study.whole_study import walk_of
from pipeline.text.errors import Fault, StudyError


@dataclass(frozen=True)
class Sized:
    """An antenna with every length known, and a sentence for each derived one."""

    antenna: Any
    sentences: tuple[str, ...]


def sized_antenna(study: Study) -> Sized:
    """The study's antenna with derived lengths filled in.

    Raises GeometryError if a given length does not go with a derived one.
    """
    generator = generators()[study.antenna.type]
    antenna, sentences = generator.sized_on(
        study.antenna.parameters, study.pipe, study.frequency, study.cable.type
    )
    # Given lengths were checked when the study was read; here given and derived ones together.
    whole = {f.name: getattr(antenna, f.name) for f in fields(antenna)}
    given = {f.name: whole[f.name] for f in fields(generator.parameters)}
    problems = generator.check(generator.parameters(**given), study.pipe)
    if problems:
        raise GeometryError(*problems)
    return Sized(antenna, tuple(sentences))


def assembled(study: Study) -> Assembly:
    """Parts of the study's antenna, joints, marks and steps, as the study chose."""
    generator = generators()[study.antenna.type]
    return generator.assembly(sized_antenna(study).antenna, study.pipe, study.cable.joins)


def _cable_at_tap(study: Study, plan: GeometryPlan) -> CoaxClass:
    return study.cable.type if plan.choke is None else plan.choke.cable_along(study.cable.type)


def _wire_radius(study: Study, plan: GeometryPlan) -> float:
    """Radius of every wire near the antenna: the shield's, unless a pipe or rod is too thin for it.

    Then the shield begins thinner than it is and grows to its own radius away from the joint.
    """
    shield = _cable_at_tap(study, plan).shield_diameter / 2
    radius = min(shield, THICKEST_WIRE * study.pipe.outside_diameter / 2)
    thinnest = generators()[study.antenna.type].thinnest
    return radius if thinnest is None else min(radius, thinnest(sized_antenna(study).antenna))


def _shield(cable: CoaxClass) -> ShieldCable:
    jacket = jacket_inductance(cable.shield_diameter, cable.jacket_diameter, cable.jacket_eps_r)
    return ShieldCable(cable.shield_diameter / 2, Material(conductor(SHIELD_METAL).sigma, jacket))


def shortest_wavelength(study: Study) -> float:
    """Wavelength at the upper end of the band, by which everything is drawn. [m]"""
    return SPEED_OF_LIGHT_NEC / study.band.stop


def cage_wires(study: Study, plan: GeometryPlan) -> int:
    """Wires of the cage that the antenna's pipe is drawn as. [-]"""
    return choose_wire_count(study.pipe.outside_diameter / 2, _wire_radius(study, plan))


def draw_antenna(
    study: Study, plan: GeometryPlan, refine: float, n_wires: int | None = None
) -> FinishedAntenna:
    """The antenna as a cage of wires as thick as the shield that is joined to it."""
    pipe_radius = study.pipe.outside_diameter / 2
    radius = _wire_radius(study, plan)
    n = n_wires or cage_wires(study, plan)
    sigma = cage_conductivity(study.pipe.sigma, pipe_radius, radius, n)
    ring = cage_ring_radius(pipe_radius, radius, n)
    cage = Cage(n, ring, radius, "antenna", Material(conductivity=sigma))
    drawing = Drawing(cage, pipe_radius, shortest_wavelength(study), refine, study.site.mast)
    return generators()[study.antenna.type].build(sized_antenna(study).antenna, drawing)


def feedline(study: Study, plan: GeometryPlan) -> Feedline | None:
    """The study's cable with what sits on it in this geometry."""
    if not plan.has_feedline:
        return None
    return Feedline(
        joins=study.cable.joins,
        steps=study.cable.route,
        first=replace(_shield(_cable_at_tap(study, plan)), radius=_wire_radius(study, plan)),
        rest=_shield(study.cable.type),
        zones=zones(study) if plan.name == CABLE else (),
        helix=None if plan.choke is None else plan.choke.helix,
        bond_radius=0.5 * study.bond.lead_diameter if study.bond else 0.0,
        station_lead=study.station.lead,
        sleeve=None if plan.choke is None else plan.choke.over_cable(study.host),
    )


# Ports along a cable on which no choke is moved. Asymmetry of six coils with them, and with 65 to
# 72 ports a tenth of a wavelength apart: 6.6 against 6.4 %, 4.3 and 4.3, 6.4 and 7.0, 3.4 and 3.9,
# 5.2 and 6.8, 16.7 and 13.4.
_PORTS_FOR_SYMMETRY = 12
# What may be drawn with other segment lengths by itself.
ANTENNA, CABLE_RUN, AROUND = "antenna", "cable", "metalwork"
# All that stands around an antenna: tube alloy, as good as zinc or copper for what is lost in it.
STANDING_METAL = "aluminium-6063"


def surroundings(
    study: Study, plan: GeometryPlan, antenna: FinishedAntenna, refine: float
) -> Setting | None:
    """Metal around the antenna, with all that it takes to draw it; None: nothing drawn."""
    around = study.site.around
    if not around.drawn:
        return None
    setting = Setting(
        around,
        study.site.height,
        _wire_radius(study, plan),
        shortest_wavelength(study),
        refine,
        Material(conductor(STANDING_METAL).sigma),
        rod=study.bond.rod_impedance if study.bond else None,
    )
    own = feedline(study, GeometryPlan(CABLE, has_feedline=True))
    if around.other is None or own is None:
        return setting
    # Also where our own cable is left out, the other one hangs where it hangs.
    run = own_run(antenna, own, study.site.height)
    return replace(setting, run=run, sheath=_shield(around.other.cable).material)


def structure(
    study: Study,
    plan: GeometryPlan,
    refine: float = 1.0,
    n_wires: int | None = None,
    port_spacing: float = 1.0,
    zone: float = 1.0,
    only: str = "",
) -> Structure:
    """One geometry of a study, checked and ready for the solver.

    ``refine`` is a factor on segment lengths, of the part ``only`` names (the antenna, the cable
    with bond and radio end, or what stands around) or of all; ``n_wires`` is that of a cage if not
    as the pipe needs; ``port_spacing`` and ``zone`` are factors on the spacing of ports and on the
    segments where chokes sit. Raises StudyError if parts collide, do not fit, or break a limit of
    segmentation.
    """
    shortest = shortest_wavelength(study)
    grounded = study.site.ground is not None
    of_antenna, of_cable, of_around = (
        refine if only in ("", part) else 1.0 for part in (ANTENNA, CABLE_RUN, AROUND)
    )
    try:
        antenna = draw_antenna(study, plan, of_antenna, n_wires)
        radius = max(_wire_radius(study, plan), study.cable.type.shield_diameter / 2)
        rule = shield_rule(study.pipe.outside_diameter, shortest, of_cable, radius)
        rule = replace(
            rule,
            port_spacing=port_spacing * max(rule.port_spacing, _spread_ports(study, plan)),
            zone=max(zone * rule.zone, rule.least),
            row=max(zone * rule.row, rule.least),
        )
        built = assemble(
            plan.name,
            antenna,
            feedline(study, plan),
            rule,
            study.site.height,
            grounded,
            surroundings(study, plan, antenna, of_around),
        )
        refuse_bad_segments(built, shortest, grounded)
    except GeometryError as error:
        raise StudyError(*(_fault(study, plan, p) for p in error.problems)) from error
    return built


def _spread_ports(study: Study, plan: GeometryPlan) -> float:
    """Least distance of ports where no choke is moved along the cable; zero where one is. [m]

    A coil's geometry has them for its symmetry only, which a dozen show.
    """
    if plan.choke is None:
        return 0.0
    return walk_of(study).length / _PORTS_FOR_SYMMETRY


def _fault(study: Study, plan: GeometryPlan, problem: Fault) -> Fault:
    """A fault with file and line: by name where it is of the choke that was drawn."""
    key = problem.place
    if plan.choke is not None:
        key = key.replace("chokes.", f"chokes.{plan.choke.id}.", 1)
    return replace(problem, place=study.place(key))
