"""Radar targets beside AIS, and whether a radar that sleeps could miss one."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.earth import east_north_nm, position_at
from analysis.errors import SettingError
from analysis.passage import Floats, Ints, Series, SourceKey, column

from .own import OwnShip
from .tracks import Tracks, tracks_of

RADAR_NM = 6.0  # detection of a ship: judgment
_EPISODE_S = 300.0  # a target number is given again after a while: judgment
_SAMPLES = 20
_MATCH_NM, _MATCH_SHARE = 0.1, 0.04  # radar plot beside AIS: a cable, and 4 % of the range (judgment)
_TOLD = [
    *("target_range_nm", "target_bearing_deg", "target_relative_bearing_deg", "target_cpa_nm"),
    *("target_lat_deg", "target_lon_deg"),
]
_COLUMNS = [
    *(
        "source",
        "number",
        "readings",
        "start_s",
        "end_s",
        "nearest_nm",
        "time_s",
        "told_cpa_nm",
        "mmsi",
        "apart_nm",
    ),
    "unturned",
]


@dataclass(frozen=True)
class RadarWatch:
    """A radar that sleeps and scans by turns [min], what it detects surely and what is to be kept free [nm]."""

    sleep_min: float
    scan_min: float
    range_nm: float = RADAR_NM
    guard_nm: float = 2.0

    def __post_init__(self) -> None:
        if not (self.sleep_min >= 0 and self.scan_min > 0):
            raise SettingError(
                f"A radar watch of {self.sleep_min:g}/{self.scan_min:g} min means nothing; say minutes asleep, a "
                "stroke and minutes scanning, such as 10/1."
            )
        if not self.range_nm > self.guard_nm > 0:
            raise SettingError(
                f"A guard range of {self.guard_nm:g} nm with a detection range of {self.range_nm:g} nm leaves no "
                "time; the detection range must be the larger one."
            )


@dataclass(frozen=True)
class WatchCheck:
    """The arithmetic of a radar watch. Closing speeds are those of the encounters of this passage.

    A target that comes within detection just as a scan ends is seen at the latest at the end of the next one,
    ``blind_min`` later. It must not have come from the detection range to the guard range by then: so no
    target may close faster than ``limit_kn``. ``fastest_kn`` is None where the log met none; ``unseen`` counts
    the ``met`` ones that close faster; ``seen_at_nm`` is where the fastest would be seen at the latest, and
    ``longest_sleep_min`` the longest sleep that would still do for it, None where none does.
    """

    watch: RadarWatch
    blind_min: float
    limit_kn: float
    met: int
    unseen: int
    fastest_kn: float | None
    seen_at_nm: float | None
    longest_sleep_min: float | None


def check_watch(watch: RadarWatch, closing_kn: Floats) -> WatchCheck:
    """Check whether a target could come within the guard range unseen, at the closing speeds given."""
    blind = watch.sleep_min + watch.scan_min
    room = watch.range_nm - watch.guard_nm
    met = closing_kn[np.isfinite(closing_kn)]
    limit = 60 * room / blind
    if not len(met):
        return WatchCheck(watch, blind, limit, 0, 0, None, None, None)
    fastest = float(met.max())
    sleep = 60 * room / fastest - watch.scan_min
    seen_at = watch.range_nm - fastest * blind / 60
    return WatchCheck(
        watch,
        blind,
        limit,
        len(met),
        int((met > limit).sum()),
        fastest,
        seen_at,
        sleep if sleep >= 0 else None,
    )


def radar_targets(series: Mapping[SourceKey, Series], own: OwnShip, visits: pd.DataFrame) -> pd.DataFrame:
    """List the targets of TTM and TLL: when, how near, and which vessel of the AIS lies there (``mmsi`` 0: none).

    A bearing off the bow is turned by the heading of that moment; ``unturned`` counts the readings for which there
    is none, though the own position is known.
    """
    tracks = tracks_of(visits)
    mmsi = visits["mmsi"].to_numpy(np.int64)
    rows = []
    for (talker, formatter), table in _told(series).items():
        told = table.sort_values(["target_number", "time_s"], kind="stable")
        new = (told["target_number"].diff() != 0) | (told["time_s"].diff() > _EPISODE_S)
        for _, one in told.groupby(new.cumsum()):
            rows.append((f"{talker} {formatter}", *_target(one, own, tracks, mmsi)))
    found = pd.DataFrame(rows, columns=_COLUMNS)
    return found.sort_values("nearest_nm", kind="stable", na_position="last").reset_index(drop=True)


def _told(series: Mapping[SourceKey, Series]) -> dict[tuple[str, str], pd.DataFrame]:
    """Readings of each source of targets, a row per sentence."""
    tables: dict[tuple[str, str], pd.DataFrame] = {}
    for key, one in series.items():
        if key.channel != "target_number" or key.formatter not in ("TTM", "TLL"):
            continue
        table = pd.DataFrame({"time_s": one.time_s, "target_number": one.value}, index=one.row)
        for name in _TOLD:
            other = series.get(key._replace(channel=name))
            table[name] = np.nan if other is None else pd.Series(other.value, index=other.row)
        known = table[np.isfinite(table["time_s"])]
        if len(known):
            tables[key.talker, key.formatter] = known
    return tables


def _target(told: pd.DataFrame, own: OwnShip, tracks: Tracks, mmsi: Ints) -> tuple[object, ...]:
    """The fields of a target after its source."""
    time = column(told, "time_s")
    away, lat, lon, unturned = _placed(told, own)
    nearest = int(np.nanargmin(away)) if np.isfinite(away).any() else None
    beside, apart = _beside(time, lat, lon, away, tracks)
    cpa = column(told, "target_cpa_nm")
    return (
        int(told["target_number"].iloc[0]),
        len(told),
        float(time[0]),
        float(time[-1]),
        np.nan if nearest is None else float(away[nearest]),
        np.nan if nearest is None else float(time[nearest]),
        float(np.nanmin(cpa)) if np.isfinite(cpa).any() else np.nan,
        0 if beside is None else int(mmsi[tracks.first[beside]]),
        apart,
        unturned,
    )


def _placed(told: pd.DataFrame, own: OwnShip) -> tuple[Floats, Floats, Floats, int]:
    """Range, latitude and longitude of each reading, and how many bearings off the bow could not be turned."""
    time, away = column(told, "time_s"), column(told, "target_range_nm")
    bearing, off_bow = column(told, "target_bearing_deg"), column(told, "target_relative_bearing_deg")
    _, heading = own.moving_at(time)
    if own.heading_of != "heading":
        heading = np.full(len(time), np.nan)
    bearing = np.radians(np.where(np.isfinite(bearing), bearing, heading + off_bow))
    here = own.at(time)
    there = position_at(away * np.sin(bearing), away * np.cos(bearing), *here)
    lat, lon = column(told, "target_lat_deg"), column(told, "target_lon_deg")
    lat, lon = (
        np.where(np.isfinite(lat), lat, there.lat_deg),
        np.where(np.isfinite(lon), lon, there.lon_deg),
    )
    away = np.where(np.isfinite(away), away, np.abs(own.offset_nm(time, lat, lon)))
    unturned = np.isfinite(off_bow) & np.isfinite(here[0]) & ~np.isfinite(bearing)
    return away, lat, lon, int(unturned.sum())


def _beside(time: Floats, lat: Floats, lon: Floats, away: Floats, tracks: Tracks) -> tuple[int | None, float]:
    """The visit of the vessel heard by AIS that lies where radar sees a target, and how far apart they lie."""
    known = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    if not len(known) or not len(tracks.first):
        return None, np.nan
    some = known[np.linspace(0, len(known) - 1, min(len(known), _SAMPLES)).astype(int)]
    start, end = tracks.time_s[tracks.first], tracks.time_s[tracks.last]
    there = np.flatnonzero((start <= time[some[-1]]) & (end >= time[some[0]]))
    if not len(there):
        return None, np.nan
    at = tracks.at(np.tile(time[some], len(there)), np.repeat(there, len(some)))
    hers = [one.reshape(len(there), -1) for one in at]
    apart = np.hypot(*east_north_nm(hers[0], hers[1], lat[some], lon[some]))
    usual = pd.DataFrame(apart).median(axis=1).fillna(np.inf).to_numpy()
    best = int(usual.argmin())
    if usual[best] > _MATCH_NM + _MATCH_SHARE * float(np.nanmedian(away[some])):
        return None, np.nan
    return int(there[best]), float(usual[best])
