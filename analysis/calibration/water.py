"""The water block: log, compass, leeway and current estimated together from steady means.

The model, as complex velocities (north + i east) of 20 s means::

    ground = (f * keel + z * bow) * exp(i dev) * (1 + i tan(leeway)) + C(t) + noise
    dev = A + B sin h + C cos h + D sin 2h + E cos 2h,   leeway = k * heel / max(f * stw, 3 kn)^2

with h what the compass showed. Solved by Gauss-Newton with analytic Jacobian on the engine of ``drift``.

Waves yaw the boat about her course. Where her path follows, the mean of STW along the heading is right; where it does
not, the keel component and its mean along the heading each lose half the variance of the yaw. ``keel`` is taken
midway, and the deviation of the log factor says so.

STW, heading and heel are noisy and late themselves, which would bias what their quick changes tell. So the
Jacobian is averaged over ten minutes of the same leg: the averages serve as instruments for the values
(R. J. Carroll et al., Measurement Error in Nonlinear Models, 2006, ch. 6).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from analysis.calibration import drift
from analysis.calibration.blocks import BLOCK_S, RAD, Blocks
from analysis.calibration.results import Bools, Excluded, Floats
from analysis.calibration.small_samples import widening

SLOW_KN = 3.0  # leeway is guarded below
# Streams change within 20 min; straight lines between knots that far apart put what they missed on the log.
KNOT_S = 600.0
MOST_KNOTS = 720  # five days of them
LEAST_BLOCKS = 6
MOST_ROUNDS = 12
START_SETTLED = 0.5  # of a one-sigma: near enough to go on from
TIDE = drift.Wander(level=0.004, slope=0.1, belief=(1.5, 1.2), level_kn=1.5, slope_kn_h=0.7)
FIRST_VARIANCE = 0.02
FIRST_NOISE = drift.Memory.white(FIRST_VARIANCE)
NOISE_FLOOR = 0.01**2
MISFIT_KN = 0.5
MISFIT_SIGMAS = 6.0
MISFIT_BLOCKS = 15
MISFIT_ROUNDS = 6
STANDARD_SHARE = 0.02  # of the speed, IMO A.824(19), from memory
ZERO_SPEED_RANGE_KN = 1.0
ZERO_SIGMAS = 3.0
MOST_ZERO_KN = 1.2  # more is another fault than a zero offset (judgment)
ZERO_LIKELIER = 6.6  # twice the difference of log-likelihoods: 27 to one
GIVEN_SHARE = 1e-4  # of the spread believed: nothing, and still a number to divide by
CLUSTER_BLOCKS = 45
SMOOTH_BLOCKS = 15
ONE_COURSE = 0.9  # length of the mean heading vector: 1 on one course, 0.71 beating, 0 all round
CLUSTER_TURN_DEG = 25.0
DEVIATION = (
    "compass_constant_deg",
    "deviation_B_deg",
    "deviation_C_deg",
    "deviation_D_deg",
    "deviation_E_deg",
)


@dataclass(frozen=True)
class Belief:
    """What is believed of a parameter before the log is read, and the sd that would be of use.

    ``given`` tells that the value is known from elsewhere and holds as it is.
    """

    unit: str
    mean: float
    sd: float
    useful_sd: float
    given: bool = False

    def at(self, value: float) -> "Belief":
        """Hold the parameter at a value that is known from elsewhere."""
        return replace(self, mean=value, sd=GIVEN_SHARE * self.sd, given=True)


# Spreads of ordinary yachts (common practice, no source); useful: half the log standard of 2 % and the
# heading standard of 1 deg, MSC.116(73) 4.3.2.
BELIEFS = {
    "log_factor": Belief("1", 1.0, 0.15, 0.01),
    "compass_constant_deg": Belief("deg", 0.0, 8.0, 1.0),
    "deviation_B_deg": Belief("deg", 0.0, 3.0, 1.0),
    "deviation_C_deg": Belief("deg", 0.0, 3.0, 1.0),
    "deviation_D_deg": Belief("deg", 0.0, 1.5, 0.6),
    "deviation_E_deg": Belief("deg", 0.0, 1.0, 0.5),
    "leeway_coefficient": Belief("deg kn2/deg", 9.0, 4.0, 1.5),
    "log_zero_offset_kn": Belief("kn", 0.0, 0.5, 0.1),
    "leeway_curve": Belief("deg kn2/deg", 0.0, 5.0, 0.0),
    "leeway_side": Belief("deg kn2/deg", 0.0, 0.8, 0.0),
}
ZERO = "log_zero_offset_kn"
IN_ORDER = Belief("1", 1.0, STANDARD_SHARE / 2, 0.01)  # the factor of a log within the standard
LEEWAY = ("leeway_coefficient", "leeway_curve", "leeway_side")
# Where heel is not logged, how much sail stands is not known: legs differ, and under engine most leeway is gone.
LEG_LEEWAY, LEG_LEEWAY_DOF = 2.0, 2.0  # scale and freedom of Student's t (judgment)
MOST_LEG_LEEWAYS = 60


@dataclass(frozen=True)
class WaterFit:
    """The solved water block. ``theta`` and ``covariance`` follow ``names``.

    ``blocks`` are the means used, ``current`` the current at each of them (north + i east);
    ``heel_known`` tells whether leeway came from heel or was left to the wind.
    """

    names: tuple[str, ...]
    theta: Floats
    covariance: Floats
    blocks: Blocks
    knots: drift.Knots
    current_at_knots: np.ndarray
    current_covariance: Floats
    noise: tuple[drift.Memory, drift.Memory]
    level: float
    slope: float
    excluded: Bools
    heel_known: bool
    converged: bool
    steps: int
    weights: Floats
    beliefs: Mapping[str, Belief] = field(default_factory=lambda: BELIEFS)

    @property
    def courses_differ(self) -> bool:
        """Whether courses spread enough to tell errors of log and compass from a current."""
        bows = np.exp(1j * RAD * self.blocks.heading_deg)
        return bool(abs(bows.mean()) < ONE_COURSE)

    @property
    def problem(self) -> "Problem":
        """The problem solved."""
        driver = leeway_driver(self.blocks)[:, : sum(name in LEEWAY for name in self.names)]
        return Problem.of(self.blocks, driver, self.names, self.beliefs)

    def value(self, name: str) -> float:
        """Return a parameter, or its belief's mean where it was not in the model."""
        return float(self.theta[self.names.index(name)]) if name in self.names else self.beliefs[name].mean

    def sd(self, name: str) -> float:
        """One-sigma of a parameter in the model."""
        i = self.names.index(name)
        return float(np.sqrt(self.covariance[i, i]))


