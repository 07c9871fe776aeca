"""Regression against a background vector that wanders slowly: the engine of water and wind block.

``observed = X theta + C(t) + noise``, all two-dimensional. C is linear between knots; these follow a local
linear trend (level and slope each a random walk), whose two variances are found by restricted marginal
likelihood. The noise has a memory of its own, apart along the boat and across it, and is whitened by an
autoregression. Theta and C are solved together in bordered banded form, so cost grows with time only.
Banded matrices are in scipy's lower form: ``banded[i - j, j]`` holds element (i, j).

After A. C. Harvey, Forecasting, Structural Time Series Models and the Kalman Filter (1989), ch. 2 and 4, for
the trend and its likelihood; R. M. Bell and D. F. McCaffrey, Survey Methodology 28 (2002) 169-181, for the
small-sample (jackknife) cluster deviation.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy import sparse
from scipy.linalg import cho_factor, cho_solve, cho_solve_banded, cholesky_banded
from scipy.optimize import minimize, nnls

from analysis.calibration.results import Floats
from analysis.robust import robust_sd

STATES = 4  # level and slope, north and east
WIDTH = 3 * STATES  # a whitened row touches three knots at most
AR_ORDER = 12
MEMORY_LAGS = 24
DECAYS = np.array([0.0, 0.3, 0.6, 0.8, 0.9, 0.95])  # per 20 s step
STUDENT_DOF = 6.0
FORGOTTEN_S = 12 * 3600.0  # a tide later, the current of before says nothing (judgment)


@dataclass(frozen=True)
class Wander:
    """How the background moves: level variance [kn^2/h] and slope variance [(kn/h)^2/h].

    ``belief`` is the one-sigma of their logarithms; ``level_kn`` and ``slope_kn_h`` of the state at the start.
    """

    level: float
    slope: float
    belief: tuple[float, float]
    level_kn: float
    slope_kn_h: float


@dataclass(frozen=True)
class Memory:
    """Noise of 20 s means along or across the boat: its autocovariance [kn^2] at lags 0 to ``AR_ORDER``."""

    covariance: Floats

    @classmethod
    def white(cls, variance: float) -> "Memory":
        """Noise without memory."""
        return cls(np.concatenate(([variance], np.zeros(AR_ORDER))))

    def whitener(self, number: Floats) -> sparse.csr_matrix:
        """Matrix that turns the noise of blocks ``number`` into independent unit noise (restarts at gaps)."""
        coefficients, innovation = _levinson(self.covariance)
        start = np.concatenate(([True], np.diff(number) != 1))
        since = np.arange(len(number)) - np.maximum.accumulate(np.where(start, np.arange(len(number)), 0))
        order = np.minimum(since, AR_ORDER)
        scale = 1 / np.sqrt(innovation[order])
        depth = AR_ORDER if self.covariance[1:].any() else 0
        lags = range(1, min(depth + 1, len(number)))
        diagonals = [scale, *((-coefficients[order, lag - 1] * scale)[lag:] for lag in lags)]
        shape = (len(number), len(number))
        return sparse.diags(diagonals, [0, *(-lag for lag in lags)], shape=shape, format="csr")


def _levinson(covariance: Floats) -> tuple[Floats, Floats]:
    """Predictors of every order up to the last lag (rows, zero padded) and their innovation variances."""
    most = len(covariance) - 1
    coefficients, innovation = np.zeros((most + 1, most)), np.zeros(most + 1)
    innovation[0] = covariance[0]
    for m in range(1, most + 1):
        last = coefficients[m - 1, : m - 1]
        reflection = (covariance[m] - last @ covariance[m - 1 : 0 : -1]) / innovation[m - 1]
        coefficients[m, m - 1] = reflection
        coefficients[m, : m - 1] = last - reflection * last[::-1]
        innovation[m] = innovation[m - 1] * (1 - reflection**2)
    return coefficients, innovation


@dataclass(frozen=True)
class Knots:
    """Knots at even spacing over the data, a silence beyond FORGOTTEN_S counted as no longer than that.

    ``silence_ends_s`` are the first times after such silences, ``cut_s`` what is taken off the times up to the
    first of them, between the first and the second, and so on.
    """

    start_s: float
    spacing_s: float
    count: int
    silence_ends_s: Floats
    cut_s: Floats

    @classmethod
    def over(cls, time_s: Floats, spacing_s: float) -> "Knots":
        """Cover the times, in order, with knots at about ``spacing_s``, three at least."""
        steps = np.diff(time_s)
        silent = steps > FORGOTTEN_S
        cut = np.concatenate(([0.0], np.cumsum(steps[silent] - FORGOTTEN_S)))
        span = float(time_s[-1] - time_s[0] - cut[-1])
        pieces = max(int(np.ceil(span / spacing_s)), 2)
        return cls(float(time_s[0]), max(span, 1.0) / pieces, pieces + 1, time_s[1:][silent], cut)

    @property
    def time_s(self) -> Floats:
        """Times of the knots."""
        counted = self.start_s + self.spacing_s * np.arange(self.count)
        ends = self.silence_ends_s - self.cut_s[1:]
        return np.asarray(counted + self.cut_s[np.searchsorted(ends, counted, side="right")])

    def weights(self, time_s: Floats) -> sparse.csr_matrix:
        """Linear interpolation from knots to times, clamped at the ends."""
        counted = time_s - self.cut_s[np.searchsorted(self.silence_ends_s, time_s, side="right")]
        place = np.clip((counted - self.start_s) / self.spacing_s, 0, self.count - 1)
        left = np.minimum(place.astype(int), self.count - 2)
        share = place - left
        rows = np.arange(len(time_s))
        return sparse.csr_matrix(
            (np.concatenate((1 - share, share)), (np.tile(rows, 2), np.concatenate((left, left + 1)))),
            shape=(len(time_s), self.count),
        )

    def precision(self, level: float, slope: float, wander: Wander) -> tuple[Floats, float]:
        """Prior precision of all states, banded, and its log-determinant."""
        h = self.spacing_s / 3600
        q = np.array([[level * h + slope * h**3 / 3, slope * h**2 / 2], [slope * h**2 / 2, slope * h]])
        inverse = np.linalg.inv(q)
        move = np.array([[1, h], [0, 1]])
        first = np.diag([wander.level_kn**-2, wander.slope_kn_h**-2])
        own = np.repeat((move.T @ inverse @ move + inverse)[None], self.count, axis=0)
        own[0] += first - inverse
        own[-1] -= move.T @ inverse @ move
        link = -inverse @ move
        banded = np.zeros((WIDTH, STATES * self.count))
        for side in (0, 2):
            for a in (0, 1):
                for b in range(a + 1):
                    banded[a - b, side + b :: STATES] = own[:, a, b]
                for b in (0, 1):
                    banded[STATES + a - b, side + b : -STATES : STATES] = link[a, b]
        log_det = 2 * ((1 - self.count) * np.linalg.slogdet(q)[1] + np.log(np.diag(first)).sum())
        return banded, float(log_det)


@dataclass(frozen=True)
class Normal:
    """Normal equations of whitened rows: knots banded, theta dense."""

    rows_knots: sparse.csr_matrix
    rows_theta: Floats
    rows_seen: Floats
    prior: Floats  # precision of theta
    pull: Floats  # precision x (prior mean - theta now)
    knots: Knots

    @cached_property
    def _parts(self) -> tuple[Floats, Floats, Floats]:
        rows = np.column_stack((self.rows_theta, self.rows_seen))
        return _banded((self.rows_knots.T @ self.rows_knots).tocsr()), self.rows_knots.T @ rows, rows.T @ rows

    def solve(self, level: float, slope: float, wander: Wander) -> "Solution":
        """Solve for theta's step and the knots at given variances of the background."""
        prior, log_prior = self.knots.precision(level, slope, wander)
        data, cross, own = self._parts
        factor = cholesky_banded(data + prior, lower=True)
        swept = cho_solve_banded((factor, True), cross)
        information = own[:-1, :-1] + self.prior - cross[:, :-1].T @ swept[:, :-1]
        gradient = own[:-1, -1] + self.pull - cross[:, :-1].T @ swept[:, -1]
        chol = cho_factor(information)
        step = cho_solve(chol, gradient)
        misfit = own[-1, -1] - cross[:, -1] @ swept[:, -1] - gradient @ step
        log_det = 2 * np.log(factor[0]).sum() + 2 * np.log(np.diag(chol[0])).sum()
        return Solution(
            step,
            swept[:, -1] - swept[:, :-1] @ step,
            information,
            swept[:, :-1],
            factor,
            misfit + log_det - log_prior,
        )

    def background(
        self, wander: Wander, start: tuple[float, float], reach: float = 1.0
    ) -> tuple[float, float]:
        """Find the variances of the background that the data make most likely, given what is believed.

        ``reach`` is how far from ``start``, in their logarithms, the search begins.
        """
        centre = np.log([wander.level, wander.slope])

        def cost(x: Floats) -> float:
            level, slope = np.exp(np.clip(x, -18, 8))
            return self.solve(level, slope, wander).deviance + float(
                np.sum(((x - centre) / wander.belief) ** 2)
            )

        x0 = np.log(start)
        simplex = x0 + reach * np.array([[0, 0], [1, 0], [0, 1]])
        best = minimize(
            cost,
            x0,
            method="Nelder-Mead",
            options={"maxfev": 40, "xatol": 0.1, "fatol": 0.1, "initial_simplex": simplex},
        ).x
        level, slope = np.exp(np.clip(best, -18, 8))
        return float(level), float(slope)


