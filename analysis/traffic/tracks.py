"""The reports of those heard, visit by visit: where a target was between two of them.

A *visit* is a stretch in which a station was heard without a pause of half an hour. Between two reports a target
moves on the smooth curve that has both reports' places, courses and speeds.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from analysis.earth import east_north_nm
from analysis.passage import Bools, Floats, Ints
from analysis.vectors import wrap_signed_deg

VISIT_GAP_S = 1800.0
EDGE_S = 2.0
WAY_KN = 0.5


@dataclass(frozen=True)
class Tracks:
    """The reports of visits, one visit after the other, each in the order of time.

    ``visit`` counts from 0 without a hole. Velocities north + i east [kn], NaN where not reported.
    """

    visit: Ints
    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    velocity_kn: np.ndarray
    heading_deg: Floats
    accurate: Bools
    timed: Bools

    @cached_property
    def first(self) -> Ints:
        """Row of the first report of each visit."""
        return np.flatnonzero(np.diff(self.visit, prepend=-1))

    @cached_property
    def last(self) -> Ints:
        """Row of the last report of each visit."""
        return np.append(self.first[1:], len(self.visit)) - 1

    def after(self, time_s: Floats, visit: Ints) -> Ints:
        """Row of the first report of a visit at or after a moment, the one past its last where there is none."""
        rows: Ints = np.searchsorted(self._ordered_s, self._in_order(time_s, visit))
        return rows

    def about(self, time_s: Floats, visit: Ints) -> tuple[Ints, Ints]:
        """Rows of the two reports of a visit between which a moment lies; twice the same where it has only one."""
        first, last = self.first[visit], self.last[visit]
        right = np.clip(self.after(time_s, visit), np.minimum(first + 1, last), last)
        return np.maximum(right - 1, first), right

    def at(self, time_s: Floats, visit: Ints) -> tuple[Floats, Floats]:
        """Latitude and longitude between the first and the last report of a visit; NaN beyond."""
        left, right = self.about(time_s, visit)
        span, into = self.time_s[right] - self.time_s[left], time_s - self.time_s[left]
        alone = left == right
        inside = (time_s >= self.time_s[self.first[visit]] - 1e-6) & (
            time_s <= self.time_s[self.last[visit]] + 1e-6
        )
        inside = np.where(alone, np.abs(into) <= EDGE_S, inside)
        span, into = np.where(alone, 1.0, span), np.where(alone, 0.0, into)
        step = self.way_nm(left, right)
        way = curve_nm(step, self.velocity_kn[left], self.velocity_kn[right], span, into)
        lat, lon = _moved(self.lat_deg[left], self.lon_deg[left], way)
        end_lat, end_lon = _moved(self.lat_deg[left], self.lon_deg[left], step)
        share = into / span
        lat = lat + share * (self.lat_deg[right] - end_lat)
        lon = wrap_signed_deg(lon + share * wrap_signed_deg(self.lon_deg[right] - end_lon))
        return np.where(inside, lat, np.nan), np.where(inside, lon, np.nan)

    def way_nm(self, start: Ints, end: Ints) -> np.ndarray:
        """Way from one report to another, north + i east."""
        east, north = east_north_nm(
            self.lat_deg[end], self.lon_deg[end], self.lat_deg[start], self.lon_deg[start]
        )
        return north + 1j * east

    @cached_property
    def _ordered_s(self) -> Floats:
        return self._in_order(self.time_s, self.visit)

    def _in_order(self, time_s: Floats, visit: Ints) -> Floats:
        """Moments with room between the visits, so that all reports stand in one order."""
        start, end = self.time_s.min(initial=np.inf), self.time_s.max(initial=-np.inf)
        ordered: Floats = np.clip(time_s - start, -1.0, end - start + 1.0) + visit * (end - start + 4.0)
        return ordered


def visits_of(reports: pd.DataFrame) -> pd.DataFrame:
    """Sort position reports of others that have a time by station and time, each with the number of its ``visit``."""
    placed = reports[["time_s", "lat_deg", "lon_deg"]].notna().all(axis=1)
    kept = reports[~reports["own"].astype(bool) & placed]
    kept = kept.sort_values(["mmsi", "time_s"], kind="stable")
    same = (kept["mmsi"].diff() == 0) & (kept["time_s"].diff() < 0.5)  # heard twice, or by a second receiver
    kept = kept[~same].reset_index(drop=True)
    new = (kept["mmsi"].diff() != 0) | (kept["time_s"].diff() > VISIT_GAP_S)
    return kept.assign(visit=new.to_numpy().cumsum() - 1)


def tracks_of(visits: pd.DataFrame) -> Tracks:
    """Take the reports of visits together; they are counted anew."""
    aground = visits["kind"].isin(["aid", "base"]).to_numpy()
    velocity = motion_kn(visits["sog_kn"].to_numpy(float), visits["cog_deg"].to_numpy(float))
    return Tracks(
        np.cumsum(np.diff(visits["visit"].to_numpy(np.int64), prepend=-1) != 0) - 1,
        visits["time_s"].to_numpy(float),
        visits["lat_deg"].to_numpy(float),
        visits["lon_deg"].to_numpy(float),
        np.where(aground, 0.0, velocity),
        visits["heading_deg"].to_numpy(float),
        visits["accurate"].to_numpy(bool),
        visits["second"].to_numpy() >= 0,
    )


def motion_kn(speed_kn: Floats, course_deg: Floats) -> np.ndarray:
    """Velocity north + i east; a course left blank for want of way counts as north."""
    course = np.where((speed_kn < WAY_KN) & np.isnan(course_deg), 0.0, course_deg)
    velocity: np.ndarray = speed_kn * np.exp(1j * np.radians(course))
    return velocity


def curve_nm(
    way_nm: np.ndarray, start_kn: np.ndarray, end_kn: np.ndarray, span_s: Floats, into_s: Floats
) -> np.ndarray:
    """Displacement ``into_s`` into a stretch of ``span_s``: a cubic with the motions at its ends if known."""
    share = into_s / span_s
    slopes = np.isfinite(start_kn) & np.isfinite(end_kn)
    first = np.where(slopes, start_kn * span_s / 3600.0, way_nm)
    second = np.where(slopes, end_kn * span_s / 3600.0, way_nm)
    curve: np.ndarray = (
        (share**3 - 2 * share**2 + share) * first
        + (3 * share**2 - 2 * share**3) * way_nm
        + (share**3 - share**2) * second
    )
    return curve


def _moved(lat_deg: Floats, lon_deg: Floats, way_nm: np.ndarray) -> tuple[Floats, Floats]:
    lat = lat_deg + way_nm.real / 60.0
    return lat, lon_deg + way_nm.imag / 60.0 / np.cos(np.radians(lat))
