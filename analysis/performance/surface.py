"""A smooth surface of speed over wind speed and angle, with its uncertainty.

Tensor product of cubic B-splines with second differences penalised both ways (P. H. C. Eilers & B. D. Marx,
"Flexible smoothing with B-splines and penalties", Statistical Science 11(2), 1996); the weight of each penalty by
restricted maximum likelihood. Rising with the wind by an asymmetric penalty (K. Bollaerts, P. H. C. Eilers & I. van
Mechelen, Statistics in Medicine 25(7), 2006). References from memory.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.interpolate import BSpline
from scipy.linalg import cho_factor, cho_solve

from analysis.passage import Floats
from analysis.robust import robust_sd

from .memory import memory_of, worth
from .minutes import Minutes

LEAST_MINUTES = 30
TWA_STEP_DEG, TWS_STEP_KN = 12.0, 4.0
RISING_TO_KN = 16.0
"""Up to here more wind never makes her slower: below it yachts seldom reef (judgment). Beyond it she may slow."""
DEGREE = 3
_EVERY_10_DEG = np.arange(0.0, 181.0, 10.0)
_SHARED_MINUTES = 20  # how much the whole passage's scatter counts beside that near one angle
_FIRST_SCATTER_KN = 0.15
_WEIGHTS = 10.0 ** np.arange(-1, 3.5, 1.0)
_RISING = 1e4
_HUBER = 2.0


@dataclass(frozen=True)
class Surface:
    """Speed through the water [kn] over TWS [kn] and |TWA| [deg], the same on both tacks.

    ``winds_kn`` and ``angles_deg`` are the knots of its axes; ``coefficients`` and ``covariance`` are those of the
    splines; ``scatter`` is the one-sigma of a minute about it [kn] every 10 deg of |TWA|, ``memory`` the
    autocorrelation of that at lags of whole minutes. It holds only where minutes lie about.
    """

    winds_kn: Floats
    angles_deg: Floats
    coefficients: Floats
    covariance: Floats
    scatter: Floats
    memory: Floats

    def speed_kn(self, tws_kn: Floats, twa_deg: Floats) -> Floats:
        """Speed at any TWS and signed or unsigned TWA, arrays of one length."""
        return np.asarray(self.basis(tws_kn, twa_deg) @ self.coefficients)

    def sd_kn(self, tws_kn: Floats, twa_deg: Floats) -> Floats:
        """One-sigma of that speed from the scatter of the minutes."""
        return self.spread(self.basis(tws_kn, twa_deg))

    def scatter_kn(self, twa_deg: Floats) -> Floats:
        """One-sigma of a minute about the surface."""
        return np.interp(np.abs(twa_deg), _EVERY_10_DEG, self.scatter)

    def spread(self, combination: Floats) -> Floats:
        """One-sigma of combinations of the coefficients, one a row."""
        return np.asarray(np.sqrt(((combination @ self.covariance) * combination).sum(axis=1)))

    def slopes(self, tws_kn: Floats, twa_deg: Floats) -> tuple[Floats, Floats]:
        """Change of speed per kn of wind and per degree away from the wind."""
        angle = np.abs(twa_deg)
        rise = self.speed_kn(tws_kn + 0.5, angle) - self.speed_kn(tws_kn - 0.5, angle)
        return rise, (self.speed_kn(tws_kn, angle + 2) - self.speed_kn(tws_kn, angle - 2)) / 4

    def basis(self, tws_kn: Floats, twa_deg: Floats) -> Floats:
        """The splines at each point, a row each; beyond the axes those of their ends."""
        return _basis(self.winds_kn, self.angles_deg, tws_kn, np.abs(twa_deg))


def fit_surface(minutes: Minutes) -> Surface | None:
    """Fit the surface to the minutes of a passage; None where they are too few."""
    if len(minutes.time_s) < LEAST_MINUTES:
        return None
    angle, number, speed = np.abs(minutes.twa_deg), minutes.number, minutes.speed_kn
    winds = _knots(minutes.tws_kn, TWS_STEP_KN)
    angles = _knots(angle, TWA_STEP_DEG)
    basis = _basis(winds, angles, minutes.tws_kn, angle)
    across, along, rising = _penalties(winds, len(angles) + DEGREE - 1)
    weight = np.full(len(basis), _FIRST_SCATTER_KN**-2)
    memory, forced = np.empty(0), np.zeros(len(rising), dtype=bool)
    penalty = _likeliest(basis, speed, weight, across, along)
    for _ in range(2):
        fitted, inverse = _solved(basis, speed, weight, penalty, rising, forced)
        residual = speed - basis @ fitted
        used = float(weight @ ((basis @ inverse) * basis).sum(axis=1)) / len(basis)
        by_angle = _scatter(angle, residual) / np.sqrt(1 - min(used, 0.5))
        alone = np.interp(angle, _EVERY_10_DEG, by_angle)
        cut = np.clip(residual / alone, -3, 3)
        memory = memory_of(number, cut, used)
        robust = np.minimum(1.0, _HUBER / np.maximum(np.abs(cut), 1e-9))
        weight = robust / alone**2 * worth(number, memory) / len(number)
    penalty = _likeliest(basis, speed, weight, across, along)
    for _ in range(10):
        fitted, inverse = _solved(basis, speed, weight, penalty, rising, forced)
        falling = (rising @ fitted < -1e-6) & ~forced
        if not falling.any():
            break
        forced |= falling
    return Surface(winds, angles, fitted, inverse, by_angle, memory)


def _scatter(angle: Floats, residual: Floats) -> Floats:
    """Robust one-sigma of residuals within 15 deg of every 10 deg; the few lean on the whole passage's."""
    whole = max(robust_sd(residual), 1e-3)
    found = []
    for middle in _EVERY_10_DEG:
        near = residual[np.abs(angle - middle) <= 15]
        own = robust_sd(near) if len(near) else whole
        found.append((len(near) * own**2 + _SHARED_MINUTES * whole**2) / (len(near) + _SHARED_MINUTES))
    return np.asarray(np.sqrt(found))


