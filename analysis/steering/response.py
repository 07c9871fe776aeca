"""How the boat answers the rudder: degrees a second for a degree of rudder, and how late, turn by turn."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.calibration.small_samples import widening
from analysis.estimate import SIGMAS_95, Estimate, Need
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Floats, column
from analysis.robust import robust_sd
from analysis.steering.rates import mean_about, needed, rate_of_turn

LEAST_TURNS, MOST_TURNS = 4, 40
LEAST_CHANGE_DEG, LONGEST_S, MARGIN_S = 30.0, 120, 20
DELAYS_S = np.arange(-6.0, 15.5, 0.5)
LEAST_FIT = 0.5  # share of the rate of turn that the rudder must explain
LEAST_SWING_DEG = 1.5  # one-sigma of the rudder within a turn, well above its noise
MOST_GAIN_SD_SHARE, MOST_DELAY_SD_S = 0.3, 1.0
MOVING_DEG_S = 0.5  # a rudder slower than that may stand still (judgment)
PLAY_REACH = 6  # delays to either side of the best: play of a few degrees shortens it by a second or two
# What a boat that answers no pure delay leaves of it, found on boats of other physics (tests/studies).
PLAY_SD_DEG, PLAY_SD_SHARE, MOST_PLAY_SD_DEG = 0.7, 0.25, 1.5
LEAST_SCATTER_S, LEAST_SCATTER_SHARE = 0.1, 0.02
_NEED = Need(
    "Make four tacks or quick turns of 60° or more, two to either side, a minute of steady sailing between them"
)


@dataclass(frozen=True)
class Response:
    """What a degree of rudder does, by the turns of the passage.

    ``gain`` [deg/s per deg, + where starboard rudder turns her to starboard] holds at ``stw_kn``; ``delay`` [s]
    is how much later the heading turns than the rudder, the compass's own lag in it. ``play`` [deg] is how far the
    rudder goes on a reversal before the shown angle follows. ``to_port`` and
    ``to_starboard`` are the gain of turns that way. ``turn_gains`` and ``turn_delays_s`` are those of each turn
    at ``turn_times_s``.
    """

    gain: Estimate
    delay: Estimate
    play: Estimate
    to_port: Estimate
    to_starboard: Estimate
    stw_kn: float | None
    turn_times_s: Floats
    turn_gains: Floats
    turn_delays_s: Floats
    turn_changes_deg: Floats

    @property
    def sign(self) -> int:
        """+1 or −1 where the turns tell which way the rudder turns her, 0 where they do not.

        A sign counts only where the turn follows the rudder: what moves after the turn did not cause it.
        """
        told = self.gain.determined and self.delay.determined
        if not told or (self.delay.value or 0.0) <= SIGMAS_95 * (self.delay.sd or 0.0):
            return 0
        return 1 if (self.gain.value or 0.0) > 0 else -1


def find_response(
    frame: pd.DataFrame, manoeuvres: Manoeuvres, rudder_deg: Floats, time_s: Floats
) -> Response:
    """Fit the rate of turn of every quick turn with the rudder before it."""
    rate, helm, need = rate_of_turn(frame), mean_about(rudder_deg), needed(frame, _NEED)
    stw = column(frame, "stw_kn")
    fits = []
    turns = [one for one in manoeuvres.turns if abs(one.change_deg) >= LEAST_CHANGE_DEG and not one.turns]
    starts, ends = (
        frame.index.searchsorted(pd.DatetimeIndex(times, tz="UTC")).tolist()
        for times in ([one.start for one in turns], [one.end for one in turns])
    )
    for turn, start, end in zip(turns, starts, ends, strict=True):
        if end - start > LONGEST_S:
            continue
        rows = slice(max(start - MARGIN_S, 15), min(end + MARGIN_S, len(rate) - 7))
        fit = _fit(rate, helm, rows)
        if fit is not None:
            known = stw[rows][np.isfinite(stw[rows])]
            speed = float(np.median(known)) if known.size else np.nan
            fits.append((time_s[start], *fit, turn.change_deg, speed))
    fits = fits[:: max(1, -(-len(fits) // MOST_TURNS))]
    at, gains, delays, plays, changes, speeds = np.array(fits, dtype=float).reshape(-1, 6).T
    known = speeds[np.isfinite(speeds)]
    return Response(
        _gain(gains, need),
        _delay(delays, need),
        _play(plays, need),
        _gain(gains[changes < 0], need),
        _gain(gains[changes > 0], need),
        float(np.median(known)) if known.size else None,
        at,
        gains,
        delays,
        changes,
    )


def _fit(rate: Floats, helm: Floats, rows: slice) -> tuple[float, float, float] | None:
    """Gain, delay and play of one turn; None where the rudder does not explain it."""
    y = rate[rows]
    row = np.arange(rows.start, rows.stop)
    wide = helm[rows.start - 15 : rows.stop + 7]
    if len(y) < 20 or not (np.isfinite(y).all() and np.isfinite(wide).all()) or wide.std() < LEAST_SWING_DEG:
        return None
    late = np.interp(
        (row[None, :] - DELAYS_S[:, None]).ravel(), np.arange(rows.start - 15, rows.stop + 7), wide
    ).reshape(len(DELAYS_S), -1)
    x, y = late - late.mean(axis=1, keepdims=True), y - y.mean()
    power, common, whole = (x * x).sum(axis=1), x @ y, float(y @ y)
    explained = common**2 / np.maximum(power, 1e-9)
    k = int(np.argmax(explained))
    if explained[k] < LEAST_FIT * whole or not 0 < k < len(DELAYS_S) - 1:
        return None
    left, middle, right = explained[k - 1 : k + 2].tolist()
    shift = 0.5 * (left - right) / min(left - 2 * middle + right, -1e-12)
    gain, delay = float(common[k] / power[k]), float(DELAYS_S[k] + shift * (DELAYS_S[1] - DELAYS_S[0]))
    return gain, delay, _play_of(y, late[max(k - PLAY_REACH, 0) : k + PLAY_REACH + 1])


def _play_of(y: Floats, late: Floats) -> float:
    """Twice what the rudder is ahead of the shown angle by the way it moves, at the delay that then fits best."""
    way = np.tanh(np.gradient(late, axis=1) / MOVING_DEG_S)
    x = np.stack([late, way], axis=2)
    x = x - x.mean(axis=1, keepdims=True)
    power, common = np.einsum("kni,knj->kij", x, x), np.einsum("kni,n->ki", x, y)
    power = power + 1e-6 * np.eye(2)
    fitted = np.linalg.solve(power, common[:, :, None])[:, :, 0]
    shown, ahead = fitted[int(np.argmax((fitted * common).sum(axis=1)))]
    return float(2 * ahead / shown)


def _gain(gains: Floats, need: Need) -> Estimate:
    value, sd = _mean(gains, LEAST_SCATTER_SHARE * float(np.median(np.abs(gains)) if gains.size else 0.0))
    told = value is not None and sd is not None and sd <= MOST_GAIN_SD_SHARE * abs(value)
    return Estimate(value, sd, "deg/s/deg", told, None if told else need)


def _delay(delays: Floats, need: Need) -> Estimate:
    value, sd = _mean(delays, LEAST_SCATTER_S)
    told = value is not None and sd is not None and sd <= MOST_DELAY_SD_S
    return Estimate(value, sd, "s", told, None if told else need)


def _play(plays: Floats, need: Need) -> Estimate:
    value, sd = _mean(plays, LEAST_SCATTER_S)
    if value is not None and sd is not None:
        sd = float(np.linalg.norm((sd, PLAY_SD_DEG, PLAY_SD_SHARE * value)))
    told = sd is not None and sd <= MOST_PLAY_SD_DEG
    return Estimate(value, sd, "deg", told, None if told else need)


def _mean(values: Floats, least: float) -> tuple[float | None, float | None]:
    """Mean without what lies far out, and its one-sigma; none from fewer than four turns."""
    if len(values) < LEAST_TURNS:
        return None, None
    middle = float(np.median(values))
    scatter = max(robust_sd(values - middle), least)
    kept = values[np.abs(values - middle) < 3 * scatter]
    spread = max(float(kept.std(ddof=1)) if len(kept) > 1 else 0.0, least)
    return float(kept.mean()), spread / len(kept) ** 0.5 * widening(max(len(kept) - 1, 1))
