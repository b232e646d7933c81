"""How long a run of a few stretches still takes, told with every line of progress.

A stretch is so many steps of one kind; stretches follow one another. Weights are times on an idle
core: only their proportions are trusted, the pace is that of what is finished here and now.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

# Takes a line of progress, and the stretch of which it tells that one more step is finished.
Tell = Callable[[str, str], None]
# Less than this part of a run says nothing about its pace.
TELLING = 0.1
# Tables, figures and page, which come last, and their time on an idle core. [s]
PAGES, PAGES_SECONDS = "pages", 8.0
# So few steps of a stretch may have been done side by side.
FEWEST_STEPS = 2


def in_words(seconds: float) -> str:
    """A time as roughly as it is known.

    Examples
    --------
    >>> in_words(7.3), in_words(48), in_words(130), in_words(5400)
    ('about 10 s', 'about 50 s', 'about 2 min', 'about 90 min')
    """
    if seconds < 90:
        return f"about {max(10, round(seconds / 10) * 10)} s"
    return f"about {round(seconds / 60)} min"


def basis_seconds(size: tuple[int, int, int]) -> float:
    """Time of one port basis on an idle core. [s]

    ``size`` is (segments, ports, frequencies). Filling goes with the square of the number of
    segments, factoring with its cube, both once a frequency; fields are made once for each port.
    """
    n, ports, frequencies = size
    per_frequency = 1.2e-6 * n**2 + 4e-10 * n**3 + 2.5e-6 * n * ports
    return 0.6 + frequencies * per_frequency + 1e-5 * n * ports


@dataclass(frozen=True)
class Stretch:
    """So many steps of one kind, and the weight of each: its time with the cores of a run. [s]"""

    steps: int
    weight: float


@dataclass
class Telling:
    """Lines of progress of a run, each with the time spent and what the whole still takes. [s]"""

    say: Callable[[str], None]
    clock: Callable[[], float] = time.monotonic
    stretches: dict[str, Stretch] = field(default_factory=dict)
    finished: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.begun = self._entered = self._last = self.clock()

    def plan(self, name: str, stretch: Stretch) -> None:
        """Note a stretch that is to come."""
        self.stretches[name] = stretch

    def __call__(self, text: str, stretch: str = "") -> None:
        """Say a line; ``stretch`` is that of the step that it tells of."""
        now = self.clock()
        if stretch in self.stretches:
            if not self.finished[stretch]:
                self._entered = self._last
            self.finished[stretch] += 1
            self._last = now
        left = self.left(stretch, now)
        tail = "" if left is None or left < 1 else f"  {in_words(left)} left"
        self.say(f"{now - self.begun:5.0f} s  {text}{tail}")

    def left(self, stretch: str, now: float) -> float | None:
        """Time to the end of the run; ``None`` while it cannot be told. [s]

        The pace is that of the stretch that is under way: what an earlier run has left behind
        makes another one short, and says nothing about this one.
        """
        whole = sum(s.steps * s.weight for s in self.stretches.values())
        rest = sum(
            max(0, s.steps - self.finished[name]) * s.weight for name, s in self.stretches.items()
        )
        own = self.finished[stretch]
        if own < FEWEST_STEPS or whole - rest < TELLING * whole:
            return None
        return rest * (now - self._entered) / (own * self.stretches[stretch].weight)
