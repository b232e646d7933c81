"""Figures inside of a page: drawings as URIs, no larger than a reader can see.

SVG files of a folder in, pictures with their finding in words out. A drawing keeps what shows: a
hundredth of its smallest unit is less than a screen or a printer can place. On a dark page it is
dark too; paper, which has no scheme of its own, gets the colours of the file.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote
from xml.etree import ElementTree

from pipeline.figures.registry import figures_of
from pipeline.figures.style import IN_THE_DARK
from pipeline.text.errors import Fault, ResultError

# Where a figure keeps its title, for those who cannot see it.
_TITLE = ".//{http://purl.org/dc/elements/1.1/}title"
_SVG = "http://www.w3.org/2000/svg"
# How matplotlib names a colour: in the style of an element, or of a hatch as an attribute.
_IN_STYLE, _BY_ITSELF = "{name}: {light}", '{name}="{light}"'
# Attributes that are places and lengths, and numbers in them that are longer than two decimals.
_PLACES = ("d", "points", "x", "y", "width", "height", "transform")
_LONG = re.compile(r"-?\d+\.\d{3,}")
# What may stand in the URI of a drawing inside of a double-quoted attribute as it is (RFC 3986 asks
# for more, browsers and the URL standard of the WHATWG do not).
_AS_IT_IS = "/:;=,()' !*~-._"


@dataclass(frozen=True)
class Picture:
    """A figure inside the page: its data as a URI, what it shows, and what it finds in words.

    ``section`` is the part of a report that it stands in.
    """

    name: str
    source: str
    caption: str
    finding: str = ""
    section: str = ""


def read_picture(path: Path, caption: str, section: str = "") -> Picture:
    """A figure for a page from its SVG file; its name is that of the file.

    ``section`` is the part of a report that it stands in.

    Raises
    ------
    ResultError
        If the file is missing or damaged.
    """
    try:
        root = ElementTree.fromstring(path.read_bytes())
    except (OSError, ElementTree.ParseError) as error:
        raise ResultError(
            Fault(
                str(path),
                "",
                f"cannot be read ({type(error).__name__})",
                "run the study again; only what is missing is made",
                "result-damaged",
            )
        ) from error
    finding = root.findtext(_TITLE, "")
    return Picture(path.stem, _uri_of(root), caption, finding, section)


def read_pictures(folder: Path, page: str) -> list[Picture]:
    """All figures of a page in a folder, in their order; only optional ones may be missing."""
    return [
        read_picture(folder / f"{name}.svg", each.caption)
        for name, each in figures_of(page).items()
        if not each.optional or (folder / f"{name}.svg").exists()
    ]


def _uri_of(root: ElementTree.Element) -> str:
    """A drawing as a URI, without what only its file needs."""
    for metadata in root.findall(f"{{{_SVG}}}metadata"):
        root.remove(metadata)
    for element in root.iter():
        for name in _PLACES:
            if name in element.attrib:
                element.attrib[name] = _rounded(element.attrib[name])
    _darken(root)
    _close_up(list(root.iter()))
    ElementTree.register_namespace("", _SVG)
    ElementTree.register_namespace("xlink", "http://www.w3.org/1999/xlink")
    return "data:image/svg+xml," + quote(ElementTree.tostring(root, "unicode"), safe=_AS_IT_IS)


def _darken(root: ElementTree.Element) -> None:
    """Colours for a dark page of all that are in a drawing, in its own style sheet."""
    text, rules = ElementTree.tostring(root, "unicode"), ""
    for light, dark in IN_THE_DARK.items():
        for name in ("fill", "stroke"):
            in_style, by_itself = (
                form.format(name=name, light=light) for form in (_IN_STYLE, _BY_ITSELF)
            )
            if in_style in text:
                rules += f'[style*="{in_style}"]{{{name}:{dark}!important}}'
            if by_itself in text:
                rules += f"[{by_itself}]{{{name}:{dark}}}"
    for sheet in root.findall(f".//{{{_SVG}}}style"):
        sheet.text = f"{sheet.text}@media (prefers-color-scheme:dark){{{rules}}}"


def _close_up(elements: Sequence[ElementTree.Element]) -> None:
    """Take away the blanks between elements; words are left as they are."""
    for element in elements:
        if element.text and not element.text.strip() and len(element):
            element.text = None
        if element.tail and not element.tail.strip():
            element.tail = None


def _rounded(places: str) -> str:
    """Numbers of an attribute with two decimals.

    Examples
    --------
    >>> _rounded("M 56.525499 -0.001 L 12.0 7.10049")
    'M 56.53 0 L 12.0 7.1'
    """

    def short(number: re.Match[str]) -> str:
        text = f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    return _LONG.sub(short, places)
