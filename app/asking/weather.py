"""What to ask for of the weather: a forecast to judge, and how high the wind is measured."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.weather import WeatherAsked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the group of the weather."""
    group = parser.add_argument_group("weather")
    group.add_argument(
        "--forecast",
        type=Path,
        metavar="FILE",
        help="a forecast to hold the passage against: a table with time, lat, lon, twd, tws, pressure, or GRIB",
    )
    group.add_argument(
        "--wind-height",
        type=float,
        metavar="M",
        help="height of the wind sensor above the sea, to reduce the wind to 10 m",
    )


def asked(arguments: argparse.Namespace) -> "WeatherAsked":
    """Put together what the options say. Raises SternlogError where one cannot be used."""
    from analysis.reading.forecast import read_forecast
    from analysis.weather import WeatherAsked

    forecast = None if arguments.forecast is None else read_forecast(arguments.forecast)
    return WeatherAsked(forecast, arguments.wind_height)
