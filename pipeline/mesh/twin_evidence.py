"""Average gain, reciprocity and segmentation of one geometry at one frequency.

A request in, evidence out: one field solution of the geometry and one of its lossless twin in
free space.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.circuit.port_algebra import loaded_admittance
from pipeline.mesh.evidence import GeometryEvidence, geometry_evidence
from pipeline.solver.antenna_loads import load_impedances
from pipeline.solver.field_solver import solved_average_gain, solved_currents
from pipeline.solver.solve_cache import SolveRequest


def quick_evidence(request: SolveRequest) -> GeometryEvidence:
    """Average gain, reciprocity and segmentation of one geometry at the design frequency.

    Raises
    ------
    SolverError
        If the solver refuses, crashes or hangs.
    """
    f = request.frequency[request.centre : request.centre + 1]
    built = request.structure
    currents = solved_currents(built, f, request.soil)
    return twin_evidence(request, built.through_ports(currents[0]).T)


def twin_evidence(request: SolveRequest, y_port: NDArray[np.complex128]) -> GeometryEvidence:
    """The same from a port matrix that is known, shape (n_port, n_port) [S].

    Raises
    ------
    SolverError
        If the solver refuses, crashes or hangs.
    """
    f = request.frequency[request.centre : request.centre + 1]
    built, at, loads = request.structure, float(f[0]), request.twin_loads
    gain = solved_average_gain(built, at, loads)
    own = load_impedances(built, f, at)[0]
    return geometry_evidence(built, gain, loaded_admittance(y_port, own))
