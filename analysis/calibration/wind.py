"""The wind block: vane offset, wind-speed factor and upwash from what the wind does across manoeuvres.

The wind estimated from the corrected apparent wind, ``k * shown * exp(i (e + u s(awa))) * bow - V``, must not
depend on how the boat moves. Its slow changes and gusts are a background with memory (engine of ``drift``);
what changes with V, leg by leg, betrays e, k and u.

Minimising the wind's own variation would reward shrinking it. So the derivatives that pick the solution are
built from the mean velocity on each point of sail and a straight-line wind, never from the wind or speed of
the moment, which follow the gusts: they are instruments, and the answer is a contrast across manoeuvres.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.calibration import drift
from analysis.calibration.blocks import RAD, Blocks
from analysis.calibration.results import Evidence, Floats
from analysis.calibration.small_samples import widening
from analysis.calibration.symmetric import OFFSETS_DEG, symmetric_sailing
from analysis.calibration.water import (
    LEEWAY,
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
ROUNDS = 6
BREEZE = drift.Wander(level=3.0, slope=0.5, belief=(1.5, 1.5), level_kn=25.0, slope_kn_h=3.0)
FIRST_NOISE = drift.Memory.white(2.0)
NOISE_FLOOR = 0.2**2
STRETCH_BLOCKS = 90
UPWASH_DECAY_DEG = 50.0
UPWASH_SHAPE_SHARE = 0.2  # what another shape would make of its size
NAMES = ("vane_offset_deg", "wind_speed_factor", "upwash_deg")
SURE_COMPASS_DEG = 0.5
POINT_OF_SAIL_DEG = 25.0
AGREE_SIGMAS = 1.5  # methods that differ by more are less sure than they say
ASYMMETRY_DEG = 0.3  # no boat sails quite alike on both tacks (judgment)
CONTRAST_DOF = 8.0

# Spreads of ordinary masthead units (common practice, no source); useful: WMO-No. 8 asks 10 % and 5 deg.
WIND_BELIEFS = {
    "vane_offset_deg": Belief("deg", 0.0, 8.0, 2.5),
    "wind_speed_factor": Belief("1", 1.0, 0.15, 0.07),
    "upwash_deg": Belief("deg", -1.0, 2.0, 1.5),
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


def fit_wind(
    blocks: Blocks,
    water: WaterFit | None,
    turned: tuple[Evidence, ...] = (),
    beliefs: Mapping[str, Belief] = WIND_BELIEFS,
) -> WindFit | None:
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
    theta, covariance, noise = _contrasts(blocks, motion, turn, beliefs)
    extra = _inherited(water, over_ground)
    extra[2, 2] = (UPWASH_SHAPE_SHARE * theta[2]) ** 2
    if beliefs[NAMES[0]].given:
        return WindFit(theta, covariance + extra, turned, len(blocks), over_ground, noise)
    contrast = Evidence(
        "contrast across manoeuvres", NAMES[0], float(theta[0]), float(np.sqrt(covariance[0, 0])), len(blocks)
    )
    far = (OFFSETS_DEG - theta[0]) ** 2 / covariance[0, 0]
    likely = -0.5 * (CONTRAST_DOF + 1) * np.log1p(far / CONTRAST_DOF)
    symmetry = symmetric_sailing(blocks, likely)
    if symmetry is not None:
        theta, covariance = _with_symmetry(theta, covariance, *symmetry.moments(likely))
    for one in turned:
        theta, covariance = _combined(theta, covariance, one)
    lines = (contrast, *(() if symmetry is None else (symmetry.evidence,)), *turned)
    return WindFit(theta, covariance + extra, lines, len(blocks), over_ground, noise)


def _contrasts(
    blocks: Blocks, motion: np.ndarray, turn: np.ndarray, beliefs: Mapping[str, Belief]
) -> tuple[Floats, Floats, tuple[drift.Memory, drift.Memory]]:
    knots = drift.Knots.over(blocks.time_s, KNOT_S)
    basis = knots.weights(blocks.time_s)
    leg = legs_of(blocks)
    point = _points_of_sail(blocks, leg)
    line = np.column_stack((np.ones(len(blocks)), blocks.time_s - blocks.time_s.mean()))
    belief = [beliefs[name] for name in NAMES]
    mean, spread = np.array([b.mean for b in belief]), np.array([b.sd for b in belief])
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
        precision = np.diag(1 / (spread**2 + (theta - mean) ** 2 / 2))  # what is far off is not pulled back
        normal = drift.Normal(*rows, precision, precision @ (mean - theta), knots)
        if round_ in (1, 3):
            background = normal.background(BREEZE, background)
        solution = normal.solve(*background, BREEZE)
        theta = theta + solution.step
        white = normal.rows_seen - normal.rows_theta @ solution.step - normal.rows_knots @ solution.states
        residual = (wind - basis @ solution.levels) * np.conj(along)
        if round_ < ROUNDS - 1:
            weights = drift.student_weights(white.reshape(2, -1).T / np.sqrt(weights))
        if round_ < 4:
            noise = (
                drift.memory_of(residual.real, blocks.number, NOISE_FLOOR),
                drift.memory_of(residual.imag, blocks.number, NOISE_FLOOR),
            )
    cluster = np.unique(np.stack((leg, blocks.number // STRETCH_BLOCKS)), axis=1, return_inverse=True)[
        1
    ].ravel()
    seen = drift.cluster_covariance(normal, solution, np.tile(cluster, 2), white)
    model = solution.theta_covariance
    few = widening(max(int(leg.max()) - 1, 2))
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


def _with_symmetry(
    theta: Floats, covariance: Floats, value_deg: float, sd_deg: float
) -> tuple[Floats, Floats]:
    """Set the vane offset to what contrast and symmetric sailing say together, and let the others follow."""
    along = covariance[:, 0] / covariance[0, 0]
    change = sd_deg**2 + ASYMMETRY_DEG**2 - covariance[0, 0]
    return theta + along * (value_deg - theta[0]), covariance + change * np.outer(along, along)


def _combined(theta: Floats, covariance: Floats, evidence: Evidence) -> tuple[Floats, Floats]:
    """Weigh an independent reading of one parameter into the solution, less sure of it where they differ."""
    place = NAMES.index(evidence.subject)
    gap = evidence.value - theta[place]
    spread = covariance[place, place] + evidence.sd**2
    gain = covariance[:, place] / spread
    joint = covariance - np.outer(gain, covariance[place])
    apart = max(gap**2 / spread / AGREE_SIGMAS**2, 1.0)
    return theta + gain * gap, joint + (apart - 1) * np.outer(joint[place], joint[place]) / joint[
        place, place
    ]
