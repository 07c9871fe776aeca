"""Spread that a few outliers do not sway."""

import numpy as np
from numpy.typing import ArrayLike


def robust_sd(deviation: ArrayLike) -> float:
    """One-sigma of deviations (any shape) from their centre: 1.4826 times their median size, as in normal noise.

    P. J. Huber, Robust Statistics (1981), from memory; NaN where a deviation is.
    """
    return 1.4826 * float(np.median(np.abs(deviation)))
