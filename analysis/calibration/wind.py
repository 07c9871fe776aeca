"""The wind block: vane offset, wind-speed factor and upwash from what the wind does across manoeuvres.

The wind estimated from the corrected apparent wind, ``k * shown * exp(i (e + u s(awa))) * bow - V``, must not
depend on how the boat moves. Its slow changes and gusts are a background with memory (engine of ``drift``);
what changes with V, leg by leg, betrays e, k and u.

Minimising the wind's own variation would reward shrinking it. So the derivatives that pick the solution are
built from the mean velocity on each point of sail and a straight-line wind, never from the wind or speed of
the moment, which follow the gusts: they are instruments, and the answer is a contrast across manoeuvres.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm, t

from analysis.calibration import drift
from analysis.calibration.blocks import RAD, Blocks
from analysis.calibration.results import Bools, Evidence, Floats
from analysis.calibration.water import (
    LEEWAY,
    SMOOTH_BLOCKS,
    Belief,
    WaterFit,
    deviation_at,
    leeway_driver,
    legs_of,
    water_velocity,
)

KNOT_S = 900.0
LEAST_BLOCKS = 12
LEAST_AWS_KN = 3.0
ROUNDS = 8
BREEZE = drift.Wander(level=3.0, slope=0.5, belief=(1.5, 1.5), level_kn=25.0, slope_kn_h=3.0)
FIRST_NOISE = drift.Memory.white(2.0)
NOISE_FLOOR = 0.2**2
UPWASH_DECAY_DEG = 50.0
NAMES = ("vane_offset_deg", "wind_speed_factor", "upwash_deg")
SURE_COMPASS_DEG = 0.5
POINT_OF_SAIL_DEG = 25.0
AGREE_SIGMAS = 2.5
SYMMETRY_LEAST_LEGS = 4
SYMMETRY_LEAST_BLOCKS = 4
SYMMETRY_ROUNDS, SYMMETRY_STEP_DEG = 30, 0.01
SYMMETRY_MISFIT = 0.05  # of the mean value: what counts as off the curve when starts are compared
LOG_ASYMMETRY = 0.01
ASYMMETRY_DEG = 0.3  # no boat sails quite alike on both tacks (judgment)
SYMMETRY_MOST_SD_DEG = 1.5

# Spreads of ordinary masthead units (common practice, no source); useful: WMO-No. 8 asks 10 % and 5 deg.
WIND_BELIEFS = {
    "vane_offset_deg": Belief("deg", 0.0, 8.0, 2.5),
    "wind_speed_factor": Belief("1", 1.0, 0.12, 0.06),
    "upwash_deg": Belief("deg", 0.0, 3.0, 1.5),
}


@dataclass(frozen=True)
class WindFit:
    """The solved wind block: values and covariance after ``NAMES``, and the evidence behind them."""

    theta: Floats
    covariance: Floats
    evidence: tuple[Evidence, ...]
    used: int
    over_ground: bool
    noise: tuple[drift.Memory, drift.Memory]
    names: tuple[str, ...] = NAMES

    def value(self, name: str) -> float:
        """Return a parameter."""
        return float(self.theta[NAMES.index(name)])

    def sd(self, name: str) -> float:
        """One-sigma of a parameter."""
        i = NAMES.index(name)
        return float(np.sqrt(self.covariance[i, i]))


def upwash_shape(awa_deg: Floats) -> Floats:
    """Upwash at an apparent wind angle as a share of that at 30 deg: the same on both sides, fading aft.

    A smooth guess, exp(-((|awa| - 30) / 50 deg)) rounded through zero ahead; no published curve was found.
    """

    def load(angle: Floats) -> Floats:
        return np.tanh(angle / 10.0) * np.exp(-np.abs(angle) / UPWASH_DECAY_DEG)

    return np.asarray(load(awa_deg) / load(np.array(30.0)))


def fit_wind(blocks: Blocks, water: WaterFit | None, turned: tuple[Evidence, ...] = ()) -> WindFit | None:
    """Estimate vane offset, wind-speed factor and upwash; None where wind or motion is missing.

    ``blocks`` need no log; ``turned`` is what full turns told. With a sure compass the wind is taken over the
    ground; else, where the log is known, over the water, so that an unknown compass constant does no harm.
    """
    known = np.isfinite(blocks.wind) & np.isfinite(blocks.wind_over) & (np.abs(blocks.wind) > LEAST_AWS_KN)
    blocks = blocks.where(known)
    if len(blocks) < LEAST_BLOCKS:
        return None
    dev = deviation_at(blocks.compass_deg, water)
    over_ground = water is None or water.sd("compass_constant_deg") < SURE_COMPASS_DEG
    motion = blocks.ground
    if not over_ground and water is not None:
        driver = leeway_driver(blocks)[:, : sum(name in water.names for name in LEEWAY)]
        told = np.isfinite(driver).all(axis=1) & np.isfinite(blocks.keel)
        blocks, driver, dev = blocks.where(told), driver[told], dev[told]
        if len(blocks) < LEAST_BLOCKS:
            return None
        motion, _ = water_velocity(blocks, driver, blocks.stw_kn, water.theta, water.names)
    turn = np.exp(1j * RAD * dev)
    theta, covariance, noise = _contrasts(blocks, motion, turn)
    extra = _inherited(water, over_ground)
    contrast = Evidence(
        "contrast across manoeuvres", NAMES[0], float(theta[0]), float(np.sqrt(covariance[0, 0])), len(blocks)
    )
    symmetric = symmetric_sailing(blocks, theta)
    others = turned if symmetric is None else (symmetric, *turned)
    for other in others:
        place = NAMES.index(other.subject)
        spread = np.hypot(np.sqrt(covariance[place, place]), other.sd)
        if abs(other.value - theta[place]) < AGREE_SIGMAS * spread:
            theta, covariance = _combined(theta, covariance, other, place)
    return WindFit(theta, covariance + extra, (contrast, *others), len(blocks), over_ground, noise)


def symmetric_sailing(blocks: Blocks, theta: Floats) -> Evidence | None:
    """Vane offset that makes STW and heel one function of the true AWA and AWS on both tacks.

    Works on leg means where both sides were sailed; allows the log 1 % and the heel sensor a free zero of
    difference between the tacks. Independent of any wind contrast. None where one side is missing.
    """
    values, spreads, used = [], [], 0
    for quantity, zero_sd in (
        (blocks.stw_kn, LOG_ASYMMETRY),
        (np.sign(blocks.wind.imag) * -blocks.heel_deg, 0.5),
    ):
        found = _symmetry(blocks, quantity, zero_sd, float(theta[0]))
        if found is not None:
            values.append(found[0])
            spreads.append(found[1])
            used = max(used, found[2])
    if not values:
        return None
    weight = np.asarray(spreads) ** -2.0
    value = float(np.sum(weight * values) / weight.sum())
    apart = float(np.sum(weight * (np.asarray(values) - value) ** 2)) if len(values) > 1 else 1.0
    sd = float(np.sqrt(max(apart, 1.0) / weight.sum() + ASYMMETRY_DEG**2))
    if sd > SYMMETRY_MOST_SD_DEG:
        return None
    return Evidence("symmetric sailing", NAMES[0], value, sd, used)


def _contrasts(
    blocks: Blocks, motion: np.ndarray, turn: np.ndarray
) -> tuple[Floats, Floats, tuple[drift.Memory, drift.Memory]]:
    knots = drift.Knots.over(blocks.time_s, KNOT_S)
    basis = knots.weights(blocks.time_s)
    leg = legs_of(blocks)
    point = _points_of_sail(blocks, leg)
    line = np.column_stack((np.ones(len(blocks)), blocks.time_s - blocks.time_s.mean()))
    belief = [WIND_BELIEFS[name] for name in NAMES]
    mean, precision = np.array([b.mean for b in belief]), np.diag([b.sd**-2.0 for b in belief])
    theta = mean.copy()
    noise, weights = (FIRST_NOISE, FIRST_NOISE), np.ones((len(blocks), 2))
    background = (BREEZE.level, BREEZE.slope)
    for round_ in range(ROUNDS):
        angle = np.angle(blocks.wind, deg=True)
        bend = theta[0] + theta[2] * upwash_shape(angle + theta[0])
        wind = theta[1] * blocks.wind_over * turn * np.exp(1j * RAD * bend) - motion
        trend = line @ np.linalg.lstsq(line, wind, rcond=None)[0]
        along = trend / np.abs(trend)
        felt = trend + along * _group_mean(motion / along, point)
        bow = np.exp(1j * RAD * blocks.heading_deg) * turn
        shape = upwash_shape(np.angle(_group_mean(felt / bow, point), deg=True))
        instrument = np.column_stack((1j * RAD * felt, felt / theta[1], 1j * RAD * shape * felt))
        rows = drift.whitened(along, blocks.number, noise, weights, basis, -instrument, wind)
        normal = drift.Normal(*rows, precision, precision @ (mean - theta), knots)
        if round_ in (1, 3):
            background = normal.background(BREEZE, background)
        solution = normal.solve(*background, BREEZE)
        theta = theta + solution.step
        white = normal.rows_seen - normal.rows_theta @ solution.step - normal.rows_knots @ solution.states
        residual = (wind - basis @ solution.levels) * np.conj(along)
        if round_ < ROUNDS - 1:
            weights = drift.student_weights(white.reshape(2, -1).T / np.sqrt(weights))
        if round_ < 5:
            noise = (
                drift.memory_of(residual.real, blocks.number, NOISE_FLOOR),
                drift.memory_of(residual.imag, blocks.number, NOISE_FLOOR),
            )
    seen = drift.cluster_covariance(normal, solution, np.tile(leg, 2), white)
    model = solution.theta_covariance
    few = t.ppf(0.975, max(int(leg.max()) - 1, 2)) / norm.ppf(0.975)
    stretch = few * np.sqrt(np.maximum(np.diag(seen) / np.diag(model), 1.0))
    stretch = np.minimum(stretch, 1 / np.sqrt(np.diag(precision) * np.diag(model)))
    return theta, model * np.outer(stretch, stretch), noise


def _points_of_sail(blocks: Blocks, leg: np.ndarray) -> np.ndarray:
    """Label the means by the side and the 25 degree sector of the leg's mean apparent wind."""
    angle = np.angle(_group_mean(blocks.wind, leg), deg=True)
    return np.unique(np.sign(angle) * (1 + np.abs(angle) // POINT_OF_SAIL_DEG), return_inverse=True)[1]


def _group_mean(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Mean of complex values over each group, spread back to the rows."""
    total = np.bincount(group, values.real) + 1j * np.bincount(group, values.imag)
    return np.asarray((total / np.maximum(np.bincount(group), 1))[group])


def _inherited(water: WaterFit | None, over_ground: bool) -> Floats:
    """Covariance that compass or log hand on: over the ground the compass, over the water the log."""
    out = np.zeros((3, 3))
    if water is None:
        out[0, 0] = 3.0**2
    elif over_ground:
        out[0, 0] = water.sd("compass_constant_deg") ** 2
    else:
        out[1, 1] = water.sd("log_factor") ** 2
    return out


def _combined(theta: Floats, covariance: Floats, evidence: Evidence, place: int) -> tuple[Floats, Floats]:
    """Weigh an independent reading of one parameter into the solution."""
    gain = covariance[:, place] / (covariance[place, place] + evidence.sd**2)
    return theta + gain * (evidence.value - theta[place]), covariance - np.outer(gain, covariance[place])


def _symmetry(
    blocks: Blocks, quantity: Floats, zero_sd: float, start: float
) -> tuple[float, float, int] | None:
    """Vane offset from one quantity on ten-minute pieces, its sd and their number.

    Found from several starts, each with the angles that both sides share there; where the answers differ
    their scatter is uncertainty too.
    """
    leg = legs_of(blocks)
    within = (np.arange(len(leg)) - np.searchsorted(leg, leg)) // (2 * SMOOTH_BLOCKS)
    use = np.isfinite(quantity)
    if not use.any():
        return None
    piece = np.unique(np.stack((leg, within))[:, use], axis=1, return_inverse=True)[1].ravel()
    count = np.bincount(piece)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(piece, values[use]) / count)

    wind = mean(blocks.wind.real) + 1j * mean(blocks.wind.imag)
    pieces = np.column_stack(
        (np.angle(wind, deg=True), np.abs(wind), mean(quantity), mean(leg.astype(float)))
    )
    pieces = pieces[count >= SYMMETRY_LEAST_BLOCKS]
    answers = [_answer(pieces, zero_sd, start + aside) for aside in (0.0, -4.0, 4.0)]
    found = np.array([answer for answer in answers if answer is not None])
    if not len(found):
        return None
    offset, sd, used, _ = found[np.argmin(found[:, 3])]
    return float(offset), float(np.hypot(sd, np.std(found[:, 0]))), int(used)


def _answer(pieces: Floats, zero_sd: float, start: float) -> tuple[float, float, int, float] | None:
    """Offset, sd, pieces used and mean cost from one start; None where it finds no rest."""
    angle, speed, seen, leg = pieces.T
    side = np.sign(angle)
    fit = _both_sides(np.abs(angle + start), side) & (np.abs(angle) > 15)
    if min(np.unique(leg[fit & (side == s)]).size for s in (-1, 1)) < SYMMETRY_LEAST_LEGS // 2:
        return None
    one = _settle(angle[fit], speed[fit], seen[fit], side[fit], zero_sd, start)
    if one is None:
        return None
    leg = leg[fit]
    inverse = np.linalg.inv(one.information)
    scatter = one.noise * one.prior
    for label in np.unique(leg):
        rows = leg == label
        weighted = one.weight[rows, None] * one.design[rows]
        hat = one.design[rows] @ inverse @ weighted.T
        score = weighted.T @ np.linalg.solve(1.02 * np.eye(rows.sum()) - hat, one.residual[rows])
        scatter = scatter + np.outer(score, score)
    robust = (inverse @ scatter @ inverse)[-1, -1]
    plain = float(np.average(one.residual**2, weights=one.weight)) * inverse[-1, -1]
    few = t.ppf(0.975, max(np.unique(leg).size - 3, 2)) / norm.ppf(0.975)
    used = int(fit.sum())
    return one.offset, float(few * np.sqrt(max(robust, plain))), used, one.cost / used


@dataclass(frozen=True)
class _Settled:
    offset: float
    cost: float
    weight: Floats
    design: Floats
    information: Floats
    prior: Floats
    noise: float
    residual: Floats


def _settle(
    angle: Floats, speed: Floats, seen: Floats, side: Floats, zero_sd: float, start: float
) -> _Settled | None:
    """Fit one smooth curve of |angle + offset| and speed to both sides, robustly; None where it wanders."""
    scale = float(np.mean(np.abs(seen))) or 1.0
    offset, weight = start, np.ones(len(seen))
    for _ in range(SYMMETRY_ROUNDS):
        a, s = np.abs(angle + offset) / 60.0, speed / 15.0
        shapes = np.column_stack((np.ones_like(a), a, a**2, a**3, s, s**2, a * s, a**2 * s))
        slopes = np.column_stack((0 * a, np.ones_like(a), 2 * a, 3 * a**2, 0 * s, 0 * s, s, 2 * a * s))
        ridge = np.diag([1e-8] * shapes.shape[1])
        curve = np.linalg.solve(shapes.T @ (weight[:, None] * shapes) + ridge, shapes.T @ (weight * seen))
        design = np.column_stack((shapes, side * scale, slopes @ curve * side / 60.0))
        noise = max(float(np.average((seen - shapes @ curve) ** 2, weights=weight)), 1e-6)
        prior = np.diag([1e-8] * shapes.shape[1] + [noise / zero_sd**2, 1e-8])
        information = design.T @ (weight[:, None] * design) + prior
        answer = np.linalg.solve(information, design.T @ (weight * seen))
        residual = seen - design @ answer
        # legs under engine do not belong to the curve
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-6
        weight = 1 / (1 + (residual / (3 * spread)) ** 2) ** 2
        step = float(np.clip(answer[-1], -4, 4))
        offset += step
        if abs(step) < SYMMETRY_STEP_DEG:
            cost = float(np.log1p((residual / (SYMMETRY_MISFIT * scale)) ** 2).sum())
            return _Settled(offset, cost, weight, design, information, prior, noise, residual)
    return None


def _both_sides(angle: Floats, side: Floats) -> Bools:
    """Where the same apparent wind angle, within 8 deg, was sailed on the other side too."""
    near = (np.abs(angle[:, None] - angle[None, :]) < 8) & (side[:, None] != side[None, :])
    return np.asarray(near.any(axis=1))
