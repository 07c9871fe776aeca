"""The minutes of steady sailing of a passage, and why the others are none."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.manoeuvres import Manoeuvres, rest_rows, turning
from analysis.passage import Bools, Floats, Ints, column, seconds_of

NEEDED = ("stw_kn", "tws_water_kn", "twa_water_deg")
MINUTE_S = 60
LEAST_ROWS = 45
NEAR_KN, NEAR_DEG, NEAR_MINUTES = 2.0, 6.0, 3
SETTLING_S = 60  # after a turn, until she has her speed again (judgment: three time constants of a yacht)
STEADY_KN, STEADY_SHARE = 0.4, 0.08  # of the speed, half minute to half minute (judgment)
STEADY_TWA_DEG, STEADY_TWS_SHARE = 12.0, 0.25
POUNDED_SHARE = 0.4  # a wave that stops her: the least speed in the minute against its mean (judgment)
NO_GO_DEG = 25.0  # no yacht sails nearer to the true wind (judgment)
FASTEST_OF_WIND = 1.3  # times TWS plus half a knot: more, no ballasted yacht gets out of the wind (judgment)


@dataclass(frozen=True)
class Minutes:
    """Means of steady minutes: arrays of one length, in order of time.

    ``twa_deg`` is + from starboard, of the bow; ``speed_kn`` is through the water, along the track. ``left_out``
    counts the other minutes by why.
    """

    time_s: Floats
    tws_kn: Floats
    twa_deg: Floats
    speed_kn: Floats
    left_out: Mapping[str, int]

    @property
    def number(self) -> Ints:
        """The number of each minute since 1970."""
        return np.asarray(self.time_s // MINUTE_S, dtype=np.int64)


def sailed(minutes: Minutes, tws_kn: Floats, twa_deg: Floats) -> Bools:
    """Tell for each point whether minutes lie about: near in wind and angle, and some on either side in angle."""
    angle = np.abs(minutes.twa_deg)
    found = np.zeros(len(tws_kn), dtype=bool)
    for tws in np.unique(tws_kn):
        band = np.sort(angle[np.abs(minutes.tws_kn - tws) <= NEAR_KN])
        if len(band) < NEAR_MINUTES:
            continue
        here = tws_kn == tws
        at = np.abs(twa_deg[here])
        count = np.searchsorted(band, at + NEAR_DEG, side="right") - np.searchsorted(band, at - NEAR_DEG)
        between = (at >= band[NEAR_MINUTES - 1]) & (at <= band[-NEAR_MINUTES])
        found[here] = (count >= NEAR_MINUTES) & between
    return found


def find_minutes(frame: pd.DataFrame, manoeuvres: Manoeuvres, running: Bools | None = None) -> Minutes:
    """Take the means of every minute sailed straight, under sail, at an even speed in an even wind.

    ``frame`` is a derived one with a row a second; ``running`` tells of its rows whether an engine turned, None
    where no engine is logged. The true wind is averaged as a vector in the boat's frame, so
    that yaw and noise do not raise it. Speed is STW / cos(leeway) where leeway is known.
    """
    if not set(NEEDED) <= set(frame) or not len(frame):
        none = np.empty(0)
        return Minutes(none, none, none, none, {})
    seconds = seconds_of(frame)
    starts = np.flatnonzero(np.diff(seconds // MINUTE_S, prepend=np.nan))
    speed = column(frame, "stw_kn")
    if "leeway_deg" in frame:
        speed = speed / np.cos(np.radians(np.nan_to_num(column(frame, "leeway_deg"))))
    wind = column(frame, "tws_water_kn") * np.exp(1j * np.radians(column(frame, "twa_water_deg")))
    reasons: dict[str, Bools] = {
        "no wind or no log": ~(np.isfinite(speed) & np.isfinite(wind)),
        "engine running": np.zeros(len(frame), dtype=bool) if running is None else running,
        "at rest": rest_rows(frame, manoeuvres.stops),
        "turning": _unsettled(frame, manoeuvres),
    }
    most = MINUTE_S - LEAST_ROWS
    length = np.diff(starts, append=len(frame))
    why = np.full(len(starts), "", dtype=object)
    usable = np.ones(len(frame), dtype=bool)
    for reason, rows in reasons.items():
        usable &= ~rows
        short = np.add.reduceat(rows, starts, dtype=np.int64) + MINUTE_S - length > most
        why[(why == "") & short] = reason
    count = np.add.reduceat(usable, starts, dtype=np.int64)
    why[(why == "") & (count < LEAST_ROWS)] = "turning"
    minute = np.repeat(np.arange(len(starts)), length)
    half = 2 * minute + (seconds % MINUTE_S >= MINUTE_S / 2)
    means = [_means(one, usable, half, 2 * len(starts)) for one in (speed, wind)]
    speeds, winds = (one.reshape(-1, 2) for one in means)
    mean_speed = _means(speed, usable, minute, len(starts))
    mean_wind = _means(wind, usable, minute, len(starts))
    least = np.minimum.reduceat(np.where(usable, speed, np.inf), starts)
    tws, twa = np.abs(mean_wind), np.degrees(np.angle(mean_wind))
    why[(why == "") & _uneven(speeds, winds, mean_speed, tws, least)] = "speed or wind uneven"
    by_engine = (np.abs(twa) < NO_GO_DEG) | (mean_speed > FASTEST_OF_WIND * tws + 0.5)
    why[(why == "") & by_engine] = "not by the wind"
    kept = why == ""
    left_out = {str(name): int((why == name).sum()) for name in pd.unique(why) if name}
    at = seconds[starts] // MINUTE_S * MINUTE_S + MINUTE_S / 2
    return Minutes(at[kept], tws[kept], twa[kept], mean_speed[kept].real, left_out)


def _uneven(speeds: Floats, winds: np.ndarray, speed: Floats, tws: Floats, least: Floats) -> Bools:
    """Whether a minute's halves differ, or a wave stopped the boat."""
    change = np.abs(speeds[:, 1] - speeds[:, 0])
    turned = np.abs(np.degrees(np.angle(winds[:, 1] * np.conj(winds[:, 0]))))
    gust = np.abs(np.abs(winds[:, 1]) - np.abs(winds[:, 0]))
    even = (
        (change <= np.maximum(STEADY_KN, STEADY_SHARE * speed))
        & (turned <= STEADY_TWA_DEG)
        & (gust <= STEADY_TWS_SHARE * tws)
        & (least >= POUNDED_SHARE * speed)
    )
    return np.asarray(~even)


def _means(value: np.ndarray, usable: Bools, group: np.ndarray, groups: int) -> np.ndarray:
    count = np.bincount(group[usable], minlength=groups)
    total = np.bincount(group[usable], value[usable].real, groups).astype(value.dtype)
    if np.iscomplexobj(value):
        total += 1j * np.bincount(group[usable], value[usable].imag, groups)
    return np.asarray(np.divide(total, count, out=np.full(groups, np.nan, value.dtype), where=count > 0))


def _unsettled(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> Bools:
    """Whether the boat turns, or did so within the last minute."""
    turns = manoeuvres.turning if manoeuvres.turning is not None else turning(frame)
    rows = np.arange(len(frame))
    last = np.maximum.accumulate(np.where(turns, rows, -SETTLING_S - 1))
    return np.asarray(rows - last <= SETTLING_S)
