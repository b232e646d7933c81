"""An article's folder and archive: whole, the same twice, and able to make itself again."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import netcdf_file

from pipeline.article import FOLDER, digests, environment, folder
from pipeline.article.drawn import STORE
from pipeline.article.folder import Made, Source, article_name, moment, write_article
from pipeline.figures.in_print import Printed
from pipeline.text.errors import ResultError, StudyError
from tests.harness.small_study import finished, small_study_file

pytestmark = pytest.mark.takes(10)

TITLE = "A <b>shed</b> | \\input{x} & [link](http://x.example)"


def drawn(results: Path, target: Path, cores: int = 1) -> list[Printed]:
    """One figure in place of all, which have tests of their own."""
    target.mkdir(parents=True, exist_ok=True)
    data = target / "band.csv"
    shutil.copy(results / "tables" / "band.csv", data)
    files = [target / f"band-single.{kind}" for kind in ("svg", "pdf")]
    for path in files:
        path.write_text(f"<svg>{path.suffix}</svg>", encoding="utf-8")
    return [
        Printed("band", "It is *flat*", "A caption_of it.", "Evidence: sound.", tuple(files), data)
    ]


@pytest.fixture(autouse=True)
def dated(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1760000000")
    monkeypatch.setattr("pipeline.article.drawn.draw_for_print", drawn)


@pytest.fixture
def source(tmp_path: Path) -> Source:
    """The small study with its results, both its own copies."""
    shutil.copytree(finished() / "small", tmp_path / "out" / "small")
    return Source("small", small_study_file(tmp_path), tmp_path / "out" / "small")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """An article that no test changes."""
    home = tmp_path_factory.mktemp("article")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1760000000")
        patch.setattr("pipeline.article.drawn.draw_for_print", drawn)
        own = Source("small", small_study_file(home), finished() / "small")
        return write_article([own], home, 1)


def made_of(source: Source) -> Made:
    return write_article([source], source.results.parent, 1)


def contents(of: Path) -> dict[str, bytes]:
    return {p.relative_to(of).as_posix(): p.read_bytes() for p in of.rglob("*") if p.is_file()}


# Laws


def test_two_builds_in_two_places_are_equal_byte_by_byte_the_archive_too(
    made: Made, source: Source
) -> None:
    second = made_of(source)
    assert contents(second.folder) == contents(made.folder)
    assert second.data_hash == made.data_hash
    assert second.archive.read_bytes() == made.archive.read_bytes()
    # Nothing of the work is left beside them but figures for another time.
    assert sorted(p.name for p in second.folder.parent.iterdir()) == [STORE, "small", "small.zip"]


def test_the_archive_is_the_folder(made: Made) -> None:
    with zipfile.ZipFile(made.archive) as archive:
        assert archive.testzip() is None
        assert {n: archive.read(n) for n in archive.namelist()} == contents(made.folder)
        assert archive.namelist() == sorted(archive.namelist())
        assert {entry.date_time for entry in archive.infolist()} == {environment.EARLIEST}


def test_all_that_is_promised_is_there(made: Made) -> None:
    paths = contents(made.folder).keys()
    tables = ("candidates", "cases", "causes", "installation", "parts")
    assert paths >= {
        *("README.md", "captions.md", "methods.md", "methods.tex", "references.bib"),
        *("rebuild.sh", "checksums.txt", "data_digests.txt", "ro-crate-metadata.json"),
        *(f"tables/small/{n}.{kind}" for n in tables for kind in ("csv", "md", "tex")),
        *("data/small/summary.json", "data/small/small.nc", "data/small/none_feed.s1p"),
        *("decks/small/cable.nec", "studies/small/small.yaml", "studies/small/choke.csv"),
        *("figures/small/band.csv", "figures/small/band-single.svg"),
        *(f"environment/{n}.txt" for n in ("requirements", "constraints", "python")),
        f"environment/{environment.wheel_name()}",
    }


def test_figures_are_drawn_again_only_where_something_that_they_follow_from_has_changed(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def counted(results: Path, target: Path, cores: int = 1) -> list[Printed]:
        calls.append(results)
        return drawn(results, target, cores)

    monkeypatch.setattr("pipeline.article.drawn.draw_for_print", counted)
    place = source.results.parent
    first = contents(write_article([source], place, 1).folder)
    assert contents(write_article([source], place, 1).folder) == first
    assert len(calls) == 1
    # What is kept and was changed, and a table that is another, are drawn again.
    (kept,) = (place / "article" / ".drawn").iterdir()
    (kept / "band-single.svg").write_text("half", encoding="utf-8")
    assert contents(write_article([source], place, 1).folder) == first
    with (source.results / "tables" / "noise.csv").open("a", encoding="utf-8") as stream:
        stream.write("\n")
    write_article([source], place, 1)
    assert len(calls) == 3
    assert len(list((place / "article" / ".drawn").iterdir())) == 1


def test_with_claims_there_is_a_table_of_them_and_the_same_data(made: Made, source: Source) -> None:
    found = write_article([source], source.results.parent, 1, with_claims=True)
    assert found.data_hash == made.data_hash
    paths = contents(found.folder)
    assert {"claims.csv", "claims.md", "data/small/tables/candidates.csv"} <= paths.keys()
    assert b"article --claims --results" in paths["rebuild.sh"]
    with (found.folder / "claims.csv").open(encoding="utf-8", newline="") as stream:
        files = {row["file"] for row in csv.DictReader(stream)}
    assert files <= paths.keys()


def test_checksums_are_those_of_an_independent_tool(made: Made) -> None:
    paths = contents(made.folder).keys() - {"checksums.txt"}
    listed = (made.folder / "checksums.txt").read_text(encoding="utf-8").splitlines()
    assert {line.split("  ", 1)[1] for line in listed} == paths
    # GNU coreutils, sha256sum.
    subprocess.run(
        ["sha256sum", "--check", "--quiet", "--strict", "checksums.txt"],
        cwd=made.folder, check=True, capture_output=True,
    )  # fmt: skip
    own = (made.folder / "data_digests.txt").read_bytes()
    assert made.data_hash == hashlib.sha256(own).hexdigest()


def test_no_file_names_a_folder_of_this_machine_or_an_index_of_packages(made: Made) -> None:
    places = (
        str(finished()),
        str(made.folder.parent),
        str(environment.beside_the_package("Snakefile").parent),
    )
    hosts = ("py" + "pi.org", "python" + "hosted.org")
    for path, content in contents(made.folder).items():
        if not path.endswith(".whl"):
            for words in (*places, *hosts):
                assert words.encode() not in content, (path, words)
    with zipfile.ZipFile(made.folder / "environment" / environment.wheel_name()) as wheel:
        for name in wheel.namelist():
            assert not any(words.encode() in wheel.read(name) for words in (*places, *hosts)), name


# Laws: the hash of the data


def noisy(content: bytes, path: str, factor: float) -> bytes:
    """A data file as a machine with other last bits makes it."""
    if path.endswith(".json"):
        return json.dumps(_moved(json.loads(content), factor)).encode()
    if path.endswith(".s1p"):
        return "\n".join(
            " ".join(repr(float(w) * factor) if re.fullmatch(r"-?\d+\.\d+", w) else w for w in
                     line.split()) for line in content.decode().splitlines()
        ).encode()  # fmt: skip
    return content


def _moved(data: Any, factor: float) -> Any:
    if isinstance(data, dict):
        return {key: _moved(value, factor) for key, value in data.items()}
    if isinstance(data, list):
        return [_moved(value, factor) for value in data]
    return data * factor if isinstance(data, float) else data


@pytest.mark.parametrize("path", ["summary.json", "touchstone/none_feed.s1p"])
def test_last_bits_do_not_move_the_digest_and_a_digit_in_print_does(path: str) -> None:
    content = (finished() / "small" / path).read_bytes()
    kept = digests.stable(path, content)
    assert digests.stable(path, noisy(content, path, 1 + 4e-16)) == kept
    assert digests.stable(path, noisy(content, path, 1 + 1e-3)) != kept


def test_last_bits_of_arrays_do_not_move_the_digest_and_what_is_printed_does(
    tmp_path: Path,
) -> None:
    def changed(change: Callable[[Any], Any]) -> bytes:
        target = tmp_path / "changed.nc"
        shutil.copy(finished() / "small" / "small.nc", target)
        with netcdf_file(target, "a", mmap=False) as data:
            gain = data.variables["gain"]
            gain[:] = change(gain[:].copy())
        return digests.stable(target.name, target.read_bytes())

    kept = changed(lambda gain: gain)
    sign = np.random.default_rng(1).choice([-1.0, 1.0])
    assert changed(lambda gain: gain * (1 + sign * 4e-16)) == kept
    assert changed(lambda gain: gain + 1e-3) != kept


def test_versions_and_near_fields_are_not_in_the_digest() -> None:
    data = json.loads((finished() / "small" / "summary.json").read_bytes())
    kept = digests.stable("summary.json", json.dumps(data).encode())
    data["versions"]["numpy"] = "0"
    data["exposure"]["cases"] = []
    data["in_use"]["noise"] = {}
    assert digests.stable("summary.json", json.dumps(data).encode()) == kept
    data["answer"]["headline"] += "!"
    assert digests.stable("summary.json", json.dumps(data).encode()) != kept


# Laws: made again


def test_the_script_runs_from_anywhere_and_says_whether_the_data_are_the_same(
    made: Made, tmp_path: Path
) -> None:
    shutil.copytree(made.folder, tmp_path / "made again")
    own = shutil.copytree(made.folder, tmp_path / "own")
    # A Python whose environments hold a braidwise that copies the article, and a pip that listens.
    shim = tmp_path / "python"
    shim.write_text(
        '#!/bin/sh\nmkdir -p "$3/bin"\n'
        'printf \'#!/bin/sh\\necho "$@" > "%s/pip"\\n\' "$3" > "$3/bin/python"\n'
        'printf \'#!/bin/sh\\necho "$SOURCE_DATE_EPOCH $@" > "%s/said"\\nmkdir -p "$3/article"\\n'
        f'cp -r "{tmp_path}/made again" "$3/article/small"\\n\' "$3" > "$3/bin/braidwise"\n'
        'chmod +x "$3/bin/"*\n',
        encoding="utf-8",
    )
    shim.chmod(0o755)
    work = tmp_path / "work here"

    def ran() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [own / "rebuild.sh", str(work)], cwd=tmp_path, text=True,
            capture_output=True, check=False, env={**os.environ, "PYTHON": str(shim)},
        )  # fmt: skip

    done = ran()
    assert (done.returncode, done.stdout) == (0, f"The same data: {made.data_hash}\n"), done.stderr
    epoch, command, *rest = (work / "venv" / "said").read_text(encoding="utf-8").split()
    assert (epoch, command, rest[0]) == ("1760000000", "article", "--results")
    assert rest[-1].endswith("studies/small/small.yaml")
    pip = (work / "venv" / "pip").read_text(encoding="utf-8")
    assert "environment/requirements.txt" in pip
    assert environment.wheel_name() in pip
    listed = own / "data_digests.txt"
    listed.write_text(listed.read_text(encoding="utf-8").replace("a", "b"), encoding="utf-8")
    done = ran()
    assert done.returncode == 1
    assert "The data differ" in done.stderr
    assert "data/small/summary.json" in done.stdout


def test_the_wheel_holds_the_program_as_it_runs_and_its_record_is_true(tmp_path: Path) -> None:
    # Files and fields of a wheel: PEP 427; the record's digests: urlsafe base64 without padding.
    path = tmp_path / environment.wheel_name()
    path.write_bytes(environment.wheel())
    assert environment.wheel.__wrapped__() == path.read_bytes()
    with zipfile.ZipFile(path) as wheel:
        names = wheel.namelist()
        info = next(n for n in names if n.endswith("/RECORD")).rsplit("/", 1)[0]
        record = list(csv.reader(wheel.read(f"{info}/RECORD").decode().splitlines()))
        assert {row[0] for row in record} == set(names)
        for name, digest, size in record:
            if name != f"{info}/RECORD":
                content = wheel.read(name)
                assert int(size) == len(content)
                assert digest == environment.recorded(content)
        assert (
            "braidwise = pipeline.commands.cli:main"
            in wheel.read(f"{info}/entry_points.txt").decode()
        )
        assert {"pipeline/Snakefile", "pipeline/constraints.txt", "models/__init__.py"} <= set(
            names
        )
        assert "Name: braidwise" in wheel.read(f"{info}/METADATA").decode()
    assert not [n for n in names if "__pycache__" in n or "node_modules" in n]


def test_requirements_are_lines_with_a_version_each_and_nothing_else() -> None:
    lines = environment.requirements().splitlines()
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[^\s/@]+", line) for line in lines)
    assert {"numpy", "PyNEC"} <= {line.split("==")[0] for line in lines}
    assert not any(line.startswith("braidwise==") for line in lines)


# Edges


def test_hostile_text_of_a_study_is_text_everywhere(source: Source) -> None:
    summary = source.results / "summary.json"
    data = json.loads(summary.read_text(encoding="utf-8"))
    data["study"]["title"] = TITLE
    data["answer"]["candidates"][2]["label"] = TITLE
    summary.write_text(json.dumps(data), encoding="utf-8")
    found = contents(made_of(source).folder)
    for path, content in found.items():
        if path.endswith(".md"):
            assert b"<b>" not in content.replace(b"\\<b", b""), path
            assert b"[link](" not in content, path
        if path.endswith(".tex"):
            assert b"\\input" not in content, path
    crate = json.loads(found["ro-crate-metadata.json"])
    assert crate["@graph"][1]["name"] == TITLE
    assert b"input" not in found["rebuild.sh"]


def test_the_articles_name_is_that_of_its_studies_in_any_order_and_never_too_long() -> None:
    assert article_name(["b", "a"]) == article_name(["a", "b"]) == "a+b"
    many = [f"study_number_{k}" for k in range(40)]
    assert len(article_name(many)) < 100
    assert article_name(many) != article_name([*many[1:], "another"])


def test_without_a_date_from_outside_it_is_that_of_the_newest_study_file(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert moment([source]) == 1760000000
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    for seconds, path in enumerate(source.files.values()):
        os.utime(path, (1e9 + seconds, 1e9 + seconds))
    assert moment([source]) == int(1e9) + len(source.files) - 1


def test_a_study_whose_antenna_cannot_be_cut_has_an_article_without_parts(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    fault = folder.Fault("small.yaml", "2 m", "is shorter than a leg", "stock: 3 m", "stock-short")

    def refused(*_: object) -> None:
        raise StudyError(fault)

    monkeypatch.setattr(folder, "parts", refused)
    found = contents(made_of(source).folder)
    assert "tables/small/parts.csv" not in found
    assert "not listed: 2 m is shorter than a leg" in found["README.md"].decode()


def test_studies_are_set_side_by_side(source: Source, tmp_path: Path) -> None:
    other = tmp_path / "out" / "other"
    shutil.copytree(source.results, other)
    (other / "small.nc").rename(other / "other.nc")
    (tmp_path / "there").mkdir()
    second = Source("other", small_study_file(tmp_path / "there", "other"), other)
    made = write_article([source, second], tmp_path / "out", 1)
    assert made.folder.name == "other+small"
    paths = contents(made.folder).keys()
    assert {"tables/compared.tex", "studies/other/choke.csv", "data/small/small.nc"} <= paths


# Refusals


def test_an_article_is_there_whole_or_not_at_all(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = made_of(source)
    kept = contents(made.folder)
    (source.results / "decks" / "cable.nec").unlink()
    (source.results / "summary.json").write_text("{", encoding="utf-8")
    again = Source("small", source.path, source.results)
    with pytest.raises(ResultError, match=r"summary\.json"):
        made_of(again)
    assert contents(made.folder) == kept
    assert sorted(p.name for p in made.folder.parent.iterdir()) == [STORE, "small", "small.zip"]


def test_what_a_killed_run_has_left_is_taken_away(source: Source) -> None:
    place = source.results.parent / FOLDER
    (place / ".small.part-abc" / "data").mkdir(parents=True)
    (place / ".small.old").mkdir()
    made_of(source)
    assert sorted(p.name for p in place.iterdir()) == [STORE, "small", "small.zip"]


def test_a_date_that_is_none_is_refused(source: Source, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    with pytest.raises(StudyError, match="SOURCE_DATE_EPOCH = yesterday"):
        moment([source])


def test_a_file_in_its_place_is_named(source: Source) -> None:
    (source.results.parent / FOLDER).write_text("mine", encoding="utf-8")
    with pytest.raises(ResultError, match="results-unwritable"):
        made_of(source)
