"""What is drawn of an emergency: the boat's way and the drift on the plane about the first position."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis import earth
from analysis.emergencies.found import Emergency
from analysis.passage import Floats, column, seconds_of

BEFORE_S = 180.0
POINTS = 1400
GAP_S = 60.0


@dataclass(frozen=True)
class Picture:
    """Places [nm] east and north of the first position given, and the times [s since 1970-01-01 UTC] of the boat's.

    The boat's are missing (NaN) where her track has a gap. ``reach`` is west, south, east and north of what
    belongs to the emergency: the drift with its radius, and as much of her way as led back.
    """

    boat_s: Floats
    boat_east_nm: Floats
    boat_north_nm: Floats
    drift_east_nm: Floats
    drift_north_nm: Floats
    given_east_nm: Floats
    given_north_nm: Floats
    reach: tuple[float, float, float, float]


def picture_of(one: Emergency, frame: pd.DataFrame) -> Picture | None:
    """Lay an emergency on a plane; None without a position."""
    if not one.mark.fixes:
        return None
    first = one.mark.fixes[0]
    time_s = seconds_of(frame)
    end_s = first.time_s + 3600 if one.datum is None else float(one.datum.time_s[-1])
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    rows = np.flatnonzero((time_s >= first.time_s - BEFORE_S) & (time_s <= end_s) & np.isfinite(lat + lon))
    rows = rows[:: 1 + len(rows) // POINTS]
    east, north = earth.east_north_nm(lat[rows], lon[rows], first.lat_deg, first.lon_deg)
    boat_s = time_s[rows]
    usual = float(np.median(np.diff(boat_s))) if len(rows) > 1 else 0.0
    breaks = np.flatnonzero(np.diff(boat_s) > max(GAP_S, 3 * usual)) + 1
    given = [(fix.lat_deg, fix.lon_deg) for fix in one.mark.fixes]
    given_east, given_north = earth.east_north_nm(
        np.array([lat for lat, _ in given]), np.array([lon for _, lon in given]), first.lat_deg, first.lon_deg
    )
    drift_east, drift_north = np.zeros(1), np.zeros(1)
    radius = np.full(1, first.sd_nm)
    if one.datum is not None:
        drift_east, drift_north = earth.east_north_nm(
            one.datum.lat_deg, one.datum.lon_deg, first.lat_deg, first.lon_deg
        )
        radius = one.datum.radius_nm
    near = (
        (boat_s - one.mark.start_s <= one.back_s)
        if one.back_s is not None
        else np.zeros(len(rows), dtype=bool)
    )
    edges = [
        (
            float(min((at - radius).min(), way[near].min(initial=0.0))),
            float(max((at + radius).max(), way[near].max(initial=0.0))),
        )
        for at, way in ((drift_east, east), (drift_north, north))
    ]
    gapped = [np.insert(values, breaks, np.nan) for values in (boat_s, east, north)]
    return Picture(
        gapped[0],
        gapped[1],
        gapped[2],
        drift_east,
        drift_north,
        given_east,
        given_north,
        (edges[0][0], edges[1][0], edges[0][1], edges[1][1]),
    )
