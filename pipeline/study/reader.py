"""The study file: how it is read, checked and becomes a frozen Study, and its JSON Schema.

Every section is validated by itself, so that one wrong value does not hide what is wrong
elsewhere; all faults of a file are raised together.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, create_model

from models.catalogues.parts import coax_classes
from models.lengths import lengths_in
from models.quantities import SPEED_OF_LIGHT, Quantity
from pipeline.study import fields as kinds
from pipeline.study.assembly import (
    Parts,
    assemble,
    check_parts,
    coil_place,
    fill_defaults,
)
from pipeline.study.candidates import Candidates
from pipeline.study.faults import Complaint, all_faults, missing_key, record_complaints, unknown_key
from pipeline.study.fields import Context
from pipeline.study.prices import currency_in
from pipeline.study.records import Antenna, Cable, ChokeChoice, Price, Study
from pipeline.study.section import As, Section, validate, validate_rest
from pipeline.study.sections.build import (
    LINE_PRICES,
    BuildSection,
    FittingsSection,
    MeasuredCapSection,
    MeasuredSection,
    PricesSection,
)
from pipeline.study.sections.catalogue import CATALOGUE, SECTION, read_catalogue
from pipeline.study.sections.choke_design import ChokeDesignSection
from pipeline.study.sections.chokes import CHOKE, CHOKE_SECTIONS, FixtureStandardsSection
from pipeline.study.sections.exposure import ExposureSection
from pipeline.study.sections.installation import (
    A_FREQUENCY,
    ANTENNA,
    BandSection,
    BondSection,
    CableSection,
    GroundSection,
    MastSection,
    SiteSection,
    StationSection,
    TuneSection,
    antenna_sections,
)
from pipeline.study.sections.measured import MeasuredAntennaSection
from pipeline.study.sections.surroundings import (
    EarthSection,
    OtherFeedlineSection,
    PieceSection,
    StandingMastSection,
)
from pipeline.study.sections.unknowns import (
    SpreadSoilSection,
    SpreadStationSection,
    UnknownsSection,
)
from pipeline.study.sections.verdict import VerdictSection
from pipeline.text.errors import Fault, StudyError
from pipeline.text.lengths import system_of
from pipeline.text.yaml_reading import Document, KeyPath, read_yaml

A_POWER = As(kinds.quantity(Quantity("W", 1e-3, 5e3, "power into the cable", "25 W")))
A_DUTY = As(
    kinds.quantity(Quantity("1", 0.01, 1.0, "mean power over that of a full carrier", "0.5"))
)


class ChokeEntry(Section):
    """One entry of the list of candidates."""

    choke: Annotated[Any, As(CHOKE)]


def _absent() -> Any:
    """Default of keys that may be left out but not be left empty."""
    return None


class StudySection(Section):
    """A Braidwise study: an antenna, its site, its cable and the chokes to compare."""

    catalogue: Annotated[Any, As(CATALOGUE)] = Field(default_factory=_absent)
    title: Annotated[str | None, As(kinds.text("shown on the report", "Gateway", 120))] = None
    frequency: Annotated[float, A_FREQUENCY]
    band: BandSection = Field(default_factory=_absent)
    power: Annotated[float, A_POWER] = 25.0
    duty: Annotated[float, A_DUTY] = 0.5
    antenna: Annotated[Any, As(ANTENNA)]
    site: SiteSection
    cable: CableSection
    bond: BondSection = Field(default_factory=BondSection)
    station: StationSection = Field(default_factory=StationSection)
    tune: TuneSection = Field(default_factory=TuneSection)
    build: BuildSection = Field(default_factory=BuildSection)
    exposure: ExposureSection = Field(default_factory=ExposureSection)
    choke_design: ChokeDesignSection = Field(default_factory=ChokeDesignSection)
    verdict: VerdictSection = Field(default_factory=VerdictSection)
    line_prices: Annotated[tuple[Price, ...] | None, As(LINE_PRICES)] = None
    unknowns: UnknownsSection = Field(default_factory=UnknownsSection)
    measured: MeasuredAntennaSection = Field(default_factory=_absent)
    chokes: list[Annotated[Any, As(CHOKE)]] = Field(
        default_factory=_absent, min_length=1, max_length=kinds.LONGEST_LIST
    )


_SECTIONS: dict[KeyPath, type[Section]] = {
    (): StudySection,
    ("band",): BandSection,
    ("site",): SiteSection,
    ("site", "ground"): GroundSection,
    ("site", "mount"): MastSection,
    ("site", "mast"): StandingMastSection,
    ("site", "mast", "foot"): EarthSection,
    ("site", "other_feedline"): OtherFeedlineSection,
    ("site", "other_feedline", "foot"): EarthSection,
    ("cable",): CableSection,
    ("bond",): BondSection,
    ("station",): StationSection,
    ("tune",): TuneSection,
    ("build",): BuildSection,
    ("exposure",): ExposureSection,
    ("choke_design",): ChokeDesignSection,
    ("verdict",): VerdictSection,
    ("unknowns",): UnknownsSection,
    ("unknowns", "soil"): SpreadSoilSection,
    ("unknowns", "station"): SpreadStationSection,
    ("measured",): MeasuredAntennaSection,
    ("build", "prices"): PricesSection,
    ("build", "fittings"): FittingsSection,
    ("build", "fittings", "elbow_90"): MeasuredSection,
    ("build", "fittings", "elbow_45"): MeasuredSection,
    ("build", "fittings", "tee"): MeasuredSection,
    ("build", "fittings", "coupling"): MeasuredSection,
    ("build", "fittings", "cap"): MeasuredCapSection,
}


def _only(key: str) -> type[Section]:
    """Section that holds one key of the study."""
    info = StudySection.model_fields[key]
    definition: Any = {key: (info.annotation, info)}
    made: type[Section] = create_model(f"Only_{key}", __base__=Section, **definition)
    return made


# Chokes are read one by one: a wrong entry must not keep the others from being checked. Parts of
# the study's own are read before all else.
_ONE_BY_ONE: dict[str, type[Section]] = {
    key: _only(key) for key in StudySection.model_fields if key not in ("chokes", SECTION)
}
_RECORDS = (
    "band",
    "antenna",
    "site",
    "cable",
    "bond",
    "station",
    "tune",
    "build",
    "exposure",
    "choke_design",
    "verdict",
    "measured",
    "unknowns",
)
_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
# Stands in while a wrong frequency is reported, so that lengths in wavelengths still read.
_ANY_WAVELENGTH = 2.0


def load_study(path: str | Path) -> Study:
    """Study of a YAML file, complete and checked.

    Parameters
    ----------
    path : str or Path
        The file; tables of measured chokes are looked for beside it.

    Returns
    -------
    Study
        Frozen SI values, catalogue entries and expanded candidates.

    Raises
    ------
    StudyError
        With every fault found: file, line, key, value, rule and remedy.

    Examples
    --------
    >>> from importlib.resources import files
    >>> load_study(str(files("models") / "studies" / "minimal.yaml")).power
    25.0
    """
    path = Path(path)
    document = read_yaml(path)
    if _FILE_NAME.fullmatch(path.stem) is None:
        rule = "has a name that cannot name its results"
        remedy = "use letters, digits, _ and - only, such as orchard_shed.yaml"
        raise StudyError(Fault(path.name, "", rule, remedy, "file-name"))
    return read_study(document, path.parent)


def read_study(document: Document, folder: Path) -> Study:
    """Study of what a file says; files that it names are looked for in a folder.

    Raises
    ------
    StudyError
        With every fault found.
    """
    lengths = system_of(document.words())
    with lengths_in(lengths):
        return replace(_checked(document, folder), lengths=lengths, lines=document.numbered())


def _checked(document: Document, folder: Path) -> Study:
    """Study whose messages are in its own units of length."""
    reader = _Reader(document, folder)
    parts, sentences, complaints = fill_defaults(reader.parts())
    more, walk = check_parts(parts)
    wrong = {complaint.at for complaint in reader.complaints}
    # What stands in for a wrong value is nobody's fault.
    later = [c for c in (*complaints, *more) if not any(c.at[: len(at)] == at for at in wrong)]
    complaints = [c for c in (*reader.complaints, *later) if not reader.own.hides(c)]
    faults = all_faults(complaints, document)
    if faults or walk is None:
        raise StudyError(*faults)
    return assemble(Path(document.name).stem, parts, walk, [*reader.defaults, *sentences])


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of study files, made from the models that check them.

    Returns
    -------
    dict
        Ready for ``json.dumps``.

    Examples
    --------
    >>> json_schema()["required"]
    ['frequency', 'antenna', 'site', 'cable']
    """
    schema = StudySection.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


