"""Every visit's closest point: how close she came and how that looked, all visits at once."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis.earth import M_PER_NM
from analysis.passage import Floats, Ints
from analysis.vectors import wrap_direction_deg

from .accuracy import OWN_M, place_sd_m
from .approach import abaft, aspect_deg, crosses_bow, relative_bearing_deg
from .forecast import CARRIED_S, Alarms, alarmed, forecast
from .own import OwnShip
from .tracks import EDGE_S, WAY_KN, Tracks, curve_nm, tracks_of

_LOOKED_BACK_S = 600.0  # who overtakes whom is judged on the way to the closest point
_LOOKED_EVERY_S = 30.0
_APART_S = 10.0  # reports closer together tell more of their errors than of the closing: judgment
_SECOND_S, _NO_SECOND_S = 0.5, 2.0
# Off the curve half way through a minute, before reports tell: judgment.
_STRAY_NM, _STRAY_WEIGHT = 0.004, 2.0


class Encounter(NamedTuple):
    """One visit and its closest point, a row of the table of encounters; NaN where not known.

    ``heard_nm`` is the farthest report, ``closing_kn`` the speed that nine tenths of its reports within 6 nm, or
    within the detection range of the radar watch asked for if larger, closed below; ``crosses_nm`` where the target
    crossed the own course line while heard, ahead +. ``overtaking`` is "own", "target" or "". ``cut`` says
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


@dataclass(frozen=True)
class _Closest:
    """The closest point of every visit: when, between which reports, where she lay [nm] and how she moved [kn]."""

    time_s: Floats
    left: Ints
    right: Ints
    share: Floats
    place: np.ndarray
    velocity_kn: np.ndarray


def encounters(visits: pd.DataFrame, own: OwnShip, alarms: Alarms, closing_within_nm: float) -> pd.DataFrame:
    """Find the closest point of every visit: a row of Encounter each, closest first; between aerials."""
    if visits.empty:
        return pd.DataFrame(columns=list(Encounter._fields))
    tracks = tracks_of(visits)
    place = own.offset_nm(tracks.time_s, tracks.lat_deg, tracks.lon_deg)
    closest = _closest(tracks, place, own)
    told = _geometry(tracks, place, closest, own)
    told["closing_kn"] = _closing_kn(tracks, place, closing_within_nm)
    known = np.isfinite(closest.place)
    told = {name: np.where(known, values, np.nan) for name, values in told.items()}
    first, last = tracks.first, tracks.last
    table = pd.DataFrame(
        {
            "visit": np.arange(len(first)),
            "mmsi": visits["mmsi"].to_numpy(np.int64)[first],
            "kind": visits["kind"].to_numpy()[last],
            "reports": last - first + 1,
            "start_s": tracks.time_s[first],
            "end_s": tracks.time_s[last],
            **told,
            "overtaking": np.where(known, _overtaking(tracks, own, closest), ""),
            "cut": np.where(known, _cut(tracks, closest), "own track"),
            **alarmed(forecast(tracks, own), told["time_s"], told["range_nm"], alarms),
        }
    )
    ordered = table[list(Encounter._fields)].sort_values("range_nm", kind="stable", na_position="last")
    return ordered.reset_index(drop=True)


def _closest(tracks: Tracks, place: np.ndarray, own: OwnShip) -> _Closest:
    time = _closest_time(tracks, place, own)
    every = np.arange(len(tracks.first))
    left, right = tracks.about(time, every)
    span = tracks.time_s[right] - tracks.time_s[left]
    share = np.clip((time - tracks.time_s[left]) / np.where(span > 0, span, 1.0), 0.0, 1.0)
    share = np.where(span > 0, share, 0.0)
    velocity = (1 - share) * tracks.velocity_kn[left] + share * tracks.velocity_kn[right]
    untold = np.flatnonzero(~np.isfinite(velocity) & (span > 0))
    velocity[untold] = tracks.way_nm(left[untold], right[untold]) / span[untold] * 3600.0
    return _Closest(time, left, right, share, own.offset_nm(time, *tracks.at(time, every)), velocity)


