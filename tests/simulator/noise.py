"""Noise with memory, in two kinds."""

import numpy as np
from scipy.signal import lfilter


def wander(rng, n, sd, tau_s, heavy=False):
    """Ornstein-Uhlenbeck noise at 1 s, or with Student-t(3) shocks of the same variance where ``heavy``."""
    if sd == 0:
        return np.zeros(n)
    keep = np.exp(-1.0 / tau_s)
    shocks = rng.standard_t(3, n) / np.sqrt(3.0) if heavy else rng.standard_normal(n)
    start = np.array([rng.standard_normal() * sd])
    return lfilter([sd * np.sqrt(1 - keep**2)], [1, -keep], shocks, zi=start * keep)[0]


def swell(rng, n, sd, period_s):
    """Wave-periodic noise: two narrow bands near ``period_s`` whose height comes and goes."""
    t = np.arange(n)
    out = np.zeros(n)
    for share, stretch in ((0.8, 1.0), (0.6, 1.27)):
        phase = 2 * np.pi * t / (period_s * stretch) + np.cumsum(rng.standard_normal(n)) * 0.05
        out += share * np.sqrt(2) * np.sin(phase) * (1 + 0.4 * wander(rng, n, 1.0, 90))
    return sd * out


def damp(x, tau_s, lag_s=0.0, circle=None):
    """First-order damping and a delay, as a display applies them; ``circle`` 360 for directions."""
    if circle:
        x = np.unwrap(x, period=circle)
    if tau_s > 0:
        keep = np.exp(-1.0 / tau_s)
        x = lfilter([1 - keep], [1, -keep], x, zi=[x[0] * keep])[0]
    if lag_s:
        t = np.arange(len(x), dtype=float)
        x = np.interp(t - lag_s, t, x)
    return x % circle if circle else x


def step(x, size):
    """Quantise to the display step."""
    return np.round(x / size) * size if size else x
