"""Scrambled Sobol points: probabilities that fill the cube evenly.

Number of points, dimensions and seed in, arrays out; knows nothing of studies.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def sobol(n: int, dimensions: int, seed: int) -> NDArray[np.float64]:
    """Scrambled Sobol points, the first n of a whole power of two; shape (n, dimensions).

    References
    ----------
    .. [1] A. B. Owen, "Scrambling Sobol' and Niederreiter-Xing points", Journal of Complexity
       14, 1998.

    Examples
    --------
    >>> sorted(np.floor(4 * sobol(4, 1, 7)[:, 0]).tolist())      # one in each quarter
    [0.0, 1.0, 2.0, 3.0]
    """
    # The statistics package takes half a second to load, and only those who draw need it.
    from scipy.stats import qmc

    if dimensions == 0:
        return np.empty((n, 0))
    engine = qmc.Sobol(dimensions, scramble=True, seed=seed)
    points = engine.random_base2(max(1, math.ceil(math.log2(max(n, 2)))))
    # Zero and one have no quantile where a distribution has tails.
    return np.asarray(np.clip(points[:n], 1e-9, 1 - 1e-9))
