"""A page in a browser, with everything noted that a harmless one does not do."""

from __future__ import annotations

import shutil
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium") or "chromium"
# Software graphics; nothing of the browser's own goes out beside the page.
OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
]
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
# Runs before the page's own scripts, outside of its policy.
_COUNT_VIOLATIONS = """
window.violations = [];
document.addEventListener('securitypolicyviolation', (e) =>
  window.violations.push(`${e.violatedDirective}: ${e.blockedURI}`));
"""


@dataclass
class Watched:
    """An open page; ``messages`` are those of its console and errors, ``requests`` what it loads.

    A test that provokes a message empties the list after it has looked at it.
    """

    page: Page
    messages: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def violations(self) -> list[str]:
        """What the page's policy has stopped."""
        found: list[str] = self.page.evaluate("window.violations ?? []")
        return found

    def forgiven(self) -> list[str]:
        """All that was noted so far, which no longer counts."""
        noted = [*self.messages, *self.violations()]
        self.messages.clear()
        self.page.evaluate("window.violations.length = 0")
        return noted

    def closed(self) -> str:
        """Close the window; what was wrong with the page, empty where nothing was."""
        wrong = [*self.messages, *(f"stopped {v}" for v in self.violations())]
        if len(self.requests) != 1:
            wrong.append(f"{len(self.requests)} requests: {[r[:80] for r in self.requests]}")
        self.page.context.close()
        return "\n".join(wrong)


def watch(browser: Browser, path: Path, fragment: str = "", **options: Any) -> Watched:
    """Open a file in a fresh context and wait until its own scripts have run.

    Data in the page's own text (``data:``) are no requests.
    """
    context = browser.new_context(**{"viewport": DESKTOP, **options})
    context.add_init_script(_COUNT_VIOLATIONS)
    page = context.new_page()
    watched = Watched(page)
    page.on("console", lambda told: watched.messages.append(f"{told.type}: {told.text}"))
    page.on("pageerror", lambda error: watched.messages.append(f"error: {error}"))
    page.on("request", lambda asked: _note(watched, asked.url))
    # What the policy stops is asked for by nobody: it is counted among the violations.
    page.on("requestfailed", lambda asked: _drop(watched, asked.url, asked.failure or ""))
    page.goto(path.as_uri() + fragment, wait_until="load")
    return watched


def _note(watched: Watched, address: str) -> None:
    if not address.startswith("data:"):
        watched.requests.append(address)


def _drop(watched: Watched, address: str, why: str) -> None:
    if why == "csp":
        watched.requests.remove(address)


def unfold(page: Page) -> None:
    """Open every fold, and wait until what is in it is shown."""
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
    page.evaluate("new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)))")


def wait_until(page: Page, holds: str) -> None:
    """Wait until something holds; the page's policy keeps the browser from asking by itself."""
    end = time.monotonic() + 30
    while not page.evaluate(holds):
        assert time.monotonic() < end, holds
        time.sleep(0.05)
