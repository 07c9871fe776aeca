"""What the Weather page, its section of the check and its options say, without a browser."""

import argparse
import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from passages import day_at_sea, reviewed, spoken
from samples import SAMPLES

from analysis import LogError, Review, SettingError, review
from analysis.asked import Asked
from analysis.findings.weather import errors, timing
from analysis.reading.forecast import Forecast, read_forecast
from analysis.review import Settings
from analysis.weather import WeatherAsked
from app.asking import weather as asking
from app.check import check_object
from app.desk import Desk
from app.dress import Clock, Dress
from app.figures.weather import wind_chart
from app.pages import weather
from app.report.axes import numbers
from app.sections import weather as section
from app.units import UNITS
from app.view import View

START_S = pd.Timestamp("2031-05-03T18:00:00Z").timestamp()


def said(one: Review, dress: Dress | None = None, paper: bool = False) -> str:
    view = View(Desk([]).open(one), dress or Dress())
    return spoken((weather.on_paper if paper else weather.layout)(view))


def with_forecast(one: Review, forecast: Forecast | None, height_m: float | None = None) -> Review:
    asked = Asked(weather=WeatherAsked(forecast, height_m))
    return replace(one, case=replace(one.case, asked=asked))


def glass(hours: float = 12.0) -> pd.DataFrame:
    """Half a day at sea with a glass that falls by 0.8 hPa an hour."""
    frame = day_at_sea(hours)
    frame["air_pressure_hpa"] = 1010 - 0.8 * np.arange(len(frame)) / 3600
    return frame


def steady_forecast(tws_kn: float = 20.0, start_h: float = -6.0) -> Forecast:
    time_s = START_S + 3600 * np.arange(start_h, start_h + 37.0)
    missing = np.full(37, np.nan)
    return Forecast("tuesday.csv", time_s, missing, missing, missing, np.full(37, tws_kn), missing)


def test_a_fall_is_told_by_the_readers_clock():
    text = said(reviewed(glass()), Dress(clock=Clock(120, "ship's time (UTC+2)")))
    assert "fell fastest by 2.4 hPa in the three hours to" in text  # 3 h of 0.8 hPa
    assert "ship's time (UTC+2) (falling)" in text
    assert "not held against a reference" in text
    assert "Give a forecast" in text


def test_times_have_their_day_where_the_passage_has_two():
    """From 18:00 UTC twelve hours run into the next day, five do not; the last full hour of the fall is 06:00."""
    night, evening = reviewed(glass()), reviewed(glass(5.0))
    assert "hPa to 04 May 06:00 UTC" in said(night)
    assert "hPa to 04 May 06:00 UTC" in dict(section.as_rows(night))["last 3 h"]
    assert " May " not in said(evening) + str(section.as_rows(evening))


def test_a_forecast_that_blew_too_hard():
    one = with_forecast(reviewed(glass()), steady_forecast(40.0), 10.0)
    text = said(one)
    # 26 kn too much: the wind is 14 kn and 4 kn up and down
    assert "too strong" in text
    assert "less wind than it says" in text
    assert "Error by hour" in text
    assert "It is one passage; other weather may err otherwise." in text
    metric = said(one, Dress(units=UNITS["metric"]))
    assert "m/s too strong" in metric
    assert "m/s less wind than it says" in metric
    assert "How the forecast did" in said(one, paper=True)
    rows = dict(section.as_rows(one))
    assert "too strong" in rows["forecast speed"]
    assert rows["timing"].startswith(("not determined", "on time"))


@pytest.mark.parametrize(
    ("frame", "told"),
    [
        (day_at_sea(6.0), "The recording has no air pressure"),
        (glass().drop(columns=["tws_ground_kn", "twd_ground_deg"]), "no wind over the ground"),
        (
            glass().drop(columns=["tws_ground_kn", "twd_ground_deg", "air_pressure_hpa"]),
            "nothing can be said",
        ),
        (glass().iloc[:0], "nothing can be said"),
        (glass().iloc[:1], "its tendency is not known"),
    ],
    ids=["no pressure", "no wind", "neither", "no row", "one row"],
)
@pytest.mark.parametrize("forecast", [None, steady_forecast()], ids=["", "with a forecast"])
def test_what_the_log_lacks_is_said(frame, told, forecast):
    one = with_forecast(reviewed(frame), forecast)
    assert told in said(one)
    assert said(one, paper=True)
    json.dumps(dict(section.as_json(one)))
    section.as_rows(one)


def test_what_is_too_brief_for_a_chart_is_said_in_words():
    brief, half_an_hour = reviewed(glass(0.05)), reviewed(glass(0.4))
    assert section.as_json(brief)["wind"]["missing"] == section.BRIEF_WIND  # three minutes are no mean of ten
    assert "1010.0 hPa at sea level" in said(brief)
    assert said(half_an_hour).count(weather.TOO_FEW) == 2  # of pressure and of wind
    text = said(reviewed(glass(2.0)))
    assert weather.TOO_FEW not in text
    assert "Below" not in text  # two hours hold no change over three


