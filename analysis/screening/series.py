"""Plain questions to a column of the frame: where it stands still, how far it ranges, its means by the minute."""

from dataclasses import dataclass

import numpy as np

from analysis.passage import Floats, Ints
from analysis.vectors import wrap_signed_deg

SAME = 1e-6  # readings of one value differ by rounding only
LEAST_READINGS = 30  # of a stretch that is known for less than half of its time
MOST_RUNS = 60
SMOOTH_ROWS = 30
BLOCK_ROWS = 60


@dataclass(frozen=True)
class Run:
    """A stretch of rows on one value, first and last included."""

    first: int
    last: int
    length_s: float
    value: float

    @property
    def rows(self) -> slice:
        """The rows of the stretch."""
        return slice(self.first, self.last + 1)


def ahead(angle_deg: Floats) -> np.ndarray:
    """Return the unit vector of an angle as a complex number, 1 at 0 deg and i at 90 deg."""
    vector = np.empty(len(angle_deg), dtype=complex)
    angle = np.radians(angle_deg)
    vector.real, vector.imag = np.cos(angle), np.sin(angle)
    return vector


def constant_runs(x: Floats, time_s: Floats, least_s: float, break_s: float) -> list[Run]:
    """Stretches of at least ``least_s`` on one value, the longest first.

    Missing values neither end a stretch nor make one; a silence above ``break_s`` ends it.
    """
    known = np.flatnonzero(np.isfinite(x))
    if known.size == 0:
        return []
    value, at_s = x[known], time_s[known]
    new = (np.abs(np.diff(value)) > SAME) | (np.diff(at_s) > break_s)
    first = np.concatenate(([0], np.flatnonzero(new) + 1))
    last = np.append(first[1:] - 1, known.size - 1)
    length = at_s[last] - at_s[first]
    many = last - first + 1 >= np.minimum(length / 2, LEAST_READINGS)
    long = np.flatnonzero((length >= least_s) & many)
    return [
        Run(int(known[first[k]]), int(known[last[k]]), float(length[k]), float(value[first[k]]))
        for k in long[np.argsort(-length[long], kind="stable")][:MOST_RUNS]
    ]


def ranges_over(x: Floats, rows: int = SMOOTH_ROWS) -> float:
    """How far means over ``rows`` known values range; NaN where fewer than two of them are known."""
    means = _means(x, rows)
    return float(np.ptp(means)) if len(means) > 1 else np.nan


def swings_over_deg(angle_deg: Floats) -> float:
    """How far an angle, averaged over half a minute, ranges about its mean direction, 0..360; NaN if unknown."""
    known = angle_deg[np.isfinite(angle_deg)]
    if len(known) < 2:
        return np.nan
    unit = _means(ahead(known), SMOOTH_ROWS)
    off = wrap_signed_deg(np.degrees(np.angle(unit)) - np.degrees(np.angle(unit.mean())))
    return float(np.ptp(off))


def _means(x: np.ndarray, rows: int) -> np.ndarray:
    known = x[np.isfinite(x)]
    rows = max(min(rows, len(known) // 2), 1)
    whole = len(known) // rows * rows
    means: np.ndarray = known[:whole].reshape(-1, rows).mean(axis=1)
    return means


def block_means(x: np.ndarray, rows: int = BLOCK_ROWS) -> np.ndarray:
    """Means of successive blocks of ``rows``, NaN where less than half of a block is known."""
    count = len(x) // rows
    block = x[: count * rows].reshape(count, rows)
    known = np.isfinite(block)
    number = known.sum(axis=1)
    total = np.where(known, block, 0).sum(axis=1)
    return np.where(number >= rows / 2, total / np.maximum(number, 1), np.nan)


def windowed_sum(x: np.ndarray, before: int, after: int) -> np.ndarray:
    """Sum over the rows from ``before`` rows back to ``after`` rows on, cut off at the ends."""
    total = np.concatenate(([0], np.cumsum(x)))
    row: Ints = np.arange(len(x))
    high, low = np.clip(row + after + 1, 0, len(x)), np.clip(row - before, 0, len(x))
    summed: np.ndarray = total[high] - total[low]
    return summed