@dataclass(frozen=True)
class Solution:
    """Theta's step, the states of the knots, and what their covariance is made of."""

    step: Floats
    states: Floats
    information: Floats
    swept: Floats
    factor: Floats
    deviance: float

    @property
    def levels(self) -> np.ndarray:
        """Background at the knots, north + i east."""
        return np.asarray(self.states[0::STATES] + 1j * self.states[2::STATES])

    @cached_property
    def theta_covariance(self) -> Floats:
        """Covariance of theta if the noise is as modelled."""
        return np.asarray(np.linalg.inv(self.information))

    @cached_property
    def knots_covariance(self) -> Floats:
        """Covariance of the states for given theta."""
        size = self.factor.shape[1]
        return np.asarray(cho_solve_banded((self.factor, True), np.eye(size)))


def cluster_covariance(normal: Normal, solution: Solution, cluster: np.ndarray, residual: Floats) -> Floats:
    """Covariance of theta from the scatter between clusters of rows, corrected for small samples.

    The prior's share enters as modelled. ``cluster`` labels the whitened rows.
    """
    net = normal.rows_theta - normal.rows_knots @ solution.swept
    inverse = solution.theta_covariance
    states = solution.knots_covariance
    model = net.T @ net
    scatter = np.zeros_like(model)
    order = np.argsort(cluster, kind="stable")
    knots, net_in_order = normal.rows_knots[order], net[order]
    ends = np.append(np.flatnonzero(np.diff(cluster[order], prepend=-1)), len(order))
    for first, last in pairwise(ends.tolist()):
        held = slice(*knots.indptr[[first, last]])
        columns, place = np.unique(knots.indices[held], return_inverse=True)
        size = last - first
        dense = np.zeros((size, len(columns)))
        dense[np.repeat(np.arange(size), np.diff(knots.indptr[first : last + 1])), place] = knots.data[held]
        own = net_in_order[first:last]
        hat = dense @ states[columns[:, None], columns] @ dense.T + own @ inverse @ own.T
        hat[np.diag_indices(size)] -= 1.02
        score = own.T @ np.linalg.solve(-hat, residual[order[first:last]])
        scatter += np.outer(score, score)
    return np.asarray(inverse @ (scatter + solution.information - model) @ inverse)


