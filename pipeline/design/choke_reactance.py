"""A pure reactance in series with the shield: where a reactive choke is worse than none.

A reduced geometry in, the cable's own impedance at a place and figures of merit over reactance
out; algebra only.

What the cable itself shows to a choke follows by Thevenin with the feed open: a reactance of the
other sign makes the current larger than none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.figures_of_merit_and_score import Merit
from pipeline.analysis.many_cases import many, nominal_ends, termination_rows
from pipeline.circuit.port_algebra import OPEN, fed_voltages, port_currents
from pipeline.montecarlo.spread_solve import Drawn
from pipeline.solver.terminations import choke_weights

MOST_OHM = 1000.0
_STEPS = 401
# A twentieth more current is less than the computation itself is good for.
_CLEARLY = 1.05


@dataclass(frozen=True)
class Reactance:
    """A sweep of ``x`` [ohm] at ``position`` [m], the bare cable, and the cable's own impedance.

    ``z_cable`` [ohm] is what the cable shows to a choke there with a given current into the feed:
    a choke of z leaves z_cable / (z_cable + z) of the current.
    """

    position: float
    x: NDArray[np.float64]
    swept: Merit
    bare: Merit
    z_cable: complex

    def worse(self, name: str) -> tuple[tuple[float, float], ...]:
        """Stretches of reactance [ohm] where a current is clearly above that of no choke."""
        above = self.swept[name] > self.bare[name][0] * _CLEARLY
        edges = np.flatnonzero(np.diff(np.concatenate(([0], above.astype(int), [0]))))
        return tuple(
            (float(self.x[a]), float(self.x[b - 1])) for a, b in edges.reshape(-1, 2).tolist()
        )


def reactance_sweep(drawn: Drawn, position: float) -> Reactance:
    """Figures of merit over a pure reactance at one place of the installation as it stands.

    The port that holds ``position`` [m along the shield] takes all of the reactance.

    Raises
    ------
    ValueError
        If the geometry has no port there.
    """
    x = np.linspace(-MOST_OHM, MOST_OHM, _STEPS)
    structure = drawn.reduced.structure
    ends = termination_rows(structure, drawn.study, nominal_ends(drawn.study))
    weights = choke_weights(structure, position, 0.0)
    rows = (1j * x[:, None] * weights).astype(np.complex128)
    swept = many(drawn.reduced, ends, rows)
    bare = many(drawn.reduced, ends, np.zeros_like(ends))
    z_cable = place_impedance(drawn, ends[0], int(np.argmax(weights)))
    return Reactance(position, x, swept, bare, z_cable)


def place_impedance(drawn: Drawn, z_series: NDArray[np.complex128], port: int) -> complex:
    """Impedance that the cable shows to a choke at a port, the current into the feed held. [ohm]

    ``z_series`` (n_port,) [ohm] is in series with all ports without the choke. Definition:
    Thevenin's impedance with the feed open, a volt in series at the port over the current there.
    """
    structure = drawn.reduced.structure
    z = z_series.astype(complex)
    z[structure.port_index("feed")] = OPEN
    y = drawn.reduced.y_port
    return complex(1 / port_currents(y, fed_voltages(y, z, port))[port])
