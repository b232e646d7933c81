"""House rules: names from one glossary, small rooms, one room for each heavy library."""

from __future__ import annotations

import ast
import csv
import itertools
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted([*(ROOT / "models").rglob("*.py"), *(ROOT / "pipeline").rglob("*.py")])
TESTS = sorted((ROOT / "tests").rglob("*.py"))
SCRIPTS = sorted((ROOT / "pipeline" / "live" / "page" / "src").rglob("*.ts"))
FORBIDDEN = {
    *("zin", "imp", "rho", "refl", "vswr", "icm", "shield_cur", "cmc", "z_cm", "srf", "vf", "vp"),
    *("zc", "att", "ymat", "agt", "od", "rad", "freq_mhz"),
}
# House words that say less than the field's own: a name is made of others.
REFUSED_WORDS = {
    *("facts", "judged", "followed", "seen", "bench", "cast", "player", "players", "makes"),
    *("nearness", "pen", "comb", "knob", "knobs", "where", "in_use"),
}
FILE_LINES, CODE_LINES, ARGUMENTS, LINE_SIGNS = 500, 40, 7, 100
Function = ast.FunctionDef | ast.AsyncFunctionDef


class Name(NamedTuple):
    """A name that other files may use, and where it stands."""

    file: str
    path: str

    @property
    def last(self) -> str:
        return self.path.rsplit(".", 1)[-1]


