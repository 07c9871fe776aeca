"""What was to be expected of a target, and when that would have raised an alarm.

After a report a target is carried on at its course and speed for up to six minutes, which is what a watch on board
could know.
"""

from dataclasses import dataclass, fields

import numpy as np

from analysis.earth import M_PER_NM
from analysis.passage import Bools, Floats, Ints

from .accuracy import COURSE_SD, SPEED_SD_KN, place_sd_m
from .approach import closest_approach
from .own import OwnShip
from .tracks import Tracks

CARRIED_S = 360.0  # two of the longest nominal intervals (ITU-R M.1371-5: 3 min at anchor)
_STEP_S = 30.0
_BREAK_S = _STEP_S + 1.0
_EPISODE_S = 300.0


@dataclass(frozen=True)
class Alarms:
    """When a close approach counts: predicted within ``cpa_nm``, and no further ahead than ``tcpa_min``."""

    cpa_nm: float = 1.0
    tcpa_min: float = 20.0


@dataclass(frozen=True)
class Forecast:
    """What was to be expected of a visit at each of its reports and in between, up to six minutes after one.

    Visit after visit, each in the order of time. ``age_s`` is that of the report the target was carried on from;
    ``cpa_sd_nm`` holds while both keep on. The CPA is NaN where a motion is not known.
    """

    visit: Ints
    time_s: Floats
    age_s: Floats
    range_nm: Floats
    cpa_nm: Floats
    cpa_sd_nm: Floats
    tcpa_min: Floats

    def where(self, rows: Bools) -> "Forecast":
        """Some of the moments."""
        return Forecast(*(getattr(self, one.name)[rows] for one in fields(self)))


def forecast(tracks: Tracks, own: OwnShip) -> Forecast:
    """Work out the CPA expected at each report of a visit and every half minute for six minutes after one."""
    after = np.diff(tracks.time_s, append=np.inf)
    after[tracks.last] = np.inf
    steps = np.maximum(np.ceil(np.clip(after, 0.0, CARRIED_S) / _STEP_S).astype(int), 1)
    which = np.repeat(np.arange(len(tracks.time_s)), steps)
    age = _STEP_S * (np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps))
    time = tracks.time_s[which] + age
    velocity = tracks.velocity_kn[which]
    moved = np.where(age > 0, velocity * age / 3600.0, 0.0)
    place = own.offset_nm(time, tracks.lat_deg[which], tracks.lon_deg[which]) + moved
    own_kn, _ = own.moving_at(time)
    relative = velocity - own_kn
    found = closest_approach(place.imag, place.real, relative.imag, relative.real)
    across = np.hypot(SPEED_SD_KN, COURSE_SD * np.abs(velocity))
    own_across = np.hypot(SPEED_SD_KN, COURSE_SD * np.abs(own_kn)) / 2
    ahead_h = np.abs(np.nan_to_num(found.tcpa_h)) + age / 3600.0
    sd = np.sqrt(
        (place_sd_m(tracks.accurate[which]) / M_PER_NM) ** 2 + ahead_h**2 * (across**2 + own_across**2)
    )
    tcpa_min = 60 * np.nan_to_num(found.tcpa_h, nan=np.inf)
    every = Forecast(tracks.visit[which], time, age, np.abs(place), found.cpa_nm, sd, tcpa_min)
    return every.where(np.isfinite(place))


def alarmed(seen: Forecast, time_s: Floats, range_nm: Floats, alarms: Alarms) -> dict[str, Ints | Floats]:
    """When alarms of the user's choice would have gone off, and since when a close passing was to be foreseen.

    ``time_s`` and ``range_nm`` are those of the closest point of every visit, NaN where not known; returns
    ``alarms, alarm_s, foreseen_s, foreseen_nm`` of every visit. Over half a minute without a forecast is a break.
    """
    count = len(time_s)
    within = (seen.cpa_nm <= alarms.cpa_nm) & (seen.tcpa_min >= 0) & np.isfinite(seen.tcpa_min)
    inside = seen.range_nm <= alarms.cpa_nm
    gone_off = np.flatnonzero(within & (seen.tcpa_min <= alarms.tcpa_min) | inside)
    of, at = seen.visit[gone_off], seen.time_s[gone_off]
    new = (np.diff(of, prepend=-1) != 0) | (np.diff(at, prepend=-np.inf) > _EPISODE_S)
    alarm_s, foreseen_s, foreseen_nm = (np.full(count, np.nan) for _ in range(3))
    visit, first = np.unique(of, return_index=True)
    alarm_s[visit] = at[first]

    start = np.searchsorted(seen.visit, np.arange(count))
    before = seen.time_s <= time_s[seen.visit]
    end = start + np.bincount(seen.visit[before], minlength=count)
    broken = np.flatnonzero(before & ~(within | inside))
    resumed = np.flatnonzero(before & (np.diff(seen.time_s, prepend=-np.inf) > _BREAK_S))
    since = start.copy()
    np.maximum.at(since, seen.visit[broken], broken + 1)
    np.maximum.at(since, seen.visit[resumed], resumed)
    told = np.flatnonzero((range_nm <= alarms.cpa_nm) & (since < end))
    told = told[time_s[told] - seen.time_s[end[told] - 1] <= _BREAK_S]
    foreseen_s[told], foreseen_nm[told] = seen.time_s[since[told]], seen.range_nm[since[told]]
    known = np.isfinite(range_nm)
    return {
        "alarms": np.where(known, np.bincount(of, new, minlength=count), 0).astype(np.int64),
        "alarm_s": np.where(known, alarm_s, np.nan),
        "foreseen_s": foreseen_s,
        "foreseen_nm": foreseen_nm,
    }
