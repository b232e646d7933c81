"""The study file: how it is read, checked and becomes a frozen Study, and its JSON Schema.

Every section is validated by itself, so that one wrong value does not hide what is wrong
elsewhere; all faults of a file are raised together.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import Field, create_model

from models.catalogues.parts import coax_classes
from models.lengths import lengths_in
from models.quantities import SPEED_OF_LIGHT, Quantity
from pipeline.chokes.kind import Choke
from pipeline.study import fields as kinds
from pipeline.study.faults import all_faults, missing_key, unknown_key
from pipeline.study.fields import Context
from pipeline.study.records import Antenna, Cable, Price, Study
from pipeline.study.section import Section, registered, section_of
from pipeline.study.sections.antenna_and_cable import ANTENNA, FREQUENCY
from pipeline.study.sections.build import LINE_PRICES, currency_in
from pipeline.study.sections.catalogue import CATALOGUE, read_catalogue
from pipeline.study.sections.catalogue import SECTION as CATALOGUE_KEY
from pipeline.study.sections.chokes import CHOKE
from pipeline.study.sections_read import Candidates, Parts
from pipeline.study.validation import record_complaints, section_at, validate, validate_rest
from pipeline.study.whole_study import assemble, check_parts, coil_place, fill_defaults
from pipeline.text.errors import Fault, StudyError
from pipeline.text.lengths import system_of
from pipeline.text.refusals import FieldError
from pipeline.text.yaml_reading import Document, KeyPath, read_yaml

T = TypeVar("T")

A_POWER = kinds.quantity(Quantity("W", 1e-3, 5e3, "power into the cable", "25 W"))
A_DUTY = kinds.quantity(Quantity("1", 0.01, 1.0, "mean power over that of a full carrier", "0.5"))


class ChokeEntry(Section):
    """One entry of the list of candidates."""

    choke: Annotated[Any, CHOKE]


def _absent() -> Any:
    """Default of keys that may be left out but not be left empty."""
    return None


class _Values(Section):
    """A Braidwise study: an antenna, its site, its cable and the chokes to compare."""

    catalogue: Annotated[Any, CATALOGUE] = Field(default_factory=_absent)
    title: Annotated[str | None, kinds.text("shown on the report", "Gateway", 120)] = None
    frequency: Annotated[float, kinds.quantity(FREQUENCY)]
    power: Annotated[float, A_POWER] = 25.0
    duty: Annotated[float, A_DUTY] = 0.5
    antenna: Annotated[Any, ANTENNA]
    line_prices: Annotated[tuple[Price, ...] | None, LINE_PRICES] = None
    chokes: list[Annotated[Any, CHOKE]] = Field(
        default_factory=_absent, min_length=1, max_length=kinds.LONGEST_LIST
    )


@cache
def file_section() -> type[Section]:
    """Section of a whole study file: plain values, and every section that is registered."""
    made: dict[str, Any] = {}
    for key, entry in registered().items():
        section = section_of(entry.record)
        default: Any = {} if entry.required else {"default_factory": _default_of(section)}
        made[key] = (section, Field(**default))
    return create_model("StudySection", __base__=_Values, __doc__=_Values.__doc__, **made)


def _default_of(section: type[Section]) -> Callable[[], Any]:
    """Default of a section left out: all its defaults, if every key has one."""
    needed = any(info.is_required() for info in section.model_fields.values())
    return _absent if needed else section


@cache
def only(key: str) -> type[Section]:
    """Section that holds one key of the study.

    Keys are read by themselves: a wrong one must not keep the others from being checked.
    """
    info = file_section().model_fields[key]
    definition: Any = {key: (info.annotation, info)}
    made: type[Section] = create_model(f"Only_{key}", __base__=Section, **definition)
    return made


# What readers of other keys need to know comes first; candidates are read one by one at the end,
# parts of the study's own before all else.
_FIRST, _APART = ("frequency", "cable"), ("chokes", CATALOGUE_KEY)
_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
# Stands in while a wrong frequency is reported, so that lengths in wavelengths still read.
_ANY_WAVELENGTH = 2.0


def load_study(path: str | Path) -> Study:
    """Study of a YAML file, complete and checked; a :class:`StudyError` has every fault found.

    Tables of measured chokes are looked for beside it.

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
    """Study of what a file says; files that it names are looked for in a folder."""
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
    """JSON Schema (draft 2020-12) of study files, made from the records that check them.

    Examples
    --------
    >>> json_schema()["required"]
    ['frequency', 'antenna', 'site', 'cable']
    """
    schema = file_section().model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


