"""Corrections that did not stay the same: a log that fouls, a compass that something was put beside.

A change is sought as a pattern over time laid onto the solved water block: a log factor that drifts evenly, a log
factor that steps, the constant and semicircular deviation (A, B, C) that step. First all patterns are scored on
thinned means with the tide as believed, then the best of each kind is fitted robustly, the means are freed of it and
the whole block is solved again. It counts only if it stands out of the scatter between stretches of the passage,
which a turning tide or gusts widen too, and is beyond what instruments in order do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, repeat
from typing import Literal

import numpy as np
import pandas as pd

from analysis.calibration import drift
from analysis.calibration.blocks import BLOCK_S, RAD, Blocks
from analysis.calibration.results import Change, Floats
from analysis.calibration.water import (
    BELIEFS,
    DEVIATION,
    FIRST_NOISE,
    FIRST_VARIANCE,
    TIDE,
    Belief,
    Pattern,
    Problem,
    WaterFit,
    deviation_curve_deg,
    fit_water,
    honest_covariance,
    problem_of,
    tide_knots,
)
from analysis.passage import column, seconds_of

LEAST_SPAN_S = 5400.0
FROM_ENDS_S = 1500.0
MOST_TIMES = 36
SHARPEN_S = 1200.0
SOLUTIONS = 3
THIN = 400
ROUNDS = 8
WORTH_A_LOOK = 20.0  # chi-square of a step, the best of many times, in noise taken larger than it is
DRIFT_WORTH_A_LOOK = 6.0  # of the one even drift there can be
WORTH_A_FIT = 8.0  # fall of the robust cost, per parameter of a step
SIGMAS = 4.5  # and its like for three parameters together: among hundreds of patterns one in 10^4 passages
CHI_SQUARE_3 = 30.0
LOG_SD = 0.2
STEP_SD_DEG = 10.0
LEAST_LOG_CHANGE = 0.03  # beyond the 2 % that IMO A.824(19) allows a log (from memory)
LEAST_STEP_DEG = 2.5  # twice the 1 deg that MSC.116(73) allows a heading device at rest, and more
LOG = ("log_factor",)
STEPPED = DEVIATION[:3]
OUTLYING = 9.0  # squared sigmas from where a mean counts less


def find_changes(
    blocks: Blocks, fit: WaterFit | None, beliefs: Mapping[str, Belief] = BELIEFS
) -> tuple[WaterFit | None, tuple[Change, ...]]:
    """Find what changed during the passage; return the fit freed of it, and the changes."""
    if fit is None or not fit.courses_differ or np.ptp(blocks.time_s) < LEAST_SPAN_S:
        return fit, ()
    problem, _ = problem_of(blocks, beliefs)
    thin = problem.where(np.arange(len(problem.blocks)) % max(len(problem.blocks) // THIN, 1) == 0)
    same = _robust(thin, fit.theta[: len(problem.names)], None)
    best, most = None, 0.0
    for kind in _worth_a_look(thin, same):
        try:
            trial = _robust(thin, same.theta, kind)
        except np.linalg.LinAlgError:  # a change that lets the solution run away explains nothing
            continue
        gain = same.cost - trial.cost - (WORTH_A_FIT * len(kind.names) if kind.kind == "step" else 0.0)
        if gain > most:
            best, most = (kind, trial), gain
    if best is None:
        return fit, ()
    kind, trial = best
    return _judged(blocks, fit, _sharpened(problem, trial, kind), trial.change, beliefs)


def level(blocks: Blocks, changes: Sequence[Change], means: Mapping[str, float]) -> Blocks:
    """Free steady means of the changes: what instruments with their mean errors throughout would have shown."""
    ratio, turn_deg = _departures(blocks.time_s, blocks.compass_deg, changes, means)
    return _freed(blocks, ratio, turn_deg)


def level_frame(frame: pd.DataFrame, changes: Sequence[Change], means: Mapping[str, float]) -> pd.DataFrame:
    """Free a frame's STW and true heading of the changes, so that the mean corrections hold throughout.

    ``means`` are the estimates over the passage. A frame without changes is returned as it is.
    """
    if not changes:
        return frame
    heading = column(frame, "heading_true_deg")
    compass = heading - np.nan_to_num(column(frame, "variation_deg"))
    ratio, turn_deg = _departures(seconds_of(frame), compass, changes, means)
    freed = {"stw_kn": column(frame, "stw_kn") * ratio, "heading_true_deg": (heading + turn_deg) % 360}
    return frame.assign(**{name: value for name, value in freed.items() if name in frame})


def _departures(
    time_s: Floats, compass_deg: Floats, changes: Sequence[Change], means: Mapping[str, float]
) -> tuple[Floats | float, Floats]:
    """Ratio of the log's factor to its mean, and the turn [deg] of the deviation from its mean, at each time."""
    ratio: Floats | float = 1.0
    turn = dict.fromkeys(DEVIATION, np.zeros(len(time_s)))
    for change in changes:
        if change.kind == "step" and change.at is not None:
            share = (time_s >= change.at.timestamp()).astype(float)
        else:
            start, end = change.start.timestamp(), change.end.timestamp()
            share = np.clip((time_s - start) / (end - start), 0.0, 1.0)
        value = change.before + (change.after - change.before) * share
        if change.name == "log_factor":
            ratio = value / means[change.name]
        else:
            turn[change.name] = value - means[change.name]
    h = RAD * compass_deg
    return ratio, np.asarray(
        turn[DEVIATION[0]] + turn[DEVIATION[1]] * np.sin(h) + turn[DEVIATION[2]] * np.cos(h)
    )


