"""What a solve adds to the memory of a process: ``python -m tests.bench.peak_memory 1000``.

The number of segments in; bytes at the peak, over those before the solve, out. A process of its
own, since a peak is never forgotten; Linux tells it, and of this program alone (what ``getrusage``
tells holds the peak of whoever started it).
"""

from __future__ import annotations

import importlib
import re
import sys
from pathlib import Path

import numpy as np
import psutil

from models.wires.structure import Port, Structure, Wire
from pipeline.solver.nec2 import unit_source_currents

FREQUENCY = 145e6
# Segments of a twentieth of a wavelength. [m]
SEGMENT = 0.1


def straight(n_segments: int) -> Structure:
    """One wire in free space, fed at its first segment."""
    wire = Wire((0.0, 0.0, 0.0), (0.0, 0.0, SEGMENT * n_segments), n_segments, 1e-3, "wire")
    return Structure("straight", (wire,), (Port("feed", 0, 0),))


def peak() -> int:
    """The most memory that this process has had. [bytes]"""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    return 1024 * int(re.findall(r"VmHWM:\s+(\d+) kB", status)[0])


def main() -> None:
    structure = straight(int(sys.argv[1]))
    # The engine itself is loaded with the first solve; that is no memory of this one.
    importlib.import_module("PyNEC")
    unit_source_currents(straight(10), np.array([FREQUENCY]), None)
    before = psutil.Process().memory_info().rss
    unit_source_currents(structure, np.array([FREQUENCY]), None)
    print(peak() - before)


if __name__ == "__main__":
    main()
