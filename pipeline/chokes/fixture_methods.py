"""A choke measured in a fixture: networks in, ohms out by three published methods, and doubts.

-1/Y21 leaves out what both ends of a fixture have to ground, series-through counts it, and a
reflection also counts what lies across. With 2 and 3 pF at the ends a choke of 1.1 kilohm at
145 MHz reads 25 % off by series-through and right by Y21 (tests/chokes/test_fixture.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from pipeline.text.formatting import fixed
from pipeline.text.refusals import FieldError
from pipeline.text.touchstone import REFERENCE_OHM
from pipeline.text.units import show_quantity

# How an impedance follows from what a network analyser measured.
Method = Literal["series-through", "y21", "reflection"]
METHODS: tuple[Method, ...] = get_args(Method)

# An angle of three degrees turns so much of an impedance from reactance into resistance; a
# resistance that is further below zero is no noise. Common practice, no source.
_NOISE = 0.05
# A residual directivity of 40 dB, and a trace that drifts by a hundredth; common practice, no
# source.
_ERROR_OF_REFLECTION = 0.01
_ERROR_OF_TRANSMISSION = 0.01
# What a few centimetres of lead have to ground. [F]
_STRAY = 1e-12
# Of |S11 + S21 - 1|: above it something beside the choke carries current.
_SERIES_ONLY = 0.05
# A sweep beyond the one, or that never reaches the other, holds no choke. [ohm]
_HIGHEST, _LEAST = 1e7, 1.0


@dataclass(frozen=True)
class Standards:
    """Networks of the fixture without the choke; ``None`` where not measured.

    ``open``: nothing in the choke's place; ``short``: a straight wire there; ``thru``: the two
    halves of the fixture joined without any room between them.
    """

    open: Any = None
    short: Any = None
    thru: Any = None


def reflection_impedance(network: Any) -> NDArray[np.complex128]:
    """Impedance of a choke between the one port of a network and ground, shape (n_f,). [ohm]

    Notes
    -----
    Z0 (1 + S11) / (1 - S11), in scikit-rf ``Network.z``.

    References
    ----------
    .. [1] Operation manual of a network analyser (R3765/67G series), 7.4, parameter conversion,
       Z (reflection).

    Examples
    --------
    >>> from skrf import Network
    >>> reflection_impedance(Network(f=[145e6], f_unit="Hz", s=[[[0.5]]])).round(6)
    array([150.+0.j])
    """
    return np.asarray(network.z[:, 0, 0], dtype=np.complex128)


def series_through_impedance(network: Any) -> NDArray[np.complex128]:
    """Impedance of a choke between two ports, from the transmission alone, shape (n_f,). [ohm]

    Both ports are referred to the same real impedance.

    Notes
    -----
    2 Z0 (1 - S21) / S21. Current that leaves the path between the ports, through the fixture's
    capacitance to ground, is taken for current that the choke has stopped.

    References
    ----------
    .. [1] Operation manual of a network analyser (R3765/67G series), 7.4, parameter conversion,
       Z (transmission).

    Examples
    --------
    >>> from skrf import Network
    >>> series = Network(f=[145e6], f_unit="Hz", s=[[[0.5, 0.5], [0.5, 0.5]]])      # 100 ohm
    >>> series_through_impedance(series).round(6)
    array([100.+0.j])
    """
    s21 = network.s[:, 1, 0]
    return np.asarray(2 * network.z0[:, 0] * (1 - s21) / s21, dtype=np.complex128)


def y21_impedance(network: Any) -> NDArray[np.complex128]:
    """Impedance of a choke between two ports without what they have to ground, shape (n_f,). [ohm]

    Notes
    -----
    -1 / Y21: in a pi of three admittances Y21 is that of the bridge alone, whatever the two legs
    to ground are. Y from S by scikit-rf.

    References
    ----------
    .. [1] D. A. Frickey, "Conversions between S, Z, Y, h, ABCD, and T parameters which are valid
       for complex source and load impedances", IEEE Trans. Microwave Theory and Techniques 42(2),
       1994 (from memory).
    .. [2] Application notes of a maker of chokes, 2025, on measuring them by Y21.

    Examples
    --------
    >>> from skrf import Network
    >>> series = Network(f=[145e6], f_unit="Hz", s=[[[0.5, 0.5], [0.5, 0.5]]])      # 100 ohm
    >>> abs(y21_impedance(series)).round(6)
    array([100.])
    """
    return np.asarray(-1 / network.y[:, 1, 0], dtype=np.complex128)


_IMPEDANCE: dict[Method, Callable[[Any], NDArray[np.complex128]]] = {
    "series-through": series_through_impedance,
    "y21": y21_impedance,
    "reflection": reflection_impedance,
}


def fixture_impedance(network: Any, method: Method, standards: Standards) -> NDArray[np.complex128]:
    """Impedance of a choke without what its fixture adds, shape (n_f,). [ohm]

    Raises FieldError, with the key that is wrong, if the number of ports, the frequencies or the
    directions of the networks do not fit.

    Notes
    -----
    The admittances of the open fixture are taken off first, then the impedance of the wire in
    the choke's place, found the same way ([1]_, for the one branch that is asked for). Halves
    joined without room are taken as pi sections ([2]_). Subtractions by scikit-rf.

    References
    ----------
    .. [1] M. C. A. M. Koolen, J. A. M. Geelen, M. P. J. G. Versleijen, "An improved de-embedding
       technique for on-wafer high frequency characterization", IEEE Bipolar Circuits and
       Technology Meeting, 1991, pp. 188-191.
    .. [2] L. Nan, K. Mouthaan, Y.-Z. Xiong, J. Shi, S. C. Rustagi, B.-L. Ooi, "Experimental
       characterization of the effect of metal dummy fills on spiral inductors", IEEE RFIC
       Symposium, 2007, pp. 307-310.
    """
    from skrf.calibration.deembedding import Open, SplitPi

    _check_fit(network, method, standards)
    find = _IMPEDANCE[method]
    with np.errstate(divide="ignore", invalid="ignore"):
        if standards.thru is not None:
            return find(SplitPi(standards.thru).deembed(network))
        if standards.open is None:
            return find(network)
        without = Open(standards.open)
        z = find(without.deembed(network))
        if standards.short is not None:
            z = z - find(without.deembed(standards.short))
        return z


def choke_table(
    f: NDArray[np.float64], z_choke: NDArray[np.complex128]
) -> tuple[NDArray[np.complex128], tuple[str, ...]]:
    """Impedance fit for a table of a choke [ohm], and remarks on what had to be done for it.

    A resistance below zero by no more than the noise is set to zero. Raises FieldError if a value
    is beyond 10 Mohm, all below one ohm, or a resistance further below zero.
    """
    largest = float(np.abs(z_choke).max())
    if largest < _LEAST:
        raise FieldError(
            f"finds {largest:.2g} ohm at most over the whole sweep: nothing is in series there",
            "take the choke's file, not an empty thru's, measured in series, not across the line",
            "fixture-nothing",
        )
    high = ~(np.abs(z_choke) <= _HIGHEST)
    if high.any():
        at = show_quantity(float(f[np.argmax(high)]), "Hz")
        raise FieldError(
            f"gives an impedance beyond 10 Mohm at {at}: nothing is left above the noise",
            "measure with less bandwidth, or leave that part of the sweep out",
            "fixture-noise",
        )
    share = -z_choke.real / np.maximum(np.abs(z_choke), _LEAST)
    if share.max() > _NOISE:
        at = show_quantity(float(f[np.argmax(share)]), "Hz")
        worst = z_choke[np.argmax(share)]
        raise FieldError(
            f"gives a resistance of {worst.real:.0f} ohm at {at}, and no choke has one below zero",
            "calibrate at the choke's ends, or describe the empty fixture under  fixture:",
            "fixture-negative",
        )
    below = int(np.sum(z_choke.real < 0))
    remarks: tuple[str, ...] = ()
    if below:
        remarks = (f"resistance set to zero at {below} of {len(f)} frequencies (noise below zero)",)
    return np.maximum(z_choke.real, 0.0) + 1j * z_choke.imag, remarks


def series_residual(network: Any) -> float:
    """How far two ports are from a lone series impedance: the largest ``|S11 + S21 - 1|``. [-]

    Notes
    -----
    Definition: S11 = Z / (Z + 2 Z0) and S21 = 2 Z0 / (Z + 2 Z0), so that their sum is one.

    Examples
    --------
    >>> from skrf import Network
    >>> series = Network(f=[145e6], f_unit="Hz", s=[[[0.5, 0.5], [0.5, 0.5]]])      # 100 ohm
    >>> series_residual(series)
    0.0
    """
    return float(np.abs(network.s[:, 0, 0] + network.s[:, 1, 0] - 1).max())


def sensitivity(z_choke: complex, method: Method) -> float:
    """Relative error of an impedance [ohm] per unit of the analyser's error.

    Reflection: per error of S11, absolute; the others: per relative error of S21.

    Notes
    -----
    |Z + Z0|^2 / (2 Z0 |Z|) for reflection, which is |Z| / (2 Z0) where Z is high ([1]_, eq. 8);
    |1 + 2 Z0 / Z| for transmission, derived from its formula.

    References
    ----------
    .. [1] IEEE Instrumentation and Measurement Magazine 25(7), 2022, p. 27: the largest
       resistance that a reflection measures, 2 Z0 / U for an error of its own size.

    Examples
    --------
    >>> round(sensitivity(5000, "reflection"), 1), round(sensitivity(5000, "series-through"), 2)
    (51.0, 1.02)
    """
    if method == "reflection":
        return abs(z_choke + REFERENCE_OHM) ** 2 / (2 * REFERENCE_OHM * abs(z_choke))
    return abs(1 + 2 * REFERENCE_OHM / z_choke)


def fixture_remarks(network: Any, method: Method, standards: Standards) -> tuple[str, ...]:
    """What was taken off and what was not, in words."""
    taken = [
        words
        for words, standard in (
            ("open", standards.open),
            ("short", standards.short),
            ("thru", standards.thru),
        )
        if standard is not None
    ]
    remarks = [f"the fixture taken off by its {' and '.join(taken)}"] if taken else []
    if not taken and method == "reflection":
        remarks.append("whatever the fixture has beside the choke is counted as the choke")
    if not taken and method == "series-through" and series_residual(network) > _SERIES_ONLY:
        remarks.append(
            f"S11 + S21 is {series_residual(network):.2f} off one, so the fixture has capacitance "
            "to ground that is counted as the choke; method y21 leaves it out"
        )
    return tuple(remarks)


def trust(z: complex, f: float, method: Method) -> str:
    """What an error of the analyser and a stray capacitance do to an impedance."""
    reads = f"{abs(z):.0f} ohm at {show_quantity(f, 'Hz')}, measured by {method}"
    slope = sensitivity(z, method)
    if method == "reflection":
        stray = abs(z / (1 + 2j * np.pi * f * _STRAY * z))
        return (
            f"{reads}: an error of {_ERROR_OF_REFLECTION:g} in S11 (40 dB of directivity) is "
            f"{100 * slope * _ERROR_OF_REFLECTION:.0f} % of it, and 1 pF beside the choke would "
            f"read {stray:.0f} ohm; a high impedance reflects nearly everything, so the little "
            "that is missing carries all the information; series-through or y21 do better"
        )
    through = 20 * np.log10(abs(2 * REFERENCE_OHM / (2 * REFERENCE_OHM + z)))
    return (
        f"{reads}: one per cent of error in S21 is {100 * slope * _ERROR_OF_TRANSMISSION:.1f} % "
        "of it, as long as S21 "
        f"({fixed(through, 0)} dB) stands well above the analyser's noise and leakage"
    )


def _check_fit(network: Any, method: Method, standards: Standards) -> None:
    ports = 1 if method == "reflection" else 2
    if network.nports < ports:
        rule = f"takes a .s2p file with both ports; this one is of {network.nports}"
        raise FieldError(
            rule, "method: reflection, or measure both ports", "fixture-ports", ("method",)
        )
    if network.nports > ports:
        rule = "takes a .s1p file: the choke between one port and ground"
        raise FieldError(
            rule, "method: y21, for a choke between two ports", "fixture-ports", ("method",)
        )
    given = {"open": standards.open, "short": standards.short, "thru": standards.thru}
    for name, standard in given.items():
        if standard is None:
            continue
        at = ("fixture", name)
        if standard.nports != network.nports:
            rule = f"has {standard.nports} ports, the choke's own file {network.nports}"
            raise FieldError(rule, "measure both the same way", "fixture-ports", at)
        if len(standard.f) != len(network.f) or not np.allclose(standard.f, network.f, rtol=1e-6):
            rule = "has other frequencies than the choke's own file, and nothing is extrapolated"
            raise FieldError(rule, "measure both in the same sweep", "fixture-sweep", at)
    _check_standards(standards, ports)
    needs_both = method == "y21" or any(s is not None for s in given.values())
    if ports == 2 and needs_both:
        for name, each in (("file", network), *given.items()):
            if each is not None and not np.any(each.s[:, :, 1]):
                key = ("file",) if name == "file" else ("fixture", name)
                rule = "holds nothing for S12 and S22: it was measured one way only"
                remedy = "turn the fixture round and measure both ways, or  method: series-through"
                raise FieldError(rule, remedy, "fixture-one-way", key)


def _check_standards(standards: Standards, ports: int) -> None:
    if standards.thru is not None and (ports == 1 or standards.open is not None):
        rule = "is for a choke between two ports, and not together with open or short"
        raise FieldError(rule, "leave it out", "fixture-standards", ("fixture", "thru"))
    if standards.short is not None and standards.open is None:
        rule = "needs the open fixture as well: what lies across both comes off first"
        raise FieldError(rule, "open: empty.s2p", "fixture-standards", ("fixture", "short"))
