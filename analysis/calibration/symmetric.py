"""Vane offset from the boat's own symmetry: STW and heel are one function of true AWA and AWS on both tacks.

Equal *shown* angles are no evidence, since a pilot that steers by the vane makes them equal whatever its offset.
But the boat then sails wide on one tack and pinched on the other, and her speed and heel tell. How much they
change with the angle is known only roughly, so each is given a rough shape with free, smooth departures from it,
and the offset's likelihood is that of both tacks lying on one such curve, whatever the departures. (A Gaussian
process written with features: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
2006, ch. 2 and 5.)
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from analysis.calibration.blocks import RAD, Blocks
from analysis.calibration.results import Evidence, Floats
from analysis.calibration.water import legs_of

OFFSETS_DEG = np.arange(-40.0, 40.5, 1.0)
COARSE = slice(None, None, 3)
PIECE_BLOCKS, MOST_PIECES = 30, 90  # means of 20 s in a piece; pieces
LEAST_LEGS = 2  # on either tack
LEAST_IN_PIECE = 6
LEAST_AWA_DEG = 12.0
USUAL_AWS_KN = 12.0
LEG_SIGMAS = 3.0
LEAST_WEIGHT = 1e-3
NOISES = tuple((size, share) for size in (1.0, 2.0, 4.0) for share in (0.5, 1.5))

# The rough shapes and what they may be off by: judgment, from polars and heel of ordinary yachts.
NO_GO_DEG, NO_GO_SD_DEG = 25.0, 8.0
STW_NOISE, STW_DEPARTURE = 0.012, 0.3  # of the usual speed
LOG_ASYMMETRY, LOG_TREND, WIND_POWER_SD = 0.01, 0.03, 0.5
HEEL_DEG, HEEL_PRESS_KN2 = 20.0, 280.0
HEEL_NOISE_DEG, HEEL_DEPARTURE, HEEL_ZERO_DEG = 0.4, 0.3, 3.0
CENTRES = np.linspace(13.5, 21.5, 12)


@dataclass(frozen=True)
class Symmetry:
    """Log-likelihood of each vane offset of ``OFFSETS_DEG``, and the pieces of legs behind it."""

    likelihood: Floats
    used: int

    @property
    def evidence(self) -> Evidence:
        """What symmetry tells alone."""
        return Evidence("symmetric sailing", "vane_offset_deg", *self.moments(), self.used)

    def moments(self, other: Floats | float = 0.0) -> tuple[float, float]:
        """Mean and one-sigma [deg] of the offset, with ``other`` log-likelihood added."""
        fine = np.arange(OFFSETS_DEG[0], OFFSETS_DEG[-1], 0.05)
        share = CubicSpline(OFFSETS_DEG, self.likelihood + other)(fine)
        share = np.exp(share - share.max())
        share /= share.sum()
        mean = float(share @ fine)
        return mean, float(np.sqrt(share @ (fine - mean) ** 2))


@dataclass(frozen=True)
class _Pieces:
    """Pieces of legs: shown AWA, AWS, the quantity, its leg, and the time from -1 to 1."""

    angle_deg: Floats
    speed_kn: Floats
    seen: Floats
    leg: np.ndarray
    time: Floats


def symmetric_sailing(blocks: Blocks) -> Symmetry | None:
    """Weigh every vane offset by how well STW and heel then agree between the tacks.

    Allows the log 1 % of difference between the tacks and the heel sensor a zero. None where neither is there
    or too few legs were sailed on either tack.
    """
    found = [
        _likelihood(pieces, shape, floor)
        for quantity, shape, floor in (
            (blocks.stw_kn, _stw_shape, STW_NOISE),
            (blocks.heel_deg, _heel_shape, HEEL_NOISE_DEG),
        )
        if _both_tacks(pieces := _pieces(blocks, quantity))
    ]
    if not found:
        return None
    return Symmetry(np.sum([one.likelihood for one in found], axis=0), max(one.used for one in found))


def _both_tacks(pieces: _Pieces) -> bool:
    port = pieces.angle_deg < 0
    return min(np.unique(pieces.leg[port]).size, np.unique(pieces.leg[~port]).size) >= LEAST_LEGS


def _pieces(blocks: Blocks, quantity: Floats) -> _Pieces:
    leg = legs_of(blocks)
    place = np.arange(len(leg)) - np.searchsorted(leg, leg)
    size = np.bincount(leg)[leg]
    parts = np.maximum(np.round(size / max(PIECE_BLOCKS, len(leg) / MOST_PIECES)), 1)
    piece = np.unique(np.stack((leg, place * parts // size)), axis=1, return_inverse=True)[1].ravel()
    use = np.isfinite(quantity)
    count = np.bincount(piece, use)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(piece, np.where(use, values, 0.0)) / np.maximum(count, 1))

    wind = mean(blocks.wind.real) + 1j * mean(blocks.wind.imag)
    angle = np.angle(wind, deg=True)
    keep = (count >= LEAST_IN_PIECE) & (np.abs(angle) > LEAST_AWA_DEG)
    span = max(float(np.ptp(blocks.time_s)), 1.0)
    time = 2 * mean(blocks.time_s - blocks.time_s.mean()) / span
    return _Pieces(
        angle[keep],
        np.abs(wind)[keep],
        mean(quantity)[keep],
        mean(leg.astype(float)).round()[keep],
        time[keep],
    )


Shape = Callable[[_Pieces, Floats, Floats], tuple[Floats, Floats]]


def _stw_shape(pieces: _Pieces, angle: Floats, side: Floats) -> tuple[Floats, Floats]:
    """Mean and features of STW over its usual value, at angles [deg] and sides of shape (offsets, pieces)."""
    strength = pieces.speed_kn / USUAL_AWS_KN
    pace = np.broadcast_to(np.sqrt(strength), angle.shape)
    stalled = np.exp(-((angle / NO_GO_DEG) ** 2))
    mean = (1 - stalled) * pace
    features = [
        mean,
        -2 * angle**2 / NO_GO_DEG**3 * stalled * pace * NO_GO_SD_DEG,
        WIND_POWER_SD * np.log(strength) * mean,
        LOG_ASYMMETRY * side * mean,
        LOG_TREND * pieces.time * mean,
    ]
    free = STW_DEPARTURE * (1 + np.exp(-((angle / 30) ** 2)))
    return mean, np.dstack((*features, _smooth(angle, strength, free)))


def _heel_shape(pieces: _Pieces, angle: Floats, side: Floats) -> tuple[Floats, Floats]:
    """Mean (nil) and features of heel [deg], at angles [deg] and sides of shape (offsets, pieces)."""
    press = np.tanh(pieces.speed_kn**2 * np.sin(RAD * angle) / HEEL_PRESS_KN2)
    heel = -side * HEEL_DEG * press
    features = (1.5 * heel, np.full_like(heel, HEEL_ZERO_DEG))
    strength = pieces.speed_kn / USUAL_AWS_KN
    return np.zeros_like(heel), np.dstack((*features, _smooth(angle, strength, HEEL_DEPARTURE * heel)))


def _smooth(angle: Floats, strength: Floats, size: Floats) -> Floats:
    """Features of a smooth departure of about ``size``, freer with the angle close-hauled than running."""
    place = 4 * np.log(20 + angle)
    bumps = 0.66 * np.exp(-((place[..., None] - CENTRES) ** 2)) * size[..., None]
    return np.concatenate((bumps, bumps * np.log(strength)[:, None]), axis=-1)


def _likelihood(pieces: _Pieces, shape: Shape, floor: float) -> Symmetry:
    """Log-likelihood of every offset; legs that fit no curve, as under engine, count for little."""
    seen = pieces.seen
    if shape is _stw_shape:
        seen = seen / np.median(seen / np.sqrt(pieces.speed_kn / USUAL_AWS_KN))
    weight = np.ones(len(seen))
    for _ in range(2):
        trial = [_trial(pieces, seen, shape, weight, floor * a, b, OFFSETS_DEG[COARSE]) for a, b in NOISES]
        noise = int(np.argmax([one.max() for one in trial]))
        offset = OFFSETS_DEG[COARSE][int(np.argmax(trial[noise]))]
        size, share = NOISES[noise]
        weight = _weights(pieces, seen, shape, weight, floor * size, share, offset)
    return Symmetry(_trial(pieces, seen, shape, weight, floor * size, share, OFFSETS_DEG), len(seen))


def _whitened(
    pieces: _Pieces, seen: Floats, shape: Shape, weight: Floats, noise: float, share: float, offsets: Floats
) -> tuple[Floats, Floats, float]:
    """Residuals and features (offsets first) in units of the noise, and the log-determinant of the noise."""
    true = (pieces.angle_deg + offsets[:, None] + 180) % 360 - 180
    mean, features = shape(pieces, np.maximum(np.abs(true), 5.0), np.where(true < 0, -1.0, 1.0))
    scale = noise / np.sqrt(weight)
    same = pieces.leg[:, None] == pieces.leg
    factor = np.linalg.cholesky((np.eye(len(seen)) + share**2 * same) * np.outer(scale, scale))
    inverse = np.linalg.inv(factor)
    return (seen - mean) @ inverse.T, inverse @ features, 2 * float(np.log(np.diag(factor)).sum())


def _trial(
    pieces: _Pieces, seen: Floats, shape: Shape, weight: Floats, noise: float, share: float, offsets: Floats
) -> Floats:
    rest, features, log_det = _whitened(pieces, seen, shape, weight, noise, share, offsets)
    across = np.swapaxes(features, 1, 2)
    inner = np.eye(features.shape[2]) + across @ features
    along = (across @ rest[..., None])[..., 0]
    answer = np.linalg.solve(inner, along[..., None])[..., 0]
    misfit = np.sum(rest**2, axis=1) - np.sum(along * answer, axis=1)
    return np.asarray(-0.5 * (misfit + np.linalg.slogdet(inner)[1] + log_det))


def _weights(
    pieces: _Pieces, seen: Floats, shape: Shape, weight: Floats, noise: float, share: float, offset: float
) -> Floats:
    """Weight of each leg by how far it lies off the curve the other legs draw."""
    rest, features, _ = _whitened(pieces, seen, shape, weight, noise, share, np.array([offset]))
    held = features[0] @ np.linalg.solve(
        np.eye(features.shape[2]) + features[0].T @ features[0], features[0].T
    )
    precision = np.eye(len(seen)) - held
    pull = precision @ rest[0]
    out = np.ones(len(seen))
    for leg in np.unique(pieces.leg):
        rows = pieces.leg == leg
        off = pull[rows] @ np.linalg.solve(precision[np.ix_(rows, rows)], pull[rows]) / rows.sum()
        out[rows] = 1 / (1 + off * weight[rows][0] / LEG_SIGMAS**2) ** 2
    return np.clip(out, LEAST_WEIGHT, 1.0)
