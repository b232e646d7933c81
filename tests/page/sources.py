"""Single modules of the page's sources, for tests that need neither a page nor a solve."""

from __future__ import annotations

import subprocess
from pathlib import Path

SOURCES = Path(__file__).parents[2] / "pipeline" / "live" / "page" / "src"


def bundled(name: str) -> str:
    """A module of the page's sources with all that it imports, as a script that sets ``tried``."""
    form = ("--bundle", "--format=iife", "--global-name=tried", "--charset=utf8")
    command = [str(SOURCES.parent / "node_modules" / ".bin" / "esbuild"), f"{name}.ts", *form]
    return subprocess.run(command, cwd=SOURCES, check=True, capture_output=True, text=True).stdout
