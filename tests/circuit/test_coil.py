"""Elliptic integrals of the coil's inductance; what is published of coils: tests/validation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ellipe, ellipk, ellipkm1

from pipeline.circuit.coil import complete_elliptic

# Published


@pytest.mark.parametrize(
    ("parameter", "first", "second"),
    [
        (0.0, 1.5707963267948966, 1.5707963267948966),
        (0.5, 1.854074677301372, 1.350643881047675),
        (0.9, 2.578092113348173, 1.104774732704073),
    ],
)
def test_complete_integrals_are_those_of_the_table(parameter, first, second):
    # Abramowitz and Stegun, 1964, table 17.1, from memory; fifteen printed digits.
    found = complete_elliptic(np.sqrt(parameter), np.sqrt(1 - parameter))
    assert found[0] == pytest.approx(first, rel=1e-14)
    assert found[1] == pytest.approx(second, rel=1e-14)


# Laws


def test_complete_integrals_hold_from_a_thin_disc_to_a_long_pipe():
    # SciPy's rational approximations, which know nothing of means.
    complementary = np.logspace(-6, 0, 61)[:-1]
    first, second = complete_elliptic(np.sqrt(1 - complementary**2), complementary)
    assert first == pytest.approx(ellipkm1(complementary**2), rel=1e-12)
    assert second == pytest.approx(ellipe(1 - complementary**2), rel=1e-12)
    small = np.logspace(-8, -1, 30)
    first, _ = complete_elliptic(small, np.sqrt(1 - small**2))
    assert first == pytest.approx(ellipk(small**2), rel=1e-14)
