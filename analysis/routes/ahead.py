"""How far what a quantity did in the last minutes tells what it will do: from the passage itself."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Floats

STEP_S = 10.0
PRIOR_WINDOWS = 2.0  # what is believed beforehand weighs as much as so many windows of the passage (judgment)
LEAST_FILLED = 0.5
MOST_WINDOWS = 2000

Complexes = NDArray[np.complex128]


@dataclass(frozen=True)
class History:
    """A vector through the passage in means of ``STEP_S`` from ``start_s`` on; NaN where nothing is known.

    ``window_s`` is the length of the mean that stands for now. With ``angular`` only its direction matters and
    differences are angles [rad]. ``prior_rate`` is what it is believed to wander by, one-sigma per square root of
    an hour.
    """

    start_s: float
    values: Complexes
    window_s: float
    angular: bool
    prior_rate: float

    def now(self, time_s: float) -> complex | None:
        """Mean over the window that ends at a time; None where less than half of it is known."""
        end = round((time_s - self.start_s) / STEP_S) + 1
        rows = self.values[max(end - self._steps(self.window_s), 0) : max(end, 0)]
        known = np.isfinite(rows)
        if known.sum() < LEAST_FILLED * self._steps(self.window_s):
            return None
        return complex(rows[known].mean())

    def ahead_sd(self, from_s: float, length_s: float) -> float:
        """One-sigma of the mean over ``length_s``, beginning ``from_s`` after now, less what stands for now.

        The rms of that difference through the passage, by component or as an angle, held to the belief where the
        passage has few such windows; beyond what the passage spans it grows with the square root of time.
        """
        whole = self.window_s + from_s + length_s
        span = STEP_S * len(self.values)
        shrink = min(1.0, 0.5 * span / whole)
        window, wait, length = (
            self._steps(self.window_s),
            round(shrink * from_s / STEP_S),
            self._steps(shrink * length_s),
        )
        off = self._differences(window, wait, length)
        count = span / STEP_S / (window + wait + length) if len(off) else 0.0
        belief = self.prior_rate**2 * shrink * (from_s + length_s / 3 + self.window_s / 3) / 3600.0
        mean_square = float(np.mean(np.abs(off) ** 2)) / (1.0 if self.angular else 2.0) if len(off) else 0.0
        variance = (PRIOR_WINDOWS * belief + count * mean_square) / (PRIOR_WINDOWS + count)
        return float(np.sqrt(variance / shrink))

    def _differences(self, window: int, wait: int, length: int) -> Complexes | Floats:
        total, count = self._sums
        last = len(self.values) - window - wait - length
        begin = np.arange(0, last + 1, max(last // MOST_WINDOWS, 1))
        later = begin + window + wait
        now_count = count[begin + window] - count[begin]
        then_count = count[later + length] - count[later]
        use: Bools = (now_count >= LEAST_FILLED * window) & (then_count >= LEAST_FILLED * length)
        begin, later = begin[use], later[use]
        now = (total[begin + window] - total[begin]) / now_count[use]
        then = (total[later + length] - total[later]) / then_count[use]
        return np.angle(then * np.conj(now)) if self.angular else then - now

    @cached_property
    def _sums(self) -> tuple[Complexes, NDArray[np.int64]]:
        known = np.isfinite(self.values)
        total = np.concatenate(([0.0], np.cumsum(np.where(known, self.values, 0.0))))
        return total, np.concatenate(([0], np.cumsum(known)))

    @staticmethod
    def _steps(seconds: float) -> int:
        return max(round(seconds / STEP_S), 1)


def in_steps(time_s: Floats, values: Complexes) -> tuple[float, Complexes]:
    """Average a vector in steps of ``STEP_S``; returns the time of the first and the means, NaN where unknown."""
    known = np.isfinite(values)
    if not known.any():
        return float("nan"), np.empty(0, dtype=complex)
    start = float(np.floor(time_s[known][0] / STEP_S) * STEP_S)
    place = ((time_s[known] - start) // STEP_S).astype(np.int64)
    count = np.bincount(place)
    real, imag = (np.bincount(place, part) for part in (values[known].real, values[known].imag))
    with np.errstate(invalid="ignore", divide="ignore"):
        return start + STEP_S / 2, np.where(count > 0, (real + 1j * imag) / count, np.nan)
