"""How much later the weather came than forecast: the lag at which forecast and passage agree best."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.calibration.small_samples import widening
from analysis.estimate import SIGMAS_95, Estimate, Need
from analysis.passage import Bools, Floats
from analysis.weather.memory import LEAST_FREEDOM, independent, persistence_of
from analysis.weather.series import BLOCK_S

LONGEST_LAG_S = 6 * 3600.0
LEAST_LAG_S = 1800.0
LEAST_ROWS = 12
LEAST_UNPLACED = (
    0.2  # share of a step that straight lines between its ends leave, measured on invented weather
)
LEAST_SHARE = 2 / 3  # of the passage that every lag is judged by
WELL_KNOWN_H = (
    1.0  # judgement: half of the step between two forecast times at sea, usually 3 h, less a little
)
CHI2_95 = SIGMAS_95**2
NEED = Need(
    "Compare a passage of a day or more in which the wind turns or the pressure has a trough, with a forecast that "
    "begins some hours before and ends some hours after it"
)


@dataclass(frozen=True)
class Shift:
    """How late the weather came: ``lag`` [h], + where it came later than forecast.

    ``lags_h`` and ``misfit`` are what was tried and how much worse than the best each agrees, in units of
    chi-square: 3.84 lies at the 95 % interval.
    """

    lag: Estimate
    lags_h: Floats
    misfit: Floats


def lags_s(reach_s: float) -> Floats:
    """Lags to try, symmetric about none, by tens of minutes."""
    count = int(reach_s // BLOCK_S)
    lags: Floats = np.arange(-count, count + 1, dtype=float) * BLOCK_S
    return lags


def shift_of(differences: Sequence[Floats], lags: Floats, step_s: float, sharpness: Sequence[float]) -> Shift:
    """Find the lag from differences forecast less observed, one array per quantity: lags down, time across.

    A constant error of each quantity is left out, and what remains is taken as noise with memory, told by its first
    autocorrelation at the best lag. ``step_s`` is the step of the forecast's times, ``sharpness`` of each quantity
    how much of its quickest change falls into one of three steps: one alone does not tell where in it that lies.
    """
    nothing = Shift(Estimate(None, None, "h", False, NEED), np.empty(0), np.empty(0))
    reach, usable = _reach(differences, lags)
    if reach < LEAST_LAG_S:
        return nothing
    tried = np.abs(lags) <= reach + 1
    kept = [one[tried] for one, good in zip(differences, usable, strict=True) if good]
    sharp = [one for one, good in zip(sharpness, usable, strict=True) if good]
    memories = [0.8] * len(kept)
    for _ in range(3):
        each = [_misfit(one, memory) for one, memory in zip(kept, memories, strict=True)]
        misfit = np.sum(each, axis=0)
        best = int(misfit.argmin())
        memories = [persistence_of(_common(one)[best]) for one in kept]
    worth = float(np.mean([independent(_common(one)[best]) for one in kept]))
    return _told(
        lags[tried] / 3600, misfit - misfit.min(), _unplaced(each, sharp, best) * step_s / 3600, worth
    )


def _reach(differences: Sequence[Floats], lags: Floats) -> tuple[float, list[bool]]:
    """The longest lag at which enough of the passage can be compared at every lag, and by which quantities."""
    for reach in np.unique(np.abs(lags))[::-1]:
        tried = np.abs(lags) <= reach + 1
        usable = []
        for one in differences:
            whole = int(np.isfinite(one[len(lags) // 2]).sum())
            common = int(_everywhere(one[tried]).sum())
            usable.append(common >= max(LEAST_ROWS, LEAST_SHARE * whole))
        if any(usable):
            return float(reach), usable
    return 0.0, [False] * len(differences)


def _everywhere(one: Floats) -> Bools:
    return np.asarray(np.isfinite(one).all(axis=0))


def _common(one: Floats) -> Floats:
    return np.where(_everywhere(one)[None, :], one, np.nan)


def _misfit(one: Floats, memory: float) -> Floats:
    """Minus twice the log likelihood at each lag, less a constant: noise of the first order, its size unknown."""
    series = _common(one)
    white = series[:, 1:] - memory * series[:, :-1]
    known = np.isfinite(white[0])
    white = white[:, known]
    white = white - white.mean(axis=1, keepdims=True)
    freedom = max(white.shape[1] - 3, 1)
    power = np.maximum((white**2).sum(axis=1), 1e-9)
    result: Floats = freedom * np.log(power)
    return result


def _unplaced(each: Sequence[Floats], sharpness: Sequence[float], best: int) -> float:
    """One-sigma of where in its step a change lies, in steps, by what each quantity says of the lag.

    A change within one step lies anywhere in it, 1/sqrt(12); one spread evenly over three places itself.
    """
    near = slice(max(best - 3, 0), best + 4)
    weight = np.array([float(np.ptp(one[near])) for one in each])
    loose = np.array(
        [max(LEAST_UNPLACED, (1.5 * one - 0.5) ** 2 if one > 1 / 3 else 0.0) for one in sharpness]
    )
    return float((weight * loose).sum() / weight.sum() / np.sqrt(12)) if weight.sum() > 0 else 0.0


def _told(lags_h: Floats, misfit: Floats, unplaced_h: float, worth: float) -> Shift:
    best = int(misfit.argmin())
    inside = np.flatnonzero(misfit <= CHI2_95)
    low, high = int(inside[0]), int(inside[-1])
    if low == 0 or high == len(lags_h) - 1:
        return Shift(Estimate(None, None, "h", False, NEED), lags_h, misfit)
    ends = (_crossing(lags_h, misfit, low, low - 1), _crossing(lags_h, misfit, high, high + 1))
    centre = _vertex(lags_h, misfit, best)
    half = max(ends[1] - centre, centre - ends[0]) / SIGMAS_95 * widening(max(worth - 1, LEAST_FREEDOM))
    sd = float(np.hypot(half, unplaced_h))
    known = sd <= WELL_KNOWN_H
    return Shift(Estimate(centre, sd, "h", known, None if known else NEED), lags_h, misfit)


def _crossing(lags_h: Floats, misfit: Floats, inner: int, outer: int) -> float:
    share = (CHI2_95 - misfit[inner]) / (misfit[outer] - misfit[inner])
    return float(lags_h[inner] + share * (lags_h[outer] - lags_h[inner]))


def _vertex(lags_h: Floats, misfit: Floats, best: int) -> float:
    """The least of the parabola through the best lag and its neighbours."""
    left, middle, right = misfit[best - 1 : best + 2]
    bend = left - 2 * middle + right
    step = lags_h[1] - lags_h[0]
    return float(lags_h[best] + (0.5 * step * (left - right) / bend if bend > 0 else 0.0))