def test_a_forecast_of_another_day_says_so():
    one = with_forecast(reviewed(glass()), steady_forecast(start_h=100.0))
    assert "tuesday.csv: The forecast speaks of another time than the passage." in said(one)
    assert section.as_json(one)["forecast"]["missing"]


def test_a_forecast_of_places_takes_a_position():
    forecast = steady_forecast()
    placed = replace(forecast, lat_deg=np.full(37, 49.85), lon_deg=np.full(37, -2.6))
    one = with_forecast(reviewed(glass().drop(columns=["lat_deg", "lon_deg"])), placed)
    assert "The recording has no position" in said(one)


def test_the_check_has_the_part():
    told = check_object(with_forecast(reviewed(glass()), steady_forecast()))["weather"]
    assert told["pressure"]["fastest_fall"]["characteristic"] == 7
    assert told["forecast"]["scores"]["tws_ground_kn"]["bias"]["unit"] == "kn"
    assert len(told["forecast"]["scores"]["tws_ground_kn"]["by_hour"]) == 12  # of 18:00 to 06:00
    nothing = check_object(reviewed(day_at_sea(1.0)))["weather"]
    assert nothing["pressure"]["missing"] == section.NO_PRESSURE
    assert nothing["forecast"]["missing"] == section.NO_FORECAST


def test_lines_do_not_cross_the_chart_at_north():
    frame = glass(6.0)
    frame["twd_ground_deg"] = (355 + 0.004 * np.arange(len(frame)) % 20) % 360
    one = reviewed(frame)
    drawn = wind_chart(one.case.weather.wind, None, Dress(), True)["data"][0]
    assert np.nanmax(np.abs(np.diff(numbers(drawn["y"])))) < 180


def test_findings_only_beyond_their_uncertainty():
    quiet, loud = (with_forecast(reviewed(glass()), steady_forecast(tws)) for tws in (14.0, 40.0))
    assert not list(errors(quiet.case))
    (found,) = errors(loud.case)
    assert (found.id, found.severity, found.subject) == ("forecast-wind-speed", "note", "forecast")
    assert found.value == pytest.approx(26, abs=3)  # 40 - 14
    assert not list(timing(loud.case))
    assert not list(errors(reviewed(glass()).case))


def test_a_late_front_is_a_note():
    frame = glass(24.0)
    hours = np.arange(len(frame)) / 3600
    frame["twd_ground_deg"] = 200 + 80 / (1 + np.exp(-8 * (hours - 13))) + 3 * np.sin(hours * 9)
    frame["tws_ground_kn"] = 15 + np.sin(hours * 7)
    told_h = np.arange(-6.0, 31.0)
    missing = np.full(len(told_h), np.nan)
    twd = 200 + 80 / (1 + np.exp(-8 * (told_h - 10.5)))
    forecast = Forecast("made", START_S + told_h * 3600, missing, missing, twd, missing, missing)
    (found,) = timing(with_forecast(reviewed(frame), forecast).case)
    assert found.id == "forecast-timing"
    assert found.value == pytest.approx(2.5, abs=2 * found.sd)
    assert "later than forecast" in found.title


def parsed(*words: str) -> WeatherAsked:
    parser = argparse.ArgumentParser()
    asking.add_options(parser)
    return asking.asked(parser.parse_args(words))


def test_the_options():
    nothing = parsed()
    assert nothing.forecast is None and nothing.wind_height_m is None
    given = parsed("--forecast", str(SAMPLES / "open-passage.forecast.csv"), "--wind-height", "14.5")
    assert given.wind_height_m == 14.5
    assert given.forecast is not None and len(given.forecast.time_s) == 28
    with pytest.raises(LogError, match="cannot be read"):
        parsed("--forecast", "nowhere.csv")
    with pytest.raises(SettingError, match="wind height"):
        parsed("--wind-height", "0")


def test_the_sample_forecast_is_off_by_what_its_head_says():
    forecast = read_forecast(SAMPLES / "open-passage.forecast.csv")
    asked = Asked(weather=WeatherAsked(forecast, 10.0))
    check = review(SAMPLES / "open-passage.nmea.gz", Settings(asked=asked)).case.weather.forecast
    assert check is not None
    for channel, true in (("tws_ground_kn", 2.5), ("twd_ground_deg", 8.0)):
        bias = check.score(channel).bias
        assert bias.value == pytest.approx(true, abs=2 * bias.sd)
    assert not check.score(
        "air_pressure_hpa"
    ).bias.determined  # the sample's barometer was not held against anything
