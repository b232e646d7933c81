"""The folder of an article and its archive: put together beside its place, then moved into it.

Study files and their results folders in; the folder, an archive of it and the hash of its data out.
An article is there whole or not at all: an earlier one stays until the new one is finished.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from models.lengths import lengths_in
from pipeline.answer.grounds import CANDIDATES, CORES
from pipeline.answer.stored_summary import read_summary
from pipeline.article import FOLDER, crate, digests, environment, methods
from pipeline.article.claims import claim_rows, claims_markdown
from pipeline.article.drawn import figures_in_print
from pipeline.article.markup import markdown
from pipeline.article.printed_tables import Printed, compared, parts, printed_tables
from pipeline.construction.cut_text import CAUTIONS
from pipeline.figures.in_print import COLUMNS_MM
from pipeline.figures.in_print import Printed as Drawn
from pipeline.report.side_by_side import entries_of, rows_of
from pipeline.runtime.csv_tables import write_table
from pipeline.runtime.store import (
    content_of,
    reading,
    unwritable,
    whole_file,
    write_json,
    write_text,
)
from pipeline.study.reader import load_study
from pipeline.study.records import Study
from pipeline.text.errors import Fault, StudyError
from pipeline.text.formatting import megahertz, plain

DIGESTS, CHECKSUMS = "data_digests.txt", "checksums.txt"
# What the hash of the data covers, as a pattern of paths.
_DATA = re.compile(
    rf"(data|decks|studies)/.+|(figures|tables)/(.+/)?(?!({'|'.join(digests.NEAR_FIELDS)})\.)[^/]+\.csv"
)
# More letters no name of a folder should have; what is longer ends with a digest.
_LONGEST_NAME = 80


@dataclass(frozen=True)
class Source:
    """A study of an article: its name, its file, and the folder with its results."""

    name: str
    path: Path
    results: Path

    @cached_property
    def study(self) -> Study:
        """The study itself."""
        return load_study(self.path)

    @cached_property
    def summary(self) -> dict[str, Any]:
        """Its summary."""
        return read_summary(self.results)

    @cached_property
    def parts(self) -> Printed | str:
        """Table of its parts, or why its antenna cannot be cut from pipe as it is."""
        try:
            return parts(self.summary, self.study)
        except StudyError as error:
            first = error.faults[0]
            return plain(f"{first.value} {first.rule}")

    @cached_property
    def files(self) -> dict[str, Path]:
        """Its file and those that it names, by their names in one folder."""
        beside = self.path.resolve().parent
        # Its own name is one that results can have; how its file ends may be anything.
        return {name: beside / name for name in self.study.files} | {f"{self.name}.yaml": self.path}


@dataclass(frozen=True)
class Made:
    """A finished article: its folder, its archive, the hash of its data."""

    folder: Path
    archive: Path
    data_hash: str


def article_name(names: Sequence[str]) -> str:
    """Name of the article on some studies: theirs in alphabetical order.

    Examples
    --------
    >>> article_name(["roof_mast", "minimal"]), article_name(["minimal"])
    ('minimal+roof_mast', 'minimal')
    """
    ordered = sorted(names)
    whole = "+".join(ordered)
    if len(whole) <= _LONGEST_NAME:
        return whole
    return f"{ordered[0]}+{len(ordered) - 1}-more-{hashlib.sha256(whole.encode()).hexdigest()[:8]}"


def moment(studies: Sequence[Source]) -> int:
    """Moment that an article is dated with: what the builder's environment says, else its studies.

    Seconds since 1970; ``SOURCE_DATE_EPOCH`` as builds that can be repeated have it, else when
    the newest of the study files was changed.

    Raises
    ------
    StudyError
        If what the environment says is no such number.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH")
    if given is None:
        return max(int(p.stat().st_mtime) for s in studies for p in s.files.values())
    if not re.fullmatch(r"[0-9]{1,11}", given):
        rule = "is no number of seconds since 1970"
        fault = Fault("SOURCE_DATE_EPOCH", given, rule, "SOURCE_DATE_EPOCH=1760000000", "date")
        raise StudyError(fault)
    return int(given)


