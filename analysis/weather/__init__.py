"""Pressure and wind as meteorology keeps them, and a forecast held against them. ``watch_weather`` is the way in."""

from analysis.weather.check import PRESSURE, TWD, TWS, ForecastCheck, HourError, Score, check_forecast
from analysis.weather.placing import Placed, placed
from analysis.weather.pressure import (
    CHARACTERISTICS,
    PressureRecord,
    Tendency,
    change_text,
    characteristic,
    pressure_record,
)
from analysis.weather.series import TenMinutes, height_factor, ten_minute_means
from analysis.weather.shift import Shift
from analysis.weather.watch import Weather, WeatherAsked, watch_weather
from analysis.weather.wind import WindRecord, beaufort, wind_record

__all__ = [
    "CHARACTERISTICS",
    "PRESSURE",
    "TWD",
    "TWS",
    "ForecastCheck",
    "HourError",
    "Placed",
    "PressureRecord",
    "Score",
    "Shift",
    "TenMinutes",
    "Tendency",
    "Weather",
    "WeatherAsked",
    "WindRecord",
    "beaufort",
    "change_text",
    "characteristic",
    "check_forecast",
    "height_factor",
    "placed",
    "pressure_record",
    "ten_minute_means",
    "watch_weather",
    "wind_record",
]