def whitened(
    turn: np.ndarray,
    number: Floats,
    noise: tuple[Memory, Memory],
    weights: Floats,
    basis: sparse.csr_matrix,
    jacobian: np.ndarray,
    seen: np.ndarray,
) -> tuple[sparse.csr_matrix, Floats, Floats]:
    """Turn complex rows into the boat's frame (unit heading vectors ``turn``) and whiten them.

    Returns knots' rows, theta's rows and seen values: along-boat rows first, across-boat rows after.
    ``weights`` (two columns) are the robust weights of the whitened rows.
    """
    back = np.conj(turn)
    root = np.sqrt(weights)
    filters = [memory.whitener(number) for memory in noise]
    in_boat, value = back[:, None] * jacobian, back * seen
    theta = np.vstack((root[:, :1] * (filters[0] @ in_boat.real), root[:, 1:] * (filters[1] @ in_boat.imag)))
    # a level north is seen from the boat as ``back``, a level east as ``i back``
    rows = [
        f @ _spread(basis, n, e)
        for f, n, e in zip(filters, (back.real, back.imag), (-back.imag, back.real), strict=True)
    ]
    for row, share in zip(rows, root.T, strict=True):
        row.data *= np.repeat(share, np.diff(row.indptr))
    return (
        sparse.vstack(rows).tocsr(),
        theta,
        np.concatenate((root[:, 0] * (filters[0] @ value.real), root[:, 1] * (filters[1] @ value.imag))),
    )


