"""Every vessel heard, passage by passage: how close she came, how that looked, and when it could be foreseen.

A *visit* is a stretch in which a station was heard without a pause of half an hour. Between two reports a
target moves on the smooth curve that has both reports' places, courses and speeds; after the last she is
carried on at her last course and speed for up to six minutes, which is what a watch on board could know.
"""

from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from analysis.earth import M_PER_NM, east_north_nm
from analysis.passage import Bools, Floats, Ints
from analysis.vectors import wrap_signed_deg

from .approach import abaft, aspect_deg, closest_approach, crosses_bow_nm, relative_bearing_deg
from .own import OwnShip

VISIT_GAP_S = 1800.0
CARRIED_S = 360.0  # two of the longest nominal intervals (ITU-R M.1371-5: 3 min at anchor)
_STEP_S = 30.0
_LOOKED_BACK_S = 600.0  # who overtakes whom is judged on the way to the closest point
_EPISODE_S = 300.0
_EDGE_S = 2.0
_WAY_KN = 0.5

# One-sigma of each axis. Own: 13 m in 95 % (MSC.112(73), from memory); a report with the accuracy flag: 10 m in
# 95 %, without it worse (ITU-R M.1371-5), taken as twice that.
_OWN_M, _ACCURATE_M, _LOW_M = 13 / 2.45, 10 / 2.45, 20 / 2.45
_SECOND_S, _NO_SECOND_S = 0.5, 2.0
_STRAY_NM, _STRAY_WEIGHT = (
    0.004,
    2.0,
)  # off the curve half way through a minute, before reports tell: judgment
_COURSE_SD, _SPEED_SD_KN = np.radians(2.0), 0.2  # of a reported motion, rounding included: judgment


@dataclass(frozen=True)
class Alarms:
    """When a close approach counts: predicted within ``cpa_nm``, and no further ahead than ``tcpa_min``."""

    cpa_nm: float = 1.0
    tcpa_min: float = 20.0


@dataclass(frozen=True)
class Track:
    """The reports of one visit in the order of time: velocities north + i east [kn], NaN where not reported."""

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    velocity_kn: np.ndarray
    heading_deg: Floats
    accurate: Bools
    timed: Bools

    def part(self, first: int, end: int) -> "Track":
        """The reports from one row up to another."""
        return Track(*(getattr(self, one.name)[first:end] for one in fields(self)))

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Latitude and longitude between the first and the last report; NaN beyond."""
        if len(self.time_s) == 1:
            inside = np.abs(time_s - self.time_s[0]) <= _EDGE_S
            return np.where(inside, self.lat_deg[0], np.nan), np.where(inside, self.lon_deg[0], np.nan)
        right = np.searchsorted(self.time_s, time_s).clip(1, len(self.time_s) - 1)
        left = right - 1
        inside = (time_s >= self.time_s[0] - 1e-6) & (time_s <= self.time_s[-1] + 1e-6)
        east, north = east_north_nm(
            self.lat_deg[right], self.lon_deg[right], self.lat_deg[left], self.lon_deg[left]
        )
        way = _between(
            north + 1j * east,
            self.velocity_kn[left],
            self.velocity_kn[right],
            self.time_s[right] - self.time_s[left],
            time_s - self.time_s[left],
        )
        lat = self.lat_deg[left] + way.real / 60.0
        lon = self.lon_deg[left] + way.imag / 60.0 / np.cos(np.radians(lat))
        end_lat = self.lat_deg[left] + north / 60.0
        end_lon = self.lon_deg[left] + east / 60.0 / np.cos(np.radians(end_lat))
        share = (time_s - self.time_s[left]) / (self.time_s[right] - self.time_s[left])
        turn = wrap_signed_deg(self.lon_deg[right] - end_lon)
        lat = lat + share * (self.lat_deg[right] - end_lat)
        lon = wrap_signed_deg(lon + share * turn)
        return np.where(inside, lat, np.nan), np.where(inside, lon, np.nan)


@dataclass(frozen=True)
class Forecast:
    """What was to be expected of a visit at each of its reports and in between, up to six minutes after one.

    ``age_s`` is that of the report the target was carried on from; ``cpa_sd_nm`` holds while both keep on.
    """

    time_s: Floats
    age_s: Floats
    range_nm: Floats
    cpa_nm: Floats
    cpa_sd_nm: Floats
    tcpa_min: Floats

    def where(self, rows: slice | Bools) -> "Forecast":
        """Some of the moments."""
        return Forecast(*(getattr(self, one.name)[rows] for one in fields(self)))


class Encounter(NamedTuple):
    """One visit and its closest point, a row of the table of encounters; NaN where not known.

    ``heard_nm`` is the farthest report, ``closing_kn`` the fastest the range closed within 6 nm, ``crosses_nm``
    where the target crossed the own course line, ahead +. ``overtaking`` is "own", "target" or "". ``cut`` says
    what bounds the closest point: "first heard", "last heard", or "own track" where that is missing. ``alarms``
    counts the alarms of the user's choice, ``alarm_s`` is the first; ``foreseen_s`` since when a close
    passing that came about was to be foreseen without a break, at ``foreseen_nm``.
    """

    visit: int
    mmsi: int
    kind: str
    reports: int
    start_s: float
    end_s: float
    heard_nm: float
    time_s: float
    range_nm: float
    range_sd_nm: float
    bearing_deg: float
    relative_deg: float
    aspect_deg: float
    target_sog_kn: float
    target_cog_deg: float
    own_sog_kn: float
    own_cog_deg: float
    relative_kn: float
    closing_kn: float
    crosses_nm: float
    overtaking: str
    cut: str
    alarms: int
    alarm_s: float
    foreseen_s: float
    foreseen_nm: float


def visits_of(reports: pd.DataFrame) -> tuple[pd.DataFrame, Ints]:
    """Sort position reports of others by station and time; returns them and the number of each one's visit."""
    kept = reports[~reports["own"] & reports["lat_deg"].notna() & reports["lon_deg"].notna()]
    kept = kept.assign(order=kept["time_s"]).sort_values(["mmsi", "time_s"], kind="stable")
    same = (kept["mmsi"].diff() == 0) & (kept["time_s"].diff() < 0.5)  # heard twice, or by a second receiver
    kept = kept[~same].drop(columns="order").reset_index(drop=True)
    new = (kept["mmsi"].diff() != 0) | (kept["time_s"].diff() > VISIT_GAP_S)
    return kept, new.to_numpy().cumsum() - 1


