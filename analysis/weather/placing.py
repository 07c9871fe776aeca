"""A forecast brought to the track: interpolated in space among the points of a time, and between two times."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Floats
from analysis.reading.forecast import Forecast
from analysis.vectors import wrap_signed_deg

LONGEST_STEP_S = 12 * 3600.0  # judgement: forecasts come every 1 to 6 h, towards their end every 12
FARTHEST_NM = 60.0  # judgement: a degree, the usual step of an ocean forecast
NEAREST = 4
_SECOND = 1e-3


class Placed(NamedTuple):
    """A forecast where and when it was asked for; NaN where it does not speak of place or time."""

    twd_deg: Floats
    tws_kn: Floats
    pressure_hpa: Floats


def placed(forecast: Forecast, time_s: Floats, lat_deg: Floats, lon_deg: Floats) -> Placed:
    """Interpolate a forecast to times and places, arrays of one length, linearly in time.

    Among points that fill a grid bilinearly, among others by the inverse square of the distance to the nearest
    four, no farther than 60 nm; a row without a place holds everywhere. Direction and speed are interpolated
    apart, so that a veer between two times takes nothing from the speed; never beyond the forecast's own times.
    """
    angle = np.radians(forecast.twd_deg)
    columns = (np.sin(angle), np.cos(angle), forecast.tws_kn, forecast.pressure_hpa)
    together: dict[bytes, list[int]] = {}
    for number, values in enumerate(columns):
        together.setdefault(np.isfinite(values).tobytes(), []).append(number)
    found = np.empty((len(columns), len(time_s)))
    for numbers in together.values():
        values = np.column_stack([columns[number] for number in numbers])
        found[numbers] = _interpolated(forecast, values, time_s, lat_deg, lon_deg).T
    sine, cosine, tws, pressure = found
    return Placed(np.degrees(np.arctan2(sine, cosine)) % 360, tws, pressure)


def usual_step_s(forecast: Forecast, values: Floats, start_s: float, end_s: float) -> float:
    """The usual step between a forecast's times [s] while the passage lasts; 0 where there is one time only."""
    times = np.unique(forecast.time_s[np.isfinite(values)])
    steps = np.diff(times)
    near = (times[1:] > start_s) & (times[:-1] < end_s)
    return float(np.median(steps[near])) if near.any() else 0.0


def _interpolated(
    forecast: Forecast, values: Floats, time_s: Floats, lat_deg: Floats, lon_deg: Floats
) -> Floats:
    """Interpolate columns (rows x k), all known in the same rows, to times and places: n x k."""
    told = np.isfinite(values[:, 0])
    result = np.full((len(time_s), values.shape[1]), np.nan)
    if not told.any():
        return result
    rows, value = np.flatnonzero(told), values[told]
    times, first = np.unique(forecast.time_s[told], return_index=True)
    last = np.append(first[1:], len(rows))
    before = np.clip(np.searchsorted(times, time_s + _SECOND, side="right") - 1, 0, len(times) - 1)
    after = np.clip(np.searchsorted(times, time_s - _SECOND, side="left"), 0, len(times) - 1)
    step = times[after] - times[before]
    valid = (
        (time_s >= times[0] - _SECOND)
        & (time_s <= times[-1] + _SECOND)
        & (step <= LONGEST_STEP_S)
        & np.isfinite(time_s)
    )
    share = np.divide(time_s - times[before], step, out=np.zeros(len(time_s)), where=step > 0)
    parts = np.zeros((2, *result.shape))
    for side, places in enumerate((before, after)):
        for place in np.unique(places[valid]).tolist():
            wanted = np.flatnonzero(valid & (places == place))
            span = slice(first[place], last[place])
            at = rows[span]
            parts[side, wanted] = _among(
                forecast.lat_deg[at],
                forecast.lon_deg[at],
                value[span],
                lat_deg[wanted],
                lon_deg[wanted],
            )
    weight = share[:, None]
    result[valid] = ((1 - weight) * parts[0] + weight * parts[1])[valid]
    return result


def _among(lat: Floats, lon: Floats, value: Floats, at_lat: Floats, at_lon: Floats) -> Floats:
    """Interpolate the points of one time, p x k values, to places: n x k."""
    everywhere = np.isnan(lat)
    if everywhere.any():
        return np.tile(value[everywhere].mean(axis=0), (len(at_lat), 1))
    known = np.isfinite(at_lat) & np.isfinite(at_lon)
    result = np.full((len(at_lat), value.shape[1]), np.nan)
    if not known.any():
        return result
    middle = float(at_lon[known][0])
    east, at_east = wrap_signed_deg(lon - middle), wrap_signed_deg(at_lon - middle)
    lats, row = np.unique(lat, return_inverse=True)
    lons, place = np.unique(east, return_inverse=True)
    if len(lats) > 1 and len(lons) > 1 and len(lats) * len(lons) == len(value):
        grid = np.full((len(lats), len(lons), value.shape[1]), np.nan)
        grid[row, place] = value
        result[known] = _bilinear(lats, lons, grid, at_lat[known], at_east[known])
    else:
        result[known] = _nearby(lat, east, value, at_lat[known], at_east[known])
    return result


def _bilinear(lats: Floats, lons: Floats, grid: Floats, lat: Floats, lon: Floats) -> Floats:
    def cell(axis: Floats, at: Floats) -> tuple[NDArray[np.int64], Floats, Bools]:
        place = np.clip(np.searchsorted(axis, at, side="right") - 1, 0, len(axis) - 2)
        share = (at - axis[place]) / (axis[place + 1] - axis[place])
        return place, share, (share >= 0) & (share <= 1)

    i, north, inside_lat = cell(lats, lat)
    j, east, inside_lon = cell(lons, lon)
    inside = (inside_lat & inside_lon)[:, None]
    north, east = north[:, None], east[:, None]
    value = (
        (1 - north) * (1 - east) * grid[i, j]
        + (1 - north) * east * grid[i, j + 1]
        + north * (1 - east) * grid[i + 1, j]
        + north * east * grid[i + 1, j + 1]
    )
    return np.where(inside, value, np.nan)


def _nearby(lat: Floats, lon: Floats, value: Floats, at_lat: Floats, at_lon: Floats) -> Floats:
    """Weigh the nearest points by the inverse square of their distance, taken flat about each place."""
    north = 60 * (lat[None, :] - at_lat[:, None])
    east = 60 * wrap_signed_deg(lon[None, :] - at_lon[:, None]) * np.cos(np.radians(at_lat))[:, None]
    distance = np.hypot(north, east)
    if distance.shape[1] > NEAREST:
        nearest = np.argpartition(distance, NEAREST - 1, axis=1)[:, :NEAREST]
        distance, near = np.take_along_axis(distance, nearest, axis=1), value[nearest]
    else:
        near = np.broadcast_to(value, (*distance.shape, value.shape[1]))
    weight = (1 / np.maximum(distance, 0.01) ** 2)[:, :, None]
    mean = (weight * near).sum(axis=1) / weight.sum(axis=1)
    return np.where(distance.min(axis=1)[:, None] <= FARTHEST_NM, mean, np.nan)