def _freed(blocks: Blocks, ratio: Floats | float, turn_deg: Floats) -> Blocks:
    turn = np.exp(1j * RAD * turn_deg)
    return replace(
        blocks,
        keel=blocks.keel * ratio * turn,
        stw_kn=blocks.stw_kn * ratio,
        compass_deg=(blocks.compass_deg + turn_deg) % 360,
        heading_deg=(blocks.heading_deg + turn_deg) % 360,
        wind_over=blocks.wind_over * turn,
    )


@dataclass(frozen=True)
class _Kind:
    """What changes together and how: evenly from ``start_s`` to ``end_s``, at once where the two are the same.

    ``centre`` is the share of the change that the passage had in the mean, by the distance run.
    """

    names: tuple[str, ...]
    start_s: float
    end_s: float
    centre: float = 0.0

    @classmethod
    def over(cls, blocks: Blocks, names: tuple[str, ...], start_s: float, end_s: float) -> "_Kind":
        """Centre a change on the distance run."""
        raw = cls(names, start_s, end_s)
        return replace(raw, centre=float(np.average(raw.course(blocks.time_s), weights=blocks.stw_kn)))

    @property
    def kind(self) -> Literal["drift", "step"]:
        return "step" if self.start_s == self.end_s else "drift"

    def course(self, time_s: Floats) -> Floats:
        """How much of the change there is at each time, less its mean."""
        if self.kind == "step":
            return np.asarray((time_s >= self.start_s) - self.centre)
        share = (time_s - self.start_s) / (self.end_s - self.start_s)
        return np.asarray(np.clip(share, 0, 1) - self.centre)

    def patterns(self, blocks: Blocks, change: Floats) -> tuple[Pattern, ...]:
        sd = LOG_SD if self.names == LOG else STEP_SD_DEG
        course = self.course(blocks.time_s)
        return tuple(Pattern(*one) for one in zip(self.names, repeat(course), repeat(sd), change.tolist()))

    def freed(
        self, blocks: Blocks, change: Floats, log_factor: float, course: Floats | None = None
    ) -> Blocks:
        course = self.course(blocks.time_s) if course is None else course
        if self.names == LOG:
            return _freed(blocks, 1 + change[0] * course / log_factor, np.zeros(len(blocks)))
        return _freed(blocks, 1.0, course * deviation_curve_deg(blocks.compass_deg, [*change, 0.0, 0.0]))


@dataclass(frozen=True)
class _Robust:
    theta: Floats
    change: Floats
    cost: float
    weights: Floats
    knots: drift.Knots
    levels: np.ndarray


def _robust(problem: Problem, theta: Floats, kind: _Kind | None) -> _Robust:
    """Fit with the tide as believed and outliers counting little, with one kind of change or none."""
    size = len(theta)
    knots = tide_knots(problem.blocks.time_s)
    weights, change = np.ones(len(problem.blocks)), np.zeros(len(kind.names) if kind else 0)
    for _ in range(ROUNDS):
        freed, patterns = problem, tuple[Pattern, ...]()
        if kind is not None:
            freed = problem.of_blocks(kind.freed(problem.blocks, change, theta[0]))
            patterns = kind.patterns(problem.blocks, change)
        both = np.column_stack((weights, weights))
        normal = freed.normal(theta, (FIRST_NOISE, FIRST_NOISE), both, knots, patterns)
        solution = normal.solve(TIDE.level, TIDE.slope, TIDE)
        off = normal.rows_seen - normal.rows_theta @ solution.step - normal.rows_knots @ solution.states
        square = np.sum(off.reshape(2, -1) ** 2, axis=0) / weights
        theta, change = theta + solution.step[:size], change + solution.step[size:]
        weights = 1 / (1 + square / OUTLYING)
    cost = float(OUTLYING * np.log1p(square / OUTLYING).sum())
    return _Robust(theta, change, cost, weights, knots, solution.levels)