class _Reader:
    """Reads a document section by section and keeps what is wrong and what was left out."""

    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.complaints = [
            unknown_key((key,), list(StudySection.model_fields))
            for key in document.data
            if key not in StudySection.model_fields
        ]
        self.defaults: list[str] = []
        self.own = read_catalogue(document, folder)
        self.complaints += self.own.complaints
        currency = currency_in(document.data)
        self.context = Context(_ANY_WAVELENGTH, folder, currency, self.own.parts)
        self.frequency: float | None = self._top("frequency")
        if self.frequency is not None:
            self.context = replace(self.context, wavelength=SPEED_OF_LIGHT / self.frequency)

    def parts(self) -> Parts:
        """Every section as its frozen record; ``None`` where it is wrong or absent."""
        found: dict[str, Any] = {}
        for key in _ONE_BY_ONE:
            found[key] = self.frequency if key == "frequency" else self._top(key)
            if key == "cable" and found[key] is not None:
                jacket = found[key].type.jacket_diameter
                self.context = replace(self.context, jacket_diameter=jacket)
        records = {key: found[key].record() for key in _RECORDS if found[key] is not None}
        antenna, cable = found["antenna"], records.get("cable")
        self._state_defaults(found, cable)
        return Parts(
            given=frozenset(self.document.data),
            title=found["title"],
            frequency=self.frequency,
            band=records.get("band"),
            power=found["power"],
            antenna=records.get("antenna"),
            pipe=None if antenna is None else antenna.pipe,
            problems=() if antenna is None else antenna.problems(),
            site=records.get("site"),
            cable=cable,
            bond=records.get("bond"),
            station=records.get("station"),
            chokes=self._chokes(cable, records.get("antenna")),
            tune=records.get("tune"),
            build=records.get("build"),
            exposure=records.get("exposure"),
            duty=found["duty"],
            line_prices=found["line_prices"] or (),
            unknowns=records.get("unknowns"),
            measured=records.get("measured"),
            choke_design=records.get("choke_design"),
            verdict=records.get("verdict"),
            own=self.own.parts,
            lost_route=any(c.at[:2] == ("cable", "route") for c in self.complaints),
        )

    def _state_defaults(self, found: dict[str, Any], cable: Cable | None) -> None:
        """Name the values left out, those of a bond only if the route has one."""
        given = self.document.data
        if "title" not in given:
            self.defaults.append("title: the name of the file")
        if "power" not in given:
            self.defaults.append(f"power: {A_POWER.kind.show(found['power'])}")
        if "duty" not in given:
            self.defaults.append(
                f"duty: {found['duty']:g} (a full carrier, on the air half of the time)"
            )
        has_bond = cable is not None and any(step.go == "bond" for step in cable.route)
        for key in ("band", "site", "cable", "bond", "station", "exposure"):
            if found[key] is not None and (key != "bond" or has_bond):
                self.defaults += found[key].stated_defaults(key)

    def _top(self, key: str) -> Any:
        """Value of one top-level key, its default if it is absent, ``None`` if it is wrong."""
        info = StudySection.model_fields[key]
        if key not in self.document.data:
            if info.is_required():
                self.complaints.append(missing_key((key,), _example(StudySection, key)))
                return None
            return info.get_default(call_default_factory=True)
        raw = {key: self.document.data[key]}
        section, records = validate(_ONE_BY_ONE[key], raw, self.context)
        self._complain(records, (), 0)
        if records:
            section = validate_rest(_ONE_BY_ONE[key], raw, records, self.context)
        return None if section is None else getattr(section, key)

    def _chokes(self, cable: Cable | None, antenna: Antenna | None) -> Candidates | None:
        """All candidates as far as they can be read; ``None`` without a list."""
        if "chokes" not in self.document.data:
            return None
        # Without a cable the coils of it have none, and what depends on it is not looked at.
        main = coax_classes()[0] if cable is None else cable.type
        place = coil_place(cable, antenna, self.context.wavelength)
        entries = self.document.data["chokes"]
        if not isinstance(entries, list) or not 1 <= len(entries) <= kinds.LONGEST_LIST:
            rule = f"is not a list of 1 to {kinds.LONGEST_LIST} candidates"
            remedy = "start each candidate with a hyphen, or leave chokes out for the standard ones"
            self.complaints.append(Complaint(("chokes",), rule, remedy, "value-kind"))
            return Candidates((), (None,))
        sound: list[tuple[int, ChokeChoice]] = []
        partly: list[tuple[int, ChokeChoice]] = []
        unread: list[Any] = []
        for index, raw in enumerate(entries):
            entry, records = validate(ChokeEntry, {"choke": raw}, self.context)
            self._complain(records, ("chokes", index), 1)
            if entry is None:
                unread.append(raw)
                entry = validate_rest(ChokeEntry, {"choke": raw}, records, self.context)
                kept = [] if entry is None else entry.choke.records(main, place)
                partly += [(index, choke) for choke in kept]
                continue
            self.defaults += entry.choke.stated_defaults(f"chokes.{entry.choke.id}")
            sound += [(index, choke) for choke in entry.choke.records(main, place)]
        return Candidates(tuple(sound), tuple(unread), tuple(partly))

    def _complain(self, records: list[dict[str, Any]], at: KeyPath, skip: int) -> None:
        """Keep records as complaints; the first `skip` steps of a path are not in the file."""
        for record in records:
            path: KeyPath = (*at, *record["loc"][skip:])
            section = self._section_of(path[:-1])
            keys = section.examples() if section else {}
            self.complaints += record_complaints(record, path, keys, self.document)

    def _section_of(self, path: KeyPath) -> type[Section] | None:
        """Section that stands at a path of this document, to know its keys."""
        raw = self.document.value(path)
        if path == ("antenna",) and isinstance(raw, dict):
            return antenna_sections().get(str(raw.get("type")))
        if path[:1] == ("chokes",) and path[2:] == ("fixture",):
            return FixtureStandardsSection
        if path[:1] == ("chokes",) and isinstance(raw, dict):
            return CHOKE_SECTIONS.get(str(raw.get("kind")))
        if path[:2] == ("site", "metalwork") and len(path) > 2:
            # The list's entries differ in their number only.
            return EarthSection if path[3:] == ("foot",) else PieceSection
        return _SECTIONS.get(path)


def _example(section: type[Section], key: str) -> str:
    return section.examples().get(key, "")
