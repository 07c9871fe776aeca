"""Vane offset from the boat's own symmetry: STW and heel are one function of true AWA and AWS on both tacks.

Equal *shown* angles are no evidence, since a pilot that steers by the vane makes them equal whatever its offset.
But the boat then sails wide on one tack and pinched on the other, and her speed and heel tell. How much they
change with the angle is known only roughly, so each is given a rough shape with free, smooth departures from it,
and the offset's likelihood is that of both tacks lying on one such curve, whatever the departures. (A Gaussian
process written with features: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
2006, ch. 2 and 5.)

The deviation stated is about twice the error of a boat that is quite alike on both tacks. That is meant: the log may
read 1 % more on one tack than on the other, and trim, waves and helm differ from leg to leg, however smooth a leg.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from analysis.calibration.blocks import RAD, Blocks
from analysis.calibration.results import Bools, Evidence, Floats
from analysis.calibration.water import legs_of
from analysis.vectors import wrap_signed_deg

OFFSETS_DEG = np.arange(-40.0, 40.5, 1.0)
COARSE = slice(0, None, 3)
PIECE_BLOCKS, MOST_PIECES = 30, 60  # means of 20 s in a piece; pieces
LEAST_LEGS = 2  # on either tack
LEAST_IN_PIECE = 6
LEAST_AWA_DEG = 12.0
LEAST_ASKED_DEG, HEEL_OFF_DEG, ENGINE_HEEL = 4.0, 2.0, 0.55  # heel that tells sails from engine
USUAL_AWS_KN = 12.0
LEG_SIGMAS, WEIGHINGS = 3.0, 3
LEAST_WEIGHT = 1e-3
NEVER = -50.0  # log-likelihood; beyond it a spline would swing past the peak

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
        total = self.likelihood + other
        share = CubicSpline(OFFSETS_DEG, np.maximum(total - total.max(), NEVER))(fine)
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


def symmetric_sailing(blocks: Blocks, hint: Floats | float = 0.0) -> Symmetry | None:
    """Weigh every vane offset by how well STW and heel then agree between the tacks.

    ``hint`` is a log-likelihood of ``OFFSETS_DEG`` from elsewhere, that helps to tell legs under engine.
    Allows the log 1 % of difference between the tacks and the heel sensor a zero. None where neither is there
    or too few legs were sailed on either tack.
    """
    share = np.exp(hint - np.max(hint) + np.zeros(len(OFFSETS_DEG)))
    turned = np.exp(1j * RAD * float(share @ OFFSETS_DEG / share.sum()))
    ahead = np.abs(np.angle(blocks.wind * turned, deg=True)) < LEAST_AWA_DEG
    blocks = blocks.where(~_under_engine(blocks, blocks.wind * turned) & ~ahead)
    found = [
        _likelihood(pieces, shape, floor, hint)
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


def _under_engine(blocks: Blocks, wind: np.ndarray) -> Bools:
    """Find the means of pieces that heel far less than the wind across the boat asks of this boat under sail."""
    piece = _label(blocks)
    known = np.isfinite(blocks.heel_deg)
    count = np.maximum(np.bincount(piece, known), 1)
    heel, across, ahead = (
        np.bincount(piece, np.where(known, x, 0.0)) / count for x in (blocks.heel_deg, wind.imag, wind.real)
    )
    asked = -HEEL_DEG * np.tanh(np.hypot(ahead, across) * across / HEEL_PRESS_KN2)
    use = (np.abs(asked) > LEAST_ASKED_DEG) & (np.bincount(piece, known) > 0)
    if use.sum() < LEAST_LEGS:
        return np.zeros(len(blocks), dtype=bool)
    design, weight = np.column_stack((asked, np.ones_like(asked))), use.astype(float)
    for _ in range(5):
        share, zero = np.linalg.lstsq(design * weight[:, None], heel * weight, rcond=None)[0]
        off = np.abs(heel - share * asked - zero)
        weight = use / np.sqrt(1 + (off / HEEL_OFF_DEG) ** 2)
    return np.asarray((use & ((heel - zero) * np.sign(asked) < ENGINE_HEEL * share * np.abs(asked)))[piece])


def _label(blocks: Blocks) -> np.ndarray:
    """Label the means by piece of leg."""
    leg = legs_of(blocks)
    place = np.arange(len(leg)) - np.searchsorted(leg, leg)
    size = np.bincount(leg)[leg]
    parts = np.maximum(np.round(size / max(PIECE_BLOCKS, len(leg) / MOST_PIECES)), 1)
    return np.unique(np.stack((leg, place * parts // size)), axis=1, return_inverse=True)[1].ravel()


def _pieces(blocks: Blocks, quantity: Floats) -> _Pieces:
    """Average wind and quantity over pieces of leg."""
    leg, piece = legs_of(blocks), _label(blocks)
    use = np.isfinite(quantity)
    count = np.bincount(piece, use)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(piece, np.where(use, values, 0.0)) / np.maximum(count, 1))

    wind = mean(blocks.wind.real) + 1j * mean(blocks.wind.imag)
    angle = np.angle(wind, deg=True)
    keep = count >= LEAST_IN_PIECE
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


def _likelihood(pieces: _Pieces, shape: Shape, floor: float, hint: Floats | float) -> Symmetry:
    """Log-likelihood of every offset; legs that fit no curve, as under engine, count for little."""
    seen = pieces.seen
    if shape is _stw_shape:
        seen = seen / np.median(seen / np.sqrt(pieces.speed_kn / USUAL_AWS_KN))
    true = wrap_signed_deg(pieces.angle_deg + OFFSETS_DEG[:, None])
    mean, features = shape(pieces, np.maximum(np.abs(true), 5.0), np.where(true < 0, -1.0, 1.0))
    rest = seen - mean
    noises = [_Noise(floor * size, share) for size in (0.5, 1.0, 2.0, 4.0) for share in (0.5, 1.5)]
    weight = np.ones(len(seen))
    likely = (hint + np.zeros(len(OFFSETS_DEG)))[COARSE]
    for _ in range(WEIGHINGS):
        trial = [
            likely + _trial(rest[COARSE], features[COARSE], one.whitener(pieces, weight)) for one in noises
        ]
        best, place = divmod(int(np.argmax(trial)), len(trial[0]))
        noise, at = noises[best], COARSE.step * place
        weight = _weights(rest[at], features[at], noise.whitener(pieces, weight), pieces.leg, weight)
        noises = [one for one in noises if one.share == noise.share]
    return Symmetry(_trial(rest, features, noise.whitener(pieces, weight)), len(seen))


@dataclass(frozen=True)
class _Noise:
    """Noise of the pieces, and the part they share along a leg as a share of it."""

    size: float
    share: float

    def whitener(self, pieces: _Pieces, weight: Floats) -> Floats:
        """Matrix that turns the noise into independent unit noise."""
        same = pieces.leg[:, None] == pieces.leg
        factor = np.linalg.cholesky(np.eye(len(weight)) + self.share**2 * same)
        return np.asarray(np.linalg.inv(factor) * np.sqrt(weight) / self.size)


def _trial(rest: Floats, features: Floats, whitener: Floats) -> Floats:
    """Log-likelihood of each offset (first axis) from its residuals and features."""
    white, features = rest @ whitener.T, whitener @ features
    across = np.swapaxes(features, 1, 2)
    inner = np.eye(features.shape[2]) + across @ features
    along = (across @ white[..., None])[..., 0]
    answer = np.linalg.solve(inner, along[..., None])[..., 0]
    misfit = np.sum(white**2, axis=1) - np.sum(along * answer, axis=1)
    log_det = np.linalg.slogdet(inner)[1] - 2 * np.log(np.diag(whitener)).sum()
    return np.asarray(-0.5 * (misfit + log_det))


def _weights(rest: Floats, features: Floats, whitener: Floats, legs: np.ndarray, weight: Floats) -> Floats:
    """Weight of each leg by how far it lies off the curve the other legs draw."""
    features = whitener @ features
    inner = np.eye(features.shape[1]) + features.T @ features
    precision = np.eye(len(rest)) - features @ np.linalg.solve(inner, features.T)
    pull = precision @ whitener @ rest
    out = np.ones(len(rest))
    for leg in np.unique(legs):
        rows = legs == leg
        off = pull[rows] @ np.linalg.solve(precision[np.ix_(rows, rows)], pull[rows]) / rows.sum()
        out[rows] = 1 / (1 + off / weight[rows][0] / LEG_SIGMAS**2) ** 2
    return np.clip(out, LEAST_WEIGHT, 1.0)
