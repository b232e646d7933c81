"""The README's table of rules of thumb, from the summary of a batch.

``python -m tests.survey.readme_table [SUMMARY] --write`` writes the block between its two marks in
the README; without ``--write`` it prints it.
"""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from pipeline.runtime.store import read_json
from pipeline.survey.rules_of_thumb import readme_table

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
SUMMARY = ROOT / "results" / "atlas" / "summary.json"
BEGIN = "<!-- rules of thumb -->"
END = "<!-- end of rules of thumb -->"


def block_in(readme: str) -> str:
    """What stands between the two marks of a README.

    Raises
    ------
    ValueError
        If the marks are not there.
    """
    found = re.search(f"{re.escape(BEGIN)}\n(.*?)\n?{re.escape(END)}", readme, re.DOTALL)
    if found is None:
        raise ValueError(f"README.md: need the lines {BEGIN!r} and {END!r}")
    return found[1]


def write(summary: Path, readme: Path = README) -> None:
    """Put the table where it belongs."""
    text = readme.read_text(encoding="utf-8")
    block_in(text)
    before, after = text.split(BEGIN)[0], text.split(END, 1)[1]
    block = f"{BEGIN}\n{readme_table(read_json(summary))}\n{END}"
    readme.write_text(f"{before}{block}{after}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description="Rules of thumb of a batch for the README.")
    parser.add_argument("summary", nargs="?", type=Path, default=SUMMARY)
    parser.add_argument("--write", action="store_true", help="write the README's block")
    given = parser.parse_args()
    if given.write:
        write(given.summary)
    else:
        print(readme_table(read_json(given.summary)))


if __name__ == "__main__":
    main()