@cache
def glossary() -> list[dict[str, str]]:
    with (ROOT / "tests" / "glossary.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def tree(path: Path) -> ast.Module:
    return _parsed(path.read_text(encoding="utf-8"))


# By its text: files in a test's own folder are written anew.
@cache
def _parsed(text: str) -> ast.Module:
    return ast.parse(text)


def where(path: Path) -> str:
    return str(path.relative_to(ROOT))


def public_functions(path: Path) -> Iterator[tuple[str, Function]]:
    """Functions of a module and methods of its classes that others may call."""
    for node in tree(path).body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node.name, node
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for member in node.body:
                if isinstance(member, Function) and not member.name.startswith("_"):
                    yield f"{node.name}.{member.name}", member


def argument_names(function: Function) -> list[str]:
    a = function.args
    every = [*a.posonlyargs, *a.args, *a.kwonlyargs, *(x for x in (a.vararg, a.kwarg) if x)]
    return [x.arg for x in every if x.arg not in ("self", "cls")]


def public_names(path: Path) -> Iterator[Name]:
    """Functions, arguments, classes, fields and constants."""
    for name, function in public_functions(path):
        yield Name(path.name, name)
        for argument in argument_names(function):
            yield Name(path.name, f"{name}.{argument}")
    for node in tree(path).body:
        if isinstance(node, ast.ClassDef):
            yield Name(path.name, node.name)
        members = node.body if isinstance(node, ast.ClassDef) else [node]
        owner = f"{node.name}." if isinstance(node, ast.ClassDef) else ""
        for member in members:
            targets = (
                [member.target]
                if isinstance(member, ast.AnnAssign)
                else (member.targets if isinstance(member, ast.Assign) else [])
            )
            for target in targets:
                if isinstance(target, ast.Name) and not target.id.startswith("_"):
                    yield Name(path.name, owner + target.id)


def own_names(path: Path) -> Iterator[Name]:
    """Everything that a module gives a name to: itself, definitions, arguments, variables."""
    yield Name(path.name, path.stem)
    for node in ast.walk(tree(path)):
        if isinstance(node, Function | ast.ClassDef):
            yield Name(path.name, node.name)
        if isinstance(node, ast.arg):
            yield Name(path.name, node.arg)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield Name(path.name, node.id)


def words_of(name: str) -> set[str]:
    """Words of a name, camel case taken apart, and every two that stand together."""
    words = [w.lower() for w in re.findall(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+", name)]
    return {*words, *("_".join(pair) for pair in itertools.pairwise(words))}


def code_lines(function: Function, text: list[str]) -> int:
    """Lines that are neither docstring, comment nor empty."""
    first = function.body[0]
    docstring = range(0)
    if ast.get_docstring(function) is not None:
        docstring = range(first.lineno, (first.end_lineno or first.lineno) + 1)
    lines = range(function.lineno, (function.end_lineno or function.lineno) + 1)
    return sum(
        1
        for k in lines
        if k not in docstring and text[k - 1].strip() and not text[k - 1].strip().startswith("#")
    )


def imports(path: Path) -> set[str]:
    """Top-level packages a file imports, also those named in ``import_module``."""
    found: set[str] = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            found.update(alias.name.split(".")[0] for alias in node.names)
        if isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found.add(node.module.split(".")[0])
        if isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
            found.update(a.value for a in node.args if isinstance(a, ast.Constant))
    return found


def own_files() -> list[Path]:
    """Text files of the project: those git keeps or would keep, else those of an archive."""
    if (ROOT / ".git").exists():
        listed = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT, capture_output=True, check=True, text=True,
        ).stdout.split("\0")  # fmt: skip
        paths = [ROOT / name for name in listed if name]
    else:
        folders = ("models", "pipeline", "tests")
        paths = [p for f in folders for p in (ROOT / f).rglob("*") if "__pycache__" not in p.parts]
        paths += list(ROOT.iterdir())
    return [p for p in paths if p.is_file() and p.suffix not in (".png", ".nc", ".npz", ".pyc")]


# Names


def test_the_glossary_has_each_term_once_in_order_with_a_meaning() -> None:
    terms = [row["term"] for row in glossary()]
    assert terms == sorted(set(terms), key=str.lower)
    assert all(row["meaning"] and row.keys() == {"term", "meaning", "unit"} for row in glossary())
    assert not FORBIDDEN & set(terms)
    assert not [term for term in terms if words_of(term) & REFUSED_WORDS]


def test_arguments_of_public_functions_are_words_of_the_glossary() -> None:
    terms = {row["term"] for row in glossary()}
    strange = [
        f"{where(path)}: {name}({argument})"
        for path in SOURCES
        for name, function in public_functions(path)
        for argument in argument_names(function)
        if argument not in terms
    ]
    assert strange == []


def test_no_public_name_is_a_synonym_of_one_in_the_glossary() -> None:
    found = [n for p in SOURCES for n in public_names(p) if n.last.lower() in FORBIDDEN]
    assert found == []


def test_the_search_for_synonyms_sees_functions_arguments_fields_and_constants(
    tmp_path: Path,
) -> None:
    path = tmp_path / "m.py"
    path.write_text("ZC = 1\ndef vswr(rho, *, od=1): ...\nclass A:\n    att: int\n    _vf: int\n")
    found = {n.path for n in public_names(path) if n.last.lower() in FORBIDDEN}
    assert found == {"ZC", "vswr", "vswr.rho", "vswr.od", "A.att"}


def test_no_name_is_made_of_a_refused_word() -> None:
    found = {n for p in SOURCES for n in own_names(p) if words_of(n.last) & REFUSED_WORDS}
    assert found == set()


def test_the_search_for_refused_words_sees_every_name_of_a_module(tmp_path: Path) -> None:
    path = tmp_path / "case_facts.py"
    path.write_text(
        "def f(knob):\n    seen_by = 1\nclass JudgedCase:\n    in_use: int\n    unseen: int\n"
    )
    found = {n.last for n in own_names(path) if words_of(n.last) & REFUSED_WORDS}
    assert found == {"case_facts", "knob", "seen_by", "JudgedCase", "in_use"}


# Sizes


def test_no_file_is_longer_than_500_lines() -> None:
    lines = {where(p): p.read_text(encoding="utf-8").count("\n") for p in [*SOURCES, *TESTS]}
    assert {name: n for name, n in lines.items() if n > FILE_LINES} == {}


def test_sources_of_the_page_keep_the_same_lengths() -> None:
    texts = {where(p): p.read_text(encoding="utf-8").splitlines() for p in SCRIPTS}
    assert len(texts) >= 10
    assert {name: len(lines) for name, lines in texts.items() if len(lines) > FILE_LINES} == {}
    assert [
        f"{name}:{k}"
        for name, lines in texts.items()
        for k, line in enumerate(lines, 1)
        if len(line) > LINE_SIGNS
    ] == []


def test_no_function_has_more_than_40_lines_of_code_or_seven_arguments() -> None:
    long, wide = {}, []
    for path in [*SOURCES, *TESTS]:
        text = path.read_text(encoding="utf-8").splitlines()
        for function in (n for n in ast.walk(tree(path)) if isinstance(n, Function)):
            name, lines = f"{where(path)}: {function.name}", code_lines(function, text)
            if lines > CODE_LINES:
                long[name] = lines
            if len(argument_names(function)) > ARGUMENTS:
                wide.append(name)
    assert (long, wide) == ({}, [])


def test_lines_of_code_are_counted_without_docstring_comments_and_gaps(tmp_path: Path) -> None:
    text = 'def f():\n    """A.\n\n    B.\n    """\n    # c\n\n    a = 1\n    return a\n'
    (function,) = (n for n in ast.walk(ast.parse(text)) if isinstance(n, Function))
    assert code_lines(function, text.splitlines()) == 3


# Rooms


@pytest.mark.parametrize(("library", "rooms"), [("PyNEC", {"nec2.py"}), ("pint", {"units.py"})])
def test_a_heavy_library_is_known_to_one_room_only(library: str, rooms: set[str]) -> None:
    assert {p.name for p in SOURCES if library in imports(p)} == rooms


def test_models_need_numpy_and_the_standard_library_only() -> None:
    models = [p for p in SOURCES if "models" in p.parts]
    assert len(models) > 20
    known = {"numpy", "models", *sys.stdlib_module_names}
    assert {where(p): imports(p) - known for p in models if imports(p) - known} == {}


# What must not be in any file


def test_no_file_names_a_machine_or_a_registry() -> None:
    # Put together here, so that this file does not hold what it looks for.
    folders = "|".join(("work", "root", "tmp", "home", "Users"))
    hosts = ("py" + "pi.org", "python" + "hosted.org", "ana" + "conda.org", "npm" + "js.com")
    machine = re.compile(rf"(?<![\w.~}}/-])/(?:{folders})/|" + "|".join(map(re.escape, hosts)))
    found = [
        f"{where(p)}: {match[0]}"
        for p in own_files()
        for match in machine.finditer(p.read_bytes().decode("utf-8", errors="replace"))
    ]
    assert found == []


def test_the_files_of_the_project_were_found() -> None:
    names = {where(p) for p in own_files()}
    assert {
        "pyproject.toml",
        "Snakefile",
        "models/wires/structure.py",
        "tests/project/test_house.py",
    } <= names


def test_nothing_is_skipped_or_expected_to_fail_or_left_to_do() -> None:
    words = ("pytest." + "skip", "mark." + "skip", "x" + "fail(", "importor" + "skip", "TO" + "DO")
    found = [
        f"{where(p)}: {word}"
        for p in [*SOURCES, *TESTS]
        for word in words
        if word in p.read_text(encoding="utf-8")
    ]
    assert found == []


def test_no_error_is_swallowed() -> None:
    for path in SOURCES:
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.ExceptHandler):
                at = f"{where(path)}:{node.lineno}"
                assert node.type is not None, at
                broad = ast.unparse(node.type) in ("Exception", "BaseException")
                empty = all(isinstance(n, ast.Pass) for n in node.body)
                assert not broad, at
                assert not empty, at
