"""A geometry as a NEC-2 card deck, in the fixed columns of the 1981 user's guide.

Anyone with any NEC-2 can repeat the field solve from it; what each card stands for is said in
the deck's own comment cards.
"""

from __future__ import annotations

import textwrap
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from models.site.soil import Soil
from models.wires.structure import Structure


def distributed_loads(structure: Structure) -> list[tuple[int, int, int, float]]:
    """Loads as (type, first segment, last segment, value), segments counted from one.

    Type 5 is a conductivity [S/m], type 2 an inductance per length [H/m], as on the LD card of
    the NEC-2 user's guide (Burke and Poggio, 1981).
    """
    amounts = {
        5: [w.material.conductivity for w in structure.wires],
        2: [w.material.jacket_inductance for w in structure.wires],
    }
    first = structure.first_segment
    loads = []
    for card, values in amounts.items():
        for amount, group in groupby(range(len(values)), key=values.__getitem__):
            members = list(group)
            if amount and np.isfinite(amount):
                a, b = int(first[members[0]]) + 1, int(first[members[-1] + 1])
                loads.append((card, a, b, float(amount)))
    return loads


def _geometry_card(name: str, i1: int, i2: int, *numbers: float) -> str:
    """I1 in columns 3-5, I2 in 6-10, then fields of ten columns."""
    return f"{name}{i1:3d}{i2:5d}" + "".join(f"{x:10.6f}" for x in numbers)


def _control_card(name: str, integers: tuple[int, int, int, int], *numbers: float) -> str:
    """I1 in columns 3-5, I2 to I4 in 6-20, then fields of ten columns."""
    i1, i2, i3, i4 = integers
    return f"{name}{i1:3d}{i2:5d}{i3:5d}{i4:5d}" + "".join(f"{x:10.3E}" for x in numbers)


def _ascii(text: str) -> str:
    """Cards know no other letters."""
    return text.encode("ascii", "replace").decode("ascii")


def _tags(structure: Structure) -> list[int]:
    """One tag a wire; none where three columns cannot hold them all."""
    n = len(structure.wires)
    return list(range(1, n + 1)) if n <= 999 else [0] * n


def _comments(structure: Structure, title: str) -> list[str]:
    lines = [
        *textwrap.wrap(f"{_ascii(title)}: geometry {structure.name}", 76),
        "Lengths in metres, z up, ground at z = 0; one tag a wire.",
        "A pipe is a cage of thin wires that are as thick as the cable's shield.",
        "LD 5: metal. LD 2: jacket of the cable. LD 4: feed bridge, bond lead, rod and",
        "radio end at the design frequency. A choke is one more LD 4 at its port.",
    ]
    first = structure.first_segment
    for tag, wire in enumerate(structure.wires, start=1):
        new_part = tag == 1 or structure.wires[tag - 2].part != wire.part
        if new_part:
            lines.append(f"from tag {tag}: {wire.part}")
    lines += [
        f"port {p.name}: tag {p.wire + 1} segment {p.segment + 1} "
        f"(absolute {int(first[p.wire]) + p.segment + 1})"
        for p in structure.ports
    ]
    return [f"CM {line}" for line in lines]


def card_deck(
    structure: Structure,
    title: str,
    frequency: float,
    soil: Soil | None,
    z_ports: dict[str, complex],
) -> str:
    """Card deck of a geometry with its terminations, fed with one volt at the feed.

    ``title`` goes into the first comment card, ``frequency`` [Hz] is the design frequency,
    ``z_ports`` the series impedance [ohm] of ports by name there, zero ones left out.

    References
    ----------
    .. [1] G. J. Burke and A. J. Poggio, "Numerical Electromagnetics Code (NEC) - Method of
       Moments, Part III: User's Guide", LLNL UCID-18834, 1981 (card formats; from memory).
    """
    cards = [*_comments(structure, title), "CE"]
    tags = _tags(structure)
    for tag, w in zip(tags, structure.wires, strict=True):
        cards.append(_geometry_card("GW", tag, w.n_segments, *w.start, *w.end, w.radius))
    cards.append(_geometry_card("GE", 1 if soil else 0, 0))
    for card, a, b, value in distributed_loads(structure):
        numbers = (value, 0.0, 0.0) if card == 5 else (0.0, value, 0.0)
        cards.append(_control_card("LD", (card, 0, a, b), *numbers))
    for name, z in z_ports.items():
        port = structure.ports[structure.port_index(name)]
        s = structure.port_segment(port) + 1
        cards.append(_control_card("LD", (4, 0, s, s), z.real, z.imag, 0.0))
    if soil:
        cards.append(_control_card("GN", (2, 0, 0, 0), soil.eps_r, soil.sigma))
    cards.append(f"FR{0:3d}{1:5d}{0:5d}{0:5d}{frequency / 1e6:10.4f}{0:10.4f}")
    for fed in structure.port_groups[structure.port_index("feed")]:
        wire = int(structure.segments.wire[fed])
        within = fed - int(structure.first_segment[wire]) if tags[wire] else fed
        cards.append(_control_card("EX", (0, tags[wire], within + 1, 0), 1.0, 0.0))
    polar = (10, 37) if soil else (37, 37)
    cards.append(_control_card("RP", (0, *polar, 1000), 0.0, 0.0, 10.0 if soil else 5.0, 10.0))
    cards.append("EN")
    return "\n".join(cards) + "\n"


def nonzero_ports(structure: Structure, z: NDArray[np.complex128]) -> dict[str, complex]:
    """Ports with a series impedance, by name; ``z`` has shape (n_port,) [ohm]."""
    return {p.name: complex(v) for p, v in zip(structure.ports, z, strict=True) if v != 0}
