"""The rudder sensor: what it shows when the boat goes straight, its range, noise, and where it stands still.

On a straight course the mean rudder is the sensor's offset and the helm the boat needs. Weather helm changes its
sign with the tack, an offset does not: the part that is alike on both tacks is the offset, the odd part the helm.
What turns the boat the same way on either tack (a propeller, a bent fin, a rope astern) cannot be told from an
offset and is in it.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.calibration.small_samples import widening
from analysis.estimate import Estimate, Need
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Floats, Passage, column, seconds_of
from analysis.robust import robust_sd
from analysis.screening.series import constant_runs
from analysis.steering.rates import means_of, needed, pieces, straight, under_way
from analysis.steering.response import Response, find_response
from analysis.vectors import wrap_signed_deg

TOLERANCE_DEG = 1.0  # ISO 20673, electric rudder angle indicators: 1 deg amidships, from memory
CHANNELS = ("rudder_deg", "rudder_port_deg")
LEAST_ROWS, PIECE_ROWS, MARGIN_S = 60, 300, 20
MOST_SD_DEG = 0.75
HELM_SD = (
    0.5  # deg of rudder per deg of heel: helm of sound boats is below 5 to 8 deg (common practice, no source)
)
SIDE_SD_DEG = 3.0  # helm from sails far out, heel apart (judgment)
UNKNOWN_HELM_SD_DEG = 2.0  # where neither wind nor heel tells the tack (judgment)
HEEL_ZERO_SD_DEG = 0.7  # zero of a heel sensor that screening lets pass (judgment)
USUAL_GAIN = 0.4  # deg/s per deg: it matters little on a straight course (judgment)
ASIDE = 0.1  # sine of the wind's angle: less is ahead or astern
STILL_S, STILL_TURN_DEG, STILL_TURN_S = 60.0, 60.0, 120.0
_BOTH_TACKS = Need(
    "Sail five minutes close-hauled on each tack with the sails trimmed alike, twice, or motor straight in a calm"
)
_TURNS = Need("Make four tacks or turns, and see that the shown rudder goes the way she turns")


@dataclass(frozen=True)
class Still:
    """A stretch in which the rudder stood at ``value_deg`` to the last digit while the boat made ``turns`` turns."""

    start: pd.Timestamp
    end: pd.Timestamp
    value_deg: float
    turns: int


@dataclass(frozen=True)
class Tack:
    """The rudder on one side of the wind: mean shown [deg] with its one-sigma, heel, and for how long [s]."""

    side: str
    mean_deg: float
    sd_deg: float
    heel_deg: float | None
    duration_s: float


@dataclass(frozen=True)
class Rudder:
    """What the passage tells of the rudder sensor.

    ``offset`` [deg] corrects it: true = shown + offset. ``helm`` [deg of rudder per deg of heel] is weather helm
    where positive. ``tacks`` holds the mean shown on starboard and on port tack. ``range_deg`` are the greatest
    angles shown to port and to starboard, ``noise_deg`` the jitter from reading to reading, ``step_deg`` the last
    digit. ``piece_*`` are the straight stretches behind the offset: rudder shown, and heel there (NaN where not
    logged) and the side of the wind (-1 port, +1 starboard, 0 not known).
    """

    channel: str
    offset: Estimate
    helm: Estimate | None
    tacks: tuple[Tack, ...]
    response: Response
    range_deg: tuple[float, float] | None
    noise_deg: float | None
    step_deg: float | None
    still: tuple[Still, ...]
    piece_rudder_deg: Floats
    piece_heel_deg: Floats
    piece_side: Floats

    @property
    def reversed(self) -> bool:
        """Whether starboard rudder is shown as port."""
        return self.response.sign < 0

    @property
    def judged(self) -> Estimate:
        """The offset, not determined where the turns do not tell that the sensor shows the right side."""
        if self.response.sign > 0 or not self.offset.determined:
            return self.offset
        return replace(self.offset, determined=False, need=_TURNS)


def watch_rudder(passage: Passage, frame: pd.DataFrame, manoeuvres: Manoeuvres) -> Rudder | None:
    """Judge the rudder sensor by a screened frame at 1 s; None where the log has none."""
    channel = next(
        (name for name in CHANNELS if name in frame and np.isfinite(column(frame, name)).any()), None
    )
    if channel is None:
        return None
    rudder, time_s = column(frame, channel), seconds_of(frame)
    still = _still(frame, manoeuvres, rudder, time_s)
    for one in still:
        rudder = np.where((frame.index >= one.start) & (frame.index <= one.end), np.nan, rudder)
    cuts = pieces(straight(frame, manoeuvres, MARGIN_S) & np.isfinite(rudder), LEAST_ROWS, PIECE_ROWS)
    means = means_of(rudder, cuts) - _mean_rate(column(frame, "heading_true_deg"), cuts) / USUAL_GAIN
    every = {"heel": column(frame, "heel_deg"), "side": np.sin(np.radians(column(frame, "awa_deg")))}
    heel, side = (means_of(values, cuts) for values in every.values())
    leg = _legs(frame, manoeuvres, cuts)
    rows = np.array([cut[2] - cut[1] for cut in cuts], dtype=float)
    offset, helm, held = _offset(means, heel, side, leg, rows, needed(frame, _BOTH_TACKS))
    carried = sum((share * every[name] for name, share in held.items()), np.zeros(len(rudder)))
    response = find_response(frame, manoeuvres, rudder - carried, time_s)
    moving = under_way(frame) & np.isfinite(rudder)
    return Rudder(
        channel,
        offset,
        helm,
        _tacks(means, heel, side, leg, rows),
        response,
        (float(rudder[moving].min()), float(rudder[moving].max())) if moving.any() else None,
        *_grain(passage, channel),
        still,
        means,
        heel,
        np.nan_to_num(np.sign(np.where(np.abs(side) < ASIDE, np.nan, side))),
    )


def _legs(frame: pd.DataFrame, manoeuvres: Manoeuvres, cuts: list[tuple[int, int, int]]) -> np.ndarray:
    """Number of turns before every piece: pieces of one leg share its trim."""
    turned = frame.index.searchsorted(pd.DatetimeIndex([one.start for one in manoeuvres.turns], tz="UTC"))
    return np.searchsorted(turned, np.array([cut[1] for cut in cuts], dtype=int))


def _mean_rate(heading: Floats, cuts: list[tuple[int, int, int]]) -> Floats:
    """Mean rate of turn of every piece [deg/s]; 0 where the heading is not known."""
    ends = np.array([(first, end - 1) for _, first, end in cuts], dtype=int).reshape(-1, 2)
    turned = wrap_signed_deg(heading[ends[:, 1]] - heading[ends[:, 0]])
    return np.asarray(np.nan_to_num(turned / np.maximum(ends[:, 1] - ends[:, 0], 1)))


def _offset(
    means: Floats, heel: Floats, side: Floats, leg: np.ndarray, rows: Floats, need: Need
) -> tuple[Estimate, Estimate | None, dict[str, float]]:
    """Part the mean rudder into what is alike on both tacks and what turns with the tack.

    The last is the rudder carried for each degree of heel, and for the sine of the wind's angle.

    Weighted least squares over the pieces with wide priors on the helm; one-sigmas by cluster (leg), widened for
    few legs by Student's t. A heel sensor's zero and what the priors leave are in them.
    """
    use_heel, use_side = np.isfinite(heel).any(), np.isfinite(side).any()
    columns = [np.ones(len(means))]
    columns += [heel] if use_heel else []
    columns += [side] if use_side else []
    x = np.stack(columns, axis=1)
    good = np.isfinite(x).all(axis=1) & np.isfinite(means)
    x, y, leg, weight = x[good], means[good], leg[good], rows[good] / PIECE_ROWS
    legs = len(np.unique(leg))
    if legs < 2 or len(y) < 3:
        return Estimate(None, None, "deg", False, need), None, {}
    prior_sd = [np.inf, *([HELM_SD] if use_heel else []), *([SIDE_SD_DEG] if use_side else [])]
    scatter = max(_scatter(x, y, weight), 0.05)
    keep = scatter**2 / np.square(prior_sd)
    for _ in range(10):
        inverse = np.linalg.inv(x.T @ (weight[:, None] * x) + np.diag(keep))
        fitted = inverse @ (x.T @ (weight * y))
        left = y - x @ fitted
        robust = np.minimum(1.0, 2.5 * scatter / np.maximum(np.abs(left), 1e-9))
        weight = robust * rows[good] / PIECE_ROWS
    freedom = max(legs - np.trace(inverse @ (x.T @ (weight[:, None] * x))), 1.0)
    score = np.zeros((leg.max() + 1, x.shape[1]))
    np.add.at(score, leg, (weight * left)[:, None] * x)
    meat = score.T @ score * legs / freedom
    spread = inverse @ (meat + np.diag(keep) * scatter**2) @ inverse
    sd = float(np.sqrt(spread[0, 0])) * widening(freedom)
    if use_heel:
        sd = float(np.hypot(sd, HEEL_ZERO_SD_DEG * abs(float(fitted[1]))))
    if not (use_heel or use_side):
        sd = float(np.hypot(sd, UNKNOWN_HELM_SD_DEG))
    told = sd <= MOST_SD_DEG and _weighed(x[:, -1] if use_side else np.zeros(len(y)), leg)
    offset = Estimate(-float(fitted[0]), sd, "deg", told, None if told else need)
    names = [name for name, used in (("heel", use_heel), ("side", use_side)) if used]
    held = dict(zip(names, fitted[1:].tolist(), strict=True))
    if not use_heel:
        return offset, None, held
    helm_sd = float(np.sqrt(spread[1, 1])) * widening(freedom)
    sides = x[:, 1].max() - x[:, 1].min() > 10
    return offset, Estimate(float(fitted[1]), helm_sd, "deg/deg", bool(sides and helm_sd < 0.15)), held


def _weighed(side: Floats, leg: np.ndarray) -> bool:
    """Whether there are two legs on each tack, or two with the wind ahead or none: one leg's trim tells little."""
    legs = [len(np.unique(leg[on])) for on in (side > ASIDE, side < -ASIDE, np.abs(side) <= ASIDE)]
    return min(legs[:2]) >= 2 or legs[2] >= 2


