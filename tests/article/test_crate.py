"""Metadata of an article's folder, held against the requirements of RO-Crate 1.2.

Source: "RO-Crate Metadata Specification 1.2", researchobject.org, and its "Quick Reference", which
collates the requirements by section; a section is named at each test.
"""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import unquote

from pipeline.article.crate import NAME, Described, crate

FILES = {
    "README.md": 10,
    "checksums.txt": None,
    "data/small/summary.json": 7,
    "environment/braidwise-0.1.0-py3-none-any.whl": 5,
    "figures/small/band-single.svg": 3,
    "studies/small/small.yaml": 9,
    "studies/small/my choke #2.csv": 4,
}
OF = Described(
    title="A shed",
    summary="Put two cores.",
    date="2026-02-01",
    files=FILES,
    studies=["studies/small/small.yaml"],
    versions={"braidwise": "0.1.0", "python": "3.11.7"},
    data_hash="ab" * 32,
)


def graph() -> dict[str, dict[str, Any]]:
    entities = crate(OF)["@graph"]
    found = {entity["@id"]: entity for entity in entities}
    # "All entities": an @id is unique in the graph.
    assert len(found) == len(entities)
    return found


def references(value: Any) -> list[str]:
    """Entities that a value refers to."""
    if isinstance(value, dict):
        # "All entities": a reference is an object with an @id and nothing else, never nested.
        assert value.keys() == {"@id"}
        return [value["@id"]]
    return [name for each in value for name in references(each)] if isinstance(value, list) else []


def test_the_document_is_flat_and_refers_to_the_context_of_one_version() -> None:
    # "RO-Crate Metadata Document".
    made = crate(OF)
    assert made.keys() == {"@context", "@graph"}
    assert made["@context"] == "https://w3id.org/ro/crate/1.2/context"
    for entity in made["@graph"]:
        assert isinstance(entity["@id"], str)
        assert isinstance(entity["@type"], str)
        assert entity["name"]


def test_the_descriptor_is_about_the_root() -> None:
    # "RO-Crate Metadata Descriptor".
    descriptor = graph()[NAME]
    assert NAME == "ro-crate-metadata.json"
    assert descriptor["@type"] == "CreativeWork"
    assert descriptor["about"] == {"@id": "./"}
    assert descriptor["conformsTo"] == {"@id": "https://w3id.org/ro/crate/1.2"}


def test_the_root_has_what_it_must_have() -> None:
    # "Direct properties of the Root Data Entity".
    found = graph()
    root = found["./"]
    assert root["@type"] == "Dataset"
    assert root["name"] == "A shed"
    assert root["description"]
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", root["datePublished"])
    licence = found[root["license"]["@id"]]
    assert licence["name"]
    assert licence["description"]
    assert found[root["author"]["@id"]]["@type"] == "Organization"


def test_every_file_is_a_data_entity_of_the_root_by_its_encoded_path() -> None:
    # "Data Entities": a relative path, percent-encoded (RFC 3986), linked from the root.
    found = graph()
    files = [e for e in found.values() if e["@type"] == "File"]
    assert {unquote(e["@id"]) for e in files} == set(FILES)
    assert {part["@id"] for part in found["./"]["hasPart"]} == {e["@id"] for e in files}
    for entity in files:
        assert re.fullmatch(r"[A-Za-z0-9._~%/+-]+", entity["@id"])
        assert re.fullmatch(r"[a-z]+/[a-z0-9.+-]+", entity["encodingFormat"])
        size = FILES[unquote(entity["@id"])]
        assert entity.get("contentSize") == (None if size is None else str(size))


def test_whatever_is_referred_to_is_described_and_can_be_reached_from_the_root() -> None:
    # "RO-Crate Metadata Document" and "All entities"; the specification itself lies outside.
    found = graph()
    reached, ahead = set(), ["./"]
    while ahead:
        name = ahead.pop()
        if name in reached:
            continue
        reached.add(name)
        ahead += [n for value in found[name].values() for n in references(value)]
    assert reached == found.keys() - {NAME}


def test_the_run_says_which_program_made_what_from_what() -> None:
    # "Provenance of entities": software used to create files.
    run = graph()["#run"]
    assert run["@type"] == "CreateAction"
    assert run["object"] == [{"@id": "studies/small/small.yaml"}]
    assert {"@id": "data/small/summary.json"} in run["result"]
    assert graph()[run["instrument"]["@id"]]["softwareVersion"] == "0.1.0"
