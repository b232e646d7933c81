"""The process that a command runs in: what it says, its home, and how it ends when told to."""

from __future__ import annotations

import os
import signal
import socket
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from types import FrameType

ENDED = 128 + signal.SIGTERM
_LAST_WORDS = b"\nEnded. What was finished is kept; run it again to go on.\n"


def say(text: str) -> None:
    """One line of progress, beside the output."""
    print(text, file=sys.stderr)


def speak_any_encoding() -> None:
    """Show the code of a letter that output has no character for; say each line at once."""
    for stream in (sys.stdout, sys.stderr):
        # Tests put something else there.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace", line_buffering=True)


def speaks_unicode() -> bool:
    """Whether standard output has all characters."""
    return (sys.stdout.encoding or "").lower().replace("-", "").startswith("utf")


@contextmanager
def usable_home() -> Iterator[None]:
    """Give libraries a folder for a while that keep things in a home that cannot be written to."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"))
    if _writable(cache, make=True) and all(
        _writable(cache / inside, make=False) for inside in ("snakemake", "snakemake/source-cache")
    ):
        yield
        return
    with (
        tempfile.TemporaryDirectory(prefix="braidwise-", ignore_cleanup_errors=True) as folder,
        environment(XDG_CACHE_HOME=folder, MPLCONFIGDIR=os.environ.get("MPLCONFIGDIR") or folder),
    ):
        yield


def _writable(folder: Path, make: bool) -> bool:
    """Whether files can be put into a folder, or it is not there and need not be."""
    try:
        if make:
            folder.mkdir(parents=True, exist_ok=True)
        elif not os.path.lexists(folder):
            return True
    except OSError:
        return False
    return folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)


@contextmanager
def environment(**values: str) -> Iterator[None]:
    """Environment variables for a while."""
    before = {key: os.environ.get(key) for key in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for key, value in before.items():
            if value is None:
                del os.environ[key]
            else:
                os.environ[key] = value


@contextmanager
def ends_when_told() -> Iterator[None]:
    """End at once on SIGTERM, jobs and workers with it, whatever is running.

    The workflow has a handler of its own, which waits for the jobs that run. So the signal is
    taken where Python notes it, before any handler: what is written is whole at any moment, and
    there is nothing to wait for.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard, noted = socket.socketpair()
    noted.setblocking(False)
    # One that does nothing: without any the process would end, and leave its jobs behind.
    usual = signal.signal(signal.SIGTERM, _note)
    before = signal.set_wakeup_fd(noted.fileno(), warn_on_full_buffer=False)
    listener = threading.Thread(target=_listen, args=(heard,), daemon=True)
    listener.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before)
        signal.signal(signal.SIGTERM, usual)
        noted.close()
        listener.join()
        heard.close()


def _note(number: int, frame: FrameType | None) -> None:
    """Stand where Python wants a handler."""


def _listen(heard: socket.socket) -> None:
    while signals := heard.recv(64):
        if signal.SIGTERM in signals:
            end_children()
            os.write(2, _LAST_WORDS)
            os._exit(ENDED)


def end_children() -> None:
    """Kill all that this process has started, and what that has started."""
    import psutil

    # Twice: a job may be starting while the first round goes on.
    for _ in range(2):
        for child in psutil.Process().children(recursive=True):
            try:
                child.kill()
            except psutil.NoSuchProcess:
                continue
