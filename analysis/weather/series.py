"""A passage as meteorology keeps it: means over ten minutes of pressure at sea level and of the wind at 10 m."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.calibration.barometer import STANDARD_TEMP_C, sea_level_pressure_hpa
from analysis.calibration.wind import upwash_shape
from analysis.lasting import SensorErrors
from analysis.passage import Bools, Floats, Ints, column, mean_known, seconds_of
from analysis.vectors import wrap_signed_deg

BLOCK_S = 600.0  # WMO-No. 8, from memory: wind for synoptic purposes is a mean over 10 min
LEAST_SHARE = 0.5  # of its ten minutes, and of the readings that others have
SEA_ROUGHNESS_M = 2e-4  # open sea, class 1 of the Davenport classification, WMO-No. 8, from memory
ROUGHNESS_RANGE_M = (2e-5, 2e-3)  # smooth sea to a gale's, Charnock's relation, from memory
UNKNOWN_HEIGHT_SHARE = 0.06  # half of what lies between a sensor at 5 m and one at 20 m, by the log law
REFERENCE_HEIGHT_M = 10.0  # WMO-No. 8: the height of wind in observations and forecasts


@dataclass(frozen=True)
class TenMinutes:
    """One row per ten minutes, without holes; ``time_s`` is the middle, NaN is what was not logged.

    ``tws_kn`` is the mean speed over the ground, at 10 m where the height was given, ``twd_deg`` the mean
    direction, both NaN where less than half of the ten minutes were logged; ``pressure_hpa`` is at sea level.
    The one-sigmas are those of a lasting error of the instruments.
    """

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    twd_deg: Floats
    tws_kn: Floats
    pressure_hpa: Floats
    twd_sd_deg: float
    tws_sd_kn: float


def height_factor(height_m: float, roughness_m: float = SEA_ROUGHNESS_M) -> float:
    """Wind at 10 m over wind at a height [m], by the log law ln(10/z0) / ln(z/z0) of a neutral surface layer.

    R. B. Stull, An Introduction to Boundary Layer Meteorology (1988), section 9.7, from memory.
    """
    return float(np.log(REFERENCE_HEIGHT_M / roughness_m) / np.log(height_m / roughness_m))


def height_factor_sd(height_m: float) -> float:
    """One-sigma of the factor: half of what lies between a smooth and a rough sea."""
    smooth, rough = (height_factor(height_m, one) for one in ROUGHNESS_RANGE_M)
    return abs(smooth - rough) / 2


def ten_minute_means(
    frame: pd.DataFrame,
    barometer_height_m: float = 0.0,
    wind_height_m: float | None = None,
    errors: SensorErrors | None = None,
) -> TenMinutes:
    """Average a corrected and derived frame over the ten minutes of the clock; ``errors`` are what is left in it."""
    time_s = seconds_of(frame)
    first = int(time_s[0] // BLOCK_S) if len(time_s) else 0
    block = (time_s // BLOCK_S).astype(np.int64) - first
    count = int(block[-1]) + 1 if len(block) else 0

    def mean(values: Floats) -> Floats:
        known = np.isfinite(values)
        number = np.bincount(block[known], minlength=count)
        total = np.bincount(block[known], weights=values[known], minlength=count)
        enough = number >= max(1.0, LEAST_SHARE * number.max(initial=0))
        return np.where(enough, total / np.maximum(number, 1), np.nan)

    twd, tws = column(frame, "twd_ground_deg"), column(frame, "tws_ground_kn")
    blown = _long_enough(time_s[np.isfinite(tws)], block[np.isfinite(tws)], count)
    lon = column(frame, "lon_deg")
    at = np.flatnonzero(np.isfinite(lon))
    origin = float(lon[at[0]]) if len(at) else 0.0
    factor = 1.0 if wind_height_m is None else height_factor(wind_height_m)
    spread = UNKNOWN_HEIGHT_SHARE if wind_height_m is None else height_factor_sd(wind_height_m)
    mean_tws = np.where(blown, mean(tws) * factor, np.nan)
    typical = float(np.nanmean(mean_tws)) if np.isfinite(mean_tws).any() else 0.0
    twd_sd_deg, tws_sd_kn = _lasting(frame, errors or SensorErrors())
    middles: Floats = (first + np.arange(count, dtype=float) + 0.5) * BLOCK_S
    return TenMinutes(
        time_s=middles,
        lat_deg=mean(column(frame, "lat_deg")),
        lon_deg=wrap_signed_deg(origin + mean(wrap_signed_deg(lon - origin))),
        twd_deg=np.where(blown, _mean_direction(twd, mean), np.nan),
        tws_kn=mean_tws,
        pressure_hpa=sea_level_pressure_hpa(
            mean(column(frame, "air_pressure_hpa")), barometer_height_m, _air_temp_c(frame)
        ),
        twd_sd_deg=twd_sd_deg,
        tws_sd_kn=float(np.hypot(tws_sd_kn * factor, spread * typical)),
    )


def _long_enough(time_s: Floats, block: Ints, count: int) -> Bools:
    """Whether the times of each block span so much of its ten minutes that a mean of them may be called its."""
    first, last = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(first, block, time_s)
    np.maximum.at(last, block, time_s)
    return np.asarray(last - first >= LEAST_SHARE * BLOCK_S - 1)


def _mean_direction(direction_deg: Floats, mean: Callable[[Floats], Floats]) -> Floats:
    east, north = mean(np.sin(np.radians(direction_deg))), mean(np.cos(np.radians(direction_deg)))
    return np.asarray(np.degrees(np.arctan2(east, north)) % 360)


def _lasting(frame: pd.DataFrame, errors: SensorErrors) -> tuple[float, float]:
    """One-sigmas of the mean direction [deg] and speed [kn] by errors that last.

    What turns the wind one way on one tack and the other way on the other (a wind speed, an upwash) evens out as far
    as both were sailed.
    """
    felt, true = (
        column(frame, speed) * _turn(column(frame, angle))
        for speed, angle in (("aws_kn", "awa_deg"), ("tws_ground_kn", "twa_ground_deg"))
    )
    felt, true = felt[np.abs(true) > 0], true[np.abs(true) > 0]
    bend = np.asarray(upwash_shape(np.degrees(np.angle(felt))))
    moved = [
        true + felt * wrong
        for wrong in (errors.wind_share, _turn(errors.vane_deg) - 1, _turn(errors.upwash_deg * bend) - 1)
    ]
    turned = [mean_known(np.degrees(np.angle(one / true))) for one in moved]
    swollen = [mean_known(np.abs(one) - np.abs(true)) for one in moved]
    if not np.isfinite(turned).all():
        return 0.0, 0.0
    return float(np.linalg.norm([*turned, errors.compass_deg])), float(np.linalg.norm(swollen))


def _turn(angle_deg: Floats | float) -> NDArray[np.complex128]:
    return np.asarray(np.exp(1j * np.radians(angle_deg)))


def _typical(frame: pd.DataFrame, name: str) -> float:
    values = column(frame, name)
    return float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0


def _air_temp_c(frame: pd.DataFrame) -> float:
    return _typical(frame, "air_temp_c") if "air_temp_c" in frame else STANDARD_TEMP_C