def write_article(
    studies: Sequence[Source], results: Path, cores: int, with_claims: bool = False
) -> Made:
    """Write the article on studies whose results are there, and its archive.

    ``with_claims``: also for each sentence of the answers what it rests on.

    Raises
    ------
    ResultError
        If a file of the results is missing or damaged, or the place cannot be written to.
    """
    ordered = sorted(studies, key=lambda source: source.name)
    name, place = article_name([s.name for s in ordered]), results / FOLDER
    with _moved_into(place, name) as folder:
        for source in ordered:
            with lengths_in(source.study.lengths):
                _write_study(source, folder)
        drawn = {s.name: _draw(s, place, folder, cores) for s in ordered}
        write_text(folder / "captions.md", _captions(ordered, drawn))
        _write_words(ordered, folder)
        if with_claims:
            rows = [row for s in ordered for row in claim_rows(s.results, s.name)]
            write_table(folder / "claims.csv", rows)
            write_text(folder / "claims.md", claims_markdown(rows))
        _write_environment(folder)
        data_hash = _write_books(ordered, folder, name, moment(ordered))
    archive = place / f"{name}.zip"
    _write_archive(place / name, archive)
    return Made(place / name, archive, data_hash)


@contextmanager
def _moved_into(place: Path, name: str) -> Iterator[Path]:
    """A new folder, moved into its place when all of it is there."""
    try:
        place.mkdir(parents=True, exist_ok=True)
        # Left by a run that was killed; only one runs at a time.
        for left in (*place.glob(f".{name}.part-*"), *place.glob(f".{name}.old")):
            shutil.rmtree(left)
        folder = Path(tempfile.mkdtemp(prefix=f".{name}.part-", dir=place))
    except OSError as error:
        raise unwritable(place, error) from error
    try:
        yield folder
        folder.chmod(0o777 & ~_mask())
        old = place / f".{name}.old"
        if (place / name).exists():
            (place / name).replace(old)
        folder.replace(place / name)
        shutil.rmtree(old, ignore_errors=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


# What is of one study


def _write_study(source: Source, folder: Path) -> None:
    """Tables, decks, data and study files of one study."""
    for name, path in source.files.items():
        _copy(path, folder / "studies" / source.name / name)
    data = folder / "data" / source.name
    _copy(source.results / "summary.json", data / "summary.json")
    _copy(source.results / f"{source.name}.nc", data / f"{source.name}.nc")
    for kind, target in (("decks", folder / "decks" / source.name), ("touchstone", data)):
        for path in sorted((source.results / kind).iterdir()):
            if not path.name.startswith("."):
                _copy(path, target / path.name)
    for file in (CANDIDATES, CORES):
        # What sentences rest on that the summary has no place for.
        _copy(source.results / file, data / file)
    tables = printed_tables(source.summary)
    if isinstance(source.parts, Printed):
        tables.append(source.parts)
    for table in tables:
        table.write(folder / "tables" / source.name, source.name)


def _copy(source: Path, target: Path) -> None:
    content = reading(source, lambda: content_of(source))
    with whole_file(target) as temporary:
        temporary.write_bytes(content)


def _draw(source: Source, place: Path, folder: Path, cores: int) -> list[Drawn]:
    with lengths_in(source.study.lengths):
        own = folder / "figures" / source.name
        return figures_in_print(source.results, place, own, cores)


def _captions(sources: Sequence[Source], drawn: Mapping[str, list[Drawn]]) -> str:
    """What each figure finds, its caption and files; what is true of most is said once."""
    columns = ", ".join(f"`-{name}` ({mm:g} mm)" for name, mm in COLUMNS_MM.items())
    said = ["# Figures\n", f"Each as `.svg`, `.pdf` and `.png` in two widths: {columns}.\n"]
    for source in sources:
        study = source.summary["study"]
        said.append(f"## {markdown(study['title'])}, {megahertz(study['frequency_hz'])}\n")
        counted = Counter(one.evidence for one in drawn[source.name] if one.evidence)
        usual = max(counted, key=lambda evidence: counted[evidence], default="")
        if usual:
            said.append(f"Where nothing else is said: {markdown(usual)}\n")
        for one in drawn[source.name]:
            own = "" if one.evidence in ("", usual) else f" {markdown(one.evidence)}"
            told = f"**{markdown(one.finding)}.** {markdown(one.caption)}{own}"
            said.append(f"{told}\n\n`{one.name}-…`, data `{one.data.name}`\n")
    return "\n".join(said)


# What is of all


def _write_words(sources: Sequence[Source], folder: Path) -> None:
    """Methods and their sources; the studies side by side where there are several."""
    summaries = [s.summary for s in sources]
    write_text(folder / "methods.md", methods.methods_markdown(summaries))
    write_text(folder / "methods.tex", methods.methods_latex(summaries))
    write_text(folder / "references.bib", methods.references())
    if len(sources) > 1:
        rows = rows_of(entries_of([s.results for s in sources]))
        compared(rows).write(folder / "tables", "all")


def _write_environment(folder: Path) -> None:
    own = folder / "environment"
    write_text(own / "requirements.txt", environment.requirements())
    write_text(own / "constraints.txt", environment.constraints())
    write_text(own / "python.txt", environment.python_version())
    with whole_file(own / environment.wheel_name()) as temporary:
        temporary.write_bytes(environment.wheel())


def _write_books(sources: Sequence[Source], folder: Path, name: str, epoch: int) -> str:
    """Digests, the script and page on how to make it again, metadata, checksums; the data hash."""
    data = [path for path in _files(folder) if _DATA.fullmatch(path)]
    write_text(folder / DIGESTS, digests.data_digests(folder, data))
    data_hash = hashlib.sha256((folder / DIGESTS).read_bytes()).hexdigest()
    context = _context(sources, name, epoch, data_hash)
    context["claims"] = (folder / "claims.csv").exists()
    for target in ("README.md", "rebuild.sh"):
        write_text(folder / target, _template(f"{target}.j2", context))
    (folder / "rebuild.sh").chmod(0o777 & ~_mask())
    sizes: dict[str, int | None] = {p: (folder / p).stat().st_size for p in _files(folder)}
    # Its size follows from what it does not have yet: the checksum of the metadata.
    sizes[CHECKSUMS] = None
    described = crate.Described(
        title=context["title"],
        summary=sources[0].summary["answer"]["headline"],
        date=datetime.fromtimestamp(epoch, UTC).strftime("%Y-%m-%d"),
        files=sizes,
        studies=context["studies"],
        versions=sources[0].summary["versions"],
        data_hash=data_hash,
    )
    write_json(folder / crate.NAME, crate.crate(described))
    write_text(folder / CHECKSUMS, digests.checksums(folder, _files(folder)))
    return data_hash


def _context(sources: Sequence[Source], name: str, epoch: int, data_hash: str) -> dict[str, Any]:
    """What the templates tell."""
    versions = sources[0].summary["versions"]
    return {
        "title": "; ".join(plain(s.summary["study"]["title"]) for s in sources),
        "name": name,
        "folder": FOLDER,
        "studies": [f"studies/{s.name}/{s.name}.yaml" for s in sources],
        "epoch": epoch,
        "wheel": environment.wheel_name(),
        "digests": DIGESTS,
        "digits": digests.DIGITS,
        "data_hash": data_hash,
        "version": versions["braidwise"],
        "python": versions["python"],
        "left_out": [(s.name, s.parts) for s in sources if isinstance(s.parts, str)],
        "cautions": CAUTIONS,
    }


def _template(name: str, context: Mapping[str, Any]) -> str:
    loader = PackageLoader("pipeline.article", "templates")
    pages = Environment(
        loader=loader,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        # Text of a study is escaped for Markdown; nothing here is HTML.
        autoescape=False,
    )
    pages.filters["markdown"] = markdown
    return pages.get_template(name).render(context)


def _files(folder: Path) -> list[str]:
    """Paths of all files of a folder, in order."""
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def _write_archive(folder: Path, archive: Path) -> None:
    """The folder as an archive: sorted and of one date, so the same every time."""
    with whole_file(archive) as temporary, zipfile.ZipFile(temporary, "w") as members:
        for path in _files(folder):
            environment.add_member(members, path, (folder / path).read_bytes())
