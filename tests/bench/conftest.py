"""What a run of the benchmarks says about its machine: what its speed depends on, and no name."""

from __future__ import annotations

from typing import Any

import pytest

import pipeline  # noqa: F401  -- before NumPy: one thread a process
from tests.bench.measuring import machine


@pytest.hookimpl
def pytest_benchmark_update_machine_info(
    config: pytest.Config, machine_info: dict[str, Any]
) -> None:
    machine_info.clear()
    machine_info.update(machine())
