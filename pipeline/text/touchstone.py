"""Measured networks from Touchstone files beside a study: file in, scikit-rf network out."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.text.errors import StudyError
from pipeline.text.refusals import FieldError
from pipeline.text.touchstone_reading import TouchstoneTextError, read_sweep
from pipeline.text.units import show_quantity
from pipeline.text.yaml_reading import read_text

LARGEST_MEASUREMENT = 8 * 1024 * 1024
# What every network is brought to, whatever the file refers to. [ohm]
REFERENCE_OHM = 50.0
# A passive part sends back no more than it gets; a calibrated analyser misses that by little.
LARGEST_REFLECTION = 1.1

_PORTS = {".s1p": 1, ".s2p": 2}


def read_network(path: Path) -> Any:
    """Network (scikit-rf) of a Touchstone file of one or two ports, referred to 50 ohm.

    Refused are files above 8 MiB or of another form, values that are not finite, frequencies that
    do not rise, and more reflection than a passive part has.

    References
    ----------
    .. [1] Touchstone File Format Specification, version 1.1 and 2.0 (EIA/IBIS Open Forum).
    """
    ports = _PORTS.get(path.suffix.lower())
    if ports is None:
        remedy = "give the file as the analyser saves it, like choke.s2p"
        raise FieldError("is not named .s1p or .s2p", remedy, "touchstone-name")
    try:
        text = read_text(path, LARGEST_MEASUREMENT, path.name)
    except StudyError as error:
        fault = error.faults[0]
        remedy = "save the measurement beside the study again"
        raise FieldError(f"names a file that {fault.rule}", remedy, fault.tag) from error
    try:
        sweep = read_sweep(text, ports)
    except TouchstoneTextError as error:
        raise _wrong(str(error)) from error
    network = _network(sweep.text(), path)
    _check_values(network)
    if not np.all(network.z0 == REFERENCE_OHM):
        network.renormalize(REFERENCE_OHM)
    return network


def _wrong(what: str) -> FieldError:
    return FieldError(
        f"names a file that {what}",
        "save it again as Touchstone, S-parameters, like  # MHz S RI R 50",
        "touchstone-form",
    )


def _network(plain: str, path: Path) -> Any:
    """Network of a plain file of version 1."""
    # Only here: a study without a measurement does without the library.
    from skrf import Network

    stream = io.StringIO(plain)
    stream.name = path.name
    network = Network()
    with warnings.catch_warnings():
        # Frequencies that do not rise are refused by the caller, with a remedy.
        warnings.simplefilter("ignore")
        # Not Network(path): that would try the file as a pickle, which can run code.
        network.read_touchstone(stream)
    return network


def _check_values(network: Any) -> None:
    f = network.f
    if len(f) < 2:
        raise _wrong("holds fewer than two frequencies")
    if not (np.all(np.isfinite(f)) and np.all(np.isfinite(network.s))):
        raise _wrong("holds a value that is no finite number")
    if f[0] <= 0 or np.any(np.diff(f) <= 0):
        at = show_quantity(float(f[1:][np.diff(f) <= 0][0]), "Hz") if f[0] > 0 else "its start"
        raise _wrong(f"has frequencies that do not rise at {at}")
    size = np.abs(np.einsum("fii->fi", network.s)).max(axis=1)
    if size.max() > LARGEST_REFLECTION:
        at = show_quantity(float(f[np.argmax(size)]), "Hz")
        raise FieldError(
            f"names a file in which {size.max():.2f} of a wave comes back at {at}; a passive part "
            "sends back 1 at most",
            "calibrate the analyser where the part is joined, and measure again",
            "touchstone-active",
        )
