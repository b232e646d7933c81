"""What a study says, as frozen records of SI values; no pint and no pydantic needed to use them.

Lengths in m, frequencies in Hz, power in W, impedances in ohm, conductivity in S/m.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from models.catalogues.parts import CoaxClass, FerriteCore, Pipe
from models.catalogues.records import NO_PARTS, OwnParts
from models.lengths import System
from models.site.metalwork import NOTHING, Surroundings
from models.site.soil import Soil
from pipeline.study.unknown_records import ALL_KNOWN, Unknowns

ALWAYS_ADDED = ("none", "ideal", "no-feedline")
# The case that an antenna is tuned in, where the study names none: what its report recommends.
RECOMMENDED = "recommended"

CoilModel = Literal["wire", "lumped"]
# How an impedance follows from what a network analyser measured.
Method = Literal["series-through", "y21", "reflection"]


@dataclass(frozen=True)
class Band:
    """Frequencies to sweep, ends included. [Hz]"""

    start: float
    stop: float
    points: int


@dataclass(frozen=True)
class Antenna:
    """Name of the antenna's file in models/antennas and an instance of its parameters."""

    type: str
    parameters: Any


@dataclass(frozen=True)
class Site:
    """Height [m] of the antenna's lowest axis, the soil (None: free space), the mast [m].

    ``mast`` is how far the antenna's pipe goes on below that axis; 0 means insulated. ``around``
    is the metal that stands around the antenna.
    """

    height: float
    ground: Soil | None
    mast: float
    around: Surroundings = NOTHING


@dataclass(frozen=True)
class RouteStep:
    """One step of the shield's path; ``length`` [m] is a height for down_to and 0 for bond."""

    go: str
    length: float


@dataclass(frozen=True)
class Cable:
    """The coax: class, length for its loss (None: that of the route), shield joint, route."""

    type: CoaxClass
    length: float | None
    joins: str
    connectors: int
    connector_loss_db: float
    route: tuple[RouteStep, ...]


@dataclass(frozen=True)
class Bond:
    """Lead from the shield to a ground rod: diameter [m] and the rod's impedance [ohm].

    ``usual`` says that the study states none, so that it is a common rod's in its soil.
    """

    lead_diameter: float
    rod_impedance: complex
    usual: bool = False


@dataclass(frozen=True)
class Station:
    """Impedance [ohm] between shield and lead at the radio (None: open), the lead [m].

    ``noise_beside`` is how far to the side of the radio a noisy device stands. [m]
    """

    impedance: complex | None
    lead: float
    noise_beside: float = 1.0


@dataclass(frozen=True)
class Tuning:
    """How the antenna is tuned: the case it is tuned in, by id, and how good is good enough.

    ``choke`` may also be "recommended".
    ``target_swr`` is at the feed and the design frequency; ``free`` names what may change (empty:
    everything the antenna's own file offers), ``solves`` is how many field solves it may take.
    """

    choke: str = RECOMMENDED
    target_swr: float = 1.2
    free: tuple[str, ...] = ()
    solves: int = 25


@dataclass(frozen=True)
class Thresholds:
    """Changes from which on one is visible; three times one is strong.

    Common practice, no source: half a decibel is about what a careful field-strength comparison
    can tell, 0.2 of SWR what a meter shows, and a twentieth of the feed current (-26 dB) is where
    radios start to misbehave.
    """

    pattern_rms_db: float = 0.5
    mean_gain_db: float = 0.5
    swr_step: float = 0.2
    station_ratio: float = 0.05


@dataclass(frozen=True)
class Exposure:
    """What an estimate of exposure rests on; the defaults are the worst case.

    ``mode_duty`` is the mean power of the mode over that of a full carrier, ``transmit_share`` the
    part of the averaging time spent transmitting; people walk up to ``reach`` above ground and sit
    ``cable_distance`` from the cable at the radio. [m]
    """

    mode_duty: float = 1.0
    transmit_share: float = 1.0
    reach: float = 2.5
    cable_distance: float = 0.2


@dataclass(frozen=True)
class Price:
    """What a part costs: of a metre of pipe, or of one piece."""

    part: str
    amount: float
    currency: str


@dataclass(frozen=True)
class ChokeDesign:
    """What may be spent on cores: ``budget`` (None: no limit), prices of one piece each.

    ``most`` is how many cores a set may have.
    """

    budget: float | None = None
    currency: str = ""
    prices: tuple[Price, ...] = ()
    most: int = 12


@dataclass(frozen=True)
class MeasuredFitting:
    """A fitting as its owner measured it [m]; None for what was not measured.

    ``kind`` is that of models/construction/fittings.py, ``end`` the thickness of a cap's end.
    """

    kind: str
    cup: float | None
    centre_to_end: float | None
    end: float | None