def fit_water(blocks: Blocks, beliefs: Mapping[str, Belief] = BELIEFS) -> WaterFit | None:
    """Estimate log, compass, leeway and current from steady means.

    None where there are too few of them, or where they fit together so badly that the solution runs away.
    """
    try:
        return _fitted(blocks, beliefs)
    except np.linalg.LinAlgError:
        return None


def _fitted(blocks: Blocks, beliefs: Mapping[str, Belief]) -> WaterFit | None:
    problem, known = problem_of(blocks, beliefs)
    if len(problem.blocks) < LEAST_BLOCKS:
        return None
    start = _best_start(problem)
    keep = ~_misfits(problem, start)
    kept = problem.where(keep)
    if len(kept.blocks) < LEAST_BLOCKS:
        return None
    fit = _fit(kept, start)
    fit = _with_zero_if_shown(kept, fit)
    excluded = np.zeros(len(blocks), dtype=bool)
    excluded[np.flatnonzero(known)[~keep]] = True
    return replace(fit, excluded=excluded, heel_known=heel_is_logged(blocks))


def problem_of(blocks: Blocks, beliefs: Mapping[str, Belief] = BELIEFS) -> "tuple[Problem, Bools]":
    """Pose the problem for those of the means that say what drives leeway, or for all where hardly any does."""
    driver = leeway_driver(blocks)
    known = np.asarray(np.isfinite(driver).all(axis=1))
    if known.sum() < LEAST_BLOCKS:
        driver, known = driver[:, :0], np.ones(len(blocks), dtype=bool)
    zero = (ZERO,) if beliefs[ZERO].given else ()
    names = ("log_factor", *DEVIATION, *LEEWAY[: driver.shape[1]], *zero)
    if not heel_is_logged(blocks):
        beliefs = {**beliefs, **{name: BELIEFS[name] for name in LEEWAY}}  # of a stand-in nothing is known
    return Problem.of(blocks.where(known), driver[known], names, beliefs), known