def _spread(basis: sparse.csr_matrix, north: Floats, east: Floats) -> sparse.csr_matrix:
    """Rows over all states from interpolation over knots: levels north and east, no slopes."""
    per_row = np.diff(basis.indptr)
    data = np.column_stack((basis.data * np.repeat(north, per_row), basis.data * np.repeat(east, per_row)))
    columns = np.column_stack((STATES * basis.indices, STATES * basis.indices + 2))
    shape = (basis.shape[0], STATES * basis.shape[1])
    return sparse.csr_matrix((data.ravel(), columns.ravel(), 2 * basis.indptr), shape=shape)


def memory_of(residual: Floats, number: Floats, floor: float) -> Memory:
    """Find the noise's autocovariance from the residuals', outliers clipped; ``floor`` [kn^2] is added."""
    scale = robust_sd(residual - np.median(residual)) + 1e-12
    clipped = np.clip(residual, -4 * scale, 4 * scale)
    total = float(np.mean(clipped**2))
    lags = np.arange(1, MEMORY_LAGS + 1)
    covariance, count = np.zeros(MEMORY_LAGS), np.zeros(MEMORY_LAGS)
    for lag in lags[lags < len(residual)]:
        pairs = (number[lag:] - number[:-lag]) == lag
        count[lag - 1] = pairs.sum()
        covariance[lag - 1] = (clipped[lag:] * clipped[:-lag])[pairs].sum() / max(count[lag - 1], 1)
    # a sum of decays with weights that cannot be negative is a lawful autocovariance
    trust = np.sqrt(np.concatenate(([len(residual)], count)))
    shapes = DECAYS ** np.arange(MEMORY_LAGS + 1)[:, None]
    share, _ = nnls(shapes * trust[:, None], np.concatenate(([total], covariance)) * trust)
    share[0] += floor
    return Memory(np.asarray(shapes[: AR_ORDER + 1] @ share))


def student_weights(row: Floats) -> Floats:
    """Weights that let far rows count less, as if the noise were Student's t."""
    return (STUDENT_DOF + 1) / (STUDENT_DOF + row**2)


def _banded(matrix: sparse.csr_matrix) -> Floats:
    """Lower banded storage of a symmetric matrix."""
    size = matrix.shape[0]
    out = np.zeros((min(WIDTH, size), size))
    for offset in range(out.shape[0]):
        out[offset, : size - offset] = matrix.diagonal(-offset)
    return out
