"""The environment of a run, locked, and the project itself as one file that pip installs.

What is installed here in; lines of requirements and a wheel out. Nothing names a machine, a folder
of it or an index of packages: pip takes the one it is set to.
"""

from __future__ import annotations

import base64
import hashlib
import io
import platform
import re
import zipfile
from collections.abc import Mapping
from functools import cache
from importlib.metadata import Distribution, distribution, distributions
from pathlib import Path

import models
import pipeline

PROJECT = "braidwise"
# The earliest date that an archive of this format can have (APPNOTE of the format, 4.4.6).
EARLIEST = (1980, 1, 1, 0, 0, 0)
# Beginnings of names that no source has: what tools leave behind.
_LEFT_OUT = (".", "__pycache__", "node_modules")
_PACKAGES = tuple(Path(str(package.__file__)).parent for package in (models, pipeline))


@cache
def requirements() -> str:
    """Everything that is installed beside the project, a line each with its version."""
    found = {}
    for each in distributions():
        # Read once: the headers of each are parsed anew whenever they are asked for.
        told = each.metadata
        found[_normal(told["Name"])] = f"{told['Name']}=={told['Version']}"
    return "".join(f"{found[name]}\n" for name in sorted(found) if name != PROJECT)


def _normal(name: str) -> str:
    """A name of a distribution as all its spellings have it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def python_version() -> str:
    """Version of Python, as a file."""
    return f"{platform.python_version()}\n"


def beside_the_package(name: str) -> Path:
    """A file of the project: in its package where it is installed, one folder up in a checkout."""
    package = Path(str(pipeline.__file__)).parent
    inside = package / name
    return inside if inside.exists() else package.parent / name


def constraints() -> str:
    """Versions that the project is tested with."""
    return beside_the_package("constraints.txt").read_text(encoding="utf-8")


def wheel_name() -> str:
    """File name of the project as a wheel."""
    return f"{PROJECT}-{distribution(PROJECT).version}-py3-none-any.whl"


@cache
def wheel() -> bytes:
    """The project as it runs here, as a wheel; the same code makes the same bytes.

    References
    ----------
    .. [1] "Binary distribution format", Python packaging user guide (PEP 427).
    """
    own = distribution(PROJECT)
    info = f"{PROJECT}-{own.version}.dist-info"
    members = _sources() | {
        f"{info}/METADATA": _headers(own),
        f"{info}/WHEEL": (
            b"Wheel-Version: 1.0\nGenerator: braidwise\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        ),
        f"{info}/entry_points.txt": (own.read_text("entry_points.txt") or "").encode(),
        f"{info}/licenses/LICENSE": (own.read_text("licenses/LICENSE") or "").encode(),
    }
    record = "".join(f"{name},{recorded(data)},{len(data)}\n" for name, data in members.items())
    members[f"{info}/RECORD"] = f"{record}{info}/RECORD,,\n".encode()
    return archive_of(members)


def _sources() -> dict[str, bytes]:
    """Files of the packages, and those that lie beside them in a checkout."""
    found = {}
    for folder in _PACKAGES:
        for path in sorted(folder.rglob("*")):
            inside = path.relative_to(folder.parent)
            if path.is_file() and not any(part.startswith(_LEFT_OUT) for part in inside.parts):
                found[inside.as_posix()] = path.read_bytes()
    for name in ("Snakefile", "constraints.txt"):
        found[f"pipeline/{name}"] = beside_the_package(name).read_bytes()
    return dict(sorted(found.items()))


def _headers(own: Distribution) -> bytes:
    """Metadata of the project without its long description."""
    text = own.read_text("METADATA") or ""
    kept = (line for line in text.split("\n\n")[0].splitlines() if "escription-" not in line)
    return "".join(f"{line}\n" for line in kept).encode()


def recorded(data: bytes) -> str:
    """SHA-256 as a wheel's record has it."""
    return f"sha256={base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b'=').decode()}"


def archive_of(contents: Mapping[str, bytes]) -> bytes:
    """An archive (zip) of files by their path: sorted, of one date, so the same every time."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name in sorted(contents):
            add_member(archive, name, contents[name])
    return stream.getvalue()


def add_member(archive: zipfile.ZipFile, name: str, data: bytes) -> None:
    """Add a file to an archive: one date, and rights that everybody has; a script may be run."""
    entry = zipfile.ZipInfo(name, EARLIEST)
    entry.external_attr = (0o755 if name.endswith(".sh") else 0o644) << 16
    # As written on a system of this kind, wherever it was.
    entry.create_system = 3
    archive.writestr(entry, data, zipfile.ZIP_DEFLATED, 6)
