"""`braidwise catalogue`: which cables, cores, pipes, mixes and grounds there are, and what fits.

The catalogue, and parts of a study's own, in; one line a part out, first what a study writes for
it.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from models.catalogues.parts import (
    CoaxClass,
    FerriteCore,
    FerriteMaterial,
    Pipe,
    UnknownName,
    bore,
    coax_class,
    every_cable,
    every_core,
    every_pipe,
    ferrite_core,
    ferrite_materials,
    goes_into,
    is_split,
    pipe,
    soil_classes,
    takes_cable,
)
from models.catalogues.records import NO_PARTS, OwnParts
from models.catalogues.records import SoilClass as SoilClass
from models.lengths import METRE_PER_INCH
from models.quantities import Quantity
from models.wires.sleeve_wires import fits as fits_over
from pipeline.commands.command import Command
from pipeline.study import fields as kinds
from pipeline.study.faults import to_fault
from pipeline.study.fields import Context
from pipeline.study.sections.catalogue import read_catalogue
from pipeline.text.errors import Fault, StudyError
from pipeline.text.formatting import fixed
from pipeline.text.refusals import FieldError
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import read_yaml

# Bands that loss and impedance are listed for [Hz].
SHOWN_HZ = (50e6, 145e6, 435e6)
_DIAMETER = kinds.quantity(Quantity("m", 5e-4, 0.2, "diameter of a cable", "10.3 mm"))

Part = CoaxClass | FerriteCore | Pipe


@dataclass(frozen=True)
class Fit:
    """What has to go over or under: a jacket [m], or the core or pipe that cables go through.

    ``shield_diameter`` [m] is known where a cable is named.
    """

    name: str
    jacket_diameter: float | None = None
    over: FerriteCore | Pipe | None = None
    shield_diameter: float | None = None

    @property
    def listed(self) -> tuple[str, ...]:
        """Kinds that it can be asked for."""
        return ("cores", "pipes") if self.over is None else ("cables",)

    def takes(self, part: Part) -> bool:
        """Whether a part goes over the jacket, or a cable goes under the part."""
        if isinstance(part, CoaxClass):
            return self.over is not None and _through(part.jacket_diameter, self.over)
        return self.jacket_diameter is not None and _through(self.jacket_diameter, part)

    def as_sleeve(self, part: Part) -> dict[str, str]:
        """Cell that says whether a pipe can be a sleeve over the cable: its mouth is drawn, too."""
        if self.shield_diameter is None or not isinstance(part, Pipe):
            return {}
        wide = fits_over(part.outside_diameter / 2, self.shield_diameter / 2)
        return {"as a sleeve": "yes" if wide else "too narrow"}


def _through(jacket_diameter: float, part: FerriteCore | Pipe) -> bool:
    if isinstance(part, FerriteCore):
        return takes_cable(part, jacket_diameter)
    return goes_into(jacket_diameter, part)


def listing(kind: str | None, fits: str | None, study: Path | None) -> str:
    """Text of the lists that were asked for; all kinds where none is named.

    ``fits`` is a cable or diameter that cores and pipes go over, or a core or pipe that cables go
    through; own parts of a study are listed too.
    """
    own = NO_PARTS if study is None else own_parts(study)
    fit = None if fits is None else read_fit(fits, own)
    wanted = (kind,) if kind else tuple(LISTINGS) if fit is None else fit.listed
    if fit is not None and kind is not None and kind not in fit.listed:
        raise StudyError(_meaningless(kind, fit))
    return "\n\n".join(_list_of(name, fit, own) for name in wanted)


def own_parts(path: Path) -> OwnParts:
    """Parts that a study brings along; the rest of it is not looked at."""
    document = read_yaml(path)
    found = read_catalogue(document, path.parent)
    if found.complaints or document.faults:
        told = (to_fault(complaint, document) for complaint in found.complaints)
        raise StudyError(*document.faults, *told)
    return found.parts


def read_fit(given: str, own: OwnParts) -> Fit:
    """What a diameter, or the name of a cable, core or pipe stands for."""
    try:
        size = _DIAMETER.read(given, Context(1.0, Path()))
        return Fit(given.strip(), size)
    except FieldError as error:
        if error.tag.endswith("-range"):
            raise StudyError(Fault("--fits", given, error.rule, error.remedy, error.tag)) from error
    finders: tuple[Callable[[str, OwnParts], Part], ...] = (coax_class, ferrite_core, pipe)
    missed: list[UnknownName] = []
    for find in finders:
        try:
            part = find(given, own)
        except UnknownName as error:
            missed.append(error)
            continue
        if isinstance(part, CoaxClass):
            thick = show_quantity(part.jacket_diameter, "m")
            name = f"{part.name} ({thick})"
            return Fit(name, part.jacket_diameter, shield_diameter=part.shield_diameter)
        return Fit(part.name, over=part)
    told = [m for m in missed if m.rule.startswith("means")]
    if told:
        raise StudyError(Fault("--fits", given, told[0].rule, told[0].remedy, "name-ambiguous"))
    near = [m.nearest[0] for m in missed if m.nearest]
    rule = "is no cable, core or pipe of the catalogue, and no diameter"
    remedy = " or ".join((*near, "a diameter such as 10.3 mm"))
    raise StudyError(Fault("--fits", given, rule, remedy, "name-unknown"))


def _meaningless(kind: str, fit: Fit) -> Fault:
    """A question that has no answer, and one that has."""
    if not LISTINGS[kind].has_size:
        rule, remedy = f"cannot choose among {kind}, which have no size", "leave --fits out"
    else:
        what = "cable" if fit.over is None else _noun(fit.over)
        other = "a core or a pipe" if fit.over is None else "a cable or a diameter"
        rule = f"is a {what}, and {kind} do not go over or under one"
        remedy = f"--fits with {other}, or list {' or '.join(fit.listed)}"
    return Fault("--fits", fit.name, rule, remedy, "fits-kind")


def _noun(part: FerriteCore | Pipe) -> str:
    return "core" if isinstance(part, FerriteCore) else "pipe"


def _list_of(kind: str, fit: Fit | None, own: OwnParts) -> str:
    """Heading and lines of one kind."""
    listed = LISTINGS[kind]
    shipped = listed.parts(NO_PARTS)
    chosen = [p for p in listed.parts(own) if fit is None or fit.takes(p)]
    title = (kind.capitalize() if fit is None else _title(kind, fit)) + listed.more
    if not chosen:
        return f"{title}\nNothing in the catalogue does."
    rows = [
        {
            **listed.row(p),
            **({} if fit is None else fit.as_sleeve(p)),
            "known from": p.confidence if p in shipped else "own",
        }
        for p in chosen
    ]
    return _table(title, rows)


def _title(kind: str, fit: Fit) -> str:
    if fit.over is not None:
        return f"Cables that go through {fit.name}"
    return f"{kind.capitalize()} that {fit.name} goes through"


def _table(title: str, rows: Sequence[dict[str, str]]) -> str:
    """Columns as wide as what stands in them, numbers to the right."""
    columns = [[head, *(row[head] for row in rows)] for head in rows[0]]
    padded = []
    for k, column in enumerate(columns):
        width = max(map(len, column))
        to_the_left = k in (0, len(columns) - 1)
        padded.append([c.ljust(width) if to_the_left else c.rjust(width) for c in column])
    return "\n".join([title, *("  ".join(line).rstrip() for line in zip(*padded, strict=True))])


def _millimetres(length: float) -> str:
    return f"{1e3 * length:.4g}"


def _cable(part: CoaxClass) -> dict[str, str]:
    from pipeline.analysis.line_choice import average_power
    from pipeline.circuit.line import matched_loss_db

    loss = (100 * float(matched_loss_db(f, part.k1, part.k2)) for f in SHOWN_HZ)
    power = average_power(part, SHOWN_HZ[1], 1.0)
    return {
        "name": part.name,
        "ohm": f"{part.z0:g}",
        "velocity": f"{part.velocity_factor:g}",
        "jacket mm": _millimetres(part.jacket_diameter),
        "dB/100 m": " / ".join(fixed(value, 1) for value in loss),
        "W": "unknown" if power is None else f"{float(f'{power:.2g}'):.0f}",
    }


def _core(part: FerriteCore) -> dict[str, str]:
    from pipeline.circuit.choke_materials import least_and_most

    size = (part.outer_diameter, part.inner_diameter, part.length)
    ends = (least_and_most(part, f) for f in SHOWN_HZ)
    return {
        "id": part.id,
        "shape": part.shape if part.on_sale else f"{part.shape}, not sold",
        "hole mm": _millimetres(part.hole_diameter),
        "size mm": "x".join(_millimetres(d) for d in size),
        "ohm": " / ".join("no data" if e is None else f"{e[0]:.0f}-{e[1]:.0f}" for e in ends),
    }


def _pipe(part: Pipe) -> dict[str, str]:
    return {
        "name": part.name,
        "outside mm": _millimetres(part.outside_diameter),
        "outside in": f"{part.outside_diameter / METRE_PER_INCH:.3f}",
        "bore mm": _millimetres(bore(part)),
        "standard": part.standard,
    }


def _mix(part: FerriteMaterial) -> dict[str, str]:
    low, high = (part.frequency[k] / 1e6 for k in (0, -1))
    return {"id": part.id, "name": part.name, "data from MHz": f"{low:g} to {high:g}"}


def _ground(part: SoilClass) -> dict[str, str]:
    values = {"permittivity": f"{part.eps_r:g}", "S/m": f"{part.sigma:g}"}
    return {"id": part.id, "name": part.name, **values}


def _cores(own: OwnParts) -> list[FerriteCore]:
    """Those on sale first, of these the ones that open, by their holes."""
    return sorted(
        every_core(own), key=lambda c: (not c.on_sale, not is_split(c), c.hole_diameter, c.id)
    )


@dataclass(frozen=True)
class Listing:
    """A kind of part: all there is of it, a part's cells by the heads of their columns."""

    parts: Callable[[OwnParts], Sequence[Any]]
    row: Callable[[Any], dict[str, str]]
    more: str = ""
    has_size: bool = False


