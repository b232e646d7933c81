"""Gain towards the horizon in finer steps than fields are kept: from segment currents again.

Solved geometries in, gains out. The grid of a port basis has a degree between elevations, and
lobes of an antenna many wavelengths up are hardly wider. One field of each case is all that a
finer grid takes: not one of each port.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.analysis.case_results import CaseResult, Solved, at_centre, case_series
from pipeline.analysis.metrics import LOW_ELEVATIONS_DEG, gain_dbi
from pipeline.circuit.port_algebra import fed_voltages, superpose
from pipeline.solver.far_field import Directions, directive_power, far_field
from pipeline.study.records import Study


def low_gains(
    study: Study, solved: Mapping[str, Solved], results: Sequence[CaseResult]
) -> dict[str, NDArray[np.float64]]:
    """Gain of every case at low elevations, all the way round.

    Parameters
    ----------
    study : Study
        The study.
    solved : mapping
        Its geometries by name.
    results : sequence of CaseResult
        Its cases as evaluated.

    Returns
    -------
    dict
        By case, shape (n_elevation, n_phi) at the elevations of ``LOW_ELEVATIONS_DEG`` and the
        azimuths of the port basis, at the design frequency. [dBi]
    """
    polar = np.radians(90.0 - np.array(LOW_ELEVATIONS_DEG))
    found: dict[str, NDArray[np.float64]] = {}
    for name, entry in solved.items():
        own = [r for r in results if r.case.geometry == name]
        if not own:
            continue
        centred = at_centre(entry)
        currents = np.stack([_segment_currents(centred, study, r) for r in own])
        f = float(centred.basis.frequency[0])
        directions = Directions(polar, entry.basis.directions.phi)
        segments = entry.structure.segments
        density = directive_power(far_field(segments, currents, f, study.site.ground, directions))
        # One volt behind the feed: its power is half of the conductance.
        power = np.array([0.5 * (1 / r.z_feed[r.centre]).real for r in own])
        found |= {r.case.id: g for r, g in zip(own, gain_dbi(density, power), strict=True)}
    return found


def _segment_currents(centred: Solved, study: Study, result: CaseResult) -> NDArray[np.complex128]:
    """Currents of a case with one volt behind its feed, shape (n_segment,). [A]"""
    z, _ = case_series(centred, study, result.case)
    basis, feed = centred.basis, centred.structure.port_index("feed")
    return superpose(basis.i_segment, fed_voltages(basis.y_port, z, feed)[0])
