"""Times of one process and of several, numbers as a table shows them, and the machine in words."""

from __future__ import annotations

import platform
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from statistics import median
from typing import Any

import cpuinfo
import psutil

# What the speed of a solve depends on.
LIBRARIES = ("numpy", "PyNEC")
# Up to so much of its time for other programs a machine counts as idle. [%]
IDLE = 3


def cpu_seconds(work: Callable[[], object], rounds: int) -> float:
    """CPU time of this process, the median of some rounds. [s]"""
    taken = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return median(taken)


def wall_seconds(work: Callable[[], object]) -> float:
    """Time by the clock on the wall. [s]"""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


@dataclass
class Company:
    """Share of the machine's processor time that other programs took, from its making on. [-]"""

    begun: float = field(default_factory=time.perf_counter)
    before: float = field(default_factory=lambda: _taken_by_others())

    @property
    def share(self) -> float:
        span = (time.perf_counter() - self.begun) * (psutil.cpu_count() or 1)
        return max(0.0, (_taken_by_others() - self.before) / span)

    def in_words(self) -> str:
        """What a reader has to know of a time on the wall: nothing on an idle machine."""
        percent = 100 * self.share
        return f" while other programs took {percent:.0f} % of the cores" if percent > IDLE else ""


def _taken_by_others() -> float:
    """Processor time of the machine that is neither idle nor this program's. [s]"""
    times = psutil.cpu_times()._asdict()
    idle = sum(times.get(name, 0.0) for name in ("idle", "iowait", "guest", "guest_nice"))
    return sum(times.values()) - idle - sum(psutil.Process().cpu_times()[:4])


def tell(benchmark: Any, measured: str, claim: str = "", holds: bool = True) -> None:
    """Note what a benchmark found, what the project claims of it, and that the claim holds."""
    benchmark.extra_info.update(measured=measured, claim=claim, holds=bool(holds))
    assert holds, f"claimed: {claim}; measured: {measured}"


def rounded(number: float) -> str:
    """Two digits, and commas between thousands.

    Examples
    --------
    >>> [rounded(x) for x in (0.0456, 0.6, 28.4, 13270)]
    ['0.046', '0.60', '28', '13,000']
    """
    exponent = int(f"{number:.1e}".partition("e")[2])
    return f"{round(number, 1 - exponent):,.{max(0, 1 - exponent)}f}"


def duration(seconds: float) -> str:
    """A time of two digits in its own unit.

    Examples
    --------
    >>> [duration(x) for x in (4.51e-05, 0.0213, 0.6, 118.3)]
    ['45 µs', '21 ms', '0.60 s', '120 s']
    """
    for factor, unit in ((1e6, "µs"), (1e3, "ms")):
        if seconds * factor < 100:
            return f"{rounded(seconds * factor)} {unit}"
    return f"{rounded(seconds)} s"


def machine() -> dict[str, Any]:
    """What a speed is worth: processor by class, memory, libraries; no name of machine or maker."""
    found = cpuinfo.get_cpu_info()
    vectors = [
        flag for flag in ("avx512f", "avx2", "avx", "neon") if flag in found.get("flags", ())
    ]
    return {
        "cores": psutil.cpu_count(logical=False) or psutil.cpu_count(),
        "processor": " with ".join([found["arch_string_raw"], *(v.upper() for v in vectors[:1])]),
        "clock_ghz": round(found.get("hz_advertised", found.get("hz_actual", (0, 0)))[0] / 1e9, 1),
        "memory_gb": round(psutil.virtual_memory().total / 1e9),
        "system": platform.system(),
        "python": platform.python_version(),
        **{name.lower(): version(name) for name in LIBRARIES},
    }
