"""Digests of an article's folder: of every file, and of its data whatever machine made them.

A folder and paths in it in, hexadecimal digits out. Two machines differ in the last bits of a sum
(order of additions in linear algebra, fused operations): by less than 1e-12 of the largest number
of an array where the same study was solved with and without vector instructions. So data are
digested as rounded numbers. Near fields, which the engine takes from differences, moved by up to
4e-5; no rounding makes thousands of such numbers equal, so what rests on them is left out.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Significant digits of a number; what is smaller than so little is nothing.
DIGITS, NOTHING = 5, 1e-12
# Numbers are made so much larger before they are rounded: one that lies halfway between two, as
# counts over a power of two do, goes the same way whatever its last bit is.
_BEYOND_HALF = 1 + 1e-9
# What the summary holds of the machine and its programs, and what rests on near fields, as paths.
_LEFT_OUT = (("versions",), ("exposure",), ("in_use", "noise"))
# Tables that rest on near fields.
NEAR_FIELDS = ("exposure", "exposure_map", "noise")


def checksums(folder: Path, paths: Iterable[str]) -> str:
    """SHA-256 of files of a folder, in the form that ``sha256sum --check`` reads."""
    return _listed(folder, paths, lambda path, content: content)


def data_digests(folder: Path, paths: Iterable[str]) -> str:
    """SHA-256 of data files of a folder, each in its stable form. Definition."""
    return _listed(folder, paths, stable)


def _listed(folder: Path, paths: Iterable[str], form: Callable[[str, bytes], bytes]) -> str:
    found = ((path, form(path, (folder / path).read_bytes())) for path in sorted(paths))
    return "".join(f"{hashlib.sha256(content).hexdigest()}  {path}\n" for path, content in found)


def stable(path: str, content: bytes) -> bytes:
    """A data file in a form that is the same on every machine; text that is no table as it is."""
    form = _FORMS.get(f".{path.rsplit('.', 1)[-1]}")
    return content if form is None else form(content)


def number(value: float) -> str:
    """A number as the digest has it.

    Examples
    --------
    >>> number(0.123456789), number(-3e-17), number(12345678.0)
    ('0.12346', '0', '1.2346e+07')
    """
    return "0" if abs(value) < NOTHING else f"{value * _BEYOND_HALF:.{DIGITS}g}"


def _table(content: bytes) -> bytes:
    """A CSV file: cells that are numbers rounded, the rest as they are."""
    rows = list(csv.reader(io.StringIO(content.decode())))
    return "\n".join("\x1f".join(_cell(cell) for cell in row) for row in rows).encode()


def _cell(text: str) -> str:
    try:
        return number(float(text))
    except ValueError:
        return text


def _plain(content: bytes) -> bytes:
    """A summary: numbers rounded, without what is of the machine or rests on near fields."""
    data: Any = json.loads(content)
    for *above, last in _LEFT_OUT:
        inside = data
        for key in above:
            inside = inside.get(key, {})
        inside.pop(last, None)
    return json.dumps(_rounded(data), sort_keys=True, ensure_ascii=False).encode()


def _rounded(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _rounded(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_rounded(value) for value in data]
    return number(data) if isinstance(data, float) else data


def _arrays(content: bytes) -> bytes:
    """Arrays (netCDF-3): names, sizes and numbers, each beside the largest of its array."""
    from scipy.io import netcdf_file

    lines: list[str] = []
    with netcdf_file(io.BytesIO(content), "r", mmap=False) as data:
        for name, variable in sorted(data.variables.items()):
            values: NDArray[Any] = variable[:].copy()
            lines += [name, str(values.shape), *_numbers(values)]
    return "\n".join(lines).encode()


def _numbers(values: NDArray[Any]) -> Iterable[str]:
    """Numbers of an array in whole steps of a part of the largest; names as they are."""
    if values.dtype.kind not in "fi":
        yield values.tobytes().hex()
        return
    largest = float(np.max(np.abs(values), initial=0.0))
    # A power of ten, which the last bit of the largest does not change.
    step = 10.0 ** (math.floor(math.log10(largest)) - DIGITS) if largest > NOTHING else 1.0
    yield from map(str, np.rint(values.ravel() * (_BEYOND_HALF / step)).astype(np.int64).tolist())


def _ports(content: bytes) -> bytes:
    """A Touchstone file: words that are numbers rounded."""
    lines = content.decode().splitlines()
    return "\n".join(" ".join(_cell(word) for word in line.split()) for line in lines).encode()


_FORMS: dict[str, Callable[[bytes], bytes]] = {
    ".csv": _table,
    ".json": _plain,
    ".nc": _arrays,
    ".s1p": _ports,
}