class _Reader:
    """Reads a document section by section and keeps what is wrong and what was left out."""

    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.keys = list(file_section().model_fields)
        unknown = [key for key in document.data if key not in self.keys]
        self.complaints = [unknown_key((key,), self.keys) for key in unknown]
        self.defaults: list[str] = []
        self.own = read_catalogue(document, folder)
        self.complaints += self.own.complaints
        currency = currency_in(document.data)
        self.context = Context(_ANY_WAVELENGTH, folder, currency, self.own.parts)

    def parts(self) -> Parts:
        """Every section as its frozen record; ``None`` where it is wrong or absent."""
        found: dict[str, Any] = {}
        for key in dict.fromkeys((*_FIRST, *self.keys)):
            if key in _APART:
                continue
            found[key] = self._top(key)
            if key == "frequency" and found[key] is not None:
                wavelength = SPEED_OF_LIGHT / found[key]
                self.context = replace(self.context, wavelength=wavelength)
            if key == "cable" and found[key] is not None:
                jacket = found[key].type.jacket_diameter
                self.context = replace(self.context, jacket_diameter=jacket)
        sections = {key: found[key] and found[key].record() for key in registered()}
        antenna, cable = found["antenna"], sections["cable"]
        self._state_defaults(found, cable)
        drawn = None if antenna is None else antenna.record()
        return Parts(
            given=frozenset(self.document.data),
            sections=sections,
            title=found["title"],
            frequency=found["frequency"],
            power=found["power"],
            duty=found["duty"],
            antenna=drawn,
            pipe=None if antenna is None else antenna.pipe,
            problems=() if antenna is None else antenna.problems(),
            chokes=self._chokes(cable, drawn),
            line_prices=found["line_prices"] or (),
            own=self.own.parts,
            lost_route=any(c.at[:2] == ("cable", "route") for c in self.complaints),
        )

    def _state_defaults(self, found: dict[str, Any], cable: Cable | None) -> None:
        """Name the values left out, those of a bond only if the route has one."""
        given = self.document.data
        if "title" not in given:
            self.defaults.append("title: the name of the file")
        if "power" not in given:
            self.defaults.append(f"power: {A_POWER.show(found['power'])}")
        if "duty" not in given:
            self.defaults.append(
                f"duty: {found['duty']:g} (a full carrier, on the air half of the time)"
            )
        has_bond = cable is not None and any(step.go == "bond" for step in cable.route)
        for key, entry in registered().items():
            if entry.states_defaults and found[key] is not None and (key != "bond" or has_bond):
                self.defaults += found[key].stated_defaults(f"{key}.")

    def _top(self, key: str) -> Any:
        """Value of one top-level key, its default if it is absent, ``None`` if it is wrong."""
        info = file_section().model_fields[key]
        if key not in self.document.data:
            if info.is_required():
                example = file_section().examples().get(key, "")
                self.complaints.append(missing_key((key,), example))
                return None
            return info.get_default(call_default_factory=True)
        raw = {key: self.document.data[key]}
        section, records = validate(only(key), raw, self.context)
        self._complain(records, (), 0)
        if records:
            section = validate_rest(only(key), raw, records, self.context)
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
            self.complaints.append(FieldError(rule, remedy, "value-kind", ("chokes",)))
            return Candidates((), (None,))
        sound: list[tuple[int, Choke]] = []
        partly: list[tuple[int, Choke]] = []
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
            self.defaults += entry.choke.stated_defaults(f"chokes.{entry.choke.id}.")
            sound += [(index, choke) for choke in entry.choke.records(main, place)]
        return Candidates(tuple(sound), tuple(unread), tuple(partly))

    def _complain(self, records: list[dict[str, Any]], at: KeyPath, skip: int) -> None:
        """Keep records as complaints; the first `skip` steps of a path are not in the file."""
        for record in records:
            path: KeyPath = (*at, *record["loc"][skip:])
            section = section_at(file_section(), path[:-1], self.document.data)
            keys = section.examples() if section else {}
            self.complaints += record_complaints(record, path, keys, self.document)


def refuse_if_all_are_wrong(paths: Sequence[Path]) -> None:
    """Read studies before what solves and draws is loaded, which takes longer than to read them.

    Where one is sound, the faults of the others wait for those that only a drawing shows.
    """
    faults: list[Fault] = []
    for path in paths:
        try:
            load_study(path)
        except StudyError as error:
            faults += error.faults
        else:
            return
    raise StudyError(*faults)


def of_every_study(paths: Sequence[Path], make: Callable[[Path, Study], T]) -> list[T]:
    """Results of a command for each of its studies, all made before anything is written.

    The faults of all of them are raised together; two of one name would write the same results.
    """
    made: list[T] = []
    owner: dict[str, Path] = {}
    faults: list[Fault] = []
    for path in paths:
        try:
            study = load_study(path)
            if study.name in owner:
                rule = (
                    f"has the same name as {owner[study.name]}; both would write the same results"
                )
                remedy = "rename one of the two files"
                raise StudyError(Fault(str(path), "", rule, remedy, "study-twice"))
            owner[study.name] = path
            with lengths_in(study.lengths):
                made.append(make(path, study))
        except StudyError as error:
            faults += error.faults
    if faults:
        raise StudyError(*faults)
    return made
