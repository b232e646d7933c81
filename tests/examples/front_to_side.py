"""Worked example of a figure of merit: the ratio front to side."""

import numpy as np

from pipeline.analysis.figures_of_merit_and_score import FigureOfMerit


def front_to_side_db(gain_ring):
    """Largest gain over the larger of those at right angles, (n, n_phi) -> (n,). [dB]"""
    n, front = gain_ring.shape[-1], gain_ring.argmax(axis=-1)[..., None]
    sides = np.take_along_axis(gain_ring, (front + np.array([-n // 4, n // 4])) % n, axis=-1)
    return gain_ring.max(axis=-1) - sides.max(axis=-1)


ROW = FigureOfMerit(
    "front_to_side_db",
    "dB",
    lambda rows, _: front_to_side_db(rows.gain_ring),
    "front_to_side_db",
    interval="pattern",
    threshold="front_to_side_db",
    is_relative=True,
    words="the ratio front to side",
    worst="high",
)
