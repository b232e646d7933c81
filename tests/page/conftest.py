"""What the page's tests share: a study's report, one browser, and pages that are watched.

The folder is not in the test command, which has to run where there is Python only; `.ci/run` names
it. A report is made once a session from the small study, or taken from finished results:

    python -m pytest tests/page --results results/orchard_shed
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

import pipeline  # noqa: F401  -- before NumPy: one thread a process
from tests.harness import small_study, solves
from tests.page.sources import bundled
from tests.page.watched import CHROMIUM, OPTIONS, Watched, watch


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--results", help="finished results of a study, instead of a small one's")


def pytest_configure(config: pytest.Config) -> None:
    """A folder for solves that is empty when the session begins, as in all other tests."""
    os.environ[solves.FOLDER] = tempfile.mkdtemp(prefix="solves-")
    solves.share()


def pytest_unconfigure(config: pytest.Config) -> None:
    shutil.rmtree(os.environ.pop(solves.FOLDER), ignore_errors=True)


@pytest.fixture(scope="session")
def results(request: pytest.FixtureRequest) -> Path:
    """Results of a study with its report, as they lie where they were made."""
    given = request.config.getoption("--results")
    if given:
        return Path(given).resolve()
    made = small_study.finished() / "small"
    small_study.pages_of(made)
    return made


@pytest.fixture(scope="session")
def report(results: Path) -> Path:
    """The report's one file."""
    return results / "report.html"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium without a window."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def module(browser: Browser) -> Iterator[Callable[[str], Page]]:
    """A function that loads one module of the page's sources into an empty window, as ``tried``."""
    context = browser.new_context()

    def load(name: str) -> Page:
        page = context.new_page()
        page.evaluate(f"{bundled(name)}; window.tried = tried")
        return page

    yield load
    context.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Watched]]:
    """A function that opens a file in a window of its own.

    Options are those of a browser's context (``viewport``, ``color_scheme``, ``reduced_motion``),
    ``fragment`` is what follows the file's name. A test fails whose page said anything on the
    console, threw, broke its own policy or asked for more than the file.
    """
    pages: list[Watched] = []

    def open_page(path: Path, fragment: str = "", **options: object) -> Watched:
        pages.append(watch(browser, path, fragment, **options))
        return pages[-1]

    yield open_page
    found = [page.closed() for page in pages]
    assert found == [""] * len(pages)


@pytest.fixture(scope="module")
def standing(browser: Browser, report: Path) -> Iterator[Watched]:
    """The report's page with its script at work, one for all tests of a file; watched as others."""
    watched = watch(browser, report, permissions=["clipboard-read", "clipboard-write"])
    watched.page.wait_for_selector("html[data-live]")
    yield watched
    assert watched.closed() == ""
