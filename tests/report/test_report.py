"""The report page: the answer on its first screen, complete below, harmless, true."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from models.lengths import lengths_in
from pipeline.answer.answer_data import answer_data
from pipeline.answer.phrases import hundredths
from pipeline.figures import SECTIONS
from pipeline.figures.registry import REPORT, figures_of
from pipeline.report.answer_tables import core_rows
from pipeline.report.page import FOLDS, build_report, limits_page, page
from pipeline.report.pictures import Picture
from pipeline.runtime.csv_tables import write_table
from pipeline.text.errors import ResultError
from tests.harness.made_answers import SEEDS, made_answer

ROOT = Path(__file__).parents[2]
TEMPLATES = ROOT / "pipeline" / "report" / "templates"
SAMPLE = json.loads(
    (ROOT / "results" / "orchard_shed" / "summary.json").read_text(encoding="utf-8")
)
DOT = "data:image/svg+xml;base64," + base64.b64encode(b"<svg/>").decode()
FIGURES = figures_of(REPORT)
PICTURES = [
    Picture(name, DOT, f"caption of {name}", section=each.section) for name, each in FIGURES.items()
]
CORES = {
    "tried": [{"label": "a core", "kind": "split", "hole": "12.7 mm", "one_pass": "168 + j24"}],
    "others": {"not on sale": "another core"},
}
# The most that stands on the first screen beside its pictures, and in the headline [words].
MOST_WORDS, MOST_OF_HEADLINE = 150, 25


def sample() -> Any:
    return json.loads(json.dumps(SAMPLE))


class Reader(HTMLParser):
    """Collects tags, attributes and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def html(summary: Any = None) -> str:
    return page(summary or sample(), PICTURES, [("summary.json", "data")], CORES)


def first_screen(text: str) -> str:
    """What a reader reads without opening anything, style and title of the window left out."""
    return words(text.split("<body>")[1].split("<details")[0])


def fold(text: str, name: str) -> str:
    """What a reader reads below one question."""
    return words(text.split(f'<details id="{name}"')[1].split("</details>")[0])


def words(text: str) -> str:
    """All text of a page on one line, with ordinary spaces."""
    return " ".join(" ".join(Reader(text).text).split())


# Laws


def test_the_first_screen_is_the_answer_and_three_numbers_in_few_words() -> None:
    text, answer = html(), SAMPLE["answer"]
    first = first_screen(text)
    assert len(first.split()) <= MOST_WORDS
    assert len(answer["headline"].split()) <= MOST_OF_HEADLINE
    assert " ".join(answer["headline"].split()) in first
    assert len(answer["numbers"]) == 3
    for number in answer["numbers"]:
        for said in (number["label"], number["value"], f"({number['between']})", number["before"]):
            assert said in first


def test_what_the_answer_says_besides_stands_in_the_fold_of_its_question() -> None:
    text, answer = html(), SAMPLE["answer"]
    for part, name in (("why", "why"), ("how_sure", ""), ("avoid", "avoid")):
        said = " ".join(answer[part].split())
        # How sure it is, or that nothing may be relied on, is part of the answer itself.
        assert said in (fold(text, name) if name else first_screen(text))
        assert words(text).count(said) == 1


@given(SEEDS)
@settings(max_examples=10, deadline=None)
def test_the_first_screen_of_any_answer_is_short(seed: int) -> None:
    summary, made = sample(), made_answer(seed)
    with lengths_in(made.study.lengths):
        summary["answer"] = answer_data(made)
        cases = {case["id"]: case for case in summary["cases"]}
        chosen = cases[SAMPLE["answer"]["chosen"]] | {"id": made.chosen}
        summary["cases"] = [*(c for c in summary["cases"] if c["id"] != made.chosen), chosen]
        for case in summary["exposure"]["cases"]:
            case["case"] = "none" if case["case"] == "none" else made.chosen
        text = html(summary)
    assert len(first_screen(text).split()) <= MOST_WORDS
    # Nothing is said twice: neither the headline nor a sentence comes again below.
    for said in (made_said := summary["answer"])["headline"], made_said["how_sure"]:
        assert words(text).count(" ".join(said.split())) == 1


