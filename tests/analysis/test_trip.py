"""The trip record against hand calculations."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from analysis import earth
from analysis.manoeuvres import find_stops
from analysis.passage import Source, SourceKey
from analysis.trip import Most, Trip, record_trip
from analysis.weather import WeatherAsked, watch_weather

START = pd.Timestamp("2026-06-03T22:00:00Z")


def frame(hours: float, **columns: float | np.ndarray) -> pd.DataFrame:
    count = round(hours * 3600) + 1
    index = pd.date_range(START, periods=count, freq="s", name="time_utc")
    return pd.DataFrame(
        {name: np.broadcast_to(value, count) for name, value in columns.items()}, index=index, dtype=float
    )


def at_six_knots(hours: float, **columns: float | np.ndarray) -> pd.DataFrame:
    place = earth.position_at(np.arange(round(hours * 3600) + 1) * 6 / 3600, 0.0, 50.0, -2.0)
    return frame(hours, lat_deg=place.lat_deg, lon_deg=place.lon_deg, sog_kn=6.0, stw_kn=5.0, **columns)


def series(channel: str, time_s: list[float], value: list[float]) -> tuple[SourceKey, SimpleNamespace]:
    return SourceKey(channel, "II", "XDR", ""), SimpleNamespace(
        time_s=np.array(time_s), value=np.array(value)
    )


def recorded(sailed: pd.DataFrame, offset_min: int = 0, wind_hz: float | None = 1.0, **given: object) -> Trip:
    rate = Source(SourceKey("aws_kn", "WI", "MWV", ""), 1, wind_hz, 1.0, True)
    passage = SimpleNamespace(**({"series": {}, "sources": (rate,)} | given))
    pressure = watch_weather(sailed, WeatherAsked(), None, None).pressure
    return record_trip(passage, sailed, find_stops(sailed), pressure, offset_min)


def most(trip: Trip, name: str) -> Most:
    return next(one for one in trip.most if one.name.startswith(name))


def test_days_are_those_of_the_clock_and_add_up_to_the_whole() -> None:
    sailed = at_six_knots(6.0)
    utc, ship = recorded(sailed), recorded(sailed, offset_min=-180)
    assert [one.day for one in utc.days] == [date(2026, 6, 3), date(2026, 6, 4)]
    # 22:00 to midnight at 6 kn, then 4 h
    assert [one.stretch.over_ground_nm for one in utc.days] == pytest.approx([12.0, 24.0], abs=1e-3)
    assert [one.stretch.hours for one in utc.days] == pytest.approx([2.0, 4.0])
    assert [one.stretch.over_ground_nm for one in ship.days] == pytest.approx([30.0, 6.0], abs=1e-3)
    assert utc.whole is not None
    assert utc.whole.through_water_nm == pytest.approx(30.0)
    assert sum(one.stretch.over_ground_nm or 0 for one in utc.days) == pytest.approx(utc.whole.over_ground_nm)


def test_a_position_missing_over_midnight_costs_no_distance() -> None:
    sailed = at_six_knots(6.0)
    sailed.loc[sailed.index[7000:7400], ["lat_deg", "lon_deg"]] = np.nan
    trip = recorded(sailed)
    assert sum(one.stretch.over_ground_nm or 0 for one in trip.days) == pytest.approx(36.0, abs=1e-3)


def test_hours_at_rest_do_not_count_as_under_way() -> None:
    sailed = at_six_knots(4.0)
    sailed.loc[sailed.index[7201:], "sog_kn"] = 0.0
    sailed.loc[sailed.index[7201:], ["lat_deg", "lon_deg"]] = (
        sailed[["lat_deg", "lon_deg"]].iloc[7201].to_numpy()
    )
    whole = recorded(sailed).whole
    assert whole is not None
    assert whole.at_rest_h == pytest.approx(2.0, abs=0.02)
    assert whole.under_way_kn == pytest.approx(6.0, abs=0.06)


@pytest.mark.parametrize("fixless_s", [0, 600])
def test_the_way_across_a_silence_is_in_no_hours_so_it_is_in_no_average(fixless_s: int) -> None:
    sailed = at_six_knots(4.0)
    sailed.iloc[3600 - fixless_s : 3600, [0, 1]] = np.nan  # the fix is lost before the recorder falls silent
    whole = recorded(sailed.drop(sailed.index[3600:10800])).whole
    assert whole is not None
    assert whole.over_ground_nm == pytest.approx(24.0, abs=0.01)
    assert whole.under_way_kn == pytest.approx(6.0, abs=0.02)


def test_points_of_sail_count_each_side() -> None:
    twa = np.where(np.arange(4 * 3600 + 1) < 3600, 40.0, -120.0)
    trip = recorded(at_six_knots(4.0, twa_water_deg=twa, tws_water_kn=12.0))
    told = {one.name: (one.port_h, one.starboard_h) for one in trip.points}
    assert told["close-hauled"] == pytest.approx((0.0, 1.0))
    assert told["broad reach"] == pytest.approx((3.0, 0.0), abs=1e-3)
    assert sum(map(sum, told.values())) == pytest.approx(4.0, abs=1e-3)


def test_hours_under_engine_are_those_of_a_turning_engine() -> None:
    start = START.timestamp()
    time_s = [start + 20 * k for k in range(720)]
    rpm = series("engine_rpm", time_s, [1800.0 if k < 180 else 0.0 for k in range(720)])
    sailed = at_six_knots(4.0, twa_water_deg=40.0, tws_water_kn=12.0)
    trip = recorded(sailed, series=dict([rpm]))
    assert trip.whole is not None
    assert trip.whole.under_engine_h == pytest.approx(1.0, abs=0.01)
    assert sum(one.port_h + one.starboard_h for one in trip.points) == pytest.approx(3.0, abs=0.01)


def test_hours_by_the_shaft_alone_say_so() -> None:
    shaft = series("shaft_rpm", [START.timestamp() + 20 * k for k in range(720)], [120.0] * 720)
    trip = recorded(at_six_knots(4.0, twa_water_deg=40.0, tws_water_kn=12.0), series=dict([shaft]))
    assert any("shaft's hours stand for it" in text for text in trip.lacking)


def test_the_counter_of_the_engine_is_read() -> None:
    counter = series("engine_hours_h", [START.timestamp(), START.timestamp() + 7200], [812.3, 813.9])
    source = Source(counter[0], 2, None, 1.0, True)
    trip = recorded(at_six_knots(2.0), series=dict([counter]), sources=(source,))
    assert trip.engine_hours == pytest.approx(1.6)


def test_a_gust_is_a_mean_of_three_seconds_and_the_wind_one_of_ten_minutes() -> None:
    wind = np.full(2 * 3600 + 1, 12.0)
    wind[1000:1003] = [20.0, 26.0, 20.0]
    wind[4000:4600] = 15.0
    trip = recorded(at_six_knots(2.0, tws_water_kn=wind, twa_water_deg=40.0))
    gust, mean = most(trip, "gust"), most(trip, "wind")
    assert gust.value == pytest.approx(22.0)  # (20 + 26 + 20) / 3
    assert gust.at == trip.whole.start + pd.Timedelta(seconds=1001) if trip.whole else False
    assert mean.value == pytest.approx(15.0, abs=0.05)
    assert np.isfinite(gust.lat_deg) and np.isfinite(mean.lon_deg)


def test_readings_faster_than_the_rows_make_the_gust() -> None:
    """Ten readings a second with one second at 24 kn: the mean of 3 s is (2 x 12 + 24) / 3 = 16 kn."""
    count = 1801
    at_s = START.timestamp() + np.arange(10 * count) / 10
    speed = np.full(len(at_s), 12.0)
    speed[5000:5010] = 24.0
    both = {
        SourceKey(name, "WI", "MWV", ""): SimpleNamespace(time_s=at_s, value=value)
        for name, value in (("aws_kn", speed), ("awa_deg", np.full(len(at_s), 90.0)))
    }
    sailed = frame(
        0.5,
        aws_kn=12.0,
        awa_deg=90.0,
        stw_kn=0.0,
        heading_true_deg=0.0,
        tws_water_kn=12.0,
        twa_water_deg=90.0,
    )
    sources = tuple(Source(key, len(at_s), 10.0, 1.0, True) for key in both)
    assert most(recorded(sailed, series=both, sources=sources), "gust").value == pytest.approx(16.0, abs=0.5)


def test_a_slow_wind_sensor_gives_no_gust_and_says_why() -> None:
    trip = recorded(at_six_knots(1.0, tws_water_kn=12.0, twa_water_deg=40.0), wind_hz=0.1)
    assert not [one for one in trip.most if one.name.startswith("gust")]
    assert any("every 10 s" in text for text in trip.lacking)


def test_the_greatest_fall_of_pressure_is_that_of_three_hours() -> None:
    falling = 1015.0 - np.clip(np.arange(8 * 3600 + 1) / 3600 - 2, 0, 3)  # 1 hPa an hour from 2 h to 5 h
    trip = recorded(at_six_knots(8.0, air_pressure_hpa=falling))
    fall = most(trip, "fall")
    assert fall.value == pytest.approx(
        3 - 5 / 60, abs=0.01
    )  # the ramp's end lies five minutes from a mean's middle
    assert abs(fall.at - (START + pd.Timedelta(hours=5))) <= pd.Timedelta(minutes=10)


def test_what_is_not_logged_is_said() -> None:
    trip = recorded(at_six_knots(1.0), sources=())
    words = " ".join(trip.lacking)
    assert all(word in words for word in ("heel", "pressure", "engine", "point of sail", "gust"))
    assert record_trip(SimpleNamespace(), pd.DataFrame(), (), None).whole is None
