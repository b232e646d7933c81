"""`braidwise catalogue`: which cables, cores, pipes, mixes and grounds there are, and what fits.

The catalogue, and parts of a study's own, in; one line a part out, first what a study writes for
it.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from models.catalogues.parts import (
    CoaxClass,
    FerriteCore,
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
from models.lengths import METRE_PER_INCH
from models.quantities import Quantity
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

KINDS = ("cables", "cores", "pipes", "mixes", "grounds")
# Bands that loss and impedance are listed for [Hz].
SHOWN_HZ = (50e6, 145e6, 435e6)
_DIAMETER = kinds.quantity(Quantity("m", 5e-4, 0.2, "diameter of a cable", "10.3 mm"))

Part = CoaxClass | FerriteCore | Pipe


@dataclass(frozen=True)
class Fit:
    """What has to go over or under: a jacket [m], or the core or pipe that cables go through."""

    name: str
    jacket_diameter: float | None = None
    over: FerriteCore | Pipe | None = None

    @property
    def listed(self) -> tuple[str, ...]:
        """Kinds that it can be asked for."""
        return ("cores", "pipes") if self.over is None else ("cables",)

    def takes(self, part: Part) -> bool:
        """Whether a part goes over the jacket, or a cable goes under the part."""
        if isinstance(part, CoaxClass):
            return self.over is not None and _through(part.jacket_diameter, self.over)
        return self.jacket_diameter is not None and _through(self.jacket_diameter, part)


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
    wanted = (kind,) if kind else KINDS if fit is None else fit.listed
    if fit is not None and kind is not None and kind not in fit.listed:
        raise StudyError(_meaningless(kind, fit))
    return "\n\n".join(_list_of(name, fit, own) for name in wanted)


def own_parts(path: Path) -> OwnParts:
    """Parts that a study brings along; the rest of it is not looked at.

    Raises
    ------
    StudyError
        With every fault of its section ``catalogue``.
    """
    document = read_yaml(path)
    found = read_catalogue(document, path.parent)
    if found.complaints or document.faults:
        told = (to_fault(complaint, document) for complaint in found.complaints)
        raise StudyError(*document.faults, *told)
    return found.parts


def read_fit(given: str, own: OwnParts) -> Fit:
    """What a diameter, or the name of a cable, core or pipe stands for.

    Raises
    ------
    StudyError
        If it is none of them.
    """
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
            return Fit(f"{part.name} ({thick})", part.jacket_diameter)
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
    if kind not in ("cables", "cores", "pipes"):
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
    if kind in _OTHERS:
        head, rows = _OTHERS[kind]()
        return _table(kind.capitalize(), head, rows)
    every, head, cells = _parts_of(kind, own)
    shipped = _parts_of(kind, NO_PARTS)[0]
    chosen = [p for p in every if fit is None or fit.takes(p)]
    title = (kind.capitalize() if fit is None else _title(kind, fit)) + _MORE[kind]
    if not chosen:
        return f"{title}\nNothing in the catalogue does."
    rows = [[*cells(p), p.confidence if p in shipped else "own"] for p in chosen]
    return _table(title, (*head, "known from"), rows)


def _parts_of(
    kind: str, own: OwnParts
) -> tuple[Sequence[Part], Sequence[str], Callable[[Part], list[str]]]:
    """Parts of a kind, the heads of their columns, and how a part fills them."""
    if kind == "cables":
        return every_cable(own), _CABLE_HEAD, _cable_cells
    if kind == "cores":
        return sorted(every_core(own), key=_core_order), _CORE_HEAD, _core_cells
    return every_pipe(own), _PIPE_HEAD, _pipe_cells


def _title(kind: str, fit: Fit) -> str:
    if fit.over is not None:
        return f"Cables that go through {fit.name}"
    return f"{kind.capitalize()} that {fit.name} goes through"


def _table(title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Columns as wide as what stands in them, numbers to the right."""
    cells = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[k]) for row in cells) for k in range(len(head))]
    lines = []
    for row in cells:
        padded = [
            cell.ljust(width) if k == 0 or k == len(head) - 1 else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(padded).rstrip())
    return "\n".join([title, *lines])


def _millimetres(length: float) -> str:
    return f"{1e3 * length:.4g}"


_BANDS = " / ".join(f"{f / 1e6:g}" for f in SHOWN_HZ) + " MHz"
_MORE = {
    "cables": f"; loss at {_BANDS}, power all the time at {SHOWN_HZ[1] / 1e6:g} MHz",
    "cores": f"; one pass through one core at {_BANDS}",
    "pipes": "",
}
_CABLE_HEAD = ("name", "ohm", "velocity", "jacket mm", "dB/100 m", "W")
_CORE_HEAD = ("id", "shape", "hole mm", "size mm", "ohm")
_PIPE_HEAD = ("name", "outside mm", "outside in", "bore mm", "standard")


def _cable_cells(part: Part) -> list[str]:
    from pipeline.analysis.line_choice import average_power
    from pipeline.circuit.line import matched_loss_db

    assert isinstance(part, CoaxClass)
    loss = (100 * float(matched_loss_db(f, part.k1, part.k2)) for f in SHOWN_HZ)
    power = average_power(part, SHOWN_HZ[1], 1.0)
    return [
        part.name,
        f"{part.z0:g}",
        f"{part.velocity_factor:g}",
        _millimetres(part.jacket_diameter),
        " / ".join(fixed(value, 1) for value in loss),
        "unknown" if power is None else f"{float(f'{power:.2g}'):.0f}",
    ]


def _core_cells(part: Part) -> list[str]:
    from pipeline.circuit.choke_materials import one_pass

    assert isinstance(part, FerriteCore)
    z = (one_pass(part, f) for f in SHOWN_HZ)
    return [
        part.id,
        part.shape if part.on_sale else f"{part.shape}, not sold",
        _millimetres(part.hole_diameter),
        "x".join(_millimetres(d) for d in (part.outer_diameter, part.inner_diameter, part.length)),
        " / ".join("no data" if value is None else fixed(abs(value), 0) for value in z),
    ]


def _pipe_cells(part: Part) -> list[str]:
    assert isinstance(part, Pipe)
    inches = f"{part.outside_diameter / METRE_PER_INCH:.3f}"
    outside = _millimetres(part.outside_diameter)
    return [part.name, outside, inches, _millimetres(bore(part)), part.standard]


def _core_order(core: FerriteCore) -> tuple[bool, bool, float, str]:
    return not core.on_sale, not is_split(core), core.hole_diameter, core.id


def _mixes() -> tuple[Sequence[str], list[list[str]]]:
    rows = [
        [m.id, m.name, f"{m.frequency[0] / 1e6:g} to {m.frequency[-1] / 1e6:g}", m.confidence]
        for m in ferrite_materials()
    ]
    return ("id", "name", "data from MHz", "known from"), rows


def _grounds() -> tuple[Sequence[str], list[list[str]]]:
    rows = [[g.id, g.name, f"{g.eps_r:g}", f"{g.sigma:g}", g.confidence] for g in soil_classes()]
    return ("id", "name", "permittivity", "S/m", "known from"), rows


_OTHERS = {"mixes": _mixes, "grounds": _grounds}


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("kind", nargs="?", choices=KINDS, help="which parts (default: all)")
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
