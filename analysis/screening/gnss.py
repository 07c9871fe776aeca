"""Positions that jump from where SOG and COG lead, COG that scatters at low speed, and poor fixes."""

import numpy as np
import pandas as pd

from analysis.passage import Bools, Floats, column, seconds_of, spans
from analysis.screening.results import Doubt, Unfit
from analysis.screening.series import ahead, windowed_sum
from analysis.vectors import wrap_signed_deg

NM_M = 1852.0
LAG_ROWS = 10
JUMP_M = (
    60.0  # 13 m (95 %) is asked of a receiver, MSC.112(73), from memory: more than four times that in 10 s
)
GOOD_HDOP = 1.5
ERROR_OF_WAY = 0.6  # an SOG in a wrong unit or stuck must not make jumps
RETURN_S = 1800.0
RETURN_SHARE = 0.3
SPIKE_KN = 6.0  # no yacht gains so much on her minute's mean
SLOW_KN, LEAST_SLOW_KN = 2.0, 0.4
LEAST_SLOW_ROWS = 300
NOISY_COG_DEG = 10.0
MOST_HDOP = 4.0  # the HDOP up to which the accuracy of a receiver is stated, MSC.74(69)
LEAST_SATELLITES = 4.5  # four solve a position and leave none to check it
NO_FIX, ESTIMATED = 0, 6
LEAST_POOR_ROWS = 60


def find_jumps(frame: pd.DataFrame) -> list[Unfit]:
    """Find where the position jumps away from dead reckoning by SOG and COG, and where SOG has spikes.

    A jump out and back within half an hour is one stretch; of a jump that stays only the jump itself is unfit.
    ``value`` is the length of the jump [m], for a spike the speed shown [kn].
    """
    sog, cog = column(frame, "sog_kn"), column(frame, "cog_deg")
    usual = _usual_speed_kn(sog)
    found = [
        Unfit("sog_kn", frame.index[a], frame.index[b], "jump", float(np.nanmax(sog[a : b + 1])))
        for a, b in spans(sog > usual + SPIKE_KN)
    ]
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    if len(frame) <= LAG_ROWS or not np.isfinite(lat).any():
        return found
    time_s = seconds_of(frame)
    off, way = _off_reckoning_m(lat, lon, np.minimum(sog, usual + SPIKE_KN), cog, time_s)
    leap = off[LAG_ROWS:] - off[:-LAG_ROWS]
    hdop = column(frame, "hdop")
    blurred = np.fmax(np.fmax(hdop[LAG_ROWS:], hdop[:-LAG_ROWS]) / GOOD_HDOP, 1)
    limit = JUMP_M * blurred + ERROR_OF_WAY * (way[LAG_ROWS:] - way[:-LAG_ROWS])
    near = time_s[LAG_ROWS:] - time_s[:-LAG_ROWS] < 3 * LAG_ROWS
    with np.errstate(invalid="ignore"):
        flagged = near & (np.abs(leap) > limit)
    return found + [
        Unfit("lat_deg", frame.index[a], frame.index[b], "jump", metres)
        for a, b, metres in _excursions(_events(flagged), off, time_s)
    ]


