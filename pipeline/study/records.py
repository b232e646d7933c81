"""Everything that a study says, as frozen records of SI values.

Lengths in m, frequencies in Hz, power in W, impedances in ohm, conductivity in S/m. Records of
the sections stand in ``sections``, each with the markers of its keys.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TypeVar, get_type_hints

from models.antennas import generators
from models.catalogues.parts import Pipe
from models.catalogues.records import NO_PARTS, OwnParts
from models.lengths import System
from models.quantities import Quantity
from pipeline.chokes.kind import Choke, Host
from pipeline.study.fields import ALWAYS_ADDED as ALWAYS_ADDED
from pipeline.study.fields import RECOMMENDED as RECOMMENDED
from pipeline.study.sections.antenna_and_cable import Antenna as Antenna
from pipeline.study.sections.antenna_and_cable import Band as Band
from pipeline.study.sections.antenna_and_cable import Bond as Bond
from pipeline.study.sections.antenna_and_cable import Cable as Cable
from pipeline.study.sections.antenna_and_cable import Site as Site
from pipeline.study.sections.antenna_and_cable import Station as Station
from pipeline.study.sections.build import Build as Build
from pipeline.study.sections.build import ChokeDesign as ChokeDesign
from pipeline.study.sections.build import Price as Price
from pipeline.study.sections.unknowns import Unknowns as Unknowns
from pipeline.study.sections.use_and_thresholds import USUAL as USUAL
from pipeline.study.sections.use_and_thresholds import Exposure as Exposure
from pipeline.study.sections.use_and_thresholds import MeasuredAntenna as MeasuredAntenna
from pipeline.study.sections.use_and_thresholds import Thresholds as Thresholds
from pipeline.study.sections.use_and_thresholds import Tuning as Tuning

T = TypeVar("T")


@dataclass(frozen=True)
class RowPlace:
    """Somewhere on the cable where a row of cores may begin, and the longest that may lie there.

    ``position`` [m] along the shield, ``room`` [m] to the next bend or the length that is tried.
    """

    label: str
    position: float
    room: float


@dataclass(frozen=True)
class Study:
    """Everything a study file says, checked and complete.

    ``chokes`` holds one entry per count and position; the cases "none", "ideal" and
    "no-feedline" are added later. ``defaults`` names every value that the file left out,
    ``warnings`` what is allowed but worth knowing. ``duty`` is the mean power over that of a full
    carrier; ``line_prices`` are those of a metre of cable, by the id of its class; ``lengths`` is
    how its lengths are written, and how those told about it are worded; ``own`` are parts that
    the study brings along; ``rows`` are places for cores of the catalogue; ``others`` are records
    of sections that have no name here, ``lines`` says on which line of the file each key stands.
    """

    name: str
    title: str
    frequency: float
    band: Band
    power: float
    antenna: Antenna
    pipe: Pipe
    site: Site
    cable: Cable
    bond: Bond | None
    station: Station
    chokes: tuple[Choke, ...]
    defaults: tuple[str, ...]
    warnings: tuple[str, ...]
    tune: Tuning
    build: Build
    exposure: Exposure
    unknowns: Unknowns
    choke_design: ChokeDesign
    verdict: Thresholds
    duty: float
    line_prices: tuple[Price, ...] = ()
    measured: MeasuredAntenna | None = None
    lengths: System = "metric"
    own: OwnParts = NO_PARTS
    rows: tuple[RowPlace, ...] = ()
    others: tuple[object, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)

    def section(self, record: type[T]) -> T:
        """Section by its record, for those that have no name here.

        Examples
        --------
        >>> from importlib.resources import files
        >>> from pipeline.study.reader import load_study
        >>> study = load_study(str(files("models") / "studies" / "minimal.yaml"))
        >>> study.section(Exposure) == study.exposure
        True
        """
        values = (*(getattr(self, f.name) for f in fields(self)), *self.others)
        return next(value for value in values if isinstance(value, record))

    def place(self, key: str) -> str:
        """File, line and key as messages show them; the line is that of the nearest key above."""
        at = key
        while at and at not in self.lines:
            # A candidate of a list of counts is called like its entry, with more behind a hyphen.
            at = at[: max(at.rfind(sign) for sign in ".[-")] if set(at) & set(".[-") else ""
        line = f":{self.lines[at]}" if at else ""
        return f"{self.name}.yaml{line}  {key}"

    @property
    def host(self) -> Host:
        """The cable that chokes are put on, at the design frequency."""
        return Host(self.cable.type, self.frequency)

    @property
    def files(self) -> tuple[str, ...]:
        """Files beside the study that it rests on, each once, as it names them."""
        names = [name for choke in self.chokes for name in choke.files]
        if self.measured is not None:
            names.append(self.measured.antenna.file)
        names += self.own.files
        return tuple(dict.fromkeys(names))


def marker_of(study: Study, name: str) -> Quantity:
    """Unit, limits and meaning of one of the antenna's parameters."""
    hints = get_type_hints(generators()[study.antenna.type].parameters, include_extras=True)
    marks = getattr(hints[name], "__metadata__", ())
    return next(m for m in marks if isinstance(m, Quantity))


def with_values(study: Study, names: Sequence[str], values: Sequence[float]) -> Study:
    """The study with some of its antenna's parameters changed."""
    changed = dict(zip(names, values, strict=True))
    parameters = replace(study.antenna.parameters, **changed)
    return replace(study, antenna=replace(study.antenna, parameters=parameters))