def track_of(reports: pd.DataFrame) -> Track:
    """Take the reports of one visit together."""
    speed, course = reports["sog_kn"].to_numpy(float), reports["cog_deg"].to_numpy(float)
    course = np.where(speed < _WAY_KN, np.where(np.isfinite(course), course, 0.0), course)
    aground = np.isin(reports["kind"].to_numpy(dtype="U8"), ["aid", "base"])
    velocity = np.where(aground, 0.0, speed * np.exp(1j * np.radians(course)))
    return Track(
        reports["time_s"].to_numpy(float),
        reports["lat_deg"].to_numpy(float),
        reports["lon_deg"].to_numpy(float),
        velocity,
        reports["heading_deg"].to_numpy(float),
        reports["accurate"].to_numpy(bool),
        reports["second"].to_numpy() >= 0,
    )


def forecast(track: Track, own: OwnShip) -> Forecast:
    """Work out the CPA expected at each report of a visit and every half minute for six minutes after one."""
    return _forecast(track, own, np.zeros(len(track.time_s), np.int64))[0]


def _forecast(track: Track, own: OwnShip, number: Ints) -> tuple[Forecast, Ints]:
    """The forecasts of many visits in the order of their numbers, and the number of each."""
    after = np.diff(track.time_s, append=np.inf)
    after[:-1][np.diff(number) != 0] = np.inf
    steps = np.maximum(np.ceil(np.clip(after, 0.0, CARRIED_S) / _STEP_S).astype(int), 1)
    which = np.repeat(np.arange(len(track.time_s)), steps)
    age = _STEP_S * (np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps))
    time = track.time_s[which] + age
    velocity = track.velocity_kn[which]
    moved = np.where(age > 0, velocity * age / 3600.0, 0.0)
    place = own.offset_nm(time, track.lat_deg[which], track.lon_deg[which]) + moved
    own_kn, _ = own.moving_at(time)
    relative = velocity - own_kn
    found = closest_approach(place.imag, place.real, relative.imag, relative.real)
    across = np.hypot(_SPEED_SD_KN, _COURSE_SD * np.abs(velocity))
    own_across = np.hypot(_SPEED_SD_KN, _COURSE_SD * np.abs(own_kn)) / 2
    ahead_h = np.abs(np.nan_to_num(found.tcpa_h)) + age / 3600.0
    sd = np.sqrt(
        (_place_sd_m(track.accurate[which]) / M_PER_NM) ** 2 + ahead_h**2 * (across**2 + own_across**2)
    )
    known = np.isfinite(place) & np.isfinite(relative)
    seen = Forecast(
        time[known],
        age[known],
        np.abs(place[known]),
        found.cpa_nm[known],
        sd[known],
        60 * np.nan_to_num(found.tcpa_h[known], nan=np.inf),
    )
    return seen, number[which][known]