def _closest_time(tracks: Tracks, place: np.ndarray, own: OwnShip) -> Floats:
    """The moments of the least distance, to a tenth of a second, in the stretches about the nearest report."""
    first, last = tracks.first, tracks.last
    at = _least(_segment_nm(place, tracks), first)
    start = tracks.time_s[np.maximum(at - 1, first)]
    end = tracks.time_s[np.minimum(at + 2, last)]
    best = tracks.time_s[at]
    step = np.maximum(1.0, (end - start) / 200)
    for _ in range(2):
        visit, times, begin = _looked(start, end, step)
        away = np.abs(own.offset_nm(times, *tracks.at(times, visit)))
        seen = np.isfinite(np.fmin.reduceat(away, begin))
        best = np.where(seen, times[_least(away, begin)], best)
        start = np.maximum(best - step, tracks.time_s[first])
        end = np.minimum(best + step, tracks.time_s[last])
        step = np.maximum(step / 20, 0.1)
    return best


def _looked(start: Floats, end: Floats, step: Floats) -> tuple[Ints, Floats, Ints]:
    """Moments from ``start`` to ``end`` of every visit: whose they are, when, and where each one's begin."""
    count = np.ceil(np.maximum(end - start, 0.0) / step).astype(np.int64) + 1
    visit, begin = np.repeat(np.arange(len(count)), count), np.cumsum(count) - count
    times = start[visit] + (np.arange(len(visit)) - begin[visit]) * step[visit]
    return visit, np.minimum(times, np.maximum(end, start)[visit]), begin


def _least(values: Floats, begin: Ints) -> Ints:
    """Place of the first least value of each stretch, where it begins if it has none."""
    width = np.diff(begin, append=len(values))
    lowest = np.flatnonzero(values == np.repeat(np.fmin.reduceat(values, begin), width))
    stretch, first = np.unique(np.repeat(np.arange(len(begin)), width)[lowest], return_index=True)
    place = begin.copy()
    place[stretch] = lowest[first]
    return place


def _segment_nm(place: np.ndarray, tracks: Tracks) -> Floats:
    """Least distance on the straight line from each report's relative place to the next one of its visit."""
    ahead = np.append(place[1:], np.nan)
    ahead[tracks.last] = np.nan
    way = np.where(np.isfinite(ahead), ahead - place, 0.0)
    length = np.abs(way) ** 2
    share = np.where(length > 0, -(place * way.conj()).real / np.where(length > 0, length, 1.0), 0.0)
    least: Floats = np.abs(place + np.clip(share, 0.0, 1.0) * way)
    return least


def _geometry(tracks: Tracks, place: np.ndarray, closest: _Closest, own: OwnShip) -> dict[str, Floats]:
    """How every closest point looked, as the fields of Encounter."""
    own_kn, own_heading = own.moving_at(closest.time_s)
    here, velocity = closest.place, closest.velocity_kn
    relative = velocity - own_kn
    bearing = _course_deg(here)
    nearest = np.where(closest.share < 0.5, closest.left, closest.right)
    pointing = tracks.heading_deg[nearest]
    under_way = np.where(np.abs(velocity) >= WAY_KN, _course_deg(velocity), np.nan)
    pointing = np.where(np.isfinite(pointing), pointing, under_way)
    way = np.abs(own_kn) >= WAY_KN
    crosses_nm, hours = crosses_bow(here, relative, _course_deg(own_kn))
    crossed_s = closest.time_s + 3600.0 * hours
    heard = (crossed_s >= tracks.time_s[tracks.first]) & (crossed_s <= tracks.time_s[tracks.last])
    return {
        "heard_nm": np.fmax.reduceat(np.abs(place), tracks.first),
        "time_s": closest.time_s,
        "range_nm": np.abs(here),
        "range_sd_nm": _range_sd_nm(tracks, closest),
        "bearing_deg": bearing,
        "relative_deg": relative_bearing_deg(bearing, own_heading),
        "aspect_deg": aspect_deg(bearing, pointing),
        "target_sog_kn": np.abs(velocity),
        "target_cog_deg": np.where(np.abs(velocity) > 0, _course_deg(velocity), np.nan),
        "own_sog_kn": np.abs(own_kn),
        "own_cog_deg": np.where(way, _course_deg(own_kn), np.nan),
        "relative_kn": np.abs(relative),
        "crosses_nm": np.where(way & heard, crosses_nm, np.nan),
    }


def _course_deg(motion: np.ndarray) -> Floats:
    return wrap_direction_deg(np.degrees(np.angle(motion)))


