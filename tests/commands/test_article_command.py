"""`braidwise article` as its users meet it; what it writes is tested in tests/article."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from pipeline.commands.cli import main
from tests.harness.small_study import finished, small_study_file

pytestmark = pytest.mark.takes(4)


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small study, whose results are there when the workflow has run."""

    def run(plans: dict[str, object], results: Path, cores: int) -> bool:
        assert list(plans) == ["small"]
        assert cores == 1
        shutil.copytree(finished() / "small", results / "small", dirs_exist_ok=True)
        return True

    monkeypatch.setattr("pipeline.workflow.run.run_workflow", run)
    monkeypatch.setattr("pipeline.article.drawn.draw_for_print", lambda *_: [])
    return small_study_file(tmp_path)


def told(capsys: pytest.CaptureFixture[str], study: Path, *more: str) -> tuple[int, str, str]:
    out = study.parent / "out"
    code = main(["article", str(study), "--results", str(out), "--cores", "1", *more])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_it_says_where_the_article_is_and_what_its_data_hash_to(study: Path, capsys) -> None:
    code, out, _ = told(capsys, study)
    assert code == 0
    place = study.parent / "out" / "article"
    found = re.fullmatch(r"Article: (.+)\nArchive: (.+)\nData hash: ([0-9a-f]{64})\n", out)
    assert found is not None
    assert (Path(found[1]), Path(found[2])) == (place / "small", place / "small.zip")
    assert found[3] in (place / "small" / "README.md").read_text(encoding="utf-8")
    again = told(capsys, study, "--claims")
    assert again[:2] == (0, out)
    assert (place / "small" / "claims.csv").exists()


def test_a_run_that_fails_leaves_no_article(
    study: Path, capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.workflow.run.run_workflow", lambda *_: False)
    code, out, _ = told(capsys, study)
    assert (code, out) == (1, "")
    assert not (study.parent / "out" / "article").exists()


def test_a_date_that_is_none_is_said_before_anything_is_run(
    study: Path, capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "soon")
    code, _, err = told(capsys, study)
    assert code == 2
    assert "SOURCE_DATE_EPOCH = soon  [date]" in err
    assert not (study.parent / "out").exists()


def test_a_study_of_the_folders_name_is_refused(study: Path, capsys) -> None:
    named = small_study_file(study.parent, "article")
    code, _, err = told(capsys, named)
    assert code == 2
    assert "[study-name-taken]" in err
    assert "articles" in err
