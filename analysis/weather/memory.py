"""The mean of a series whose values remember those before: how sure it is."""

import numpy as np
from scipy.optimize import brentq
from scipy.special import stdtr, stdtrit

from analysis.estimate import SIGMAS_95
from analysis.passage import Floats

LONGEST = 0.97
MEMORIES: Floats = np.linspace(0.0, LONGEST, 40)
LEAST_TOLD = 0.2  # below, the ratio of two autocorrelations is mostly chance
LEAST_FREEDOM = 2.0  # of one alone the interval is over twelve times the scatter, and says nothing


def memory_of(values: Floats) -> float:
    """First autocorrelation of a series of even steps, NaN where missing, freed of its bias in short series.

    The bias is -(1 + 3 r) / n: M. G. Kendall, Biometrika 41 (1954), 403, from memory.
    """
    centred = values - np.nanmean(values)
    both = np.isfinite(centred[1:]) & np.isfinite(centred[:-1])
    power = float(np.nanmean(centred**2))
    if not both.any() or power <= 0:
        return 0.0
    raw = float((centred[1:][both] * centred[:-1][both]).mean()) / power
    return float(np.clip(raw + (1 + 3 * raw) / np.isfinite(centred).sum(), 0.0, LONGEST))


def persistence_of(values: Floats) -> float:
    """What lasts from step to step beneath noise that does not: second over first autocorrelation, or the first.

    Of noise of the first order with white noise upon it, as in G. E. P. Box, G. M. Jenkins, Time Series Analysis
    (1976), section 3.4, from memory.
    """
    centred = values - np.nanmean(values)
    raw = [
        float(np.nanmean(centred[step:] * centred[:-step]))
        if np.isfinite(centred[step:] * centred[:-step]).any()
        else 0.0
        for step in (1, 2)
    ]
    first = memory_of(values)
    return (
        float(np.clip(max(first, raw[1] / raw[0]), 0.0, LONGEST))
        if first > LEAST_TOLD and raw[0] > 0
        else first
    )


def independent(values: Floats) -> float:
    """How many independent values a series is worth, by its autocorrelations until they first vanish."""
    centred = values - np.nanmean(values)
    count = int(np.isfinite(centred).sum())
    power = float(np.nanmean(centred**2))
    if count < 2 or power <= 0:
        return float(count)
    total = 1.0
    for step in range(1, max(2, count // 3)):
        both = np.isfinite(centred[step:]) & np.isfinite(centred[:-step])
        if not both.any():
            break
        r = float((centred[step:][both] * centred[:-step][both]).sum()) / power / count
        if r <= 0:
            break
        total += 2 * r
    first = memory_of(values)
    return float(np.clip(count / max(total, (1 + first) / (1 - first)), 1.0, count))


def mean_with_sd(values: Floats) -> tuple[float, float]:
    """Mean of a series, and a one-sigma whose 1.96-fold holds the true mean in 95 of 100.

    The series is the mean and noise of the first order about it. A short one does not tell the memory of its noise:
    all memories count by how well they agree with it, any share kept from step to step being as likely beforehand as
    another. For each of them the mean has Student's distribution about that of generalised least squares. G. E. P.
    Box, G. C. Tiao, Bayesian Inference in Statistical Analysis (1973), chapter 2, from memory.
    """
    at = np.flatnonzero(np.isfinite(values))
    known, mean = values[at], float(values[at].mean())
    if len(known) < 2 or np.ptp(known) == 0:
        return mean, 0.0
    kept = MEMORIES[:, None] ** np.diff(at)
    left = 1 - kept**2
    fresh, share = known[1:] - kept * known[:-1], 1 - kept
    weight = 1 + (share**2 / left).sum(axis=1)
    likely = (known[0] + (share * fresh / left).sum(axis=1)) / weight
    misfit = (known[0] - likely) ** 2 + ((fresh - share * likely[:, None]) ** 2 / left).sum(axis=1)
    freedom = len(known) - 1
    chance = -0.5 * (np.log(left).sum(axis=1) + np.log(weight) + freedom * np.log(misfit))
    chance = np.exp(chance - chance.max())
    scale = np.sqrt(misfit / freedom / weight)

    def outside(half: float) -> float:
        tails = stdtr(freedom, (likely - mean - half) / scale) + stdtr(
            freedom, (mean - half - likely) / scale
        )
        return float(np.average(tails, weights=chance)) - 0.05

    farthest = np.abs(mean - likely) + scale * stdtrit(freedom, 0.99)
    return mean, float(brentq(outside, 0.0, farthest.max())) / SIGMAS_95