def test_what_is_worse_within_its_error_only_may_be_worse() -> None:
    summary = sample()
    for c in summary["answer"]["candidates"]:
        c["worse"], c["worse_error"] = 0.0, 0.0
    own = [c for c in summary["answer"]["candidates"] if c["origin"] != "reference"]
    # On four drawings, and on many.
    for c, worse, error in zip(own, (0.26, 0.6), (0.21, 0.02), strict=False):
        c["worse"], c["worse_error"] = worse, error
    text = words(html(summary))
    sure, may = "Worse than no choke, and to be seen:", "May be worse than no choke;"
    assert text.index(sure) < text.index(f"{own[1]['label']}: in 60 ± 2 of 100.")
    assert text.index(may) < text.index(f"{own[0]['label']}: in 26 ± 21 of 100.")
    assert text.index(f"{own[1]['label']}: in 60") < text.index(may)


def test_every_question_is_folded_with_its_answer_below_it() -> None:
    text = html()
    folds = re.findall(r'<details id="(\w+)"[^>]*>\s*<summary><h2>(.*?)</h2></summary>', text)
    assert [name for name, _ in folds] == [f.id for f in FOLDS]
    assert "<details open" not in text
    own = {f.answers: f.id for f in FOLDS if f.answers}
    assert set(SAMPLE["answer"]["questions"]) <= set(own)
    for question, said in SAMPLE["answer"]["questions"].items():
        part = text.split(f'<details id="{own[question]}"')[1].split("</details>")[0]
        assert " ".join(said.split()) in words(part)


def test_every_figure_stands_in_a_fold() -> None:
    assert {each.section for each in FIGURES.values()} == set(SECTIONS)
    assert set(SECTIONS) <= {f.id for f in FOLDS}


def test_what_only_the_script_fills_is_hidden_without_it_and_on_paper() -> None:
    places = [a for _, a in Reader(html()).tags if "live" in str(a.get("class")).split()]
    assert {a["id"] for a in places} >= {
        "live-numbers",
        "live-solid",
        "live-share",
    }
    assert all("hidden" in a for a in places)
    css = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    paper = re.search(r"@media print \{\n(.*?)\n\}", css, re.DOTALL)
    assert paper is not None
    assert ".live { display: none; }" in paper[1]


def test_what_is_folded_is_open_on_paper() -> None:
    css = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    paper = re.search(r"@media print \{\n(.*?)\n\}", css, re.DOTALL)
    assert paper is not None
    # CSS Pseudo-Elements Module Level 4 (W3C, 2024), ::details-content: the folded part of details.
    assert "details::details-content { content-visibility: visible;" in paper[1]


def test_every_candidate_has_its_row_with_chance_and_standing() -> None:
    part = html().split('<details id="candidates"')[1].split("</details>")[0]
    rows = re.findall(r"<tr class=.*?</tr>", part, re.DOTALL)
    found = SAMPLE["answer"]["candidates"]
    assert len(rows) == len(found)
    for row, entry in zip(rows, found, strict=True):
        text = words(row)
        assert entry["label"] in text
        assert entry["standing"] in text
        assert ('<span class="tag">chosen</span>' in row) == (
            entry["id"] == SAMPLE["answer"]["chosen"]
        )
        assert hundredths(entry["enough"]) in text


def test_every_case_is_shown_as_described() -> None:
    part = words(html().split('<details id="described"')[1].split("</details>")[0])
    assert all(case["id"] in part for case in SAMPLE["cases"])


