"""The true state of the passage on the step grid: the vector sums every error is measured against."""

import numpy as np
from numpy.typing import NDArray

from analysis.invent.boat import Track
from analysis.invent.noise import Floats
from analysis.invent.sea import Weather, toward

_EQUATOR_M = 6378137.0  # WGS 84 semi-major axis
_E2 = 6.69437999014e-3  # WGS 84 first eccentricity squared
_KNOT_M_S = 1852 / 3600

Vectors = NDArray[np.complex128]


def bearing_deg(vector: Vectors) -> Floats:
    """Compass direction [deg, 0 <= x < 360] a vector of motion (east + i north) points toward."""
    return np.degrees(np.arctan2(vector.real, vector.imag)) % 360


def signed_deg(angle_deg: Floats) -> Floats:
    """Wrap an angle [deg] into -180 <= x < 180."""
    return (angle_deg + 180) % 360 - 180


def true_state(
    track: Track, weather: Weather, lat_deg: float, lon_deg: float, step_s: float
) -> dict[str, Floats]:
    """Combine boat and weather into the truth, one array per channel name, at every step.

    Water velocity along heading + leeway; ground = water + current; apparent wind = wind - ground. The yaw
    of the waves turns the heading but not the path, so the instantaneous leeway swings about its mean.
    """
    heading = (track.heading_deg + weather.yaw_deg) % 360
    speed = track.stw_kn / np.cos(np.radians(track.leeway_deg))
    leeway = track.leeway_deg - weather.yaw_deg
    water = speed * toward(heading + leeway)
    ground = water + weather.current
    air = weather.wind - ground
    water_wind = weather.wind - weather.current
    lat, lon = _positions(ground, lat_deg, lon_deg, step_s)
    return {
        "lat_deg": lat,
        "lon_deg": lon,
        "sog_kn": np.abs(ground),
        "cog_deg": bearing_deg(ground),
        "stw_kn": speed * np.cos(np.radians(leeway)),
        "heading_true_deg": heading,
        "leeway_deg": leeway,
        "heel_deg": track.heel_deg + weather.roll_deg,
        "pitch_deg": weather.pitch_deg,
        "rudder_deg": track.rudder_deg,
        "awa_deg": signed_deg(bearing_deg(-air) - heading),
        "aws_kn": np.abs(air),
        "twd_water_deg": bearing_deg(-water_wind),
        "tws_water_kn": np.abs(water_wind),
        "twa_water_deg": signed_deg(bearing_deg(-water_wind) - heading),
        "twd_ground_deg": bearing_deg(-weather.wind),
        "tws_ground_kn": np.abs(weather.wind),
        "twa_ground_deg": signed_deg(bearing_deg(-weather.wind) - heading),
        "set_deg": bearing_deg(weather.current),
        "drift_kn": np.abs(weather.current),
        "depth_m": weather.depth_m,
        "water_temp_c": weather.water_temp_c,
        "air_pressure_hpa": weather.pressure_hpa,
    }


def _positions(ground: Vectors, lat_deg: float, lon_deg: float, step_s: float) -> tuple[Floats, Floats]:
    """Integrate ground velocity [kn] on the WGS 84 ellipsoid; the first position is the start."""
    between = (ground[1:] + ground[:-1]) / 2 * _KNOT_M_S * step_s
    moved = np.concatenate([[0], np.cumsum(between)])
    rough = np.radians(lat_deg) + moved.imag / _EQUATOR_M
    bend = 1 - _E2 * np.sin(rough) ** 2
    north_radius = _EQUATOR_M * (1 - _E2) / bend**1.5
    lat = np.radians(lat_deg) + moved.imag / north_radius
    east_radius = _EQUATOR_M / np.sqrt(bend) * np.cos(lat)
    turned = np.concatenate([[0], np.cumsum(between.real / east_radius[:-1])])
    return np.degrees(lat), lon_deg + np.degrees(turned)
