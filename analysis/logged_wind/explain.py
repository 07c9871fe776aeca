"""Rank the ways a display may have worked out its true wind by how much of the difference they explain."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.calibration import Calibration
from analysis.estimate import Estimate
from analysis.logged_wind.damping import DampingFit, fit_heading_damping, fit_wind_damping
from analysis.logged_wind.hypotheses import (
    Way,
    direction_ways,
    smooth_blocks,
    smooth_directions,
    variation_causes,
    vector_ways,
)
from analysis.logged_wind.rows import BLOCK_S, Complexes, Rows, filled, rows_of
from analysis.passage import Bools, Floats, Ints

NEGLIGIBLE_KN = 0.1  # the step in which displays show the wind
UNSEEN_KN = NEGLIGIBLE_KN / np.sqrt(12)
PER_PART, PER_NUMBER, PER_PART_KN = (
    1.3,
    1.1,
    0.05,
)  # what a further part or a fitted number must explain to be believed
CLEAR = 3.0
GROUPS = 12
OUTLYING = 6.0
LEAST_BLOCKS = 10
MOST_CAUSES = 2
REFINEMENTS = {
    "heel",
    "leeway-taken-in",
}  # ways that change the wind too little to matter where they are not told

WORDS = {
    "water": "over the water, leeway left out",
    "leeway-taken-in": "over the water, leeway taken in",
    "ground": "over the ground",
    "speed-over-ground": "with the speed over the ground in place of the speed through the water",
    "direction-over-ground": "with its direction over the ground, its angle over the water",
    "magnetic": "with magnetic and true north mistaken for each other",
    "variation-twice": "with variation applied twice",
    "other-heading": "with a heading other than the recorded one",
    "mirrored": "with port and starboard of the vane swapped",
    "lag": "from readings that lag",
    "unit": "with a speed in the wrong unit",
    "frozen-log": "with a speed through the water that is stuck",
    "frozen-wind": "with an apparent wind that is stuck",
    "frozen-heading": "with a heading that is stuck",
    "apparent-repeated": "by repeating the apparent wind",
    "calibrated": "from readings corrected for offsets that the recorded ones lack",
    "uncorrected": "from readings without the corrections that the recorded ones have",
    "heel": "from an apparent wind levelled for heel",
}


@dataclass(frozen=True)
class Hypothesis:
    """One way the display may have worked out its true wind.

    ``causes`` are the departures from the plain way (over the water, leeway left out), in order of the words;
    ``explained`` is the share of the mean squared difference from the plain way that it explains, ``left_kn`` and
    ``left_deg`` the rms it leaves of the wind vector and of its direction, ``margin`` by how many standard errors
    it leaves more than the first does (of the first: how many its closest rival leaves more).
    """

    id: str
    causes: tuple[str, ...]
    words: str
    explained: float
    left_kn: float
    left_deg: float
    margin: float
    numbers: Mapping[str, float | str]


@dataclass(frozen=True)
class LoggedWind:
    """The logged true wind against the recomputed one, hypotheses ranked best first.

    ``determined`` says that the first is told apart from every other single way; ``untold`` names those from which
    it is not. ``lag_s`` is damping time plus delay of the display, one-sigma ``lag_sd_s``, None where the wind does
    not tell. ``effect_deg`` and ``effect_share`` are the rms turn of the wind and the rms relative change of its
    speed that the first hypothesis makes against the plain way, ``_sd`` their standard errors.
    ``delay_s`` is the part of the lag before which nothing shows. ``angle_logged`` is False where only the direction
    is logged.
    """

    hypotheses: tuple[Hypothesis, ...]
    determined: bool
    untold: tuple[str, ...]
    lag_s: float | None
    lag_sd_s: float | None
    delay_s: float
    effect_deg: float
    effect_deg_sd: float
    effect_share: float
    effect_share_sd: float
    variation_deg: float | None
    angle_logged: bool
    hours: float

    @property
    def best(self) -> Hypothesis:
        """The hypothesis that explains best."""
        return self.hypotheses[0]


@dataclass(frozen=True)
class _Half:
    """The ways for the vector or for the direction, the blocks none of them explains left out."""

    row: Ints
    ways: Sequence[Way]
    good: Bools

    def square(self, way: Way) -> float:
        return float(np.mean(np.abs(way.left[self.good]) ** 2))

    def by_group(self, way: Way, rows: int) -> Floats:
        """Mean square per stretch of the passage; NaN in stretches without a block."""
        group = np.minimum(self.row[self.good] * GROUPS // rows, GROUPS - 1)
        total = np.bincount(group, np.abs(way.left[self.good]) ** 2, GROUPS)
        with np.errstate(invalid="ignore"):
            means: Floats = total / np.bincount(group, minlength=GROUPS)
        return means


@dataclass(frozen=True)
class _Joint:
    """A way for the vector and one for the direction, judged together."""

    causes: tuple[str, ...]
    vector: Way
    direction: Way | None
    square: float

    @property
    def fitted(self) -> int:
        return len(self.vector.numbers) + (len(self.direction.numbers) if self.direction else 0)

    @property
    def score(self) -> float:
        steps = len(self.causes)
        return self.square * PER_PART**steps * PER_NUMBER**self.fitted + steps * PER_PART_KN**2


def explain_logged_wind(frame: pd.DataFrame, calibration: Calibration) -> LoggedWind | None:
    """Rank the ways in which the logged true wind may have been worked out from the sensors as shown.

    ``frame`` is the aligned frame as shown. None where the log lacks true wind, apparent wind or speed through the
    water, or has less than some two minutes of them.
    """
    rows = rows_of(frame)
    if rows is None:
        return None
    wind_damping, heading_damping = fit_wind_damping(rows), fit_heading_damping(rows)
    vector = _vector_half(rows, wind_damping)
    if vector is None:
        return None
    direction = _direction_half(rows, wind_damping, heading_damping)
    joints = sorted(_joined(vector, direction), key=lambda joint: joint.score)
    return _told(frame, rows, vector, direction, joints, wind_damping, calibration)


def _vector_half(rows: Rows, damping: DampingFit) -> _Half | None:
    dampings = [damping.ordinary] if damping.is_ordinary else [damping.ordinary, damping.free]
    smoothed = smooth_blocks(rows, dampings)
    if len(smoothed[0].shown) < LEAST_BLOCKS:
        return None
    turned: list[tuple[tuple[str, ...], float]] = [((), 0.0)]
    if not rows.angle_logged and rows.variation_deg is not None:
        less, more = variation_causes(rows)
        turned += [((less,), -rows.variation_deg), ((more,), rows.variation_deg)]

    def ways(good: Bools) -> list[Way]:
        return [
            replace(way, parts=(*way.parts, *parts))
            for blocks in smoothed
            for parts, angle_deg in turned
            for way in vector_ways(blocks.turned(-angle_deg), good, lagging=blocks is not smoothed[0])
            if len(way.parts) + len(parts) <= MOST_CAUSES
        ]

    return _half(smoothed[0].row, ways)


def _direction_half(rows: Rows, wind: DampingFit, heading: DampingFit | None) -> _Half | None:
    if heading is None or rows.direction is None:
        return None
    dampings = [heading.ordinary] if heading.is_ordinary else [heading.ordinary, heading.free]
    over_ground = None
    if rows.ground is not None:
        over_ground = wind.ordinary(filled(rows.apparent)[0] - filled(rows.ground)[0])
    directions = smooth_directions(rows, dampings, over_ground)
    if len(directions.row) < LEAST_BLOCKS:
        return None
    return _half(directions.row, lambda good: list(direction_ways(directions, rows, good)))


def _half(row: Ints, ways: Callable[[Bools], list[Way]]) -> _Half:
    """Leave out the blocks that no way explains, and fit again."""
    first = ways(np.ones(len(row), bool))
    least = np.min([np.abs(way.left) for way in first], axis=0)
    good = least < OUTLYING * np.median(least) + NEGLIGIBLE_KN
    return _Half(row, ways(good), good)


def _joined(vector: _Half, direction: _Half | None) -> list[_Joint]:
    """Every single cause, and pairs: of the vector alone, or one of each half."""
    if direction is None:
        return [_Joint(way.parts, way, None, vector.square(way)) for way in vector.ways]
    joints = []
    squares = [direction.square(way) for way in direction.ways]
    for way in vector.ways:
        square = vector.square(way)
        for other, more in zip(direction.ways, squares, strict=True):
            causes = tuple(dict.fromkeys((*way.parts, *other.parts)))
            if len(causes) <= MOST_CAUSES:
                joints.append(_Joint(causes, way, other, square + more))
    return joints


def _told(
    frame: pd.DataFrame,
    rows: Rows,
    vector: _Half,
    direction: _Half | None,
    joints: Sequence[_Joint],
    damping: DampingFit,
    calibration: Calibration,
) -> LoggedWind:
    unique = list({joint.causes: joint for joint in reversed(joints)}.values())[::-1]
    unique.sort(key=lambda joint: joint.score)
    best, plain = unique[0], next(joint for joint in unique if not joint.causes)
    rivals = [joint for joint in unique[1:] if len(joint.causes) <= 1]
    margins = {joint.causes: _margin(joint, best, vector, direction, rows) for joint in unique[1:]}
    closest = min((margins[joint.causes] for joint in rivals), default=np.inf)
    margins[best.causes] = closest
    reference = calibration.estimates.get("vane_offset_deg")
    told = [
        _hypothesis(frame, rows, joint, plain, vector, direction, margins[joint.causes], reference)
        for joint in unique
    ]
    untold = tuple(_name(joint) for joint in rivals if margins[joint.causes] < CLEAR and not joint.fitted)
    known = bool(np.isfinite(damping.lag_sd_s))
    effect_deg, effect_deg_sd = _effect_deg(best, plain, vector, direction)
    effect_share, effect_share_sd = _effect_share(best, plain, vector)
    usual_kn = max(float(np.median(np.abs(plain.vector.predicted))), 1.0)
    return LoggedWind(
        hypotheses=tuple(told),
        determined=set(untold) <= REFINEMENTS,
        untold=untold,
        lag_s=round(damping.lag_s, 1) if known else None,
        lag_sd_s=round(damping.lag_sd_s, 1) if known else None,
        delay_s=float(damping.free.delay_s),
        effect_deg=effect_deg,
        effect_deg_sd=float(np.hypot(effect_deg_sd, told[0].left_deg / np.sqrt(GROUPS))),
        effect_share=effect_share,
        effect_share_sd=float(np.hypot(effect_share_sd, told[0].left_kn / usual_kn / np.sqrt(GROUPS))),
        variation_deg=rows.variation_deg,
        angle_logged=rows.angle_logged,
        hours=len(vector.row) * BLOCK_S / 3600,
    )


def _name(joint: _Joint) -> str:
    return "+".join(joint.causes) or "water"


def _margin(joint: _Joint, best: _Joint, vector: _Half, direction: _Half | None, rows: Rows) -> float:
    """By how many standard errors a way leaves more than the best: logarithms of what is left, stretch by stretch."""
    count = rows.shown.size
    ratio = np.log(_left_by_group(joint, vector, direction, count)) - np.log(
        _left_by_group(best, vector, direction, count)
    )
    ratio = ratio[np.isfinite(ratio)]
    if len(ratio) < 3:
        return 0.0
    error = np.std(ratio, ddof=1) / np.sqrt(len(ratio))
    return float(np.clip(np.mean(ratio) / max(error, 1e-3), -99, 99))


def _left_by_group(joint: _Joint, vector: _Half, direction: _Half | None, count: int) -> Floats:
    left: Floats = vector.by_group(joint.vector, count) + UNSEEN_KN**2
    if direction is not None and joint.direction is not None:
        left = left + np.nan_to_num(direction.by_group(joint.direction, count))
    return left


def _hypothesis(
    frame: pd.DataFrame,
    rows: Rows,
    joint: _Joint,
    plain: _Joint,
    vector: _Half,
    direction: _Half | None,
    margin: float,
    vane: Estimate | None,
) -> Hypothesis:
    numbers: dict[str, float | str] = {}
    for way in (joint.vector, joint.direction):
        if way is not None:
            numbers |= {name: round(value, 3) for name, value in way.numbers.items()}
            if way.detail:
                numbers["detail"] = way.detail
    since = numbers.pop("since_row", None)
    if isinstance(since, float):
        numbers["since_utc"] = frame.index[int(rows.frame_row.ravel()[int(since)])].isoformat()
    causes = tuple(
        "uncorrected" if cause == "calibrated" and _undoes(numbers, vane) else cause for cause in joint.causes
    )
    return Hypothesis(
        id="+".join(causes) or "water",
        causes=causes,
        words=", ".join(WORDS[cause] for cause in (causes or ("water",))),
        explained=float(np.clip(1 - joint.square / max(plain.square, 1e-9), -1, 1)),
        left_kn=float(np.sqrt(vector.square(joint.vector))),
        left_deg=_left_deg(joint, vector, direction),
        margin=margin,
        numbers=numbers,
    )


def _undoes(numbers: Mapping[str, float | str], vane: Estimate | None) -> bool:
    """Whether the display leaves out a vane offset that the logged readings already have in them."""
    turn = numbers.get("vane_offset_deg")
    if (
        vane is None
        or not vane.determined
        or vane.value is None
        or vane.sd is None
        or not isinstance(turn, float)
    ):
        return False
    return abs(turn - vane.value) > CLEAR * vane.sd and abs(vane.value) < CLEAR * vane.sd


def _left_deg(joint: _Joint, vector: _Half, direction: _Half | None) -> float:
    way, half = (joint.vector, vector)
    if joint.direction is not None and direction is not None:
        way, half = (joint.direction, direction)
    return _rms(*_turn_deg(way.predicted + way.left, way.predicted, half.good))[0]


def _effect_deg(best: _Joint, plain: _Joint, vector: _Half, direction: _Half | None) -> tuple[float, float]:
    """Rms turn that the best way makes against the plain one, of TWA or TWD, and its standard error."""
    effects = [_turn_deg(best.vector.predicted, plain.vector.predicted, vector.good)]
    if direction is not None and best.direction is not None and plain.direction is not None:
        effects.append(_turn_deg(best.direction.predicted, plain.direction.predicted, direction.good))
    return max((_rms(turn, weight) for turn, weight in effects), key=lambda effect: effect[0])


def _effect_share(best: _Joint, plain: _Joint, vector: _Half) -> tuple[float, float]:
    speed, usual = (np.abs(joint.vector.predicted[vector.good]) for joint in (best, plain))
    return _rms(speed / np.maximum(usual, NEGLIGIBLE_KN) - 1, usual**2)


def _turn_deg(a: Complexes, b: Complexes, good: Bools) -> tuple[Floats, Floats]:
    """Angle between two vectors, and the weight of each: the product of lengths, as a calm has no direction."""
    product = (a * b.conj())[good]
    return np.angle(product, deg=True), np.abs(product)


def _rms(values: Floats, weight: Floats) -> tuple[float, float]:
    """Weighted rms, and its standard error from the scatter over stretches of the passage."""
    group = np.arange(len(values)) * GROUPS // len(values)
    total = np.bincount(group, weight * values**2, GROUPS)
    means = np.sqrt(total / np.maximum(np.bincount(group, weight, GROUPS), 1e-9))
    whole = float(np.sqrt(total.sum() / max(float(weight.sum()), 1e-9)))
    return whole, float(np.std(means) / np.sqrt(GROUPS))
