"""A study's text with a few values changed: nothing else moves."""

from __future__ import annotations

import pytest
import yaml

from pipeline.text.yaml_editing import with_values

TEXT = """# a study
antenna:
  type: j-pole   # a word
  pipe: 22x1 mm
  tap: "50 mm"   # measured
site: {height: 8 m}
"""


def test_a_value_is_replaced_where_it_stands_and_its_comment_stays() -> None:
    text = with_values(TEXT, "antenna", {"tap": "56.9 mm"})
    assert text == TEXT.replace('"50 mm"', "56.9 mm")


def test_a_new_key_goes_below_the_last_one_with_the_same_indent() -> None:
    text = with_values(TEXT, "antenna", {"short_leg": "500.2 mm"})
    assert text.splitlines()[5] == "  short_leg: 500.2 mm"
    read = yaml.safe_load(text)
    assert read == yaml.safe_load(TEXT) | {
        "antenna": yaml.safe_load(TEXT)["antenna"] | {"short_leg": "500.2 mm"}
    }


def test_keys_in_braces_are_added_in_the_braces() -> None:
    assert "site: {height: 8 m, tap: 1 m}" in with_values(TEXT, "site", {"tap": "1 m"})


def test_a_file_that_ends_without_a_line_end_or_with_two_letters_keeps_its_way() -> None:
    assert with_values("a:\n  x: 1", "a", {"y": "2"}) == "a:\n  x: 1\n  y: 2"
    assert with_values("a:\r\n  x: 1\r\nb: 3\r\n", "a", {"y": "2"}) == (
        "a:\r\n  x: 1\r\n  y: 2\r\nb: 3\r\n"
    )


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("b: 1\n", "x"),
        ("a: 1\n", "x"),
        ("a:\n  x: [1, 2]\n  z: 1\n", "x"),
        ("a:\n  x: |\n    1\n  z: 1\n", "x"),
        ("a:\n  x: [1]\n", "y"),
    ],
)
def test_what_is_no_word_on_one_line_of_a_section_is_refused(text: str, key: str) -> None:
    with pytest.raises(ValueError, match=r"section|word"):
        with_values(text, "a", {key: "2"})
