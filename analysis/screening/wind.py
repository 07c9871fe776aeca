"""Wind that drops out to nothing, a vane mirrored or the wrong way round, and wind speed in a wrong unit.

The wind over the ground does not care how the boat points. So the version of the vane that leaves it steadiest
over changing courses is the right one, and the part of it that moves with the boat tells the unit.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.passage import Bools, Floats, column, seconds_of, spans
from analysis.screening.results import Mistake, Unfit
from analysis.screening.series import ahead, block_means, windowed_sum
from analysis.screening.units import about_mean, nearest_unit

DROPPED_KN, DROPPED_SHARE = 1.0, 0.12
AROUND_KN, AROUND_ROWS, ABRUPT_ROWS = 5.0, 60, 4
LONGEST_DROP_S = 1800
LEAST_BLOCKS = 40
LEAST_AWS_KN = 2.0
STEADY_BOW = 0.97  # length of the minute's mean of the unit vector ahead: a yaw of 14 deg, no turn
STEADY_WINDOW = 60
UNIT_WINDOW = 90
OVERWHELMING = 5.0  # so many times steadier must the wind be (judgment: two right versions differ by nothing)
STEADY_SHARE = 0.4  # and what is left of its changes no more than this share of the apparent wind
AGREEING = 0.8
LEAST_WINDOWS = 2
LEAST_POINTS_DEG = 35.0
LEAST_MINUTES, LEAST_TURNS, TURN_DEG = 90, 4, 40.0
NEAR_UNIT = 0.18
LEAST_UNIT = 0.50  # of the logarithm: more than half as much again, which no upwash or anemometer reaches
BIAS = 0.05  # of the factor, on top of its scatter: gusts and slow wind leave so much in trials
SIGMAS = 5.0
MOST_SD = 0.12
UPWASH_DECAY_DEG = 50.0


@dataclass(frozen=True)
class Steadiness:
    """Mean square changes of the wind [kn2] over the courses steered: as shown, mirrored, the other way round.

    ``agreeing`` is the share of hours in which that version beats the shown one, ``apparent`` the mean square
    apparent wind. ``hours`` counts those in which the courses differ.
    """

    shown: float
    mirrored: float
    reversed: float
    agreeing_mirrored: float
    agreeing_reversed: float
    apparent: float
    hours: int


def find_drop_outs(frame: pd.DataFrame) -> list[Unfit]:
    """Find where the wind speed falls at once to nearly nothing and comes back at once.

    A lull or a gybe takes longer than a few seconds, or the wind was not much before.
    """
    aws = column(frame, "aws_kn")
    if not np.isfinite(aws).any():
        return []
    low = aws <= DROPPED_KN
    if not low.any():
        return []
    blowing = np.isfinite(aws) & ~low
    total = (
        windowed_sum(np.where(blowing, aws, 0), AROUND_ROWS, -1),
        windowed_sum(blowing * 1.0, AROUND_ROWS, -1),
    )
    before = total[0] / np.maximum(total[1], 1)
    total = (
        windowed_sum(np.where(blowing, aws, 0), -1, AROUND_ROWS),
        windowed_sum(blowing * 1.0, -1, AROUND_ROWS),
    )
    after = total[0] / np.maximum(total[1], 1)
    seconds = seconds_of(frame)
    found = []
    for first, last in spans(low):
        around = min(before[first], after[last])
        if around < AROUND_KN or aws[first : last + 1].min() > DROPPED_SHARE * around:
            continue
        if seconds[last] - seconds[first] > LONGEST_DROP_S:
            continue
        start, end = _edge(aws, first, -1, around), _edge(aws, last, 1, around)
        if start is not None and end is not None:
            found.append(Unfit("aws_kn", frame.index[start], frame.index[end], "drop-out", float(aws[first])))
    return found


def _edge(aws: Floats, row: int, way: int, around: float) -> int | None:
    """The last row from ``row`` outward that is still falling or rising; None where that takes too long."""
    for step in range(1, ABRUPT_ROWS + 1):
        at = row + way * step
        if not 0 <= at < len(aws):
            return None
        if np.isnan(aws[at]) or aws[at] > 0.5 * around:
            return at - way
    return None


def find_wind_mistakes(frame: pd.DataFrame) -> list[Mistake]:
    """Find a mirrored vane, a vane 180 deg out, or else a wind speed in a wrong unit."""
    if not {"awa_deg", "aws_kn"} <= set(frame):
        return []
    minutes = _minutes(frame)
    if minutes is None:
        return []
    steady = _steadiness(*minutes)
    return (_vane_side(steady) if steady is not None else []) or _speed_unit(*minutes)


def _vane_side(steady: Steadiness) -> list[Mistake]:
    if steady.mirrored < steady.reversed:
        kind, left, agreeing = "mirrored", steady.mirrored, steady.agreeing_mirrored
    else:
        kind, left, agreeing = "reversed", steady.reversed, steady.agreeing_reversed
    if (
        steady.hours < LEAST_WINDOWS
        or agreeing < AGREEING
        or left * OVERWHELMING > steady.shown
        or left > STEADY_SHARE**2 * steady.apparent
    ):
        return []
    evidence = {
        "wind_changes_shown_kn": float(np.sqrt(steady.shown)),
        "wind_changes_undone_kn": float(np.sqrt(left)),
        "hours_with_turns": float(steady.hours),
    }
    if kind == "mirrored":
        return [Mistake("awa_deg", kind, factor=-1.0, evidence=evidence)]
    return [Mistake("awa_deg", kind, offset_deg=180.0, evidence=evidence)]


def steadiness(frame: pd.DataFrame) -> Steadiness | None:
    """How much the wind over the ground changes with the courses, for each version of the vane."""
    minutes = _minutes(frame)
    return None if minutes is None else _steadiness(*minutes)


def _steadiness(air: np.ndarray, bow: np.ndarray, motion: np.ndarray) -> Steadiness | None:
    versions = [about_mean(one * bow - motion, STEADY_WINDOW) for one in (air, np.conj(air), -air)]
    courses = about_mean(bow, STEADY_WINDOW)
    known = np.isfinite(versions[0])
    squares = [np.where(known, np.abs(one) ** 2, 0.0) for one in versions]
    turned = np.where(known, np.abs(courses) ** 2, 0.0)
    count = -(-len(known) // STEADY_WINDOW)
    hour = np.arange(len(known)) // STEADY_WINDOW
    number = np.maximum(np.bincount(hour, known, count), 1)
    # An hour on one course has a mean square of nearly 0, one half on either tack about a half.
    telling = np.bincount(hour, turned, count) / number > 0.1
    by_hour = [np.bincount(hour, one, count)[telling] for one in squares]
    if not telling.any():
        return None
    many = number[telling].sum()
    shown, mirrored, turned_round = by_hour
    return Steadiness(
        float(shown.sum() / many),
        float(mirrored.sum() / many),
        float(turned_round.sum() / many),
        float(np.mean(mirrored < shown)),
        float(np.mean(turned_round < shown)),
        float(np.mean(np.abs(air[known]) ** 2)),
        int(telling.sum()),
    )


def _minutes(frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Minute means on steady courses: apparent wind from the bow, unit vector ahead, motion [kn, complex].

    The motion is over the ground, through the water where there is no GNSS speed.
    """
    bow = ahead(column(frame, "heading_true_deg"))
    motion = column(frame, "sog_kn") * ahead(column(frame, "cog_deg"))
    if np.isfinite(motion).sum() < np.isfinite(bow).sum() / 2:
        motion = column(frame, "stw_kn") * bow
    air = block_means(column(frame, "aws_kn") * ahead(column(frame, "awa_deg")))
    mean_bow, motion = block_means(bow), block_means(motion)
    turned: Bools = ~(np.abs(mean_bow) > STEADY_BOW)
    turned[1:] |= turned[:-1].copy()  # a damped display shows a turn a minute longer
    good: Bools = ~turned & (np.abs(air) > LEAST_AWS_KN) & np.isfinite(motion)
    if good.sum() < LEAST_BLOCKS:
        return None
    return tuple(np.where(good, one, np.nan) for one in (air, mean_bow, motion))  # type: ignore[return-value]


