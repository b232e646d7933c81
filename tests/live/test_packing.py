"""Packed data: the same bytes for the same content, and what was packed comes back."""

from __future__ import annotations

import gzip
import json
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from numpy.typing import NDArray

from pipeline.live.packing import pack, unpack

TEXT = st.text(st.characters(codec="utf-8"), max_size=40)


@given(
    TEXT,
    arrays(np.float64, array_shapes(max_dims=3, min_side=0), elements=st.floats(-1e9, 1e9)),
    arrays(np.uint16, array_shapes(max_dims=2, min_side=0)),
)
def test_what_is_packed_comes_back(
    title: str, numbers: NDArray[np.float64], places: NDArray[np.uint16]
) -> None:
    head, found = unpack(pack({"title": title}, {"numbers": numbers, "places": places}))
    assert head == {"title": title}
    assert np.array_equal(found["numbers"], numbers)
    assert np.array_equal(found["places"], places)


def test_complex_numbers_come_back_as_pairs() -> None:
    z = np.array([[1 + 2j, 3 - 4j]], dtype=np.complex64)
    _, found = unpack(pack({}, {"z": z}))
    assert found["z"].dtype == np.float32
    assert found["z"].tolist() == [[[1, 2], [3, -4]]]


def test_equal_content_has_equal_bytes() -> None:
    content = ({"name": "shed"}, {"z": np.arange(7.0)})
    # RFC 1952, section 2.3.1: bytes 4 to 7 are the time, zero where there is none.
    assert pack(*content) == pack(*content)
    assert pack(*content)[4:8] == bytes(4)


def test_the_layout_is_the_one_that_the_page_reads() -> None:
    whole = gzip.decompress(
        pack({"title": "Äpfel"}, {"a": np.arange(3.0), "b": np.arange(2)[:1] * 1.0})
    )
    (length,) = struct.unpack_from("<I", whole)
    head = json.loads(whole[4 : 4 + length])
    first = -(-(4 + length) // 8) * 8
    assert head["title"] == "Äpfel"
    assert head["arrays"]["b"] == {"type": "float64", "shape": [1], "offset": 24}
    assert struct.unpack_from("<3d", whole, first) == (0.0, 1.0, 2.0)


def test_what_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        pack({"swr": float("nan")}, {})
