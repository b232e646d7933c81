"""Lines of progress from the jobs of a run to the person who started it.

A job is a process of its own whose output goes to a log. What it wants to tell at once it adds to a
file that the command names in the environment and reads all the while.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.runtime.process import environment, say
from pipeline.runtime.progress import Telling

# Names in the environment: the file, and when the run began by the clock that all processes share.
_FILE, _BEGUN = "BRAIDWISE_TOLD", "BRAIDWISE_BEGUN"
# How often the file is looked at. [s]
_LOOK = 0.1


def teller() -> Telling:
    """What a job tells of its progress with; of one that nobody waits for it goes into its log."""
    path, begun = os.environ.get(_FILE), os.environ.get(_BEGUN)
    if path is None or begun is None:
        return Telling(print)

    def tell(text: str) -> None:
        with open(path, "a", encoding="utf-8") as stream:
            stream.write(f"{text}\n")

    telling = Telling(tell)
    telling.begun = float(begun)
    return telling


@contextmanager
def listening(folder: Path, take: Callable[[str], None] = say) -> Iterator[None]:
    """Take what jobs tell, as they tell it, until the block is left; usually to say it."""
    path = folder / ".told"
    path.write_text("", encoding="utf-8")
    done = threading.Event()
    thread = threading.Thread(target=_follow, args=(path, done, take), daemon=True)
    thread.start()
    try:
        with environment(**{_FILE: str(path), _BEGUN: str(time.monotonic())}):
            yield
    finally:
        done.set()
        thread.join()
        path.unlink(missing_ok=True)


def _follow(path: Path, done: threading.Event, take: Callable[[str], None]) -> None:
    with open(path, encoding="utf-8") as stream:
        rest = ""
        while True:
            is_last = done.wait(_LOOK)
            *lines, rest = (rest + stream.read()).split("\n")
            for line in lines:
                take(line)
            if is_last:
                return