def _knots(value: Floats, step: float) -> Floats:
    """Whole steps about all values, half a step to spare at either end; never below none."""
    low, high = np.floor(value.min() / step - 0.5), np.ceil(value.max() / step + 0.5)
    return np.arange(max(low, 0.0), high + 1) * step


def _basis(winds_kn: Floats, angles_deg: Floats, tws_kn: Floats, angle_deg: Floats) -> Floats:
    by_wind, by_angle = _splines(winds_kn, tws_kn), _splines(angles_deg, angle_deg)
    return np.asarray(np.einsum("ij,ik->ijk", by_wind, by_angle).reshape(len(by_wind), -1))


def _splines(knots: Floats, value: Floats) -> Floats:
    step = knots[1] - knots[0]
    beyond = step * np.arange(1, DEGREE + 1)
    inside = np.clip(np.asarray(value, dtype=float), knots[0], knots[-1])
    padded = np.concatenate((knots[0] - beyond[::-1], knots, knots[-1] + beyond))
    return np.asarray(BSpline.design_matrix(inside, padded, DEGREE).toarray())


def _penalties(winds_kn: Floats, angles: int) -> tuple["_Penalty", "_Penalty", Floats]:
    """Roughness along the wind speed and along the angle, and the differences that must not fall."""
    winds = len(winds_kn) + DEGREE - 1
    rough_wind: Floats = np.diff(np.eye(winds), 2, axis=0)
    rough_angle: Floats = np.diff(np.eye(angles), 2, axis=0)
    by_wind, by_angle = rough_wind.T @ rough_wind, rough_angle.T @ rough_angle
    values = np.linalg.eigvalsh(by_wind), np.linalg.eigvalsh(by_angle)
    across = _Penalty(_kron(by_wind, np.eye(angles)), np.repeat(values[0], angles))
    along = _Penalty(_kron(np.eye(winds), by_angle), np.tile(values[1], winds))
    begins = winds_kn[0] + TWS_STEP_KN * (
        np.arange(winds - 1) - DEGREE + 1
    )  # where a difference begins to count
    steps: Floats = np.diff(np.eye(winds), axis=0)[begins < RISING_TO_KN]
    return across, along, _kron(steps, np.eye(angles))


def _kron(one: Floats, other: Floats) -> Floats:
    return np.asarray(np.kron(one, other), dtype=np.float64)


@dataclass(frozen=True)
class _Penalty:
    """A matrix and its eigenvalues, of both penalties in one order."""

    matrix: Floats
    eigenvalues: Floats


def _likeliest(basis: Floats, speed: Floats, weight: Floats, across: _Penalty, along: _Penalty) -> Floats:
    """Choose the weights of both penalties by restricted likelihood; returns their sum as one matrix."""
    gram, moment = basis.T @ (weight[:, None] * basis), basis.T @ (weight * speed)
    total, freedom = float(weight @ speed**2), float(weight.sum()) - 4
    found: tuple[float, Floats] | None = None
    for one, other in product(_WEIGHTS, _WEIGHTS):
        penalty = one * across.matrix + other * along.matrix
        factor, lower = cho_factor(gram + penalty + _ridge(gram), check_finite=False)
        left = total - float(moment @ cho_solve((factor, lower), moment, check_finite=False))
        eigenvalues = one * across.eigenvalues + other * along.eigenvalues
        known = eigenvalues > 1e-9 * eigenvalues.max()
        score = (
            freedom * np.log(max(left, 1e-9))
            + 2 * np.log(np.diag(factor)).sum()
            - np.log(eigenvalues[known]).sum()
        )
        if found is None or score < found[0]:
            found = score, penalty
    assert found is not None
    return found[1]


def _solved(
    basis: Floats, speed: Floats, weight: Floats, penalty: Floats, rising: Floats, forced: np.ndarray
) -> tuple[Floats, Floats]:
    gram = basis.T @ (weight[:, None] * basis)
    held = rising[forced]
    factor = cho_factor(
        gram + penalty + _RISING * gram.max() * held.T @ held + _ridge(gram), check_finite=False
    )
    inverse = cho_solve(factor, np.eye(len(gram)), check_finite=False)
    return inverse @ (basis.T @ (weight * speed)), inverse


def _ridge(gram: Floats) -> Floats:
    """Enough to keep the numbers sound, too little to matter: it draws toward zero only far from all minutes."""
    return np.asarray(1e-9 * gram.max() * np.eye(len(gram)))
