"""The weather of a passage: what the barometer and the wind did, and how a forecast of it did."""

from dataclasses import dataclass

import pandas as pd

from analysis.calibration.barometer import BarometerCheck
from analysis.errors import SettingError
from analysis.estimate import Estimate
from analysis.lasting import SensorErrors
from analysis.reading.forecast import Forecast
from analysis.weather.check import ForecastCheck, check_forecast
from analysis.weather.pressure import PressureRecord, pressure_record
from analysis.weather.series import ten_minute_means
from analysis.weather.wind import WindRecord, wind_record

LOWEST_M, HIGHEST_M = 1.0, 100.0


@dataclass(frozen=True)
class WeatherAsked:
    """The forecast to judge, and the height of the wind sensor above the sea [m], None where it is not known.

    Raises SettingError where the height is none that a boat has.
    """

    forecast: Forecast | None = None
    wind_height_m: float | None = None

    def __post_init__(self) -> None:
        height = self.wind_height_m
        if height is not None and not LOWEST_M <= height <= HIGHEST_M:
            raise SettingError(
                f"wind height {height:g} m: give the wind sensor's height above the sea, from {LOWEST_M:.0f} to "
                f"{HIGHEST_M:.0f} m."
            )


@dataclass(frozen=True)
class Weather:
    """Pressure, wind and the check of a forecast; None for what was not logged, or not asked."""

    pressure: PressureRecord | None
    wind: WindRecord | None
    forecast: ForecastCheck | None


def watch_weather(
    frame: pd.DataFrame,
    asked: WeatherAsked,
    barometer: BarometerCheck | None,
    offset: Estimate | None,
    errors: SensorErrors | None = None,
) -> Weather:
    """Work the weather out from a corrected and derived frame.

    ``offset`` is what the barometer is off by, as estimated or set by hand; ``barometer`` has its height,
    ``errors`` are what the corrections leave.
    """
    height_m = 0.0 if barometer is None else barometer.height_m
    means = ten_minute_means(frame, height_m, asked.wind_height_m, errors)
    known = offset is not None and offset.determined
    checked = known or "air_pressure_hpa_shown" in frame
    sd_hpa = (offset.sd or 0.0) if known and offset is not None else 0.0
    check = None
    if asked.forecast is not None:
        check = check_forecast(asked.forecast, means, sd_hpa if checked else None)
    return Weather(pressure_record(means, height_m, checked), wind_record(means, asked.wind_height_m), check)
