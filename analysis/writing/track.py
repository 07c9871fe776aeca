"""The track as stretches of positions without a gap, and the marks along it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.errors import WriteError
from analysis.writing.times import index_ms

DECIMALS = 7  # of a degree: about 1 cm


@dataclass(frozen=True)
class Stretch:
    """Positions in time order without a gap: naive UTC datetime64[ms], latitude and longitude [deg].

    Longitudes lie in -180 <= x < 180.
    """

    time: NDArray[np.datetime64]
    lat_deg: NDArray[np.float64]
    lon_deg: NDArray[np.float64]


def stretches(frame: pd.DataFrame) -> list[Stretch]:
    """Cut the frame's positions wherever a row is missing or has none.

    Raises WriteError when the frame holds no position at all.
    """
    if not {"lat_deg", "lon_deg"} <= set(frame.columns):
        raise _no_track()
    lat = frame["lat_deg"].to_numpy(np.float64)
    lon = frame["lon_deg"].to_numpy(np.float64)
    placed = np.isfinite(lat) & np.isfinite(lon)
    if not placed.any():
        raise _no_track()
    all_times = index_ms(frame)
    time = all_times[placed]
    lat, lon = np.round(lat[placed], DECIMALS), wrapped_lon(lon[placed])
    step = np.diff(all_times).min() if len(all_times) > 1 else np.timedelta64(1, "s")
    cuts = np.flatnonzero(2 * np.diff(time) > 3 * step) + 1
    parts = zip(np.split(time, cuts), np.split(lat, cuts), np.split(lon, cuts), strict=True)
    return [Stretch(*part) for part in parts]


def wrapped_lon(lon_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Round longitudes [deg] to the written precision and bring them into -180 <= x < 180."""
    lon = np.round(lon_deg, DECIMALS)
    return np.where(lon >= 180.0, lon - 360.0, lon)


def _no_track() -> WriteError:
    return WriteError(
        "The recording holds no position, so there is no track to write; export to .csv or .parquet instead."
    )