def _range_sd_nm(tracks: Tracks, closest: _Closest) -> Floats:
    """One-sigma of the closest distance: both fixes, the time of the report, and how she strays between reports."""
    left, right, share = closest.left, closest.right, closest.share
    away = np.abs(closest.place)
    toward = np.where(away > 0, closest.place, 1.0) / np.where(away > 0, away, 1.0)
    fixes = place_sd_m(tracks.accurate[left] & tracks.accurate[right]) / M_PER_NM
    seconds = np.where(tracks.timed[left] & tracks.timed[right], _SECOND_S, _NO_SECOND_S)
    timing = np.abs((closest.velocity_kn * np.conj(toward)).real) * seconds / 3600.0
    minutes = (tracks.time_s[right] - tracks.time_s[left]) / 60.0
    stray = _stray_nm2(tracks) * minutes**3 * 16 * share**2 * (1 - share) ** 2
    sd: Floats = np.sqrt(fixes**2 + timing**2 + stray)
    return sd


def _stray_nm2(tracks: Tracks) -> Floats:
    """Variance of an axis half way through a minute: each report against the curve through its neighbours."""
    visit, time = tracks.visit, tracks.time_s
    middle = np.flatnonzero(visit[:-2] == visit[2:]) + 1
    before, after = middle - 1, middle + 1
    step, next_step = tracks.way_nm(before, middle), tracks.way_nm(middle, after)
    span, into = time[after] - time[before], time[middle] - time[before]
    told = curve_nm(step + next_step, tracks.velocity_kn[before], tracks.velocity_kn[after], span, into)
    noise = (place_sd_m(tracks.accurate[middle]) ** 2 - OWN_M**2) / M_PER_NM**2
    share = into / span
    shape = np.maximum(16 * share**2 * (1 - share) ** 2, 0.1)
    left_over = np.maximum(np.abs(step - told) ** 2 / 2 - 1.5 * noise, 0.0)
    each = left_over / shape / (span / 60.0) ** 3
    near = np.isfinite(each)
    count = len(tracks.first)
    total = np.bincount(visit[middle][near], each[near], count) + _STRAY_WEIGHT * _STRAY_NM**2
    return total / (np.bincount(visit[middle][near], minlength=count) + _STRAY_WEIGHT)


def _closing_kn(tracks: Tracks, place: np.ndarray, within_nm: float) -> Floats:
    """The speed of closing that nine tenths of the approaching reports stay below; NaN where none approached."""
    away, time, visit = np.abs(place), tracks.time_s, tracks.visit
    earlier = tracks.after(time - _APART_S, visit) - 1
    span = time - time[earlier]
    fair = (visit == visit[earlier]) & (span > 0) & (span <= CARRIED_S) & (away <= within_nm)
    rate = (away[earlier] - away)[fair] / span[fair] * 3600.0
    closing = rate > 0
    fastest = pd.Series(rate[closing]).groupby(visit[fair][closing]).quantile(0.9)
    return fastest.reindex(np.arange(len(tracks.first))).to_numpy(float)


def _overtaking(tracks: Tracks, own: OwnShip, closest: _Closest) -> np.ndarray:
    """Who came up from more than 22.5 deg abaft the other's beam, on the way to the closest point."""
    start = np.maximum(closest.time_s - _LOOKED_BACK_S, tracks.time_s[tracks.first])
    every = np.full(len(start), _LOOKED_EVERY_S)
    visit, times, _ = _looked(start, closest.time_s, every)
    earlier = times < closest.time_s[visit] - _LOOKED_EVERY_S
    visit, times = visit[earlier], times[earlier]
    place = own.offset_nm(times, *tracks.at(times, visit))
    velocity, heading = own.moving_at(times)
    hers = tracks.velocity_kn[np.minimum(tracks.after(times, visit), tracks.last[visit])]
    bearing = np.degrees(np.angle(place))
    from_own = relative_bearing_deg(bearing, heading)
    from_her = aspect_deg(bearing, np.degrees(np.angle(hers)))
    known = np.isfinite(place) & np.isfinite(velocity) & (np.abs(hers) >= WAY_KN)
    known &= np.abs(velocity) >= WAY_KN
    astern = known & abaft(from_own) & (np.abs(hers) > np.abs(velocity))
    ahead = known & abaft(from_her) & (np.abs(velocity) > np.abs(hers))
    looked, by_her, by_own = (np.bincount(visit[one], minlength=len(start)) for one in (known, astern, ahead))
    mostly = np.where(looked >= 2, looked / 2, np.inf)
    return np.where(by_own > mostly, "own", np.where(by_her > mostly, "target", ""))


def _cut(tracks: Tracks, closest: _Closest) -> np.ndarray:
    early = closest.time_s - tracks.time_s[tracks.first] <= EDGE_S
    late = tracks.time_s[tracks.last] - closest.time_s <= EDGE_S
    return np.where(early, "first heard", np.where(late, "last heard", ""))
