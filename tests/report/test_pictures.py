"""Pictures of a page show what their files show, in less room."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure

from pipeline.figures.style import HAIR, IN_THE_DARK, MIST, PAPER, SEA, style
from pipeline.report.pictures import read_picture

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_TEXT = "{http://www.w3.org/2000/svg}text"


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A curve with a title that is markup if anybody takes it for some."""
    path = tmp_path_factory.mktemp("drawn") / "curve.svg"
    with style():
        page = Figure(figsize=(4, 3))
        axes = page.add_subplot()
        axes.plot(np.linspace(0, 1, 200), np.sin(np.linspace(0, 30, 200)), color=SEA)
        axes.set_xlabel('50 % of <b>"5  m"</b> & more # é')
        page.savefig(path, metadata={"Title": 'a <b>finding</b> & "more"', "Date": None})
    return path


def _elements(text: str) -> list[ElementTree.Element]:
    return [e for e in ElementTree.fromstring(text).iter() if "svg" in str(e.tag)]


def test_every_word_and_every_place_of_the_file_is_in_the_picture(drawn: Path) -> None:
    picture = read_picture(drawn, "a caption", "pattern")
    assert picture.source.startswith("data:image/svg+xml,")
    shown = _elements(unquote(picture.source.partition(",")[2]))
    filed = [e for e in _elements(drawn.read_text("utf-8")) if not e.tag.endswith("metadata")]
    assert [e.tag for e in shown] == [e.tag for e in filed]
    assert [e.text for e in shown if e.tag == _TEXT] == [e.text for e in filed if e.tag == _TEXT]
    for a, b in zip(shown, filed, strict=True):
        for name, value in b.attrib.items():
            here, there = _NUMBER.findall(a.attrib[name]), _NUMBER.findall(value)
            # An id is no place: what is no number is the same to the letter.
            assert _NUMBER.sub("", a.attrib[name]) == _NUMBER.sub("", value)
            # Half of the last of two decimals.
            assert np.allclose(np.array(here, float), np.array(there, float), rtol=0, atol=0.005001)


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def test_on_a_dark_page_every_colour_has_another_and_lines_stand_out(drawn: Path) -> None:
    text = drawn.read_text("utf-8")
    used = set(re.findall(r"(?:fill|stroke): (#[0-9a-f]{6})", text))
    assert used <= set(IN_THE_DARK)
    shown = unquote(read_picture(drawn, "").source)
    assert all(f"stroke: {c}" not in text or f"stroke:{IN_THE_DARK[c]}!" in shown for c in used)
    # Success criterion 1.4.11: graphics beside what is around them; grids and grey crowds are less.
    ground = _luminance(IN_THE_DARK[PAPER]) + 0.05
    lines = [dark for light, dark in IN_THE_DARK.items() if light not in (PAPER, HAIR, MIST)]
    assert all((_luminance(dark) + 0.05) / ground >= 3 for dark in lines)


def test_a_picture_needs_less_room_than_its_file_and_is_safe_in_an_attribute(drawn: Path) -> None:
    picture = read_picture(drawn, "a caption")
    assert len(picture.source) < drawn.stat().st_size
    assert picture.finding == 'a <b>finding</b> & "more"'
    assert not set(picture.source) & set('"<>&#\n')