def encounters(visits: pd.DataFrame, number: Ints, own: OwnShip, alarms: Alarms) -> pd.DataFrame:
    """Find the closest point of every visit: a row of Encounter each, closest first; between aerials."""
    if visits.empty:
        return pd.DataFrame(columns=_COLUMNS)
    everyone = track_of(visits)
    place = own.offset_nm(everyone.time_s, everyone.lat_deg, everyone.lon_deg)
    near = _segment_nm(place, number)
    numbers = np.arange(number[-1] + 2)
    borders = np.searchsorted(number, numbers).tolist()
    seen, of = _forecast(everyone, own, number)
    parts = np.searchsorted(of, numbers).tolist()
    mmsi, kind = visits["mmsi"].to_numpy(), visits["kind"].tolist()
    rows: list[dict[str, Any]] = []
    for visit, (first, end) in enumerate(pairwise(borders)):
        track = everyone.part(first, end)
        told = _encounter(track, place[first:end], near[first:end], own)
        if np.isfinite(told["range_nm"]):
            told |= _foreseen(
                seen.where(slice(parts[visit], parts[visit + 1])), told["time_s"], told["range_nm"], alarms
            )
        told |= {"visit": visit, "mmsi": int(mmsi[first]), "kind": kind[end - 1], "reports": end - first}
        rows.append(told)
    found = pd.DataFrame(rows, columns=_COLUMNS)
    return found.sort_values("range_nm", kind="stable", na_position="last").reset_index(drop=True)


_COLUMNS = list(Encounter._fields)
_CLOSING_WITHIN_NM = 6.0


def _encounter(track: Track, place: np.ndarray, near: Floats, own: OwnShip) -> dict[str, Any]:
    """The closest point of a visit and its geometry, as the fields of Encounter."""
    told: dict[str, Any] = dict.fromkeys(Encounter._fields[4:], np.nan)
    told |= {"start_s": track.time_s[0], "end_s": track.time_s[-1], "overtaking": "", "cut": "own track"}
    told |= {"alarms": 0}
    if not np.isfinite(near).any():
        return told
    at = int(np.nanargmin(near))
    time = _closest_time(track, own, at)
    lat, lon = track.at(np.array([time]))
    here = complex(own.offset_nm(np.array([time]), lat, lon)[0])
    if not np.isfinite(here):
        return told
    right = int(np.clip(np.searchsorted(track.time_s, time), min(1, len(track.time_s) - 1), len(near) - 1))
    left = max(right - 1, 0)
    nearest = left if time - track.time_s[left] < track.time_s[right] - time else right
    velocity = _velocity_at(track, time, left, right)
    own_kn, own_heading = (one[0] for one in own.moving_at(np.array([time])))
    relative = complex(velocity - own_kn)
    bearing = float(np.degrees(np.angle(here)) % 360.0)
    course = float(np.degrees(np.angle(velocity)) % 360.0)
    pointing = track.heading_deg[nearest]
    if not np.isfinite(pointing):
        pointing = course if abs(velocity) >= _WAY_KN else np.nan
    own_course = float(np.degrees(np.angle(own_kn)) % 360.0)
    crosses = (
        crosses_bow_nm(here.imag, here.real, relative, own_course)
        if np.isfinite(relative) and abs(own_kn) >= _WAY_KN
        else None
    )
    return told | {
        "heard_nm": float(np.nanmax(np.abs(place))),
        "time_s": time,
        "range_nm": abs(here),
        "range_sd_nm": _range_sd_nm(track, time, left, right, here, velocity),
        "bearing_deg": bearing,
        "relative_deg": float(relative_bearing_deg(bearing, own_heading)),
        "aspect_deg": float(aspect_deg(bearing, pointing)),
        "target_sog_kn": abs(velocity),
        "target_cog_deg": course if abs(velocity) > 0 else np.nan,
        "own_sog_kn": abs(own_kn),
        "own_cog_deg": own_course,
        "relative_kn": abs(relative),
        "closing_kn": _closing_kn(track.time_s, place),
        "crosses_nm": np.nan if crosses is None else crosses,
        "overtaking": _overtaking(track, own, time),
        "cut": _cut(track, time),
    }