def _worth_a_look(problem: Problem, same: _Robust) -> list[_Kind]:
    """Score patterns at many times at once, and return the best of each sort where it promises anything."""
    blocks = problem.blocks
    knots = tide_knots(blocks.time_s)
    first, last = blocks.time_s[0] + FROM_ENDS_S, blocks.time_s[-1] - FROM_ENDS_S
    times = np.linspace(first, last, min(MOST_TIMES, int((last - first) / 600) + 2)).tolist()
    sorts = (
        [_Kind.over(blocks, LOG, float(blocks.time_s[0]), float(blocks.time_s[-1]))],
        [_Kind.over(blocks, LOG, at, at) for at in times],
        [_Kind.over(blocks, STEPPED, at, at) for at in times],
    )
    kinds = [kind for sort in sorts for kind in sort]
    patterns = [one for kind in kinds for one in kind.patterns(blocks, np.zeros(len(kind.names)))]
    both = np.column_stack((same.weights, same.weights))
    normal = problem.normal(same.theta, (FIRST_NOISE, FIRST_NOISE), both, knots, patterns)
    solution = normal.solve(TIDE.level, TIDE.slope, TIDE)
    information, size = solution.information, len(same.theta)
    gradient = information @ solution.step
    swept = np.linalg.solve(information[:size, :size], information[:size])
    left = information - information[:, :size] @ swept
    pull = gradient - swept.T @ gradient[:size]
    ends = size + np.cumsum([0, *(len(kind.names) for kind in kinds)])
    score = [
        float(pull[a:b] @ np.linalg.solve(left[a:b, a:b], pull[a:b])) for a, b in pairwise(ends.tolist())
    ]
    best, at = [], 0
    for sort in sorts:
        scores = score[at : at + len(sort)]
        likely = sort[int(np.argmax(scores))]
        if max(scores) > (WORTH_A_LOOK if likely.kind == "step" else DRIFT_WORTH_A_LOOK):
            best.append(likely)
        at += len(sort)
    return best


def _sharpened(problem: Problem, trial: _Robust, kind: _Kind) -> _Kind:
    """Move a step to where the means change sides, at most ``SHARPEN_S`` from where it was tried."""
    if kind.kind == "drift":
        return kind
    blocks = problem.blocks
    current = trial.knots.weights(blocks.time_s) @ trial.levels
    costs = []
    for share in (0.0, 1.0):
        course = np.full(len(blocks), share - kind.centre)
        side = problem.of_blocks(kind.freed(blocks, trial.change, trial.theta[0], course))
        off = np.abs(side.residual(trial.theta, current)) ** 2 / FIRST_VARIANCE
        costs.append(np.minimum(off, OUTLYING))
    at = np.append(0.0, np.cumsum(costs[0] - costs[1]))[:-1]
    near = np.abs(blocks.time_s - kind.start_s) < SHARPEN_S
    if not near.any():
        return kind
    best = float(blocks.time_s[np.flatnonzero(near)[np.argmin(at[near])]] - BLOCK_S / 2)
    return _Kind.over(blocks, kind.names, best, best)


def _judged(
    blocks: Blocks, fit: WaterFit, kind: _Kind, change: Floats, beliefs: Mapping[str, Belief]
) -> tuple[WaterFit | None, tuple[Change, ...]]:
    """Solve the whole block freed of a change, and keep it where it stands out of the honest scatter."""
    trial, factor = fit, fit.value("log_factor")
    for _ in range(SOLUTIONS):
        freed = fit_water(kind.freed(blocks, change, factor), beliefs)
        if freed is None or not freed.courses_differ:
            return fit, ()
        trial = freed
        problem = trial.problem
        patterns = kind.patterns(problem.blocks, change)
        normal = problem.normal(trial.theta, trial.noise, trial.weights, trial.knots, patterns)
        solution = normal.solve(trial.level, trial.slope, TIDE)
        size = len(trial.theta)
        step = solution.step[size:]
        covariance = honest_covariance(problem, normal, solution)[size:, size:]
        change, factor = change + step, trial.value("log_factor")
        if np.all(np.abs(step) < np.sqrt(np.diag(covariance))):
            break
    if not _stands_out(kind, change, covariance):
        return fit, ()
    span = [pd.Timestamp(blocks.time_s[i], unit="s", tz="UTC").round("s") for i in (0, -1)]
    course = kind.course(blocks.time_s[[0, -1]])
    at = pd.Timestamp(kind.start_s, unit="s", tz="UTC").round("s") if kind.kind == "step" else None
    return trial, tuple(
        Change(
            name,
            kind.kind,
            at,
            trial.value(name) + float(amount * course[0]),
            trial.value(name) + float(amount * course[1]),
            float(sd),
            BELIEFS[name].unit,
            *span,
        )
        for name, amount, sd in zip(kind.names, change, np.sqrt(np.diag(covariance)), strict=True)
    )


def _stands_out(kind: _Kind, change: Floats, covariance: Floats) -> bool:
    """Tell whether a change is sure, and larger than instruments in order show."""
    if kind.names == LOG:
        return bool(abs(change[0]) > max(SIGMAS * np.sqrt(covariance[0, 0]), LEAST_LOG_CHANGE))
    curve = deviation_curve_deg(np.arange(0.0, 360.0, 45.0), [*change, 0.0, 0.0])
    sure = change @ np.linalg.solve(covariance, change) > CHI_SQUARE_3
    return bool(sure and np.abs(curve).max() > LEAST_STEP_DEG)
