"""The mean of a series whose values remember those before: how sure it is."""

import numpy as np

from analysis.calibration.small_samples import widening
from analysis.passage import Floats

LONGEST = 0.97
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
    """Mean of a series and its one-sigma, widened for the few independent values it is worth, two at least."""
    known = values[np.isfinite(values)]
    freedom = max(independent(values) - 1, 1.0)
    return float(known.mean()), float(known.std() / np.sqrt(freedom) * widening(max(freedom, LEAST_FREEDOM)))