def _closest_time(track: Track, own: OwnShip, at: int) -> float:
    """The moment of the least distance, to a tenth of a second, in the stretches about report ``at``."""
    last = len(track.time_s) - 1
    start, end = track.time_s[max(at - 1, 0)], track.time_s[min(at + 2, last)]
    if end <= start:
        return float(start)
    step = max(1.0, (end - start) / 200)
    for _ in range(2):
        times = np.clip(np.arange(start, end + step, step), start, end)
        away = np.abs(own.offset_nm(times, *track.at(times)))
        if not np.isfinite(away).any():
            return float(track.time_s[at])
        best = float(times[np.nanargmin(away)])
        start, end = max(best - step, track.time_s[0]), min(best + step, track.time_s[-1])
        step = max(step / 20, 0.1)
    return best


def _segment_nm(place: np.ndarray, number: Ints) -> Floats:
    """Least distance on the straight line from each report's relative place to the next one of its visit."""
    ahead = np.append(place[1:], np.nan)
    ahead[np.append(np.diff(number) != 0, True)] = np.nan
    way = np.where(np.isfinite(ahead), ahead - place, 0.0)
    length = np.abs(way) ** 2
    share = np.where(length > 0, -(place * way.conj()).real / np.where(length > 0, length, 1.0), 0.0)
    least: Floats = np.abs(place + np.clip(share, 0.0, 1.0) * way)
    return least


def _between(
    way_nm: np.ndarray, start_kn: np.ndarray, end_kn: np.ndarray, span_s: Floats, after_s: Floats
) -> np.ndarray:
    """Displacement ``after_s`` into a stretch of ``span_s``: a cubic with the motions at its ends if known."""
    share = after_s / span_s
    mean_nm = way_nm
    slopes = np.isfinite(start_kn) & np.isfinite(end_kn)
    first = np.where(slopes, start_kn * span_s / 3600.0, mean_nm)
    second = np.where(slopes, end_kn * span_s / 3600.0, mean_nm)
    curve: np.ndarray = (
        (share**3 - 2 * share**2 + share) * first
        + (3 * share**2 - 2 * share**3) * mean_nm
        + (share**3 - share**2) * second
    )
    return curve


def _velocity_at(track: Track, time: float, left: int, right: int) -> complex:
    """Motion at a moment: between those reported about it, else from the way made."""
    if left == right:
        return complex(track.velocity_kn[left])
    span = track.time_s[right] - track.time_s[left]
    share = float(np.clip((time - track.time_s[left]) / span, 0.0, 1.0))
    mixed = complex((1 - share) * track.velocity_kn[left] + share * track.velocity_kn[right])
    if np.isfinite(mixed):
        return mixed
    east, north = east_north_nm(
        track.lat_deg[right], track.lon_deg[right], track.lat_deg[left], track.lon_deg[left]
    )
    return complex(float(north), float(east)) / float(span) * 3600.0


def _place_sd_m(accurate: Bools) -> Floats:
    sd: Floats = np.hypot(_OWN_M, np.where(accurate, _ACCURATE_M, _LOW_M))
    return sd


def _range_sd_nm(
    track: Track, time: float, left: int, right: int, here: complex, velocity_kn: complex
) -> float:
    """One-sigma of the closest distance: both fixes, the time of the report, and how she strays between reports."""
    toward = here / abs(here) if abs(here) > 0 else 1.0
    fixes = float(_place_sd_m(track.accurate[[left, right]]).max()) / M_PER_NM
    seconds = _SECOND_S if track.timed[[left, right]].all() else _NO_SECOND_S
    timing = abs((velocity_kn * np.conj(toward)).real) * seconds / 3600.0
    span = track.time_s[right] - track.time_s[left]
    share = float(np.clip((time - track.time_s[left]) / span, 0.0, 1.0)) if span > 0 else 0.0
    stray = _stray_nm2(track) * (span / 60.0) ** 3 * 16 * share**2 * (1 - share) ** 2
    return float(np.sqrt(fixes**2 + timing**2 + stray))