def leeway_driver(blocks: Blocks) -> Floats:
    """What drives leeway, one column per coefficient of ``LEEWAY``: heel [deg] as logged, or a stand-in.

    Where heel is mostly missing three shapes of the apparent wind stand in: one in proportion to the wind
    across the boat (20 deg at 18 kn abeam), one that bends it with the wind's strength, and the wind along
    the boat, which a vane offset takes for wind across. Their coefficients are nuisances, none is k.
    """
    if heel_is_logged(blocks):
        return blocks.heel_deg[:, None]
    press = -20.0 / 18.0 * blocks.wind.imag
    return np.column_stack(
        (press, press * (np.abs(blocks.wind) / 18.0 - 1.0), -20.0 / 18.0 * blocks.wind.real)
    )


def heel_is_logged(blocks: Blocks) -> bool:
    """Tell whether heel is there for most of the means."""
    return bool(2 * np.count_nonzero(np.isfinite(blocks.heel_deg)) > len(blocks))


def water_velocity(
    blocks: Blocks, driver_deg: Floats, pace_kn: Floats, theta: Floats, names: tuple[str, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Velocity through the water [kn, north + i east] of each mean, and its derivatives by the parameters.

    ``driver_deg`` has a column per leeway coefficient; ``pace_kn`` is the shown STW averaged along the leg.
    """
    value = {name: BELIEFS[name].mean for name in BELIEFS} | dict(zip(names, theta, strict=True))
    shapes = _curve(blocks.compass_deg)
    turn = np.exp(1j * RAD * (shapes @ np.array([value[name] for name in DEVIATION])))
    bow = np.exp(1j * RAD * blocks.heading_deg)
    speed = value["log_factor"] * pace_kn + value["log_zero_offset_kn"]
    guarded = np.maximum(speed, SLOW_KN)
    drives = list(zip(LEEWAY, driver_deg.T, strict=False))
    leeway = RAD * sum((value[name] * column for name, column in drives), 0.0 * speed) / guarded**2
    slip = 1 + 1j * np.tan(leeway)
    keel = blocks.keel * (1 + blocks.yaw_loss)
    along = (value["log_factor"] * keel + value["log_zero_offset_kn"] * bow) * turn
    water = along * slip
    by_leeway = along * 1j / np.cos(leeway) ** 2
    by_speed = by_leeway * np.where(speed > SLOW_KN, -2 * leeway / guarded, 0.0)
    derivative = {
        "log_factor": keel * turn * slip + by_speed * pace_kn,
        "log_zero_offset_kn": bow * turn * slip + by_speed,
    }
    derivative |= {name: by_leeway * RAD * column / guarded**2 for name, column in drives}
    derivative |= {n: 1j * RAD * water * s for n, s in zip(DEVIATION, shapes.T, strict=True)}
    return water, np.column_stack([derivative[name] for name in names])


def deviation_curve_deg(compass_deg: Floats, coefficients: Sequence[float] | Floats) -> Floats:
    """Deviation [deg] on compass headings [deg] from A, B, C, D and E [deg]: true = compass + deviation.

    A + B sin h + C cos h + D sin 2h + E cos 2h with h the compass heading; NGA, Handbook of Magnetic Compass
    Adjustment (2004), ch. V.
    """
    return np.asarray(_curve(np.asarray(compass_deg, dtype=float)) @ np.asarray(coefficients, dtype=float))


def deviation_at(compass_deg: Floats, fit: WaterFit | None) -> Floats:
    """Correction [deg] of what the compass shows; nil without a fit."""
    if fit is None:
        return np.zeros(len(compass_deg))
    return deviation_curve_deg(compass_deg, [fit.value(name) for name in DEVIATION])


def _curve(compass_deg: Floats) -> Floats:
    h = RAD * compass_deg
    return np.column_stack((np.ones_like(h), np.sin(h), np.cos(h), np.sin(2 * h), np.cos(2 * h)))


def tide_knots(time_s: Floats) -> drift.Knots:
    """Knots of the current over means at ``time_s``, in order; wider apart where there would be too many."""
    covered_s = float(np.minimum(np.diff(time_s), KNOT_S).sum())
    return drift.Knots.over(time_s, max(KNOT_S, covered_s / MOST_KNOTS))


def legs_of(blocks: Blocks) -> np.ndarray:
    """Label the means by leg: a new one starts at a turn and after a long gap."""
    bow = np.exp(1j * RAD * blocks.heading_deg)
    turned = np.abs(np.angle(bow[1:] / bow[:-1], deg=True)) > CLUSTER_TURN_DEG
    apart = np.diff(blocks.number) > CLUSTER_BLOCKS
    return np.concatenate(([0], np.cumsum(turned | apart)))


def along_leg(values: np.ndarray, leg: np.ndarray) -> np.ndarray:
    """Average rows over ``SMOOTH_BLOCKS`` to either side, never across the ends of a leg."""
    place = np.arange(len(values))
    first, last = np.searchsorted(leg, leg), np.searchsorted(leg, leg, side="right")
    low, high = np.maximum(place - SMOOTH_BLOCKS, first), np.minimum(place + SMOOTH_BLOCKS + 1, last)
    total = np.concatenate((np.zeros_like(values[:1]), np.cumsum(values, axis=0)))
    count = (high - low).reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray((total[high] - total[low]) / count)


def misfit_spans(blocks: Blocks, excluded: Bools) -> tuple[Excluded, ...]:
    """Spell the excluded means as stretches."""
    gaps = np.flatnonzero(np.diff(blocks.number[excluded]) > MISFIT_BLOCKS) + 1
    pieces = np.split(blocks.time_s[excluded], gaps)
    half = BLOCK_S / 2
    return tuple(
        Excluded(
            pd.Timestamp(piece[0] - half, unit="s", tz="UTC").round("s"),
            pd.Timestamp(piece[-1] + half, unit="s", tz="UTC").round("s"),
            "does not fit the rest",
        )
        for piece in pieces
        if piece.size
    )


@dataclass(frozen=True)
class Pattern:
    """A change of one parameter over time: ``course`` says how much of it each mean has, of mean zero.

    ``now`` is what the means were freed of already, ``sd`` the spread believed.
    """

    name: str
    course: Floats
    sd: float
    now: float = 0.0


@dataclass(frozen=True)
class Problem:
    """Steady means with what drives leeway, the pace along the leg, the label of the leg, and what to solve for."""

    blocks: Blocks
    driver_deg: Floats
    pace_kn: Floats
    leg: np.ndarray
    names: tuple[str, ...]
    beliefs: Mapping[str, Belief]

    @classmethod
    def of(
        cls, blocks: Blocks, driver_deg: Floats, names: tuple[str, ...], beliefs: Mapping[str, Belief]
    ) -> "Problem":
        """Label the legs of steady means."""
        leg = legs_of(blocks)
        return cls(blocks, driver_deg, along_leg(blocks.stw_kn, leg), leg, names, beliefs)

    def where(self, mask: Bools) -> "Problem":
        """Return the means where ``mask`` holds."""
        return replace(
            self,
            blocks=self.blocks.where(mask),
            driver_deg=self.driver_deg[mask],
            pace_kn=self.pace_kn[mask],
            leg=self.leg[mask],
        )

    def of_blocks(self, blocks: Blocks) -> "Problem":
        """Put other means in the place of these, the legs as they are."""
        return replace(self, blocks=blocks, pace_kn=along_leg(blocks.stw_kn, self.leg))

    @property
    def mean(self) -> Floats:
        """Believed values."""
        return np.array([self.beliefs[name].mean for name in self.names])

    @property
    def precision(self) -> Floats:
        """Inverse covariance of belief."""
        return np.diag([self.beliefs[name].sd ** -2.0 for name in self.names])

    def normal(
        self,
        theta: Floats,
        noise: tuple[drift.Memory, drift.Memory],
        weights: Floats,
        knots: drift.Knots,
        patterns: Sequence[Pattern] = (),
    ) -> drift.Normal:
        """Lay the linearised model at ``theta`` into whitened rows, a column more for each pattern."""
        blocks = self.blocks
        water, jacobian = water_velocity(blocks, self.driver_deg, self.pace_kn, theta, self.names)
        basis = knots.weights(blocks.time_s)
        turn = np.exp(1j * RAD * blocks.heading_deg)
        jacobian = along_leg(jacobian, self.leg)
        changing = [jacobian[:, self.names.index(p.name)] * p.course for p in patterns]
        jacobian = np.column_stack((jacobian, *changing))
        rows = drift.whitened(turn, blocks.number, noise, weights, basis, jacobian, blocks.ground - water)
        prior = np.diag([*np.diag(self.precision), *(p.sd**-2.0 for p in patterns)])
        pull = np.concatenate((self.precision @ (self.mean - theta), [-p.now / p.sd**2 for p in patterns]))
        return drift.Normal(*rows, prior, pull, knots)

    @property
    def departures(self) -> tuple[Pattern, ...]:
        """A leeway coefficient of its own for every leg where heel is not logged; hundreds of legs share some."""
        if heel_is_logged(self.blocks) or LEEWAY[0] not in self.names:
            return ()
        shared = max(int(np.ceil((self.leg[-1] + 1) / MOST_LEG_LEEWAYS)), 1)
        group = np.unique(self.leg // shared, return_inverse=True)[1]
        return tuple(Pattern(LEEWAY[0], course, 2 * LEG_LEEWAY) for course in np.eye(group[-1] + 1)[group].T)

    def residual(self, theta: Floats, current: np.ndarray, coefficients: Floats | float = 0.0) -> np.ndarray:
        """Misfit in the boat's frame: along + i across; ``coefficients`` are what each mean's leeway departs by."""
        water, jacobian = water_velocity(self.blocks, self.driver_deg, self.pace_kn, theta, self.names)
        if np.any(coefficients):
            water = water + coefficients * jacobian[:, self.names.index(LEEWAY[0])]
        back = np.exp(-1j * RAD * self.blocks.heading_deg)
        return np.asarray((self.blocks.ground - water - current) * back)


def _best_start(problem: Problem) -> Floats:
    """Settle from several starts with the tide as believed, robustly, and take the likeliest."""
    thin = problem.where(np.arange(len(problem.blocks)) % max(len(problem.blocks) // 400, 1) == 0)
    knots = tide_knots(thin.blocks.time_s)
    found = []
    for factor, constant in ((1.0, 0.0), (0.75, 25.0), (1.3, -25.0)):
        theta = problem.mean.copy()
        theta[0], theta[1] = factor, constant
        weights = np.ones((len(thin.blocks), 2))
        for _ in range(6):
            normal = thin.normal(theta, (FIRST_NOISE, FIRST_NOISE), weights, knots)
            solution = normal.solve(TIDE.level, TIDE.slope, TIDE)
            theta = theta + solution.step
            current = knots.weights(thin.blocks.time_s) @ solution.levels
            scaled = thin.residual(theta, current) / np.sqrt(FIRST_VARIANCE)
            weights = np.column_stack([1 / (1 + np.abs(scaled) ** 2 / 9)] * 2)
            if np.all(np.abs(solution.step) < START_SETTLED * np.sqrt(np.diag(solution.theta_covariance))):
                break
        cost = np.log1p(np.abs(scaled) ** 2 / 9).sum() + (theta - problem.mean) @ problem.precision @ (
            theta - problem.mean
        )
        found.append((float(cost), theta))
    return min(found, key=lambda pair: pair[0])[1]


def _misfits(problem: Problem, theta: Floats) -> Bools:
    """Find the means that stand far off a smooth current for minutes on end.

    What is found is left out and the rest fitted again, until nothing more is found.
    """
    blocks = problem.blocks
    knots = tide_knots(blocks.time_s)
    basis = knots.weights(blocks.time_s)
    noise = (FIRST_NOISE, FIRST_NOISE)
    out = np.zeros(len(blocks), dtype=bool)
    weights = np.ones(len(blocks))
    for _ in range(MISFIT_ROUNDS):
        for _ in range(4):
            both = np.column_stack((weights, weights))
            solution = problem.normal(theta, noise, both, knots).solve(TIDE.level / 4, TIDE.slope, TIDE)
            theta = theta + solution.step
            off = np.abs(problem.residual(theta, basis @ solution.levels))
            scale = max(float(np.median(off[~out])), 0.05)
            weights = np.where(out, 1e-4, 1 / (1 + (off / (2.5 * scale)) ** 2) ** 2)
        long = pd.Series(off).rolling(MISFIT_BLOCKS, center=True, min_periods=1).median().to_numpy()
        found = np.asarray(long > max(MISFIT_KN, MISFIT_SIGMAS * scale))
        if np.array_equal(found, out) or found.mean() > 0.5:
            break
        out = found
    return out


def _fit(problem: Problem, theta: Floats, hyper: tuple[float, float] | None = None) -> WaterFit:
    blocks = problem.blocks
    knots = tide_knots(blocks.time_s)
    basis = knots.weights(blocks.time_s)
    noise = (FIRST_NOISE, FIRST_NOISE)
    weights = np.ones((len(blocks), 2))
    background = hyper or (TIDE.level, TIDE.slope)
    converged = False
    size, patterns = len(theta), problem.departures
    courses = np.array([pattern.course for pattern in patterns]).reshape(len(patterns), len(blocks))
    for turn in range(MOST_ROUNDS):
        normal = problem.normal(theta, noise, weights, knots, patterns)
        if turn in (1, 2, 4):
            background = normal.background(TIDE, background, 1.0 if turn == 1 and hyper is None else 0.3)
        solution = normal.solve(*background, TIDE)
        step = solution.step[:size]
        theta = theta + step
        settled = np.abs(step) < 0.05 * np.sqrt(np.diag(solution.theta_covariance)[:size])
        if turn > 5 and settled.all():
            converged = True
            break
        white = normal.rows_seen - normal.rows_theta @ solution.step - normal.rows_knots @ solution.states
        white = white.reshape(2, -1).T / np.sqrt(weights)
        weights = drift.student_weights(white)
        residual = problem.residual(theta, basis @ solution.levels, solution.step[size:] @ courses)
        patterns = _far_ones_freer(patterns, solution.step[size:], np.diag(solution.theta_covariance)[size:])
        if turn < 5:
            noise = (
                drift.memory_of(residual.real, blocks.number, NOISE_FLOOR),
                drift.memory_of(residual.imag, blocks.number, NOISE_FLOOR),
            )
    covariance = honest_covariance(problem, normal, solution)
    ratio = solution.swept @ covariance @ solution.swept.T
    return WaterFit(
        problem.names,
        theta,
        covariance[:size, :size],
        blocks,
        knots,
        solution.levels,
        solution.knots_covariance + ratio,
        noise,
        *background,
        np.zeros(len(blocks), dtype=bool),
        True,
        converged,
        turn + 1,
        weights,
        problem.beliefs,
    )


def _far_ones_freer(patterns: Sequence[Pattern], amount: Floats, variance: Floats) -> tuple[Pattern, ...]:
    """Set the spread of each departure after its size, as if they were Student's t: the step of an EM algorithm."""
    square = (LEG_LEEWAY_DOF * LEG_LEEWAY**2 + amount**2 + variance) / (LEG_LEEWAY_DOF + 1)
    return tuple(replace(one, sd=sd) for one, sd in zip(patterns, np.sqrt(square).tolist(), strict=True))


def honest_covariance(problem: Problem, normal: drift.Normal, solution: drift.Solution) -> Floats:
    """Take the larger of modelled covariance and that seen between stretches, widened where they are few.

    Never wider than belief.
    """
    cluster = _clusters(problem.blocks)
    residual = normal.rows_seen - normal.rows_theta @ solution.step - normal.rows_knots @ solution.states
    seen = drift.cluster_covariance(normal, solution, np.tile(cluster, 2), residual)
    model = solution.theta_covariance
    few = widening(max(len(np.unique(cluster)) - 2, 2))
    stretch = few * np.sqrt(np.maximum(np.diag(seen) / np.diag(model), 1.0))
    stretch = np.minimum(stretch, 1 / np.sqrt(np.diag(normal.prior) * np.diag(model)))
    covariance = np.asarray(model * np.outer(stretch, stretch))
    # how much of the yaw loss there is, from none to twice, is not known
    covariance[0, 0] += float(np.mean(problem.blocks.yaw_loss)) ** 2 / 3
    return covariance


def _clusters(blocks: Blocks) -> np.ndarray:
    """Label stretches of at most a quarter of an hour on one heading."""
    leg = legs_of(blocks)
    within = blocks.number - blocks.number[np.searchsorted(leg, leg)]
    return np.unique(np.stack((leg, within // CLUSTER_BLOCKS)), axis=1, return_inverse=True)[1].ravel()


def _with_zero_if_shown(problem: Problem, fit: WaterFit) -> WaterFit:
    """Refit with a zero offset of the log where the data insist, or where it alone explains what a factor would.

    Of two explanations by one number, a factor or an offset, that is taken which the speeds contradict less; the
    factor then stays within what the standard allows, and the other explanation widens every deviation by its odds.
    With a factor known from elsewhere none is sought.
    """
    low, high = np.percentile(problem.blocks.stw_kn, [5, 95])
    known = any(problem.beliefs[name].given for name in ("log_factor", ZERO))
    if known or high - low < ZERO_SPEED_RANGE_KN or not fit.courses_differ:
        return fit
    wider = replace(problem, names=(*problem.names, ZERO))
    theta = np.append(fit.theta, 0.0)
    normal = wider.normal(theta, fit.noise, fit.weights, fit.knots)
    solution = normal.solve(fit.level, fit.slope, TIDE)
    shown = abs(solution.step[-1]) / np.sqrt(solution.theta_covariance[-1, -1])
    if shown < (1.0 if abs(fit.value("log_factor") - 1) > STANDARD_SHARE else ZERO_SIGMAS):
        return fit
    both = _fit(wider, theta + solution.step, (fit.level, fit.slope))
    if not both.converged or abs(both.value(ZERO)) > MOST_ZERO_KN:
        return fit
    against_factor = abs(both.value(ZERO)) / both.sd(ZERO)
    against_zero = abs(both.value("log_factor") - 1) / both.sd("log_factor")
    likelier = against_factor**2 - against_zero**2
    if likelier > ZERO_LIKELIER and against_zero < ZERO_SIGMAS:
        wider = replace(wider, beliefs={**problem.beliefs, "log_factor": IN_ORDER})
        alone = _fit(wider, both.theta, (fit.level, fit.slope))
        other = 1 / (1 + np.exp(likelier / 2))
        apart = np.append(fit.theta, 0.0) - alone.theta
        return replace(alone, covariance=alone.covariance + other * (1 - other) * np.outer(apart, apart))
    return both if against_factor > ZERO_SIGMAS else fit