def _usual_speed_kn(sog: Floats) -> Floats:
    """The median SOG of each minute and its neighbours, so that no single spike moves it."""
    rows = 60
    whole = -(-len(sog) // rows) * rows
    padded = np.pad(sog, (0, whole - len(sog)), constant_values=np.nan).reshape(-1, rows)
    ordered = np.sort(padded, axis=1)  # NaN last
    known = np.isfinite(padded).sum(axis=1)
    median = ordered[np.arange(len(ordered)), np.maximum(known - 1, 0) // 2]
    padded_median = np.pad(median, 1, mode="edge")
    around = np.fmax(np.fmax(padded_median[:-2], padded_median[2:]), median)
    return np.repeat(around, rows)[: len(sog)]


def _off_reckoning_m(
    lat: Floats, lon: Floats, sog: Floats, cog: Floats, time_s: Floats
) -> tuple[np.ndarray, Floats]:
    """Position less dead reckoning from the start (north + i east) [m], and the way reckoned [m]."""
    known = np.isfinite(lat) & np.isfinite(lon)
    turned = np.full(len(lon), np.nan)
    turned[known] = np.unwrap(lon[known], period=360)
    origin = int(np.argmax(known))
    place = 60 * NM_M * ((lat - lat[origin]) + 1j * np.cos(np.radians(lat)) * (turned - turned[origin]))
    step_s = np.diff(time_s, prepend=time_s[0])
    speed = np.nan_to_num(sog) * NM_M / 3600 * np.minimum(step_s, 3.0 * LAG_ROWS)
    reckoned = np.cumsum(speed * ahead(np.nan_to_num(cog)))
    return place - reckoned, np.cumsum(speed)


def _events(flagged: Bools) -> list[tuple[int, int]]:
    """Rows before and after each jump, from flags at the first row of a step over ``LAG_ROWS``."""
    events: list[tuple[int, int]] = []
    for first, last in spans(flagged):
        if events and first <= events[-1][1] + 1:
            events[-1] = (events[-1][0], last + LAG_ROWS)
        else:
            events.append((first, last + LAG_ROWS))
    return events


def _excursions(
    events: list[tuple[int, int]], off: np.ndarray, time_s: Floats
) -> list[tuple[int, int, float]]:
    """First and last row of each unfit stretch and how far it went [m]: out and back make one."""
    found: list[tuple[int, int, float]] = []
    waiting: tuple[int, int, complex] | None = None
    for first, last in events:
        went = complex(off[last] - off[first])
        far = float(np.nanmax(np.abs(off[first : last + 1] - off[first])))
        if waiting and time_s[last] - time_s[waiting[1]] < RETURN_S:
            back = abs(went + waiting[2]) < RETURN_SHARE * abs(went)
            if back:
                found[-1] = (waiting[0], last, max(found[-1][2], far))
                waiting = None
                continue
        found.append((first, last, far))
        waiting = (first, last, went) if abs(went) > RETURN_SHARE * far else None
    return found


def find_doubts(frame: pd.DataFrame) -> list[Doubt]:
    """Find COG that scatters at low speed, and how long the fix was poor."""
    return [*_cog_noise(frame), *_poor_fix(frame)]


def _cog_noise(frame: pd.DataFrame) -> list[Doubt]:
    """Scatter of COG second by second about its quarter of a minute, the heading's own changes taken off."""
    sog, cog, heading = (column(frame, name) for name in ("sog_kn", "cog_deg", "heading_true_deg"))
    slow = (sog > LEAST_SLOW_KN) & (sog < SLOW_KN) & np.isfinite(cog)
    if slow.sum() < LEAST_SLOW_ROWS:
        return []
    off_bow = cog - heading if np.isfinite(heading[slow]).mean() > 0.5 else cog
    scatter = _scatter_deg(off_bow, slow)
    fast = sog >= SLOW_KN
    usual = _scatter_deg(off_bow, fast) if fast.sum() >= LEAST_SLOW_ROWS else 0.0
    if not scatter > max(NOISY_COG_DEG, 2 * usual):
        return []
    return [Doubt("cog_deg", "noise", scatter, float(slow.sum()), {"above_2_kn_deg": usual})]


def _scatter_deg(angle_deg: Floats, where: Bools) -> float:
    """Robust one-sigma of an angle about its mean over 15 rows, of the rows where ``where`` holds."""
    unit = np.where(where & np.isfinite(angle_deg), ahead(np.nan_to_num(angle_deg)), 0)
    mean = windowed_sum(unit, 7, 7)
    off = wrap_signed_deg(angle_deg - np.degrees(np.angle(mean)))[where & (np.abs(mean) > 0)]
    return float(np.nanmedian(np.abs(off)) / 0.6745) if off.size else 0.0


def _poor_fix(frame: pd.DataFrame) -> list[Doubt]:
    hdop, satellites = column(frame, "hdop"), column(frame, "satellites_used")
    quality, dimension = column(frame, "fix_quality"), column(frame, "fix_dimension")
    poor = (
        (hdop > MOST_HDOP)
        | (satellites < LEAST_SATELLITES)
        | (quality == NO_FIX)
        | (quality == ESTIMATED)
        | (dimension < 2.5)
    )
    if poor.sum() < LEAST_POOR_ROWS:
        return []
    told = np.isfinite(hdop) | np.isfinite(satellites) | np.isfinite(quality) | np.isfinite(dimension)
    evidence = {
        "share": float(poor.sum() / told.sum()),
        "hdop_most": float(np.nanmax(hdop[poor], initial=0.0)),
        "satellites_least": float(np.nanmin(satellites[poor], initial=128.0)),
    }
    return [Doubt("lat_deg", "poor fix", evidence["share"], float(poor.sum()), evidence)]