def _stray_nm2(track: Track) -> float:
    """Variance of an axis half way through a minute: each report against the curve through its neighbours."""
    prior = _STRAY_NM**2
    count = len(track.time_s) - 2
    if count < 1:
        return prior
    east, north = east_north_nm(track.lat_deg[1:], track.lon_deg[1:], track.lat_deg[:-1], track.lon_deg[:-1])
    step = north + 1j * east
    span = track.time_s[2:] - track.time_s[:-2]
    after = track.time_s[1:-1] - track.time_s[:-2]
    told = _between(step[:-1] + step[1:], track.velocity_kn[:-2], track.velocity_kn[2:], span, after)
    noise = (_place_sd_m(track.accurate[1:-1]) ** 2 - _OWN_M**2) / M_PER_NM**2
    share = after / span
    shape = np.maximum(16 * share**2 * (1 - share) ** 2, 0.1)
    left_over = np.maximum(np.abs(step[:-1] - told) ** 2 / 2 - 1.5 * noise, 0.0)
    each = left_over / shape / (span / 60.0) ** 3
    near = each[np.isfinite(each)]
    return float((near.sum() + _STRAY_WEIGHT * prior) / (len(near) + _STRAY_WEIGHT))


def _closing_kn(time_s: Floats, place: np.ndarray) -> float:
    """The fastest the range closed between two reports within 6 nm; NaN where it never did."""
    if len(time_s) < 2:
        return np.nan
    away = np.abs(place)
    span = np.diff(time_s)
    rate = -np.diff(away) / span * 3600.0
    fair = (span >= 5.0) & (span <= CARRIED_S) & (away[1:] <= _CLOSING_WITHIN_NM) & (rate > 0)
    return float(np.quantile(rate[fair], 0.9)) if fair.any() else np.nan


def _overtaking(track: Track, own: OwnShip, time: float) -> str:
    """Who came up from more than 22.5 deg abaft the other's beam, on the way to the closest point."""
    times = np.arange(max(time - _LOOKED_BACK_S, track.time_s[0]), time - 30.0, 30.0)
    if not len(times):
        return ""
    place = own.offset_nm(times, *track.at(times))
    velocity, heading = own.moving_at(times)
    nearest = np.searchsorted(track.time_s, times).clip(0, len(track.time_s) - 1)
    hers = track.velocity_kn[nearest]
    bearing = np.degrees(np.angle(place))
    from_own = relative_bearing_deg(bearing, heading)
    from_her = aspect_deg(bearing, np.degrees(np.angle(hers)))
    known = np.isfinite(place) & np.isfinite(velocity) & (np.abs(hers) >= _WAY_KN)
    known &= np.abs(velocity) >= _WAY_KN
    if known.sum() < 2:
        return ""
    astern = known & abaft(from_own) & (np.abs(hers) > np.abs(velocity))
    ahead = known & abaft(from_her) & (np.abs(velocity) > np.abs(hers))
    if ahead.sum() > known.sum() / 2:
        return "own"
    return "target" if astern.sum() > known.sum() / 2 else ""


def _cut(track: Track, time: float) -> str:
    if time - track.time_s[0] <= _EDGE_S:
        return "first heard"
    return "last heard" if track.time_s[-1] - time <= _EDGE_S else ""


def _foreseen(seen: Forecast, time: float, range_nm: float, alarms: Alarms) -> dict[str, float | int]:
    """When alarms of the user's choice would have gone off, and since when a close passing was to be foreseen."""
    ahead = seen.tcpa_min >= 0
    within = (seen.cpa_nm <= alarms.cpa_nm) & ahead & np.isfinite(seen.tcpa_min)
    alarmed = within & (seen.tcpa_min <= alarms.tcpa_min) | (seen.range_nm <= alarms.cpa_nm)
    at = seen.time_s[alarmed]
    episodes = 0 if not len(at) else 1 + int((np.diff(at) > _EPISODE_S).sum())
    told: dict[str, float | int] = {"alarms": episodes, "alarm_s": float(at[0]) if len(at) else np.nan}
    before = np.flatnonzero(seen.time_s <= time)
    if range_nm <= alarms.cpa_nm and len(before):
        broken = np.flatnonzero(~(within | (seen.range_nm <= alarms.cpa_nm))[before])
        since = broken[-1] + 1 if len(broken) else 0
        if since < len(before):
            told |= {"foreseen_s": float(seen.time_s[since]), "foreseen_nm": float(seen.range_nm[since])}
    return told
