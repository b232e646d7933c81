"""What the README promises is what the project does."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

from models.antennas import generators
from pipeline.answer.phrases import of_hundred

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SAMPLE = ROOT / "results" / "orchard_shed"


def test_the_verdict_shown_is_the_verdict_of_the_committed_sample():
    shown = re.search(r"<!-- verdict.*?-->\n(.*?)\n<!-- end of verdict -->", README, re.DOTALL)
    assert shown is not None
    text = "\n".join(line.removeprefix("> ").removeprefix(">") for line in shown[1].splitlines())
    summary = json.loads((SAMPLE / "summary.json").read_text(encoding="utf-8"))
    assert text.split() == summary["answer"]["text"].split()


def family() -> list[str]:
    """Rows of the README's table of antennas, from the committed comparison."""
    with (ROOT / "results" / "compared" / "compared.csv").open(encoding="utf-8") as stream:
        compared = list(csv.DictReader(stream))
    lines = []
    for row in compared:
        name = generators()[row["antenna"]].title.split(" ", 1)[1]
        most = [100 * float(row[f"shield_current_ratio_max_{w}"]) for w in ("without", "with")]
        lines.append(
            f"| [{name}](models/studies/{row['study']}.yaml) "
            f"| {float(row['frequency_hz']) / 1e6:.0f} MHz "
            f"| {float(row['swr_feed_without']):.2f} "
            f"| {float(row['horizon_gain_mean_dbi_without']):.1f} dBi "
            f"| {most[0]:.0f} → {most[1]:.0f} % | {row['choke']} "
            f"| {of_hundred(float(row['enough']))} | {row['grade_without']} |"
        )
    return lines


def test_the_table_of_antennas_is_that_of_the_committed_comparison():
    shown = re.search(r"<!-- family.*?-->\n(.*?)\n<!-- end of family -->", README, re.DOTALL)
    assert shown is not None
    assert shown[1].splitlines()[2:] == family()
    with (ROOT / "results" / "compared" / "compared.csv").open(encoding="utf-8") as stream:
        shown_kinds = {row["antenna"] for row in csv.DictReader(stream)}
    assert {g.name for g in generators().values()} == shown_kinds


def test_every_picture_and_file_the_readme_names_is_in_the_repository():
    named = re.findall(r"\]\(([^)#]+)\)", README) + re.findall(r"`(models/[^`]+\.\w+)`", README)
    assert len(named) >= 5
    for name in named:
        assert (ROOT / name).exists(), name


def test_the_first_two_code_blocks_set_up_run_and_test():
    run, test = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)[:2]
    for command in (run, test):
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install")
        assert "--constraint constraints.txt" in command
        assert command.count("\n") == 1
    assert "braidwise study models/studies/orchard_shed.yaml" in run
    assert "-m pytest" in test


def test_the_minimal_study_is_under_fifteen_lines():
    text = (ROOT / "models" / "studies" / "minimal.yaml").read_text(encoding="utf-8")
    assert len(text.splitlines()) < 15


def test_the_cautions_are_there():
    for word in ("falls", "power lines", "lightning", "radio-frequency exposure", "local code"):
        assert word in README
