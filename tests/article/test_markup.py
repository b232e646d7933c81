"""Text of a study in Markdown and LaTeX: it shows as it is, and is never markup."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from pipeline.article.markup import Heading, latex, latex_table, markdown, markdown_table
from pipeline.text.formatting import plain

pytestmark = pytest.mark.takes(5)

MANY = settings(max_examples=50, deadline=None)
# A CommonMark parser with GitHub's tables, HTML and links let through: nothing it could take for
# markup is forbidden to it.
READER = MarkdownIt("commonmark", {"html": True}).enable("table")
# Commands that the escapes may use: of the LaTeX kernel (LaTeX2e unofficial reference manual,
# 2024, "Special insertions", "Accents", "Math symbols").
ALLOWED = {
    *("textbackslash", "textasciicircum", "textasciitilde", "textless", "textgreater", "textbar"),
    *("symbol", "textendash", "textemdash", "ldots", "times", "pm", "circ", "mu", "Omega"),
    *("lambda", "varepsilon", "sigma", "to", "dag", "leq", "geq", "textquotedblleft"),
    *("textquotedblright", "ss", "ae", "AE", "o", "O", "l", "L", "oe", "OE", "i", "texttt"),
    *("u", "r", "H", "v", "c", "k"),
}
HOSTILE = (
    "<script>alert(1)</script>",
    "[link](javascript:alert(1)) ![x](y)",
    "a | b | c",
    "`code` *bold* _it_ ~~gone~~ &lt; &#60;",
    r"\input{/etc/passwd} \\ [2cm] $x$ %",
    "\\\\[9cm]* {unbalanced",
    "1. list", "- list", "+ list", "# heading", "=== ", "--- ", "> quote",
    "http://x.example www.x.example a@x.example",
    "line\nbreak\ttab\x00\u202e",
    "Käse, Ångström, Øre, 漢字, 🙂, µ, ²",
    '"quoted" \'single\' `` -- --- ?` !`',
)  # fmt: skip


def spoken(text: str) -> str:
    """What a reader sees of Markdown: its text, once all markup is taken as markup."""
    (inline,) = [t for t in READER.parse(text) if t.type == "inline"]
    children = inline.children or []
    assert {t.type for t in children} <= {"text", "text_special"}, text
    return "".join(t.content for t in children)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_read_back_from_markdown_as_it_was(text: str) -> None:
    assert spoken(markdown(text)) == plain(text)


@MANY
@given(st.text(st.characters(codec="utf-8"), min_size=1))
def test_any_text_is_read_back_from_markdown_as_it_was(text: str) -> None:
    if plain(text):
        assert spoken(markdown(text)) == plain(text)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_cell_of_a_table_stays_one_cell(text: str) -> None:
    made = markdown_table([Heading(text), Heading("b", is_number=True)], [[text, "1"], ["2", text]])
    tokens = READER.parse(made)
    assert [t.type for t in tokens].count("td_open") == 4
    cells = [t for t in tokens if t.type == "inline"]
    assert [c.content.count("\n") for c in cells] == [0] * 6
    texts = ["".join(t.content for t in c.children or []) for c in cells]
    assert texts == [plain(text), "b", plain(text), "1", "2", plain(text)]


def balanced(text: str) -> bool:
    """Whether braces are in pairs, those that are printed apart, and dollar signs even."""
    bare = re.sub(r"\\[{}$&#%_]", "", text)
    depth = 0
    for letter in bare:
        depth += {"{": 1, "}": -1}.get(letter, 0)
        if depth < 0:
            return False
    return depth == 0 and bare.count("$") % 2 == 0


@MANY
@given(st.one_of(st.text(), st.sampled_from(HOSTILE)))
def test_text_in_latex_is_ascii_with_known_commands_only(text: str) -> None:
    made = latex(text)
    assert made.isascii()
    assert balanced(made)
    words = set(re.findall(r"\\([A-Za-z]+)", made))
    assert words <= ALLOWED
    # What is left of a line's own signs: none of TeX's special ones stands bare.
    bare = re.sub(r"\\[{}$&#%_]|\\[a-zA-Z]+(\{[0-9A-Z+]*\})?|\\[`'^~=.\"]", "", made)
    assert not re.search(r"[\\%&#_\"`]", bare)
    assert not re.search(r"--|''|\\\\", made)
    outside = re.sub(r"\$[^$]*\$", "", bare)
    assert "^" not in outside
    assert not re.match(r"[\[*]", made)


def test_signs_of_numbers_and_units_are_known_to_latex() -> None:
    assert latex("−3.5 dBi, 20 °C, 2 × 5 ± 1 µm², 0.5–0.7 …") == (
        r"$-$3.5 dBi, 20 $^{\circ}$C, 2 $\times$ 5 $\pm$ 1 $\mu$m$^{2}$, 0.5\textendash{}0.7 "
        r"\ldots{}"
    )
    assert latex("Ångström, naïve, Şiş") == r"\r{A}ngstr\"{o}m, na\"{i}ve, \c{S}i\c{s}"
    assert latex("字") == r"\texttt{U+5B57}"


def test_a_table_in_latex_has_as_many_cells_in_each_row_and_closes_what_it_opens() -> None:
    headings = [Heading("name", width=0.4), Heading("SWR", is_number=True)]
    made = latex_table(headings, [[text, "1"] for text in HOSTILE], "50 % of\nit", "tab:x")
    assert re.findall(r"\\begin\{(\w+)\}", made) == ["table", "tabular"]
    assert re.findall(r"\\end\{(\w+)\}", made) == ["tabular", "table"]
    assert [made.count(f"\\{rule}") for rule in ("toprule", "midrule", "bottomrule")] == [1, 1, 1]
    rows = re.findall(r"^ {4}(.*) \\\\$", made, re.MULTILINE)
    assert len(rows) == 1 + len(HOSTILE)
    assert all(len(re.findall(r"(?<!\\) & ", row)) == 1 for row in rows)
    assert r"\begin{tabular}{p{0.4\linewidth}r}" in made
    assert r"\caption{50 \% of it}" in made
    assert balanced(made)


def test_a_number_stands_above_its_interval_and_a_long_heading_in_lines() -> None:
    headings = [Heading("name"), Heading("current at the radio [%]", is_number=True)]
    rows = [["bare", ("11.0", "(10.2–11.7)")]]
    made = latex_table(headings, rows, "it", "tab:x")
    assert r"{@{}r@{}}current at \\ the radio \\ {[}\%{]}\end{tabular} \\" in made
    assert r"{@{}r@{}}11.0 \\ (10.2\textendash{}11.7)\end{tabular} \\" in made
    assert markdown_table(headings, rows).endswith("| bare | 11.0 (10.2–11.7) |\n")


def test_what_is_longer_than_a_page_goes_on_in_another_table() -> None:
    headings, rows = [Heading("name"), Heading("n", True)], [["a", str(k)] for k in range(60)]
    made = latex_table(headings, rows, "it", "tab:x")
    assert made.count(r"\begin{table}") == made.count(r"\end{table}") == 3
    assert made.count(r"\label{tab:x}") == 1
    assert made.count(r"Table \ref{tab:x}, continued.") == 2
    numbers = re.findall(r"^    a & (\d+)", made, re.MULTILINE)
    assert numbers == [number for _, number in rows]
