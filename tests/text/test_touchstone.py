"""Measured networks: what the Touchstone specifications allow is read, all else is told."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from pipeline.text.refusals import FieldError
from pipeline.text.touchstone import LARGEST_MEASUREMENT, read_network

ONE = "# MHz S RI R 50\n144 0.1 0.2\n145 0.1 0.1\n146 0.2 0.1\n"
TWO = "# MHz S RI R 50\n" + "".join(
    f"{f} 0.1 0.2 0.3 0.1 0.2 0.1 0.4 0.2\n" for f in (144, 145, 146)
)
HEAD = (
    "[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] {n}\n[Two-Port Data Order] 21_12\n"
    "[Number of Frequencies] 3\n[Reference] 50{more}\n"
)
SECOND = HEAD.format(n=1, more="") + "[Network Data]\n" + ONE.split("\n", 1)[1] + "[End]\n"
BLOCK = "[Begin Information]\n[Manufacturer] anybody\nserial 0 17 e5 # ! [ 1\n[End Information]\n"


def read(folder: Path, text: str, name: str = "antenna.s1p") -> object:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_network(path)


def s_of(folder: Path, text: str, name: str = "antenna.s1p") -> np.ndarray:
    return np.asarray(read(folder, text, name).s)  # type: ignore[attr-defined]


def refusal(folder: Path, text: str, name: str = "antenna.s1p") -> str:
    with pytest.raises(FieldError) as caught:
        read(folder, text, name)
    assert "\n" not in caught.value.rule + caught.value.remedy
    return caught.value.rule


# The specification, versions 1.1 and 2.0


def test_an_information_block_of_version_2_is_passed_over(tmp_path: Path) -> None:
    """Version 2.0: it stands between the keywords and before the network data."""
    text = SECOND.replace("[Network Data]", BLOCK + "[Network Data]")
    assert np.array_equal(s_of(tmp_path, text), s_of(tmp_path, ONE))
    wrong = text.replace("145 0.1", "145 o.1")
    assert "in line 13" in refusal(tmp_path, wrong)
    assert wrong.split("\n")[12].startswith("145 o.1")


def test_a_file_of_version_2_says_the_same_as_one_of_version_1(tmp_path: Path) -> None:
    data = "[Network Data]\n" + TWO.split("\n", 1)[1] + "[End]\n"
    plain = s_of(tmp_path, TWO, "choke.s2p")
    head = HEAD.format(n=2, more="\n50")
    assert np.array_equal(s_of(tmp_path, head + data, "choke.s2p"), plain)
    turned = head.replace("21_12", "12_21") + data
    assert np.array_equal(s_of(tmp_path, turned, "choke.s2p"), plain.transpose(0, 2, 1))


@pytest.mark.parametrize("matrix", ["Lower", "Upper"])
def test_half_a_matrix_stands_for_a_reciprocal_network(tmp_path: Path, matrix: str) -> None:
    rows = "".join(f"{f} 0.1 0.2 0.3 0.1 0.4 0.2\n" for f in (144, 145, 146))
    head = HEAD.format(n=2, more=" 50") + f"[Matrix Format] {matrix}\n[Network Data]\n"
    s = s_of(tmp_path, head + rows + "[End]\n", "choke.s2p")
    assert s[0] == pytest.approx(np.array([[0.1 + 0.2j, 0.3 + 0.1j], [0.3 + 0.1j, 0.4 + 0.2j]]))


def test_options_that_are_left_out_are_those_of_the_specification(tmp_path: Path) -> None:
    """Version 1.1: GHz, S, MA, R 50; version 2.0 lets options stand in any order."""
    network = read(tmp_path, "#\n0.144 0.5 90\n0.145 0.5 90\n")
    assert network.f == pytest.approx([144e6, 145e6])  # type: ignore[attr-defined]
    assert network.s[:, 0, 0] == pytest.approx([0.5j, 0.5j])  # type: ignore[attr-defined]
    turned = ONE.replace("# MHz S RI R 50", "# R 50 RI MHz S")
    assert np.array_equal(s_of(tmp_path, turned), s_of(tmp_path, ONE))


def test_a_reference_of_75_ohm_is_brought_to_50(tmp_path: Path) -> None:
    """A short stays one, and a match to 75 ohm reflects (75 - 50) / (75 + 50) at 50."""
    rows = "144 0 0\n145 -1 0\n"
    s = s_of(tmp_path, f"# MHz S RI R 75\n{rows}")[:, 0, 0]
    assert s == pytest.approx([0.2, -1.0])
    second = SECOND.replace("[Reference] 50", "[Reference]\n! on a line of its own\n75")
    second = second.replace("145 0.1 0.1", "145 0 0")
    assert s_of(tmp_path, second)[1, 0, 0] == pytest.approx(0.2)


def test_noise_data_end_a_network(tmp_path: Path) -> None:
    """Version 1.1: noise data begin where the frequency falls, five numbers to a line."""
    noisy = TWO + "144 1.2 0.3 40 0.2\n145 1.3 0.3 41 0.2\n"
    assert np.array_equal(s_of(tmp_path, noisy, "choke.s2p"), s_of(tmp_path, TWO, "choke.s2p"))


@pytest.mark.parametrize(
    "comment",
    ["! Port Impedance x\n", "! Gamma ! 1\n", "! Port[1] = \x1b[31m\n", "! a=b\n" * 3, "! ٣\n"],
)
def test_comments_say_nothing(tmp_path: Path, comment: str) -> None:
    """A reader of ours takes none of the meanings that programs give to their own comments."""
    assert np.array_equal(s_of(tmp_path, comment + ONE + comment), s_of(tmp_path, ONE))


def test_a_comment_of_megabytes_is_read_at_once(tmp_path: Path) -> None:
    """In one line, and of what a pattern for names and values would look at again and again."""
    comment = "!" + " a" * ((LARGEST_MEASUREMENT - 1000) // 2) + "\n"
    assert np.array_equal(s_of(tmp_path, comment + ONE), s_of(tmp_path, ONE))


# Refusals


FIRST_WRONG = [
    ("R 50", "R -50", 'has "-50" as its reference in line 1, which has to be a positive'),
    ("R 50", "R 0", 'has "0" as its reference in line 1'),
    ("R 50", "R nan", 'has "nan" as its reference in line 1'),
    ("R 50", "R inf", 'has "inf" as its reference in line 1'),
    ("R 50", "R", "has nothing as its reference in line 1"),
    ("R 50", "R 50+10j", 'has "50+10j" as its reference in line 1'),
    ("R 50", "R 50 j10", 'has "j10" in line 1, which is no option'),
    ("R 50", "R \uff15\uff10", "as its reference in line 1"),
    ("R 50", "R 5_0", 'has "5_0" as its reference in line 1'),
    ("RI", "XY", 'has "xy" in line 1, which is no option'),
    ("S RI", "Y RI", "holds Y-parameters, by line 1; S-parameters are read"),
    ("145 0.1", "145 \u0660.\u0661", "does not hold numbers only in line 3"),
    ("145 0.1", "145 \uff10.1", "does not hold numbers only in line 3"),
    ("145 0.1", "1_45 0.1", "does not hold numbers only in line 3"),
    ("145 0.1", "145 inf", "holds a value that is no finite number in line 3"),
    ("145 0.1", "145 1e999", "holds a value that is no finite number in line 3"),
    ("146 0.2", "146 0.2 7", "has 4 numbers in line 4"),
    ("146", "[Oddities]\n146", 'has "[oddities]" in line 4, which is not read'),
    ("144", "-144", "frequencies that do not rise at its start"),
]
SECOND_WRONG = [
    ("[Version] 2.0", "[Version] 3.0", 'has "3.0" in line 1, and one of 2.0, 2.1 is read'),
    ("Ports] 1", "Ports] 2", "holds 2 ports, by line 3, and its name 1"),
    ("Ports] 1", "Ports] one", 'has "one" in line 3, and a count is wanted'),
    ("Frequencies] 3", "Frequencies] 4", "promises 4 frequencies and holds 3"),
    ("Reference] 50", "Reference] -50", 'has "-50" as its reference in line 6'),
    ("Reference] 50", "Reference]", "has fewer than 1 references before line 7"),
    ("Reference] 50", "Reference] 50 75", "has several references in line 6"),
    ("[Network Data]\n", "", "has numbers in line 7 before [Network Data]"),
    ("[Network Data]", "[Mixed-Mode Order] D1,2\n[Network Data]", "which is not read"),
    ("[Network Data]", "[Begin Information]\n[Network Data]", "promises 3 frequencies"),
]


@pytest.mark.parametrize(
    ("text", "old", "new", "said"),
    [*((ONE, *wrong) for wrong in FIRST_WRONG), *((SECOND, *wrong) for wrong in SECOND_WRONG)],
)
def test_what_is_wrong_with_either_version_is_told_with_its_line(
    tmp_path: Path, text: str, old: str, new: str, said: str
) -> None:
    assert said in refusal(tmp_path, text.replace(old, new, 1))


def test_a_damaged_file_is_read_as_a_passive_network_or_refused(tmp_path: Path) -> None:
    """Lines cut, doubled, exchanged and spoilt at random; nothing else comes out, and no hang."""
    chance = random.Random(20261126)
    odd = ["nan", "-", "R", "#", "[", "]", "!", "1e400", "\x00", "\u0663", "50", "[End]", "\r", ""]
    for _ in range(400):
        name = chance.choice(("antenna.s1p", "choke.s2p"))
        text = chance.choice((ONE, TWO, SECOND, SECOND.replace("[Net", BLOCK + "[Net")))
        lines = text.split("\n")
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(lines))
            words = lines[at].split(" ")
            words[chance.randrange(len(words))] = chance.choice(odd)
            lines[at] = " ".join(words)
            if chance.random() < 0.2:
                lines.insert(chance.randrange(len(lines)), lines.pop(at))
        try:
            s = s_of(tmp_path, "\n".join(lines), name)
        except FieldError:
            continue
        assert np.all(np.isfinite(s))
        assert np.abs(np.einsum("fii->fi", s)).max() <= 1.1
