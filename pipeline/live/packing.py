"""Plain data and arrays in one compressed file that a browser unpacks: layout and bytes.

A head and named arrays in, bytes out, the same for the same content; ``page/src/engine/payload.ts``
is the reader in the page.
"""

from __future__ import annotations

import gzip
import json
import struct
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Every array begins at a multiple of this, as a browser's typed arrays have to. [bytes]
_EIGHT = 8
# Kinds of numbers that both sides know. Complex ones go as pairs in a last axis of two.
_TYPES = {"float64": "<f8", "float32": "<f4", "int32": "<i4", "int16": "<i2", "uint16": "<u2"}


def pack(head: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """Bytes of a head and its arrays: length of the head, the head as JSON, arrays; gzip.

    Complex arrays become pairs of real ones. ``head`` must not have a key ``arrays``.

    Examples
    --------
    >>> content = pack({"name": "shed"}, {"z": np.array([50 + 1j])})
    >>> head, arrays = unpack(content)
    >>> head, arrays["z"].tolist()
    ({'name': 'shed'}, [[50.0, 1.0]])
    """
    places, blocks, at = {}, [], 0
    for name, array in arrays.items():
        plain = _as_real(np.asarray(array))
        kind = plain.dtype.name
        places[name] = {"type": kind, "shape": list(plain.shape), "offset": at}
        block = plain.astype(_TYPES[kind]).tobytes()
        blocks.append(block + bytes(-len(block) % _EIGHT))
        at += len(blocks[-1])
    text = json.dumps({**head, "arrays": places}, ensure_ascii=False, allow_nan=False)
    start = struct.pack("<I", len(text.encode())) + text.encode()
    whole = b"".join([start, bytes(-len(start) % _EIGHT), *blocks])
    # Without the time of packing: the same results are the same file.
    return gzip.compress(whole, 9, mtime=0)


def _as_real(array: NDArray[Any]) -> NDArray[Any]:
    if not np.iscomplexobj(array):
        return array
    return np.stack([array.real, array.imag], axis=-1)


def unpack(content: bytes) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Head and arrays of packed bytes; complex arrays have a last axis of two.

    Inverse of :func:`pack`.
    """
    whole = gzip.decompress(content)
    (length,) = struct.unpack_from("<I", whole)
    start = 4 + length
    head = json.loads(whole[4:start])
    first = start + -start % _EIGHT
    found = {}
    for name, place in head.pop("arrays").items():
        count = int(np.prod(place["shape"], dtype=int))
        kind = np.dtype(_TYPES[place["type"]])
        flat = np.frombuffer(whole, kind, count, first + place["offset"])
        found[name] = flat.reshape(place["shape"])
    return head, found
