"""The own ship as traffic sees her: place, motion and heading at any moment."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.earth import east_north_nm, hop
from analysis.passage import Floats, column, seconds_of
from analysis.vectors import wrap_signed_deg

from .tracks import motion_kn

_BRIDGED_S = 30.0  # a fix is carried no further
_SMOOTHED_S = 30  # course and speed as a watch would read them: the mean of the last half minute
_STEERAGE_KN = 1.0  # below it a course says little of where the bow points


@dataclass(frozen=True)
class OwnShip:
    """Own track at the frame's own times: velocity north + i east [kn] over the ground; heading true, NaN if none.

    ``heading_of`` says whether that is the heading, or the course where the log has no heading.
    """

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    velocity_kn: np.ndarray
    heading_deg: Floats
    heading_of: str

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Latitude and longitude at any times; NaN beyond the track and in its gaps."""
        if not len(self.time_s):
            return np.full(len(time_s), np.nan), np.full(len(time_s), np.nan)
        right = np.searchsorted(self.time_s, time_s).clip(1, max(len(self.time_s) - 1, 1))
        right = np.minimum(right, len(self.time_s) - 1)
        left = np.maximum(right - 1, 0)
        width = self.time_s[right] - self.time_s[left]
        share = np.where(width > 0, (time_s - self.time_s[left]) / np.where(width > 0, width, 1.0), 0.0)
        inside = (share >= -1e-9) & (share <= 1 + 1e-9) & (width <= 2 * _BRIDGED_S)
        lat = self.lat_deg[left] + share * (self.lat_deg[right] - self.lat_deg[left])
        turn = wrap_signed_deg(self.lon_deg[right] - self.lon_deg[left])
        lon = self.lon_deg[left] + share * turn
        return np.where(inside, lat, np.nan), np.where(inside, wrap_signed_deg(lon), np.nan)

    def moving_at(self, time_s: Floats) -> tuple[np.ndarray, Floats]:
        """Velocity [kn] and heading [deg] at the nearest moment; NaN further than half a minute from one."""
        if not len(self.time_s):
            return np.full(len(time_s), np.nan + 0j), np.full(len(time_s), np.nan)
        right = np.searchsorted(self.time_s, time_s).clip(0, len(self.time_s) - 1)
        left = np.maximum(right - 1, 0)
        nearest = np.where(
            np.abs(self.time_s[left] - time_s) < np.abs(self.time_s[right] - time_s), left, right
        )
        close = np.abs(self.time_s[nearest] - time_s) <= _BRIDGED_S
        return (
            np.where(close, self.velocity_kn[nearest], np.nan),
            np.where(close, self.heading_deg[nearest], np.nan),
        )

    def offset_nm(self, time_s: Floats, lat_deg: Floats, lon_deg: Floats) -> np.ndarray:
        """Where others lie from the own ship [nm], north + i east."""
        east, north = east_north_nm(lat_deg, lon_deg, *self.at(time_s))
        return north + 1j * east


def own_ship(shown: pd.DataFrame, corrected: pd.DataFrame) -> OwnShip:
    """Take the own ship from the screened frame, and her heading from the corrected one."""
    lat, lon = column(shown, "lat_deg"), column(shown, "lon_deg")
    kept = np.isfinite(lat) & np.isfinite(lon)
    time = seconds_of(shown)
    heading = column(corrected, "heading_true_deg")
    velocity = motion_kn(column(shown, "sog_kn"), column(shown, "cog_deg"))
    if not np.isfinite(velocity).any() and kept.sum() > 1:
        velocity = _made_good(time, lat, lon)
    velocity = _trailing(velocity)
    of = "heading"
    if not np.isfinite(heading).any():
        of = "course"
        heading = np.where(np.abs(velocity) >= _STEERAGE_KN, np.degrees(np.angle(velocity)) % 360.0, np.nan)
    return OwnShip(time[kept], lat[kept], lon[kept], velocity[kept], heading[kept], of)


def _made_good(time_s: Floats, lat_deg: Floats, lon_deg: Floats) -> np.ndarray:
    way = hop(lat_deg[:-1], lon_deg[:-1], lat_deg[1:], lon_deg[1:])
    speed = way.distance_nm / np.diff(time_s) * 3600.0
    return np.concatenate(([np.nan], motion_kn(speed, way.bearing_deg)))


def _trailing(velocity_kn: np.ndarray) -> np.ndarray:
    """Mean of the last half minute, of what there is of it."""
    known = np.isfinite(velocity_kn)
    total = np.concatenate(([0.0], np.cumsum(np.where(known, velocity_kn, 0.0))))
    count = np.concatenate(([0], np.cumsum(known)))
    last = np.arange(1, len(velocity_kn) + 1)
    first = np.maximum(last - _SMOOTHED_S, 0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: np.ndarray = (total[last] - total[first]) / (count[last] - count[first])
    return mean
