"""The section ``unknowns`` of a study: ranges and distributions of what nobody knows exactly.

Draws agree with what the study says. A key that is left out gets its typical spread
(typical_unknowns.csv), and the study says so: close around what the study states, as broad as
installations are where it states nothing. ``known`` switches a key off.
"""

from __future__ import annotations

import csv
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
import yaml
from numpy.typing import NDArray

from models.quantities import Key, Quantity
from pipeline.study import fields as kinds
from pipeline.study.faults import nearest
from pipeline.study.fields import Context, FieldKind
from pipeline.study.section import section_of, study_section, words_or
from pipeline.text.refusals import FieldError, each

KNOWN, ANY_CLASS = "known", "any class"
BY_CORE: Literal["by core"] = "by core"
_SCALES = ("linear", "log", "factor")

Shape = Literal["uniform", "log", "factor", "normal", "classes", "by core", "chance"]


@dataclass(frozen=True)
class Distribution:
    """Distribution of a value in its SI unit.

    ``low`` and ``high`` are the ends of a uniform or log-uniform one, those of a log-uniform
    "factor" on what the study states, mean and standard deviation of a normal one; "classes" is
    any class of the catalogue, "by core" what each core's print or class allows, "chance" something
    that is so with the probability ``low``.
    ``around`` says that it is added to what the study states. Values never leave ``least`` to
    ``most``.
    """

    shape: Shape
    low: float = 0.0
    high: float = 0.0
    around: bool = False
    least: float = float("-inf")
    most: float = float("inf")

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of its range, of a normal one two deviations from the mean."""
        if self.shape == "normal":
            return self.low - 2 * self.high, self.low + 2 * self.high
        return self.low, self.high


def quantile(spread: Distribution, u: NDArray[np.float64], nominal: float) -> NDArray[np.float64]:
    """Values of a distribution at probabilities ``u`` (n,), cut off at its limits, in its unit.

    ``nominal`` is what the study states; only a distribution around it, or a factor on it, looks
    at it. Of classes, of what scatters by core and of chances ``u`` itself is handed back.
    Definition: the inverse of the cumulative distribution.

    Examples
    --------
    >>> quantile(Distribution("log", 1.0, 100.0), np.array([0.5]), 0.0).round(9).tolist()
    [10.0]
    """
    # Names of unknowns are read by those who draw nothing: they load no SciPy.
    from scipy.special import ndtri

    low, high = spread.low, spread.high
    match spread.shape:
        case "log":
            values = low * (high / low) ** u
        case "factor":
            values = nominal * low * (high / low) ** u
        case "normal":
            values = low + high * ndtri(u)
            if spread.around:
                values = values + nominal
        case "uniform":
            values = low + (high - low) * u + (nominal if spread.around else 0.0)
        case _:
            return np.asarray(u)
    return np.asarray(np.clip(values, spread.least, spread.most))


@dataclass(frozen=True)
class Part:
    """One of several alike: a step of the route by its number from 1, a length by its name."""

    of: str
    spread: Distribution


@dataclass(frozen=True)
class _Varied:
    """A quantity that may be spread, how a study would write its spread, and its own limits.

    ``around`` is the largest amount that it may be off from what the study states, 0 where a
    plain amount means nothing.
    """

    value: Quantity
    example: str
    around: float = 0.0
    may_be_negative: bool = False

    def off(self) -> Quantity:
        """The amount by which it may be off."""
        v = self.value
        return Quantity(v.unit, 0.0, self.around, f"how far off is {v.meaning}", self.example)


def _typed(raw: dict[str, Any], context: Context, **quantities: Quantity) -> list[float]:
    """The numbers of a spread by their keys; a key that Python reserves has a line behind it."""
    named = {key.removesuffix("_"): kinds.quantity(q) for key, q in quantities.items()}
    return each((key, partial(kind.read, raw[key], context)) for key, kind in named.items())


def _read_spread(raw: Any, varied: _Varied, context: Context) -> Distribution | None:
    """Spread of one quantity from what the file says; ``None`` if it is known."""
    if raw == KNOWN:
        return None
    q = varied.value
    if not isinstance(raw, dict):
        if not varied.around:
            raise FieldError("is no range", f"{varied.example}  or  {KNOWN}", "spread-form")
        off = float(kinds.quantity(varied.off()).read(raw, context))
        return Distribution("uniform", -off, off, True, q.low, q.high)
    keys = set(raw)
    if keys - {"scale"} == {"from", "to"}:
        return _read_range(raw, varied, context)
    if keys == {"mean", "deviation"}:
        wide = replace(varied.off(), high=q.high - q.low)
        mean, deviation = _typed(raw, context, mean=q, deviation=wide)
        return Distribution("normal", mean, deviation, False, q.low, q.high)
    if keys == {"deviation"} and varied.around:
        (deviation,) = _typed(raw, context, deviation=varied.off())
        return Distribution("normal", 0.0, deviation, True, q.low, q.high)
    for key in sorted(keys - {"from", "to", "scale", "mean", "deviation"}):
        near = nearest(key, ("from", "to", "scale", "mean", "deviation"))
        remedy = f"{near}:" if near else "from and to, or mean and deviation"
        raise FieldError("is not a key that is known here", remedy, "key-unknown", (key,))
    rule = "is neither a range (from, to) nor a mean with a deviation"
    raise FieldError(rule, varied.example, "spread-form")


def _read_range(raw: dict[str, Any], varied: _Varied, context: Context) -> Distribution:
    scale = raw.get("scale", "linear")
    if scale not in _SCALES:
        near = nearest(str(scale), _SCALES) or _SCALES[0]
        raise FieldError("is not one of: linear, log", near, "choice-unknown", ("scale",))
    q = varied.value
    ends = _TIMES if scale == "factor" else q
    if varied.may_be_negative and scale == "linear":
        q = ends = replace(q, low=-q.high)
    low, high = _typed(raw, context, from_=ends, to=ends)
    if not low < high:
        rule = "is not above the lower end of its range"
        raise FieldError(rule, "from: the smaller, to: the larger", "spread-order", ("to",))
    if scale == "log" and low <= 0:
        rule = "is zero, which no logarithmic range can begin with"
        raise FieldError(rule, "from: a small number, or scale: linear", "spread-log", ("from",))
    shape: Shape = "uniform" if scale == "linear" else scale
    return Distribution(shape, low, high, False, q.low, q.high)


def _schema(meaning: str, *kinds_of: str) -> dict[str, Any]:
    """JSON Schema of a spread: its keys; what stands behind them the reader looks at."""
    keys: dict[str, Any] = {key: {} for key in ("from", "to", "mean", "deviation")}
    return {
        "description": f"spread of {meaning}; an amount off, from and to, or mean and deviation",
        "type": ["string", "object", *kinds_of],
        "properties": keys | {"scale": {"enum": list(_SCALES)}},
        "additionalProperties": False,
    }


def spread_of(varied: _Varied) -> FieldKind:
    """Kind of the spread of one quantity."""

    def read(raw: Any, context: Context) -> Distribution | None:
        return _read_spread(raw, varied, context)

    plain = ("number",) if varied.around and varied.value.unit == "1" else ()
    return FieldKind(read, varied.example, _schema(varied.value.meaning, *plain))


def spread_of_parts(varied: _Varied, name: str, whole: bool) -> FieldKind:
    """Kind of the spread of several lengths alike: one for all, or a list that names them.

    ``name`` is the key that says which one an entry is about, a number if ``whole``.
    """

    def read(raw: Any, context: Context) -> tuple[Part, ...]:
        if not isinstance(raw, list):
            spread = _read_spread(raw, varied, context)
            return () if spread is None else (Part("", spread),)
        return tuple(each((k, partial(part, entry, context)) for k, entry in enumerate(raw)))

    def part(entry: Any, context: Context) -> Part:
        example = f"- {{{name}: {2 if whole else 'tap'}, off: {varied.example}}}"
        if not isinstance(entry, dict) or name not in entry:
            raise FieldError(f"does not say which {name} it is about", example, "spread-form")
        of, rest = entry[name], {k: v for k, v in entry.items() if k != name}
        if whole and (isinstance(of, bool) or not isinstance(of, int) or of < 1):
            rule = f"is not the number of a {name}, counted from 1"
            raise FieldError(rule, f"{name}: 2", "spread-which", (name,))
        raw = rest["off"] if set(rest) == {"off"} else rest
        spread = _read_spread(raw, varied, context)
        if spread is None:
            raise FieldError("is known", "leave the entry out", "spread-form", ("off",))
        return Part(str(of), spread)

    schema = _schema(varied.value.meaning, "array")
    schema["items"] = {"type": "object", "required": [name]}
    return FieldKind(read, varied.example, schema)


_TIMES = Quantity("1", 0.01, 100.0, "the factor on what the study states", "0.5")
_STEP = Quantity("m", 0.02, 100.0, "the steps of the route", "0.1 m")
_LENGTH = Quantity("m", 1e-3, 20.0, "the antenna's lengths as cut", "1 mm")
_HEIGHT = Quantity("m", 0.3, 200.0, "the height above ground", "0.3 m")
_EPS = Quantity("1", 1.0, 100.0, "the soil's permittivity", "13")
_SIGMA = Quantity("S/m", 1e-6, 10.0, "the soil's conductivity", "5 mS/m")
_OHM = Quantity("ohm", 0.0, kinds.HIGHEST_IMPEDANCE, "the impedance", "40 ohm")
_EXTRA = Quantity("m", 0.0, 10.0, "the length of bond lead beyond straight down", "0.5 m")
_LEAD = Quantity("m", 0.1, 20.0, "the radio's power lead", "1.5 m")
_FACTOR = Quantity("1", 0.1, 3.0, "the factor on the ferrite's impedance", "1.0")
_SLEEVE = Quantity("1", 0.8, 1.2, "the factor on a sleeve's length", "1.0")
_CENTRE = Quantity(
    "1", 0.0, 0.95, "how far a cable lies out of its sleeve's middle, 1 at its wall", "0.3"
)
_PITCH = Quantity("1", 0.5, 3.0, "the factor on a coil's pitch", "1.0")
_JACKET = Quantity("1", 1.0, 8.0, "the permittivity of the jacket", "2.3")


def _read_ferrite(raw: Any, context: Context) -> Distribution | None:
    varied = _Varied(_FACTOR, "{from: 0.7, to: 1.3}")
    return Distribution(BY_CORE) if raw == BY_CORE else _read_spread(raw, varied, context)


_OHMS = "{from: 10 ohm, to: 200 ohm, scale: log}"
_SPREAD_ROUTE = spread_of_parts(_Varied(_STEP, "0.1 m", 20.0), "step", whole=True)
_SPREAD_ANTENNA = spread_of_parts(_Varied(_LENGTH, "1 mm", 0.05), "length", whole=False)
_SPREAD_HEIGHT = spread_of(_Varied(_HEIGHT, "0.3 m", 20.0))
_SPREAD_EPS = spread_of(_Varied(_EPS, "{from: 5, to: 20}", 50.0))
_SPREAD_SIGMA = spread_of(_Varied(_SIGMA, "{from: 1 mS/m, to: 30 mS/m, scale: log}", 1.0))
_SPREAD_OHM = spread_of(_Varied(_OHM, _OHMS))
_SPREAD_REACTANCE = spread_of(_Varied(_OHM, _OHMS, may_be_negative=True))
_SPREAD_EXTRA = spread_of(_Varied(_EXTRA, "{from: 0 m, to: 0.5 m}"))
_SPREAD_LEAD = spread_of(_Varied(_LEAD, "{from: 0.5 m, to: 3 m}", 10.0))
_SPREAD_FACTOR = spread_of(_Varied(_FACTOR, "{from: 0.7, to: 1.3}"))
_SPREAD_FERRITE = FieldKind(_read_ferrite, BY_CORE, _schema(_FACTOR.meaning))
_SPREAD_JACKET = spread_of(_Varied(_JACKET, "{from: 2.2, to: 3.5}", 3.0))
_SPREAD_SLEEVE = spread_of(_Varied(_SLEEVE, "{from: 0.99, to: 1.01}"))
_SPREAD_CENTRE = spread_of(_Varied(_CENTRE, "{from: 0, to: 0.5}"))
_SPREAD_PITCH = spread_of(_Varied(_PITCH, "{from: 1.0, to: 1.5}"))
_CHANCE = Quantity("1", 0.0, 1.0, "probability that the radio's case touches nothing", "0.2")


@dataclass(frozen=True)
class SpreadSoil:
    """Soil by its two constants."""

    permittivity: Annotated[Distribution | None, _SPREAD_EPS] = None
    conductivity: Annotated[Distribution | None, _SPREAD_SIGMA] = None
    # Any class of the catalogue.
    classes: Distribution | None = None


@dataclass(frozen=True)
class SpreadStation:
    """What the radio's case is bonded to.

    A reactance on a logarithmic scale is a coil or a capacitor with equal chances.
    """

    resistance: Annotated[Distribution | None, _SPREAD_OHM] = None
    reactance: Annotated[Distribution | None, _SPREAD_REACTANCE] = None
    floating: Annotated[float, _CHANCE] = 0.0


def _read_soil(raw: Any, context: Context) -> SpreadSoil:
    del context
    if raw == KNOWN:
        return SpreadSoil()
    if raw == ANY_CLASS:
        return SpreadSoil(classes=Distribution("classes"))
    rule = "is neither any class nor a spread of permittivity and conductivity"
    raise FieldError(rule, ANY_CLASS, "spread-form")


def _read_station(raw: Any, context: Context) -> SpreadStation:
    del context
    if raw == KNOWN:
        return SpreadStation()
    rule = "is not a set of keys and values"
    remedy = "resistance, reactance and floating below it, or known"
    raise FieldError(rule, remedy, "value-kind")


_SOIL = words_or(SpreadSoil, FieldKind(_read_soil, ANY_CLASS, {"enum": [ANY_CLASS, KNOWN]}))
_STATION = words_or(SpreadStation, FieldKind(_read_station, KNOWN, {"const": KNOWN}))


@study_section("unknowns", states_defaults=False)
@dataclass(frozen=True)
class Unknowns:
    """What nobody knows exactly: a choke is enough if it is for nearly all of that."""

    # None or empty: known exactly. A part is a step or a length by its name, "" all of them.
    route: Annotated[tuple[Part, ...], _SPREAD_ROUTE] = ()
    height: Annotated[Distribution | None, _SPREAD_HEIGHT] = None
    ground: Annotated[SpreadSoil, _SOIL, Key("soil")] = SpreadSoil()
    rod: Annotated[Distribution | None, _SPREAD_OHM] = None
    bond_lead: Annotated[Distribution | None, _SPREAD_EXTRA] = None
    radio: Annotated[SpreadStation, _STATION, Key("station")] = SpreadStation()
    lead: Annotated[Distribution | None, _SPREAD_LEAD] = None
    ferrite: Annotated[Distribution | None, _SPREAD_FERRITE] = None
    temperature: Annotated[Distribution | None, _SPREAD_FACTOR] = None
    antenna: Annotated[tuple[Part, ...], _SPREAD_ANTENNA] = ()
    jacket: Annotated[Distribution | None, _SPREAD_JACKET] = None
    sleeve: Annotated[Distribution | None, _SPREAD_SLEEVE] = None
    sleeve_centre: Annotated[Distribution | None, _SPREAD_CENTRE] = None
    coil_pitch: Annotated[Distribution | None, _SPREAD_PITCH] = None
    geometries: Annotated[int, Quantity("1", 8, 256, "geometries to solve", "24")] = 24
    draws: Annotated[int, Quantity("1", 16, 4096, "draws on each geometry", "256")] = 256
    seed: Annotated[int, Quantity("1", 0, 2**31 - 1, "start of the random numbers", "1")] = 1
    # Keys of the file, and a sentence for each left out on what it was taken to be.
    given: frozenset[str] = frozenset()
    defaults: tuple[str, ...] = ()

    @property
    def soil(self) -> Distribution | None:
        """Spread over the classes of soil."""
        return self.ground.classes

    @property
    def permittivity(self) -> Distribution | None:
        """Spread of the soil's relative permittivity."""
        return self.ground.permittivity

    @property
    def conductivity(self) -> Distribution | None:
        """Spread of the soil's conductivity. [S/m]"""
        return self.ground.conductivity

    @property
    def resistance(self) -> Distribution | None:
        """Spread of the resistance that the radio's case is bonded by. [ohm]"""
        return self.radio.resistance

    @property
    def reactance(self) -> Distribution | None:
        """Spread of the reactance in series with that. [ohm]"""
        return self.radio.reactance

    @property
    def floating(self) -> float:
        """Probability that the radio's case touches nothing."""
        return self.radio.floating

    def as_read(self, given: frozenset[str], stated: Sequence[str]) -> Unknowns:
        """With the keys that the file has; :meth:`filled` gives the others their spread."""
        del stated
        return replace(self, given=given)

    def filled(self, said: Container[str]) -> Unknowns:
        """With the typical spread of every key that was left out.

        ``said`` are the keys whose quantity the study states elsewhere (:data:`STATED_BY`).
        """
        left_out = {
            key: row
            for (key, when), row in typical().items()
            if key not in self.given and when in ("always", "stated" if key in said else "unsaid")
        }
        sentences = tuple(f"unknowns.{k}: {row.text} ({row.why})" for k, row in left_out.items())
        values = {_FIELDS.get(key, key): row.value for key, row in left_out.items()}
        return replace(self, **values, defaults=sentences)


_FIELDS = {"soil": "ground", "station": "radio"}
# Where a study states the quantity of a key: the section and the key there.
STATED_BY = {
    "soil": ("site", "ground"),
    "rod": ("bond", "rod_impedance"),
    "station": ("station", "impedance"),
    "lead": ("station", "lead"),
}


@dataclass(frozen=True)
class Typical:
    """Typical spread of one key: as a study writes it, as it is read, and the reason."""

    text: str
    value: Any
    why: str


@cache
def typical() -> dict[tuple[str, str], Typical]:
    """Typical spreads by key and by when they hold, from the table beside this file.

    "stated" is for a study that states the quantity, "unsaid" for one that does not, "always" for
    both.
    """
    table = files("pipeline.study.sections") / "typical_unknowns.csv"
    context, found = Context(1.0, Path()), {}
    for row in csv.DictReader(table.read_text(encoding="utf-8").splitlines()):
        key, raw = row["key"], yaml.safe_load(row["typical"])
        kind = section_of(Unknowns).kind_of(_FIELDS.get(key, key))
        if kind is None:
            raise AssertionError(f"typical_unknowns.csv: {key} is no key of a study")
        found[key, row["when"]] = Typical(row["typical"], kind.read(raw, context), row["why"])
    return found
