"""How long what one minute shows lasts into the next, and how many independent minutes a lot of them are worth."""

import numpy as np

from analysis.passage import Floats, Ints

LONGEST_MIN = 30
FADED = 0.05


def memory_of(number: Ints, residual: Floats, used: float = 0.0) -> Floats:
    """Autocorrelation of residuals at lags of 1, 2, … minutes, until it has faded; ``number`` counts minutes, rising.

    Pairs are only those of minutes that far apart, so gaps do no harm. ``used`` is the share of the minutes' freedom
    a fit took: it hides about as much correlation between minutes sailed one after the other.
    """
    spread = float(np.mean(residual**2)) if len(residual) else 0.0
    found: list[float] = []
    for lag in range(1, LONGEST_MIN + 1):
        earlier, later = _pairs(number, lag)
        if len(earlier) < 20 or spread == 0:
            break
        one = float(np.mean(residual[earlier] * residual[later]) / spread) + used
        if one < FADED:
            break
        found.append(min(one, 0.99))
    return np.array(found)


def worth(number: Ints, memory: Floats) -> float:
    """How many independent minutes these are worth: n**2 over the sum of the correlations of all pairs.

    As in the variance of a mean of correlated values (e.g. Priestley, Spectral Analysis, 1981; from memory).
    """
    if not len(number):
        return 0.0
    pairs = sum(one * len(_pairs(number, lag)[0]) for lag, one in enumerate(memory, start=1))
    return float(len(number) ** 2 / (len(number) + 2 * pairs))


def _pairs(number: Ints, lag: int) -> tuple[Ints, Ints]:
    at = np.searchsorted(number, number + lag)
    there = np.flatnonzero(at < len(number))
    there = there[number[at[there]] == number[there] + lag]
    return there, at[there]
