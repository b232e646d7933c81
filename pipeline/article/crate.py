"""Metadata of an article's folder: a research object crate (RO-Crate 1.2), as JSON-LD.

Files of the folder in, the flat list of what they are out: the folder, each file, who made it with
what, and under which licence.

References
----------
.. [1] "RO-Crate Metadata Specification 1.2", researchobject.org: "Root Data Entity", "Data
   Entities", "Contextual Entities", "Provenance of entities".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

NAME = "ro-crate-metadata.json"
CONTEXT = "https://w3id.org/ro/crate/1.2/context"
SPECIFICATION = "https://w3id.org/ro/crate/1.2"
AUTHORS = "The Braidwise authors"
# Results are facts and their presentation, which the licence of the program does not reach; this
# one asks for the name only, and is what journals and archives of data ask for.
LICENCE = "https://creativecommons.org/licenses/by/4.0/"
LICENCE_OF_CODE = "https://www.gnu.org/licenses/gpl-3.0.html"

Entity = dict[str, Any]

# Media types by the end of a file's name.
_TYPES = {
    ".bib": "application/x-bibtex",
    ".csv": "text/csv",
    ".json": "application/json",
    ".md": "text/markdown",
    ".nc": "application/netcdf",
    ".nec": "text/plain",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".s1p": "text/plain",
    ".sh": "application/x-sh",
    ".svg": "image/svg+xml",
    ".tex": "application/x-tex",
    ".txt": "text/plain",
    ".whl": "application/zip",
    ".yaml": "application/yaml",
}


@dataclass(frozen=True)
class Described:
    """What the metadata say of a folder: its title, its studies, date and versions.

    ``files`` are sizes in bytes by path, None where it is not known; ``versions`` are those of the
    program and of Python.
    """

    title: str
    summary: str
    date: str
    files: Mapping[str, int | None]
    studies: Sequence[str]
    versions: Mapping[str, str]
    data_hash: str


def crate(of: Described) -> dict[str, Any]:
    """The metadata as plain data, ready to be written as JSON."""
    paths = sorted(of.files)
    root: Entity = {
        "@id": "./",
        "@type": "Dataset",
        "name": of.title,
        "description": of.summary,
        "datePublished": of.date,
        "license": _at(LICENCE),
        "author": _at("#authors"),
        "publisher": _at("#authors"),
        "identifier": f"sha256:{of.data_hash}",
        "hasPart": [_at(_uri(path)) for path in paths],
        "mentions": _at("#run"),
    }
    descriptor: Entity = {
        "@id": NAME,
        "@type": "CreativeWork",
        "name": "Metadata of this folder",
        "conformsTo": _at(SPECIFICATION),
        "about": _at("./"),
    }
    return {
        "@context": CONTEXT,
        "@graph": [descriptor, root, *(_file(path, of) for path in paths), *_contextual(of)],
    }


def _uri(path: str) -> str:
    """A path inside the folder as a reference (RFC 3986)."""
    return quote(path, safe="/")


def _at(name: str) -> dict[str, str]:
    return {"@id": name}


def _file(path: str, of: Described) -> Entity:
    size = of.files[path]
    found: Entity = {
        "@id": _uri(path),
        "@type": "File",
        "name": path,
        "encodingFormat": _TYPES.get(f".{path.rsplit('.', 1)[-1]}", "application/octet-stream"),
    }
    if size is not None:
        found["contentSize"] = str(size)
    if path.endswith(".whl"):
        found["license"] = _at(LICENCE_OF_CODE)
    return found


def _contextual(of: Described) -> list[Entity]:
    """Entities that are no files: authors, licences, programs, and the run that made the rest."""
    studies = {_uri(path) for path in of.studies}
    made = [_uri(path) for path in sorted(of.files) if path.startswith(("data/", "figures/"))]
    return [
        {"@id": "#authors", "@type": "Organization", "name": AUTHORS},
        _licence(LICENCE, "Creative Commons Attribution 4.0 International", "Data, figures, text."),
        _licence(LICENCE_OF_CODE, "GNU General Public License, version 3 or later", "The program."),
        {
            "@id": "#braidwise",
            "@type": "SoftwareApplication",
            "name": "Braidwise",
            "softwareVersion": of.versions["braidwise"],
            "license": _at(LICENCE_OF_CODE),
            "softwareRequirements": _at("#python"),
        },
        {
            "@id": "#python",
            "@type": "ComputerLanguage",
            "name": "Python",
            "version": of.versions["python"],
        },
        {
            "@id": "#run",
            "@type": "CreateAction",
            "name": "braidwise article",
            "instrument": _at("#braidwise"),
            "agent": _at("#authors"),
            "object": [_at(name) for name in sorted(studies)],
            "result": [_at(name) for name in made],
        },
    ]


def _licence(name: str, words: str, of: str) -> Entity:
    return {"@id": name, "@type": "CreativeWork", "name": words, "description": of}