@dataclass(frozen=True)
class Build:
    """How the antenna is cut and joined; ``joints`` is "fittings", "mitred" or "" to choose.

    ``kerf`` and ``stock`` (length of a bar, None: as the pipe is sold) in m, ``wind_speed`` in
    m/s. ``defaults`` names what the file left out.
    """

    joints: str = ""
    kerf: float = 1.5e-3
    stock: float | None = None
    wind_speed: float = 40.0
    prices: tuple[Price, ...] = ()
    measured: tuple[MeasuredFitting, ...] = ()
    defaults: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ChokeChoice:
    """One candidate; kind "ideal" needs nothing more than this.

    ``position`` [m] is the distance along the shield from the leg's axis to the end of the
    choke that is nearer to the antenna; ``count`` is 1 unless cores are counted; ``price`` is
    that of all pieces together.
    """

    id: str
    label: str
    kind: str
    position: float
    count: int = 1
    price: float | None = None
    currency: str = ""


@dataclass(frozen=True, kw_only=True)
class CoilChoice(ChokeChoice):
    """Turns of coax, sizes [m] to the cable's axis; drawn as a wire or taken as a lumped part."""

    turns: int
    diameter: float
    pitch: float
    cable: CoaxClass
    model: CoilModel


@dataclass(frozen=True, kw_only=True)
class FerriteChoice(ChokeChoice):
    """``count`` cores in a row on the cable."""

    core: FerriteCore


@dataclass(frozen=True, kw_only=True)
class SleeveChoice(ChokeChoice):
    """A pipe over the cable, shorted at its far end; ``length`` [m], None: derived quarter wave."""

    pipe: Pipe
    length: float | None


@dataclass(frozen=True, kw_only=True)
class TableChoice(ChokeChoice):
    """A choke measured by its owner: impedance [ohm] at rising frequencies [Hz].

    From a network analyser: ``method`` is how it was found (None: a table of impedances),
    ``remarks`` what is worth knowing about it, ``beside`` the other files that it rests on.
    """

    file: str
    f: tuple[float, ...]
    z_choke: tuple[complex, ...]
    method: Method | None = None
    remarks: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeasuredAntenna:
    """An antenna as its owner measured it, for comparison with what is computed.

    ``gamma`` is its reflection referred to 50 ohm at the frequencies ``f`` [Hz]; ``at`` is "feed"
    or "radio"; ``case`` the case it stands beside; ``power`` [W] what the analyser sent, if known.
    """

    file: str
    f: tuple[float, ...]
    gamma: tuple[complex, ...]
    at: str
    case: str = "none"
    power: float | None = None


@dataclass(frozen=True)
class Study:
    """Everything a study file says, checked and complete.

    ``chokes`` holds one entry per count and position; the cases "none", "ideal" and
    "no-feedline" are added later. ``defaults`` names every value that the file left out,
    ``warnings`` what is allowed but worth knowing. ``duty`` is the mean power over that of a full
    carrier; ``line_prices`` are those of a metre of cable, by the id of its class; ``lengths`` is
    how its lengths are written, and how those told about it are worded; ``own`` are parts that
    the study brings along; ``lines`` says on which line of the file each key stands.
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
    chokes: tuple[ChokeChoice, ...]
    defaults: tuple[str, ...]
    warnings: tuple[str, ...]
    tune: Tuning = Tuning()
    build: Build = Build()
    exposure: Exposure = Exposure()
    unknowns: Unknowns = ALL_KNOWN
    duty: float = 0.5
    line_prices: tuple[Price, ...] = ()
    measured: MeasuredAntenna | None = None
    choke_design: ChokeDesign = ChokeDesign()
    verdict: Thresholds = Thresholds()
    lengths: System = "metric"
    own: OwnParts = NO_PARTS
    lines: Mapping[str, int] = field(default_factory=dict, compare=False, repr=False)

    def place(self, key: str) -> str:
        """Where a key stands, as messages show it; the line is that of the nearest one above it."""
        at = key
        while at and at not in self.lines:
            # A candidate of a list of counts is called like its entry, with more behind a hyphen.
            at = at[: max(at.rfind(sign) for sign in ".[-")] if set(at) & set(".[-") else ""
        line = f":{self.lines[at]}" if at else ""
        return f"{self.name}.yaml{line}  {key}"

    @property
    def files(self) -> tuple[str, ...]:
        """Files beside the study that it rests on, each once, as it names them."""
        tables = [c for c in self.chokes if isinstance(c, TableChoice)]
        names = [name for c in tables for name in (c.file, *c.beside)]
        if self.measured is not None:
            names.append(self.measured.file)
        names += self.own.files
        return tuple(dict.fromkeys(names))


# What counts where a study names no thresholds of its own.
USUAL = Thresholds()