@pytest.mark.parametrize("make", [html, limits_page])
def test_a_page_runs_nothing_and_asks_for_nothing(make: Callable[[], str]) -> None:
    text = make()
    found = Reader(text)
    assert text.startswith("<!doctype html>")
    assert not {tag for tag, _ in found.tags} & {"script", "iframe", "object", "link", "form"}
    for _, attributes in found.tags:
        assert not [key for key in attributes if key.startswith("on") or key == "style"]
        for key in ("src", "href"):
            value = attributes.get(key) or ""
            assert not re.match(r"(?i)\s*(https?:|//|javascript:)", value)
    css = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert css is not None
    assert not re.search(r"url\(|@import|https?:", css[1])
    digest = base64.b64encode(hashlib.sha256(css[1].encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{digest}'" in text


def test_no_interval_is_cut_between_its_ends() -> None:
    found = re.findall(r'<span class="([^"]*)">[^<]*\d(?:–| to )−?\d[^<]*</span>', html())
    assert len(found) > 50
    assert all("whole" in classes.split() for classes in found)
    css = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    assert ".whole { white-space: nowrap; }" in css


@pytest.mark.parametrize(("with_choke", "said"), [(1.1, False), (1.9, True)])
def test_a_match_that_gets_worse_with_the_choke_says_why(with_choke: float, said: bool) -> None:
    summary = sample()
    advised = summary["answer"]["chosen"]
    case = next(c for c in summary["cases"] if c["id"] == advised)
    case["swr"] = with_choke
    text = words(html(summary))
    assert ("its lengths want tuning with the choke in place" in text) == said


@pytest.mark.parametrize("name", sorted(p.name for p in TEMPLATES.glob("*.j2")))
def test_every_table_of_every_page_scrolls_in_a_box_that_the_keyboard_reaches(name: str) -> None:
    # Web Content Accessibility Guidelines 2.2 (W3C, 2023): 1.4.10 lets a table be wider than a
    # screen of 320 px where it scrolls by itself, 2.1.1 wants it reached without a pointer.
    tags = Reader((TEMPLATES / name).read_text(encoding="utf-8")).tags
    for (tag, box), (inside, _) in itertools.pairwise(tags):
        if inside == "table":
            assert tag == "div"
            assert "scroll" in str(box["class"]).split()
            assert (box["tabindex"], box["role"]) == ("0", "region")
            assert box.get("aria-label") or box.get("aria-labelledby")


def test_what_tells_that_a_table_goes_on_is_for_screens_and_not_for_paper() -> None:
    css = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    media = {m[1]: m[2] for m in re.finditer(r"@media ([^{]+) \{\n(.*?)\n\}", css, re.DOTALL)}
    plain = re.sub(r"@media [^{]+ \{\n.*?\n\}", "", css, flags=re.DOTALL)
    assert ".scroll { overflow-x: auto;" in plain
    assert ".scroll { overflow: visible; }" in media["print"]
    for query, rules in media.items():
        if "scrolls sideways" in rules or "no-repeat local" in rules:
            assert query.startswith("screen and (max-width")
    assert sum("scrolls sideways" in rules for rules in media.values()) == 1
    assert sum("no-repeat local" in rules for rules in media.values()) == 1


def test_the_three_numbers_of_the_answer_stand_side_by_side_on_paper() -> None:
    css = (TEMPLATES / "report.css").read_text(encoding="utf-8")
    paper = re.search(r"@media print \{\n(.*?)\n\}", css, re.DOTALL)
    assert paper is not None
    assert ".facts { grid-template-columns: repeat(3, 1fr);" in paper[1]
    assert sum(tag == "dt" for tag, _ in Reader(html().split("</dl>")[0]).tags) == 3


def test_where_people_can_be_comes_before_distances_and_warns_above_a_limit() -> None:
    quiet, loud = sample(), sample()
    public = min(
        (x for x in loud["exposure"]["limits"] if x["group"] == "general public"),
        key=lambda x: float(x["power_density_w_per_m2"]),
    )
    for summary, density, above in ((quiet, 0.1, []), (loud, 14.0, [public["id"]])):
        for case in summary["exposure"]["cases"]:
            for people in case["people"]:
                people.update(density_w_per_m2=density, above=above)
    calm, warned = (words(html(s)) for s in (quiet, loud))
    for text in (calm, warned):
        assert text.index("Up to 2.5 m above ground") < text.index("Farther than all of")
        assert "not a certificate" in text
        assert "The rules of your country come first" in text
    named = (
        f"above the strictest limit for the general public ({public['power_density_w_per_m2']:.3g}"
    )
    assert named in warned
    assert "Keep people away from there while the station transmits" in warned
    assert "below every limit" in calm
    assert "Keep people away from there" not in calm


def test_every_conductor_has_its_distance_on_the_page() -> None:
    text = words(html())
    for zone in SAMPLE["exposure"]["cases"][0]["distances"][0]["zones"]:
        assert f"from the {zone['conductor']}" in text


def test_what_the_far_field_asks_for_is_told_without_the_choke_as_well() -> None:
    summary = sample()
    for case in summary["exposure"]["cases"]:
        bare = case["case"] == "none"
        case["eirp_w"] = 61.0 if bare else 43.0
        for row in case["distances"]:
            row.update(far_field_m=3.2 if bare else 2.7, far_field_ground_m=5.1 if bare else 4.3)
    text = words(html(summary))
    assert "61 W without a choke, 43 W with the chosen one" in text
    assert "3.2 m → 2.7 m" in text
    assert "5.1 m → 4.3 m" in text
    alone = sample()
    alone["answer"]["chosen"] = "none"
    assert "W with the chosen one" not in words(html(alone))


def test_every_figure_is_shown_with_words_for_those_who_cannot_see_it() -> None:
    images = [a for tag, a in Reader(html()).tags if tag == "img"]
    assert len(images) == len(FIGURES)
    assert all((a.get("alt") or "").startswith("caption") for a in images)


def test_the_cautions_are_on_the_page() -> None:
    text = words(html())
    for word in ("Falls", "power lines", "lightning", "local electrical code", "exposure limits"):
        assert word in text
    # One line of them is in sight without a fold.
    seen = words(html().split("<body>")[1].split("<details")[0])
    for word in ("Falls", "power lines", "lightning", "transmitters", "all cautions"):
        assert word in seen


def test_limits_and_versions_are_on_the_page() -> None:
    text = words(html())
    for limit in SAMPLE["limits"].values():
        assert limit["meaning"] in text
    assert SAMPLE["versions"]["PyNEC"] in text


# Numbers of a row of the comparison that have an interval, in order, and their scale in print.
COMPARED = (
    ("station_current_ratio", 100), ("shield_current_ratio_max", 100),
    ("pattern_change_rms_db", 1), ("pattern_change_max_db", 1), ("horizon_gain_mean_dbi", 1),
    ("r_ohm", 1), ("x_ohm", 1), ("swr_feed", 1), ("swr_radio", 1), ("choke_power_w", 1),
    ("line_loss_db", 1),
)  # fmt: skip


def cells(row: str) -> list[list[str]]:
    """Value and, where there is one, interval of the last twelve cells of a row, but the choke."""
    found = re.findall(r"<td[^>]*>(.*?)</td>", row, re.DOTALL)[-12:]
    plain = [re.sub(r"</?span[^>]*>", "", c).replace("−", "-").split("<br>") for c in found]
    return plain[:9] + plain[10:]


@pytest.mark.parametrize("number", range(len(SAMPLE["cases"])))
def test_every_interval_shown_is_that_of_the_summary_with_the_digits_it_bears(number: int) -> None:
    case = SAMPLE["cases"][number]
    part = html().split('<details id="described"')[1].split("</table>")[0]
    rows = re.findall(r"<tr class=.*?</tr>", part, re.DOTALL)
    assert len(rows) == len(SAMPLE["cases"])
    for (column, scale), texts in zip(COMPARED, cells(rows[number]), strict=True):
        low, high = (scale * end for end in case["interval_95"][column])
        if len(texts) == 1:
            assert high - low < 0.01 or texts == [""], column
            continue
        shown = re.split("–| to ", texts[1])
        value = texts[0].removesuffix(" %")
        assert [float(t) for t in shown] == [
            pytest.approx(end, abs=0.5001 * 10.0 ** -len(t.partition(".")[2]))
            for end, t in zip((low, high), shown, strict=True)
        ]
        # As many decimals as the ends have, and none finer than a tenth of half the width.
        digits = {len(t.partition(".")[2]) for t in (value, *shown)}
        assert len(digits) == 1, column
        assert 10.0 ** -digits.pop() > 0.1 * (high - low) / 2 or "." not in value, column
        assert float(shown[0]) <= float(value) <= float(shown[1])


def test_what_an_interval_is_and_is_not_stands_above_the_table() -> None:
    text = words(html())
    before = text[: text.index("case evidence")]
    assert "95 % interval: how far this computation may be off" in before
    assert "does not cover what nobody knows" in before


# Edges


def test_an_unsound_case_is_flagged_in_words() -> None:
    summary = sample()
    summary["cases"][3]["evidence"]["grade"] = "unsound"
    text = words(html(summary))
    assert "do not rely on it" in text
    assert "do not rely on it" not in words(html())


def test_a_place_above_a_limit_is_told_without_a_fold() -> None:
    summary = sample()
    chosen = summary["answer"]["chosen"]
    limit = next(x for x in summary["exposure"]["limits"] if x["group"] == "general public")
    for case in summary["exposure"]["cases"]:
        for people in case["people"]:
            people["above"] = [limit["id"]] if case["case"] == chosen else []
    loud = words(html(summary).split("<body>")[1].split("<details")[0])
    assert "above the strictest limit for the general public" in loud
    for case in summary["exposure"]["cases"]:
        for people in case["people"]:
            people["above"] = []
    calm = words(html(summary).split("<body>")[1].split("<details")[0])
    assert "above the strictest limit" not in calm


def test_text_of_the_study_is_shown_and_never_obeyed() -> None:
    summary = sample()
    evil = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    summary["study"]["title"] = evil
    summary["cases"][4]["label"] = evil
    summary["answer"]["headline"] = evil
    summary["answer"]["candidates"][2] |= {"label": evil, "standing": evil}
    summary["answer"]["unknowns"][0]["drawn"] = evil
    found = Reader(html(summary))
    assert "script" not in {tag for tag, _ in found.tags}
    assert evil in "".join(found.text)


def test_a_study_in_free_space_without_bond_or_ferrite_has_a_page() -> None:
    summary = sample()
    summary["study"]["bond"] = None
    summary["study"]["site"]["ground"] = None
    summary["study"]["station"]["impedance_ohm"] = None
    summary["answer"]["chosen"] = "none"
    text = words(html(summary))
    assert "free space" in text
    assert "floats" in text


def test_the_finding_of_a_figure_is_told_to_those_who_cannot_see_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Invented figures: only their titles matter here."""
    monkeypatch.setattr("pipeline.report.page.first_pictures", lambda results: None)
    (tmp_path / "summary.json").write_text(json.dumps(SAMPLE), encoding="utf-8")
    (tmp_path / "figures").mkdir()
    (tmp_path / "tables").mkdir()
    write_table(tmp_path / "tables" / "cores.csv", core_rows(made_answer(1)))
    drawn = [name for name, each in FIGURES.items() if not each.part or each.part in SAMPLE]
    for name in drawn:
        words = f"<dc:title>{name} &lt; 2</dc:title>"
        svg = f'<svg xmlns:dc="http://purl.org/dc/elements/1.1/">{words}</svg>'
        (tmp_path / "figures" / f"{name}.svg").write_text(svg, encoding="utf-8")
    build_report(tmp_path)
    found = Reader((tmp_path / "report.html").read_text(encoding="utf-8"))
    assert [a["alt"] for tag, a in found.tags if tag == "img"] == [f"{name} < 2" for name in drawn]


# Refusals


def test_a_missing_figure_is_named(tmp_path: Path) -> None:
    (tmp_path / "summary.json").write_text(json.dumps(SAMPLE), encoding="utf-8")
    with pytest.raises(ResultError, match=r"overview\.svg"):
        build_report(tmp_path)


def test_a_damaged_figure_is_named(tmp_path: Path) -> None:
    (tmp_path / "summary.json").write_text(json.dumps(SAMPLE), encoding="utf-8")
    (tmp_path / "figures").mkdir()
    (tmp_path / "figures" / "overview.svg").write_text("<svg", encoding="utf-8")
    with pytest.raises(ResultError, match=r"overview\.svg"):
        build_report(tmp_path)
