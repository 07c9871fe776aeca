"""A smooth surface of speed over wind speed and angle, with its uncertainty.

Tensor product of cubic B-splines with second differences penalised both ways (P. H. C. Eilers & B. D. Marx,
"Flexible smoothing with B-splines and penalties", Statistical Science 11(2), 1996); the weight of each penalty by
restricted maximum likelihood. Rising with the wind by an asymmetric penalty (K. Bollaerts, P. H. C. Eilers & I. van
Mechelen, Statistics in Medicine 25(7), 2006). References from memory.
"""

from dataclasses import dataclass
from functools import lru_cache
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
_WEIGHTS = 10.0 ** np.arange(-2, 3.5, 1.0)
_RISING = 1e4
_HUBER = 2.0


@dataclass(frozen=True)
class Surface:
    """Speed through the water [kn] over TWS [kn] and |TWA| [deg], the same on both tacks.

    ``reach_tws_kn`` is the end of its axis of wind speed; ``coefficients`` and ``covariance`` are those of the
    splines; ``scatter`` is the one-sigma of a minute about it [kn] every 10 deg of |TWA|, ``memory`` the
    autocorrelation of that at lags of whole minutes. It holds only where minutes lie about: the one-sigma grows with
    the distance from them.
    """

    reach_tws_kn: float
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
        return _basis(self.reach_tws_kn, tws_kn, np.abs(twa_deg))


def fit_surface(minutes: Minutes) -> Surface | None:
    """Fit the surface to the minutes of a passage; None where they are too few."""
    if len(minutes.time_s) < LEAST_MINUTES:
        return None
    reach = TWS_STEP_KN * float(np.ceil(minutes.tws_kn.max() / TWS_STEP_KN))
    angle, number = np.abs(minutes.twa_deg), minutes.number
    basis = _basis(reach, minutes.tws_kn, angle)
    across, along, rising = _penalties(reach)
    forced = np.zeros(len(rising), dtype=bool)
    weight, memory = np.ones(len(basis)), np.empty(0)
    penalty = _likeliest(basis, minutes.speed_kn, weight, across, along)
    for _ in range(3):
        fitted, inverse = _solved(basis, minutes.speed_kn, weight, penalty, rising, forced)
        residual = minutes.speed_kn - basis @ fitted
        used = float(weight @ ((basis @ inverse) * basis).sum(axis=1)) / len(basis)
        by_angle = _scatter(angle, residual) / np.sqrt(1 - min(used, 0.5))
        alone = np.interp(angle, _EVERY_10_DEG, by_angle)
        cut = np.clip(residual / alone, -3, 3)
        memory = memory_of(number, cut, used)
        robust = np.minimum(1.0, _HUBER / np.maximum(np.abs(cut), 1e-9))
        weight = robust / alone**2 * worth(number, memory) / len(number)
        forced |= rising @ fitted < 0
    penalty = _likeliest(basis, minutes.speed_kn, weight, across, along)
    for _ in range(10):
        fitted, inverse = _solved(basis, minutes.speed_kn, weight, penalty, rising, forced)
        falling = (rising @ fitted < -1e-6) & ~forced
        if not falling.any():
            break
        forced |= falling
    return Surface(reach, fitted, inverse, by_angle, memory)


def _scatter(angle: Floats, residual: Floats) -> Floats:
    """Robust one-sigma of residuals within 15 deg of every 10 deg; the few lean on the whole passage's."""
    whole = max(robust_sd(residual), 1e-3)
    found = []
    for middle in _EVERY_10_DEG:
        near = residual[np.abs(angle - middle) <= 15]
        own = robust_sd(near) if len(near) else whole
        found.append((len(near) * own**2 + _SHARED_MINUTES * whole**2) / (len(near) + _SHARED_MINUTES))
    return np.asarray(np.sqrt(found))


def _basis(reach_tws_kn: float, tws_kn: Floats, angle_deg: Floats) -> Floats:
    by_wind = _splines(reach_tws_kn, TWS_STEP_KN, tws_kn)
    by_angle = _splines(180.0, TWA_STEP_DEG, angle_deg)
    return np.asarray(np.einsum("ij,ik->ijk", by_wind, by_angle).reshape(len(by_wind), -1))


def _splines(end: float, step: float, value: Floats) -> Floats:
    knots = np.arange(-DEGREE, round(end / step) + DEGREE + 1) * step
    inside = np.clip(np.asarray(value, dtype=float), 0.0, end)
    return np.asarray(BSpline.design_matrix(inside, knots, DEGREE).toarray())


@lru_cache(maxsize=8)
def _penalties(reach_tws_kn: float) -> tuple["_Penalty", "_Penalty", Floats]:
    """Roughness along the wind speed and along the angle, and the differences that must not fall."""
    winds, angles = round(reach_tws_kn / TWS_STEP_KN) + DEGREE, round(180.0 / TWA_STEP_DEG) + DEGREE
    rough_wind: Floats = np.diff(np.eye(winds), 2, axis=0)
    rough_angle: Floats = np.diff(np.eye(angles), 2, axis=0)
    by_wind, by_angle = rough_wind.T @ rough_wind, rough_angle.T @ rough_angle
    values = np.linalg.eigvalsh(by_wind), np.linalg.eigvalsh(by_angle)
    across = _Penalty(_kron(by_wind, np.eye(angles)), np.repeat(values[0], angles))
    along = _Penalty(_kron(np.eye(winds), by_angle), np.tile(values[1], winds))
    middle = (np.arange(winds - 1) - (DEGREE - 1) / 2 + 0.5) * TWS_STEP_KN
    steps: Floats = np.diff(np.eye(winds), axis=0)[middle - DEGREE * TWS_STEP_KN / 2 < RISING_TO_KN]
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
        factor, lower = cho_factor(gram + penalty + _ridge(gram))
        left = total - float(moment @ cho_solve((factor, lower), moment))
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
    factor = cho_factor(gram + penalty + _RISING * gram.max() * held.T @ held + _ridge(gram))
    inverse = cho_solve(factor, np.eye(len(gram)))
    return inverse @ (basis.T @ (weight * speed)), inverse


def _ridge(gram: Floats) -> Floats:
    """Enough to keep the numbers sound, too little to matter: it draws toward zero only far from all minutes."""
    return np.asarray(1e-9 * gram.max() * np.eye(len(gram)))