def _speed_unit(air: np.ndarray, bow: np.ndarray, motion: np.ndarray) -> list[Mistake]:
    """Find the unit the wind speed must be in for the wind not to move with the boat.

    ``k a + m b + n c = V + W`` about their means over an hour and a half, with ``a`` the shown apparent wind, ``b``
    and ``c`` what an upwash and a vane offset turn it by. Gusts are in ``a`` too, so the instruments are built
    from the motion and the slow wind alone. Beating only, an upwash looks like a factor: nothing is said.
    """
    known = np.isfinite(air)
    points = np.abs(np.degrees(np.angle(air[known])))
    turns = np.abs(np.angle(bow[known][1:] * np.conj(bow[known][:-1]), deg=True)) > TURN_DEG
    enough = known.sum() >= LEAST_MINUTES and turns.sum() >= LEAST_TURNS
    if not enough or np.subtract(*np.percentile(points, (90, 10))) < LEAST_POINTS_DEG:
        return []
    factor, sd = 1.0, np.inf

    def about(x: np.ndarray) -> np.ndarray:
        return np.asarray(about_mean(x, UNIT_WINDOW)[known])

    moved = about(motion)
    for _ in range(6):
        wind = factor * air * bow - motion
        smooth = wind - about_mean(wind, UNIT_WINDOW)
        told = (smooth + motion) * np.conj(bow)
        seen = np.stack([about(x * bow) for x in _turned(air)])
        instruments = np.stack([about(x * bow) for x in _turned(told)])
        matrix = (np.conj(instruments) @ seen.T).real
        if np.linalg.cond(matrix) > 1e8:
            return []
        theta = np.linalg.solve(matrix, (np.conj(instruments) @ moved).real)
        if not 0.2 < theta[0] < 5:
            return []
        rest = moved - theta @ seen
        scores = (np.conj(instruments) * rest).real
        group = (np.flatnonzero(known) // UNIT_WINDOW).astype(int)
        summed = np.stack([np.bincount(group, score) for score in scores])
        inverse = np.linalg.inv(matrix)
        sd = float(np.sqrt((inverse @ summed @ summed.T @ inverse.T)[0, 0]) / theta[0])
        factor = float(theta[0])
    sd = float(np.hypot(sd, BIAS))
    unit = nearest_unit(factor, NEAR_UNIT)
    if unit is None or sd > MOST_SD or abs(np.log(factor)) < max(LEAST_UNIT, SIGMAS * sd):
        return []
    evidence = {"measured_factor": factor, "measured_factor_sd": factor * sd}
    return [Mistake("aws_kn", "unit", factor=unit, evidence=evidence)]


def _turned(air: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The apparent wind, and what a radian of upwash and of vane offset turn it by."""
    angle = np.degrees(np.angle(air))
    upwash = np.sign(angle) * np.exp(-np.abs(angle) / UPWASH_DECAY_DEG)
    return air, 1j * upwash * air, 1j * air
