"""The shape of the Earth (WGS84) and its magnetism: geodesics, rhumb lines, a local plane, variation.

Latitudes and longitudes in degrees, north and east +; distances in nautical miles; bearings true, 0..360.
A missing (NaN) position gives a missing result.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from geographiclib.geodesic import Geodesic
from numpy.typing import ArrayLike, NDArray
from pygeodesy.rhumb.aux_ import RhumbAux
from pygeomag import GeoMag

from analysis.vectors import wrap_direction_deg, wrap_signed_deg

Floats = NDArray[np.float64]

M_PER_NM = 1852.0
SEMI_MAJOR_AXIS_NM = 6378137.0 / M_PER_NM
FLATTENING = 1 / 298.257223563
ECCENTRICITY_SQUARED = FLATTENING * (2 - FLATTENING)

# Decimal years the magnetic models cover; the variation at any other time is unknown, not extrapolated.
VARIATION_YEARS = (2010.0, 2030.0)
_MODELS = {2010: "WMM_2010", 2015: "WMM_2015v2", 2020: "WMM_2020", 2025: "WMM_2025"}
_CELLS_PER_DEG = 2


class Line(NamedTuple):
    """A line between two positions: its length, its bearing at the start and its bearing at the end."""

    distance_nm: float
    bearing_deg: float
    final_bearing_deg: float


class Position(NamedTuple):
    """One position."""

    lat_deg: float
    lon_deg: float


class Positions(NamedTuple):
    """Many positions, as arrays."""

    lat_deg: Floats
    lon_deg: Floats


class Hop(NamedTuple):
    """The length and the initial bearing of many short lines."""

    distance_nm: Floats
    bearing_deg: Floats


# exact lines, one at a time


def geodesic(lat_deg: float, lon_deg: float, to_lat_deg: float, to_lon_deg: float) -> Line:
    """Find the shortest line between two positions (C. F. F. Karney, J. Geodesy 87, 43-55, 2013)."""
    line = Geodesic.WGS84.Inverse(lat_deg, lon_deg, to_lat_deg, to_lon_deg)
    return Line(line["s12"] / M_PER_NM, line["azi1"] % 360.0, line["azi2"] % 360.0)


def geodesic_end(lat_deg: float, lon_deg: float, bearing_deg: float, distance_nm: float) -> Position:
    """Find where a geodesic ends from its start, initial bearing and length."""
    line = Geodesic.WGS84.Direct(lat_deg, lon_deg, bearing_deg, distance_nm * M_PER_NM)
    return Position(line["lat2"], line["lon2"])


def rhumb(lat_deg: float, lon_deg: float, to_lat_deg: float, to_lon_deg: float) -> Line:
    """Find the line of constant course between two positions, the shorter way round."""
    line = _rhumbs().Inverse(lat_deg, lon_deg, to_lat_deg, to_lon_deg)
    course = float(line.azi12) % 360.0
    return Line(float(line.s12) / M_PER_NM, course, course)


def rhumb_end(lat_deg: float, lon_deg: float, course_deg: float, distance_nm: float) -> Position:
    """Find where a line of constant course ends from its start, course and length."""
    line = _rhumbs().Direct(lat_deg, lon_deg, course_deg, distance_nm * M_PER_NM)
    return Position(float(line.lat2), float(line.lon2))


@cache
def _rhumbs() -> RhumbAux:
    # not pygeodesy.rhumb.ekx: in 26.10.26 its Direct is wrong by 180/pi on the courses 090 and 270
    return RhumbAux()


# short lines, many at a time


def hop(lat_deg: ArrayLike, lon_deg: ArrayLike, to_lat_deg: ArrayLike, to_lon_deg: ArrayLike) -> Hop:
    """Find the distance and initial bearing of short lines; inputs broadcast, a zero distance has no bearing.

    The hops along a track are ``hop(lat[:-1], lon[:-1], lat[1:], lon[1:])``. Accuracy as ``east_north_nm``.
    """
    east, north = east_north_nm(to_lat_deg, to_lon_deg, lat_deg, lon_deg)
    distance = np.hypot(east, north)
    bearing = wrap_direction_deg(np.degrees(np.arctan2(east, north)))
    return Hop(distance, np.where(distance > 0.0, bearing, np.nan)[()])


def east_north_nm(
    lat_deg: ArrayLike, lon_deg: ArrayLike, reference_lat_deg: ArrayLike, reference_lon_deg: ArrayLike
) -> tuple[Floats, Floats]:
    """Project positions on the plane that keeps distances and bearings from a reference; inputs broadcast.

    The straight chord from the reference, sighted there and bent to the Earth's radius along its bearing: no
    iteration, at any latitude and across the antimeridian. Against the geodesic, distances err by less than
    1e-8 and bearings by less than 1e-5 deg within 20 nm; 1e-7 and 1e-3 deg within 200 nm.
    """
    turn = np.radians(np.asarray(lon_deg, dtype=float) - np.asarray(reference_lon_deg, dtype=float))
    sin_0, cos_0 = _sin_cos(reference_lat_deg)
    sin_1, cos_1 = _sin_cos(lat_deg)
    normal_0, normal_1 = _normal_radius_nm(sin_0), _normal_radius_nm(sin_1)
    outward = normal_1 * cos_1 * np.cos(turn) - normal_0 * cos_0
    polar = (1 - ECCENTRICITY_SQUARED) * (normal_1 * sin_1 - normal_0 * sin_0)
    east = normal_1 * cos_1 * np.sin(turn)
    north = cos_0 * polar - sin_0 * outward
    level = np.hypot(east, north)
    safe = np.where(level > 0.0, level, 1.0)
    radius = _radius_along_nm((sin_0**2 + sin_1**2) / 2, (north / safe) ** 2)
    chord = np.sqrt(outward**2 + east**2 + polar**2)
    stretch = 2 * radius * np.arcsin(np.minimum(chord / (2 * radius), 1.0)) / safe
    return east * stretch, north * stretch


def position_at(
    east_nm: ArrayLike, north_nm: ArrayLike, reference_lat_deg: ArrayLike, reference_lon_deg: ArrayLike
) -> Positions:
    """Find the positions that lie at points of the plane of ``east_north_nm``, inverting it.

    Relative error of the displacement below 1e-7 within 20 nm and 1e-5 within 200 nm.
    """
    east, north = np.asarray(east_nm, dtype=float), np.asarray(north_nm, dtype=float)
    distance = np.hypot(east, north)
    safe = np.where(distance > 0.0, distance, 1.0)
    sin_0, cos_0 = _sin_cos(reference_lat_deg)
    sin_half_way = np.sin(np.radians(reference_lat_deg) + north / (2 * SEMI_MAJOR_AXIS_NM))
    radius = _radius_along_nm(sin_half_way**2, (north / safe) ** 2)
    level = radius * np.sin(distance / radius) / safe
    up = -2 * radius * np.sin(distance / (2 * radius)) ** 2
    normal_0 = _normal_radius_nm(sin_0)
    outward = (normal_0 + up) * cos_0 - sin_0 * north * level
    polar = ((1 - ECCENTRICITY_SQUARED) * normal_0 + up) * sin_0 + cos_0 * north * level
    across = east * level
    lat = np.degrees(np.arctan2(polar, (1 - ECCENTRICITY_SQUARED) * np.hypot(outward, across)))
    lon = np.asarray(reference_lon_deg, dtype=float) + np.degrees(np.arctan2(across, outward))
    return Positions(lat, wrap_signed_deg(lon))


def _sin_cos(angle_deg: ArrayLike) -> tuple[Floats, Floats]:
    angle = np.radians(np.asarray(angle_deg, dtype=float))
    return np.sin(angle), np.cos(angle)


def _normal_radius_nm(sin_lat: Floats) -> Floats:
    """Radius of curvature across the meridian."""
    radius: Floats = SEMI_MAJOR_AXIS_NM / np.sqrt(1 - ECCENTRICITY_SQUARED * sin_lat**2)
    return radius


def _radius_along_nm(sin_lat_squared: Floats, cos_bearing_squared: Floats) -> Floats:
    """Radius of curvature along a bearing (Euler)."""
    flat = 1 - ECCENTRICITY_SQUARED * sin_lat_squared
    meridian_excess = flat / (1 - ECCENTRICITY_SQUARED) - 1  # normal radius / meridian radius - 1
    radius: Floats = SEMI_MAJOR_AXIS_NM / np.sqrt(flat) / (1 + meridian_excess * cos_bearing_squared)
    return radius


# magnetic variation


def magnetic_model(year: float) -> GeoMag:
    """Load the World Magnetic Model in force at a decimal year within ``VARIATION_YEARS``."""
    return _model_from(max(start for start in _MODELS if start <= year))


@cache
def _model_from(first_year: int) -> GeoMag:
    return GeoMag(coefficients_file=f"wmm/{_MODELS[first_year]}.COF")


def decimal_year(time_s: ArrayLike) -> Floats:
    """Turn seconds since 1970-01-01 UTC into decimal years."""
    time = np.asarray(time_s, dtype=float)
    known = np.abs(time) < 1e11
    year = np.where(known, time, 0.0).astype(np.int64).astype("datetime64[s]").astype("datetime64[Y]")
    start, end = (edge.astype("datetime64[s]").astype(np.int64) for edge in (year, year + 1))
    decimal = 1970 + year.astype(np.int64) + (time - start) / (end - start)
    return np.where(known, decimal, np.nan)[()]


def variation_deg(lat_deg: float, lon_deg: float, year: float) -> float:
    """Find the magnetic variation at sea level at a decimal year; NaN outside ``VARIATION_YEARS``."""
    first, last = VARIATION_YEARS
    if not (first <= year <= last and abs(lat_deg) <= 90.0 and np.isfinite(lon_deg)):
        return float("nan")
    return float(magnetic_model(year).calculate(glat=lat_deg, glon=lon_deg, alt=0.0, time=year).d)


def variation_along(lat_deg: Floats, lon_deg: Floats, time_s: Floats) -> Floats:
    """Find the magnetic variation along a track, as ``variation_deg`` at each point.

    ``time_s`` is seconds since 1970-01-01 UTC; all arrays have one length. The model is evaluated at the
    corners of the cells visited, 1/2 deg by 1/2 deg by a year, and interpolated linearly. That is within
    0.02 deg of the model between 55 S and 55 N, and 0.02 deg for 99 of 100 places up to 80, but off by more
    near a magnetic pole.
    """
    first, last = VARIATION_YEARS
    year = decimal_year(time_s)
    known = (year >= first) & (year <= last) & (np.abs(lat_deg) <= 90.0) & np.isfinite(lon_deg)
    place = np.stack([year[known], lat_deg[known] * _CELLS_PER_DEG, lon_deg[known] * _CELLS_PER_DEG])
    highest = np.array([last - 1, 90 * _CELLS_PER_DEG - 1, np.inf])
    cell = np.minimum(np.floor(place), highest[:, np.newaxis])
    starts = np.flatnonzero(np.any(np.diff(cell, axis=1, prepend=np.nan) != 0, axis=0))
    visited, cell_of_run = np.unique(cell[:, starts].astype(int), axis=1, return_inverse=True)
    cell_of_point = np.repeat(cell_of_run, np.diff(starts, append=cell.shape[1]))
    corners = np.array([_corners(*indices) for indices in visited.T.tolist()]).reshape(-1, 2, 2, 2)
    value = corners.transpose(1, 2, 3, 0)[..., cell_of_point]
    for share in place - cell:
        value = value[0] + (value[1] - value[0]) * share
    variation = np.full(np.shape(lat_deg), np.nan)
    variation[known] = wrap_signed_deg(value)
    return variation


def _corners(year: int, lat_index: int, lon_index: int) -> Floats:
    """Variation at the 2 x 2 x 2 corners (year, lat, lon) of a cell, each the short way from the first."""
    value = np.array(
        [
            [[_at_node(year, year + i, lat_index + j, lon_index + k) for k in (0, 1)] for j in (0, 1)]
            for i in (0, 1)
        ]
    )
    first: float = value[0, 0, 0]
    return first + wrap_signed_deg(value - first)


@cache
def _at_node(model_year: int, year: int, lat_index: int, lon_index: int) -> float:
    lat, lon = lat_index / _CELLS_PER_DEG, lon_index / _CELLS_PER_DEG
    return float(magnetic_model(model_year).calculate(glat=lat, glon=lon, alt=0.0, time=float(year)).d)