def _scatter(x: Floats, y: Floats, weight: Floats) -> float:
    root = np.sqrt(weight)
    left = y - x @ np.linalg.lstsq(root[:, None] * x, root * y, rcond=None)[0]
    return robust_sd(left) * float(np.sqrt(len(y) / max(len(y) - x.shape[1], 1)))


def _tacks(means: Floats, heel: Floats, side: Floats, leg: np.ndarray, rows: Floats) -> tuple[Tack, ...]:
    found = []
    for name, to_side in (("starboard", side > ASIDE), ("port", side < -ASIDE)):
        on = to_side & np.isfinite(means)
        if not on.any():
            continue
        mean = float(np.average(means[on], weights=rows[on]))
        legs = len(np.unique(leg[on]))
        sd = float(means[on].std()) / (legs - 1) ** 0.5 if legs > 1 else float("nan")
        known = on & np.isfinite(heel)
        lean = float(heel[known].mean()) if known.any() else None
        found.append(Tack(name, mean, sd, lean, float(rows[on].sum())))
    return tuple(found)


def _grain(passage: Passage, channel: str) -> tuple[float | None, float | None]:
    """Jitter from reading to reading, one-sigma, and the step of the last digit [deg]."""
    chosen = next((one.key for one in passage.sources if one.chosen and one.key.channel == channel), None)
    if chosen is None or len(passage.series[chosen].value) < 100:
        return None, None
    value = passage.series[chosen].value
    change = np.abs(np.diff(value))
    moved = change[change > 1e-6]
    return robust_sd(np.diff(value, n=2)) / 6**0.5, float(np.quantile(moved, 0.02)) if moved.size else None


def _still(frame: pd.DataFrame, manoeuvres: Manoeuvres, rudder: Floats, time_s: Floats) -> tuple[Still, ...]:
    """Stretches on one value through a quick turn of 60 deg under way: no rudder does that."""
    quick = [
        one
        for one in manoeuvres.turns
        if abs(one.change_deg) >= STILL_TURN_DEG and (one.end - one.start).total_seconds() <= STILL_TURN_S
    ]
    if not quick:
        return ()
    moving = under_way(frame)
    found = []
    for run in constant_runs(rudder, time_s, STILL_S, STILL_S):
        first, last = frame.index[run.first], frame.index[run.last]
        inside = sum(first <= one.start and one.end <= last for one in quick)
        if inside and moving[run.rows].mean() > 0.5:
            found.append(Still(first, last, run.value, inside))
    return tuple(sorted(found, key=lambda one: one.start))
