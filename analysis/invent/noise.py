"""Random processes with memory, and the first-order lag that damping is.

Each process draws from a stream of its own, so that a shorter passage is the start of a longer one.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter, lfiltic

Floats = NDArray[np.float64]


def wander(rng: np.random.Generator, n: int, step_s: float, memory_s: float, sd: float) -> Floats:
    """Draw a stationary first-order autoregressive (Ornstein-Uhlenbeck) process of shape (n,)."""
    own = rng.spawn(1)[0]
    keep = np.exp(-step_s / memory_s)
    start = lfiltic([1.0], [1.0, -keep], [own.standard_normal() * sd])
    white = own.standard_normal(n) * sd * np.sqrt(1 - keep**2)
    drawn, _ = lfilter([1.0], [1.0, -keep], white, zi=start)
    return np.asarray(drawn, dtype=np.float64)


def swell(rng: np.random.Generator, n: int, step_s: float, period_s: float, sd: float) -> Floats:
    """Draw a narrow-band process about one period, as waves rock a boat, of shape (n,)."""
    radius = np.exp(-step_s / (1.5 * period_s))
    a1 = -2 * radius * np.cos(2 * np.pi * step_s / period_s)
    a2 = radius**2
    # variance of an AR(2) process driven by unit white noise (Box & Jenkins, stationary second order)
    variance = (1 + a2) / ((1 - a2) * ((1 + a2) ** 2 - a1**2))
    white = rng.spawn(1)[0].standard_normal(n) * sd / np.sqrt(variance)
    return np.asarray(lfilter([1.0], [1.0, a1, a2], white), dtype=np.float64)


def damped(x: Floats, step_s: float, damping_s: float) -> Floats:
    """Apply a first-order lag whose mean delay is exactly damping_s [s]; shape kept, starts settled."""
    keep = damping_s / (damping_s + step_s)
    y, _ = lfilter([1 - keep], [1.0, -keep], x, zi=[keep * x[0]])
    return np.asarray(y, dtype=np.float64)


def delayed(x: Floats, step_s: float, delay_s: float) -> Floats:
    """Shift a series later by delay_s, to the nearest step; the first value fills the start."""
    back = round(delay_s / step_s)
    return x[np.maximum(np.arange(len(x)) - back, 0)]
