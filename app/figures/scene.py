"""What the figures draw from: one passage's columns as plain arrays, with positions on a local plane."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.channels import CHANNELS
from analysis.passage import Floats


@dataclass(frozen=True)
class Plane:
    """The chart's plane: nautical miles east and north of a reference, meridians and parallels straight.

    Equirectangular, a degree of latitude taken as 60 nm: for drawing only. Lengths north err by up to 0.6 %,
    lengths east by that and by the change of latitude; everything measured comes from ``analysis.earth``.
    """

    lat_deg: float
    lon_deg: float

    @property
    def nm_per_degree_east(self) -> float:
        """Length of a degree of longitude at the reference [nm]."""
        return 60.0 * float(np.cos(np.radians(self.lat_deg)))

    def east_nm(self, lon_deg: Floats) -> Floats:
        """Longitudes [deg] to nm east of the reference, the shorter way round."""
        return ((lon_deg - self.lon_deg + 180.0) % 360.0 - 180.0) * self.nm_per_degree_east

    def north_nm(self, lat_deg: Floats) -> Floats:
        """Latitudes [deg] to nm north of the reference."""
        return (lat_deg - self.lat_deg) * 60.0

    def position(self, east_nm: float, north_nm: float) -> tuple[float, float]:
        """A place on the plane [nm] as latitude and longitude [deg]."""
        lon_deg = (self.lon_deg + east_nm / self.nm_per_degree_east + 180.0) % 360.0 - 180.0
        return self.lat_deg + north_nm / 60.0, lon_deg


@dataclass(frozen=True)
class Scene:
    """Arrays of one length: ``time_ms`` since 1970-01-01 UTC, the columns that hold any value, the track.

    ``dated`` says whether the day is known; where it is not, only the time of day means anything.
    ``columns`` has every known channel of the frame with at least one value, with its one-sigma and what it
    was before correction; ``plane``,
    ``east_nm`` and ``north_nm`` are None where there is no position. ``holes`` are the indices after which
    the frame's own time base jumps.
    """

    time_ms: Floats
    dated: bool
    columns: Mapping[str, Floats]
    plane: Plane | None
    east_nm: Floats | None
    north_nm: Floats | None
    holes: NDArray[np.int64]

    @property
    def channels(self) -> list[str]:
        """Names of the channels that hold values, in the order of the table of quantities."""
        return [name for name in CHANNELS if name in self.columns]

    def nearest(self, name: str, rows: NDArray[np.int64]) -> NDArray[np.int64]:
        """Find the rows of a column's values nearest to ``rows``; -1 beyond half its own usual spacing."""
        filled = self._rows[name]
        after = np.searchsorted(filled, rows).clip(1 if len(filled) > 1 else 0, len(filled) - 1)
        either = filled[np.stack((after - (after > 0), after))]
        off_ms = np.abs(self.time_ms[either] - self.time_ms[rows])
        best = off_ms.argmin(axis=0)[None]
        close = np.take_along_axis(2 * off_ms <= self._spacing_ms[name], best, axis=0)
        found: NDArray[np.int64] = np.where(close, np.take_along_axis(either, best, axis=0), -1)[0]
        return found

    @cached_property
    def _rows(self) -> Mapping[str, NDArray[np.int64]]:
        return {name: np.flatnonzero(np.isfinite(values)) for name, values in self.columns.items()}

    @cached_property
    def _spacing_ms(self) -> Mapping[str, float]:
        return {
            name: float(np.median(np.diff(self.time_ms[rows]))) if len(rows) > 1 else 0.0
            for name, rows in self._rows.items()
        }


def scene_of(frame: pd.DataFrame, dated: bool = True) -> Scene:
    """Turn an aligned frame (UTC index, columns of the conventions) into a scene; an empty one is allowed."""
    columns = {
        name: values
        for name in frame.columns
        if name.removesuffix("_sd").removesuffix("_shown") in CHANNELS
        and np.isfinite(values := frame[name].to_numpy(dtype=np.float64)).any()
    }
    time_ms = pd.DatetimeIndex(frame.index).as_unit("ms").asi8.astype(np.float64)
    step = np.diff(time_ms)
    holes = np.flatnonzero(step > 3 * np.median(step)) if len(step) else np.empty(0, dtype=np.int64)
    if "lat_deg" not in columns or "lon_deg" not in columns:
        return Scene(time_ms, dated, columns, None, None, None, holes)
    lat, lon = columns["lat_deg"], columns["lon_deg"]
    first = lon[np.isfinite(lon)][0]
    offset = (lon - first + 180.0) % 360.0 - 180.0
    plane = Plane(
        float(np.nanmin(lat) + np.nanmax(lat)) / 2,
        float((first + (np.nanmin(offset) + np.nanmax(offset)) / 2 + 180.0) % 360.0 - 180.0),
    )
    return Scene(time_ms, dated, columns, plane, plane.east_nm(lon), plane.north_nm(lat), holes)
