"""Channels that stand still while the rest of the boat proves that they should not.

The times and ranges are judgment: far above what damping, coarse steps (1 deg, 0.1 kn), slow rates, a calm or a
boat at rest leave unchanged, far below what a passage brings. Ranges are of means over half a minute, so
that noise does not make them.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.passage import Bools, Floats, column, seconds_of
from analysis.screening.results import Unfit
from analysis.screening.series import SAME, Run, constant_runs, ranges_over, swings_over_deg
from analysis.vectors import wrap_signed_deg

MOVING_KN = 2.0  # below it COG is noise: Smith et al. (1999) ask 2 m/s of a boat whose COG is to be used
CALM_KN = 4.0
UNLIKE_OTHERS = 4.0  # a stuck stretch is this much longer than the longest ordinary one, or half an hour long
SURELY_LONG_S = 1800.0
BAROMETER_S = 5.5 * 3600
SILENT_KN = 0.05
SILENT_SOG = ((4.0, 20), (3.0, 60))  # [kn], rows: more than any current that carries a drifting boat
SILENT_ALONG_KN, SILENT_ALONG_S, SILENT_TURN_DEG = 1.5, 600.0, 60.0
LONE_S, LONE, FEW_STUCK = 600.0, 8.0, 3  # alone of its length but for a few: stuck where the boat is lively
LIVELY, LIVELY_ROWS = 0.6, 10
BREAK_S = 60.0
MINUTE_ROWS, FAR_NM, ELSEWHERE_DEG = 60, 0.03, 20.0


@dataclass(frozen=True)
class _Boat:
    """The columns a judgment looks at; ``moving`` by SOG, by the log where there is no SOG."""

    time_s: Floats
    sog: Floats
    cog: Floats
    stw: Floats
    heading: Floats
    awa: Floats
    aws: Floats
    rate: Floats
    lat: Floats
    lon: Floats
    moving: Bools


_Judge = Callable[[_Boat, Run], Run | None]


def find_stuck(frame: pd.DataFrame) -> list[Unfit]:
    """Find the stretches in which a channel stands still although the boat moves, turns or feels the wind."""
    boat = _boat(frame)
    found: list[Unfit] = []
    for channel, (least_s, judge) in _JUDGES.items():
        if channel not in frame:
            continue
        break_s = max(BREAK_S, least_s / 10)
        runs = constant_runs(column(frame, channel), boat.time_s, least_s, break_s)
        judged = [(run, judge(boat, run)) for run in runs]
        ordinary_s = [run.length_s for run, stuck in judged if not stuck and _under_way(boat, run)]
        unlike_s = min(UNLIKE_OTHERS * max(ordinary_s, default=0), SURELY_LONG_S)
        usual_s = sorted((*[least_s] * (FEW_STUCK + 1), *ordinary_s))[-1 - FEW_STUCK]
        for run, stuck in judged:
            if stuck is None:
                alone = run.length_s > max(LONE_S, LONE * usual_s)
                if alone and _under_way(boat, run) and _lively(frame, channel, run, boat.moving):
                    found.append(_taken(frame, channel, run))
            elif stuck.length_s >= unlike_s or (channel in _SPEEDS and stuck.value < SILENT_KN):
                found.append(_taken(frame, channel, stuck))
    return sorted(found, key=lambda one: one.start)


def _taken(frame: pd.DataFrame, channel: str, run: Run) -> Unfit:
    return Unfit(channel, frame.index[run.first], frame.index[run.last], "stuck", run.value)


def _under_way(boat: _Boat, run: Run) -> bool:
    return bool(boat.moving[run.rows].mean() > 0.5)


def _lively(frame: pd.DataFrame, channel: str, run: Run, moving: Bools) -> bool:
    """Whether all that usually moves with a channel moves as much as elsewhere under way, so it is no flat calm."""
    inside = np.zeros(len(moving), dtype=bool)
    inside[run.rows] = True
    shares = []
    for name in _WITNESSES.get(channel, ()):
        if name in frame:
            x = column(frame, name)
            step = np.abs(wrap_signed_deg(x[LIVELY_ROWS:] - x[:-LIVELY_ROWS]))
            known = np.isfinite(step) & moving[LIVELY_ROWS:]
            within, without = known & inside[LIVELY_ROWS:], known & ~inside[LIVELY_ROWS:]
            if within.any() and without.any():
                shares.append(step[within].mean() / max(step[without].mean(), SAME))
    return bool(shares) and min(shares) > LIVELY


def _boat(frame: pd.DataFrame) -> _Boat:
    sog, stw = column(frame, "sog_kn"), column(frame, "stw_kn")
    names = ("cog_deg", "heading_true_deg", "awa_deg", "aws_kn", "rate_of_turn_deg_min", "lat_deg", "lon_deg")
    cog, heading, awa, aws, rate, lat, lon = (column(frame, name) for name in names)
    moving = np.where(np.isnan(sog), stw, sog) > MOVING_KN
    return _Boat(seconds_of(frame), sog, cog, stw, heading, awa, aws, rate, lat, lon, moving)


def _log(boat: _Boat, run: Run) -> Run | None:
    if abs(run.value) < SILENT_KN:
        return _log_at_zero(boat, run)
    rows = run.rows
    turned = run.length_s >= 120 and swings_over_deg(boat.heading[rows]) > 40
    if run.length_s < 240 and not turned:
        return None
    if ranges_over(boat.sog[rows], 60) > max(0.8, 0.12 * run.value):
        return run
    stirred = ranges_over(boat.aws[rows], 60) > 2 or swings_over_deg(boat.heading[rows]) > 40
    return run if run.length_s >= 600 and (stirred or ranges_over(boat.sog[rows], 60) > 0.4) else None


def _log_at_zero(boat: _Boat, run: Run) -> Run | None:
    """A log at zero lies where the boat makes more way than a current gives, or way wherever it points."""
    rows = run.rows
    sog = boat.sog[rows]
    for least_kn, least_rows in SILENT_SOG:
        if (sog > least_kn).sum() >= least_rows:
            return _where(run, sog > min(least_kn, SILENT_ALONG_KN), boat)
    along = sog * np.cos(np.radians(boat.cog[rows] - boat.heading[rows]))
    under_way = along > SILENT_ALONG_KN
    turned = swings_over_deg(np.where(under_way, boat.heading[rows], np.nan)) > SILENT_TURN_DEG
    if under_way.sum() >= SILENT_ALONG_S and under_way.mean() > 0.8 and turned:
        return _where(run, under_way, boat)
    return None


def _where(run: Run, mask: Bools, boat: _Boat) -> Run:
    """The part of a run from the first to the last row of ``mask``."""
    row = np.flatnonzero(mask) + run.first
    first, last = int(row[0]), int(row[-1])
    return replace(run, first=first, last=last, length_s=float(boat.time_s[last] - boat.time_s[first]))


def _vane(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    windy = np.nanmedian(boat.aws[rows]) > CALM_KN if np.isfinite(boat.aws[rows]).any() else False
    turned = swings_over_deg(boat.heading[rows])
    if not windy and not boat.moving[rows].mean() > 0.5:
        return None
    if turned > 30:
        return run
    return (
        run
        if run.length_s >= 300 and windy and (ranges_over(boat.aws[rows], 10) > 0.5 or turned > 5)
        else None
    )


def _wind_speed(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    if run.length_s < 300:
        return run if run.value > CALM_KN and swings_over_deg(boat.heading[rows]) > 60 else None
    if run.value < CALM_KN:  # a calm at rest shows 0.0 all night; under way there is always wind
        under_way = boat.moving[rows]
        return _where(run, under_way, boat) if under_way.sum() >= 300 and run.value < 1 else None
    stirred = swings_over_deg(boat.awa[rows]) > 5 or swings_over_deg(boat.heading[rows]) > 10
    return run if stirred or ranges_over(boat.sog[rows]) > 0.5 else None


def _compass(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    moving = boat.moving[rows]
    if moving.sum() < 60:
        return None
    course = swings_over_deg(np.where(moving, boat.cog[rows], np.nan))
    turning = np.nanmax(np.abs(boat.rate[rows]), initial=0.0) > 60
    if course > 30 or (turning and swings_over_deg(boat.awa[rows]) > 30):
        return run
    wind = swings_over_deg(np.where(moving, boat.awa[rows], np.nan))
    if run.length_s >= 600 and (course > 15 or (np.isnan(course) and wind > 60)):
        return run
    return run if run.length_s >= 1800 and course > 6 else None


def _course(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    moving = boat.moving[rows]
    if moving.sum() < 60:
        return None
    if swings_over_deg(np.where(moving, boat.heading[rows], np.nan)) > 30 or _elsewhere(boat, run):
        return run
    turned, speed = swings_over_deg(boat.heading[rows]), ranges_over(boat.sog[rows])
    return run if moving.sum() >= 300 and (turned > 10 or speed > 0.4) else None


def _elsewhere(boat: _Boat, run: Run) -> bool:
    """Whether the positions mostly go another way than the shown course, minute by minute."""
    lat, lon = boat.lat[run.rows], boat.lon[run.rows]
    if len(lat) <= MINUTE_ROWS:
        return False
    north = lat[MINUTE_ROWS:] - lat[:-MINUTE_ROWS]
    east = np.cos(np.radians(lat[MINUTE_ROWS:])) * (wrap_signed_deg(lon[MINUTE_ROWS:] - lon[:-MINUTE_ROWS]))
    far = 60 * np.hypot(north, east) > FAR_NM
    off = np.abs(wrap_signed_deg(np.degrees(np.arctan2(east, north)) - run.value)) > ELSEWHERE_DEG
    return bool(far.sum() >= MINUTE_ROWS and np.mean(off[far]) > 0.5)


def _ground_speed(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    if run.value < 1:
        return None
    if swings_over_deg(boat.heading[rows]) > 30 or ranges_over(boat.stw[rows], 60) > 1:
        return run
    return (
        run if run.length_s >= 600 and np.nanmax(np.abs(np.diff(boat.cog[rows])), initial=0.0) == 0 else None
    )


def _place(boat: _Boat, run: Run) -> Run | None:
    """A latitude that stays to the last digit, while the boat makes way north or south or by the log."""
    rows = run.rows
    north = np.where(boat.moving[rows], boat.sog[rows] * np.abs(np.cos(np.radians(boat.cog[rows]))), 0)
    stays = np.nanmax(np.abs(boat.lon[rows] - boat.lon[run.first]), initial=0.0) < SAME
    return (
        run if np.nansum(north) / 3600 > 0.1 or (stays and np.nansum(boat.stw[rows]) / 3600 > 0.1) else None
    )


def _heel(boat: _Boat, run: Run) -> Run | None:
    rows = run.rows
    if boat.moving[rows].sum() < 300:
        return None
    blows = boat.aws[rows] > 8
    sides = [(blows & (side * boat.awa[rows] > 20)).sum() >= 60 for side in (-1, 1)]
    if all(sides):
        return run
    stirred = ranges_over(boat.aws[rows]) > 3 or swings_over_deg(boat.heading[rows]) > 20
    return run if run.length_s >= 900 and stirred and blows.mean() > 0.5 else None


def _barometer(_: _Boat, run: Run) -> Run | None:
    """A tenth of a hPa is passed in less than six hours nearly always."""
    return run if run.length_s >= BAROMETER_S else None


def _depth(boat: _Boat, run: Run) -> Run | None:
    miles = np.nansum(boat.sog[run.rows]) / 3600
    return run if run.value > 0 and miles > 3 else None


_SPEEDS = ("stw_kn", "aws_kn")
_WITNESSES = {
    "stw_kn": ("sog_kn", "aws_kn"),
    "heading_true_deg": ("cog_deg", "awa_deg"),
    "sog_kn": ("stw_kn", "heading_true_deg"),
    "cog_deg": ("heading_true_deg", "sog_kn"),
}
_JUDGES: dict[str, tuple[float, _Judge]] = {
    "stw_kn": (20.0, _log),
    "awa_deg": (120.0, _vane),
    "aws_kn": (120.0, _wind_speed),
    "heading_true_deg": (60.0, _compass),
    "cog_deg": (60.0, _course),
    "sog_kn": (120.0, _ground_speed),
    "lat_deg": (60.0, _place),
    "heel_deg": (300.0, _heel),
    "air_pressure_hpa": (10_000.0, _barometer),
    "depth_m": (1800.0, _depth),
}