_BANDS = " / ".join(f"{f / 1e6:g}" for f in SHOWN_HZ) + " MHz"
LISTINGS = {
    "cables": Listing(
        every_cable,
        _cable,
        f"; loss at {_BANDS}, power all the time at {SHOWN_HZ[1] / 1e6:g} MHz",
        has_size=True,
    ),
    "cores": Listing(
        _cores, _core, f"; one pass through one core, least to most, at {_BANDS}", has_size=True
    ),
    "pipes": Listing(every_pipe, _pipe, has_size=True),
    "mixes": Listing(lambda own: ferrite_materials(), _mix),
    "grounds": Listing(lambda own: soil_classes(), _ground),
}


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "kind", nargs="?", choices=tuple(LISTINGS), help="which parts (default: all)"
    )
    parser.add_argument(
        "--fits",
        metavar="PART",
        help="a cable or its diameter: what goes over it; a core or pipe: which cables go through",
    )
    parser.add_argument(
        "--study", type=Path, metavar="PATH", help="a study whose own parts are listed too"
    )


def _run(options: Namespace) -> int:
    print(listing(options.kind, options.fits, options.study), flush=True)
    return 0


COMMAND = Command(
    "catalogue",
    "list the cables, cores, pipes, mixes and grounds there are, and what fits",
    _arguments,
    _run,
    "The first column is what a study writes.",
    "braidwise catalogue cores --fits RG-8X",
    order=80,
)
