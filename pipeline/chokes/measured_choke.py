"""A choke that its owner has measured: a table of impedances, or a network analyser's sweep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from models.quantities import Choice, Derived, FileBeside, KeyGroup
from pipeline.chokes.fixture_methods import (
    METHODS,
    Method,
    Standards,
    choke_table,
    fixture_impedance,
    fixture_remarks,
    trust,
)
from pipeline.chokes.kind import Choke, Host
from pipeline.chokes.table_file import read_table
from pipeline.text.refusals import FieldError
from pipeline.text.touchstone import read_network


def measurement(meaning: str, example: str, most_ports: int = 2) -> FileBeside:
    """Marker of a Touchstone file beside the study; gives its name and the network in it."""

    def read(path: Path) -> Any:
        network = read_network(path)
        if network.nports > most_ports:
            rule = f"names a file of {network.nports} ports, and only S11 has a meaning here"
            raise FieldError(rule, f"save S11 alone, like {example}", "measured-ports")
        return network

    return FileBeside(read, meaning, example)


@dataclass(frozen=True, kw_only=True)
class TableChoke(Choke):
    """A choke that its owner has measured.

    Impedance ``z_choke`` [ohm] at rising frequencies ``f`` [Hz].
    """

    kind: ClassVar[str] = "table"
    goes_with_others: ClassVar[bool] = True

    file: Annotated[
        str, FileBeside(read_table, "CSV with f_hz, r_ohm, x_ohm beside the study", "choke.csv")
    ]
    f: tuple[float, ...]
    z_choke: tuple[complex, ...]

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Name of the table."""
        return f"measured choke {given['file'][0]}"

    @classmethod
    def read(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """File name, frequencies and impedances."""
        name, (f, z_choke) = given["file"]
        return {"file": name, "f": f, "z_choke": z_choke}

    def impedance(self, f: NDArray[np.float64], host: Host) -> NDArray[np.complex128]:
        """Impedance between the measured points, shape (n_f,) [ohm]."""
        from pipeline.circuit.ferrite_and_sleeve import tabulated_impedance

        return tabulated_impedance(f, self.f, self.z_choke)

    @property
    def known_range(self) -> tuple[float, float]:
        """First and last frequency of the measurement. [Hz]"""
        return self.f[0], self.f[-1]

    @property
    def files(self) -> tuple[str, ...]:
        """The measurement."""
        return (self.file,)


@dataclass(frozen=True)
class FixtureStandards:
    """The same fixture without the choke, to take off what it adds; each may be left out."""

    open: Annotated[Any, measurement("nothing in the choke's place", "empty.s2p")] = None
    short: Annotated[Any, measurement("a straight wire in the choke's place", "wire.s2p")] = None
    thru: Annotated[Any, measurement("both halves of the fixture joined", "thru.s2p")] = None

    @property
    def given(self) -> dict[str, tuple[str, Any]]:
        """File name and network of each that was measured."""
        values = {"open": self.open, "short": self.short, "thru": self.thru}
        return {key: value for key, value in values.items() if value is not None}


@dataclass(frozen=True, kw_only=True)
class FixtureChoke(TableChoke):
    """A choke that its owner has measured with a network analyser.

    ``method`` is how its impedance was found, ``remarks`` what is worth knowing about it,
    ``fixture`` the files of the fixture without it.
    """

    kind: ClassVar[str] = "fixture"

    file: Annotated[str, measurement("the choke in its fixture", "choke.s2p")]
    method: Annotated[
        Method, Choice(METHODS, "how the choke's impedance follows from what was measured")
    ]
    fixture: Annotated[
        tuple[str, ...], KeyGroup(FixtureStandards), Derived("nothing of it is taken off")
    ] = ()
    remarks: tuple[str, ...] = ()

    @classmethod
    def named_by(cls, given: Mapping[str, Any]) -> str:
        """Name and method of the measurement."""
        return f"measured choke {given['file'][0]} ({given['method']})"

    @classmethod
    def read(cls, given: Mapping[str, Any]) -> dict[str, Any]:
        """Impedance that the files give together, and what had to be done for it."""
        (name, network), method = given["file"], given["method"]
        beside = given["fixture"].given
        without = Standards(**{key: network for key, (_, network) in beside.items()})
        z, clipped = choke_table(network.f, fixture_impedance(network, method, without))
        return {
            "file": name,
            "f": tuple(network.f.tolist()),
            "z_choke": tuple(z.tolist()),
            "method": method,
            "remarks": (*fixture_remarks(network, method, without), *clipped),
            "fixture": tuple(name for name, _ in beside.values()),
        }

    def notes(self, host: Host) -> tuple[str, ...]:
        """How far the measurement can be trusted at the design frequency."""
        f = host.frequency
        z = complex(
            np.interp(f, self.f, np.real(self.z_choke)), np.interp(f, self.f, np.imag(self.z_choke))
        )
        remarks = "".join(f"; {remark}" for remark in self.remarks)
        return (f"{self.id}: {trust(z, f, self.method)}{remarks}",)

    @property
    def files(self) -> tuple[str, ...]:
        """The measurement, and those of the fixture alone."""
        return (self.file, *self.fixture)
