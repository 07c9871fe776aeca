"""How much a display smooths and delays the true wind it shows, whatever it works it out from."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.logged_wind.rows import Complexes, Damping, Rows, damped, filled, unit
from analysis.passage import Bools, Floats, Ints

TIMES_S = (0.0, 1.5, 3.0, 4.5, 6.5, 10.0, 14.0, 20.0, 28.0, 40.0, 60.0)
DELAYS_S = (-2, -1, 0, 1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 26, 35)
ORDINARY_TIME_S, ORDINARY_DELAY_S = 10.0, 3  # dampings that displays offer; common practice, no source
SEARCHED_WINDOWS = 12
SEARCHED_ROWS = 2_400
LEAST_ROWS = 60
SETTLING_S = 90
OUTLYING = 6.0


@dataclass(frozen=True)
class DampingFit:
    """The best ordinary damping, the best of all, and the lag (damping time plus delay) with its one-sigma."""

    ordinary: Damping
    free: Damping
    lag_s: float
    lag_sd_s: float

    @property
    def is_ordinary(self) -> bool:
        """Whether the best damping is one that displays offer."""
        return self.ordinary == self.free


def fit_wind_damping(rows: Rows) -> DampingFit:
    """Find the damping under which some mixture of all that a display could use comes closest to what it shows.

    The mixture is any complex combination of the apparent wind, its mirror image, the speed through the water,
    the motion over the ground and a constant, so that no hypothesis is preferred.
    """
    inputs = [rows.apparent, rows.apparent.conj(), rows.stw]
    if rows.ground is not None:
        inputs.append(rows.ground)
    return _fit(inputs, rows.shown, ~rows.turning, constant=True)


def fit_heading_damping(rows: Rows) -> DampingFit | None:
    """Find the damping of the heading in the logged wind direction, from turns; None without both."""
    if rows.heading is None or rows.direction is None or not rows.angle_logged:
        return None
    return _fit([rows.heading], rows.direction * unit(rows.shown).conj(), rows.turning, constant=False)


def _fit(inputs: Sequence[Complexes], shown: Complexes, use: Bools, constant: bool) -> DampingFit:
    picked = np.argsort(-use.sum(axis=1), kind="stable")[:SEARCHED_WINDOWS]
    sources = [filled(one[picked]) for one in (*inputs, shown)]
    known = np.logical_and.reduce([known for _, known in sources]) & use[picked]
    length = known.shape[1]
    known[:, : min(SETTLING_S, length // 6)] = False
    known[:, min(DELAYS_S) :] = False
    places = np.flatnonzero(known)
    places = places[:: 1 + len(places) // SEARCHED_ROWS]
    if len(places) < LEAST_ROWS:
        return DampingFit(Damping(0.0, 0), Damping(0.0, 0), np.nan, np.inf)
    stack = np.stack([values for values, _ in sources[:-1]])
    target = sources[-1][0].ravel()

    def tried(time_s: float, delays_s: Sequence[int], places: Ints) -> Iterator[tuple[float, Complexes]]:
        smooth = damped(stack, time_s).reshape(len(stack), -1)
        for delay_s in delays_s:
            yield _misfit(smooth[:, places - min(delay_s, length // 6)], target[places], constant)

    first = [one for time_s in TIMES_S[2::4] for one in tried(time_s, DELAYS_S[3::4], places)]
    left = np.abs(min(first, key=lambda one: one[0])[1])
    places = places[left < OUTLYING * np.median(left) + 1e-9]
    fits = [list(tried(time_s, DELAYS_S, places)) for time_s in TIMES_S]
    misfit = np.array([[one for one, _ in row] for row in fits])
    i, j = np.unravel_index(np.argmin(misfit), misfit.shape)
    return _weighed(misfit, fits[i][j][1])


def _misfit(columns: Complexes, target: Complexes, constant: bool) -> tuple[float, Complexes]:
    """Sum of squares and residual of the least-squares complex mixture of columns (inputs, rows).

    By einsum, as threads of a matrix product cost more than they save on so little.
    """
    if constant:
        columns = np.concatenate([columns, np.ones((1, columns.shape[1]))])
    conjugate = columns.conj()
    gram = np.einsum("in,jn->ij", conjugate, columns)
    gram += np.diag(1e-9 * np.diag(gram).real + 1e-12)
    mixture = np.linalg.solve(gram, np.einsum("in,n->i", conjugate, target))
    residual: Complexes = target - np.einsum("i,in->n", mixture, columns)
    return float((residual.real**2 + residual.imag**2).sum()), residual


def _weighed(misfit: Floats, residual: Complexes) -> DampingFit:
    """Mean and spread of the lag over all dampings, each weighted by its likelihood."""
    lagged = float((residual[:-1] * residual[1:].conj()).real.sum())
    memory = min(max(lagged / max(float(misfit.min()), 1e-12), 0.0), 0.98)
    independent = len(residual) * (1 - memory) / (1 + memory)
    floor = misfit + len(residual) * 1e-6
    weight = np.exp(-independent * (np.log(floor) - np.log(floor.min())))
    weight /= weight.sum()
    times, delays = np.meshgrid(TIMES_S, DELAYS_S, indexing="ij")
    lag = times + delays
    mean = float((weight * lag).sum())
    spread = float(np.sqrt((weight * (lag - mean) ** 2).sum()))
    ordinary = (times <= ORDINARY_TIME_S) & (delays <= ORDINARY_DELAY_S)
    return DampingFit(
        _at(np.where(ordinary, misfit, np.inf)), _at(misfit), mean, float(np.hypot(spread, 0.5))
    )


def _at(misfit: Floats) -> Damping:
    i, j = np.unravel_index(np.argmin(misfit), misfit.shape)
    return Damping(TIMES_S[i], DELAYS_S[j])
