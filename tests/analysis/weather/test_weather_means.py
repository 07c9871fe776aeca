"""Ten-minute means, tendencies and the wind's record, on weather made here."""

import numpy as np
import pandas as pd
import pytest

from analysis.calibration.barometer import station_pressure_hpa
from analysis.errors import SettingError
from analysis.estimate import SIGMAS_95, Estimate
from analysis.lasting import SensorErrors
from analysis.weather import WeatherAsked, height_factor, pressure_record, ten_minute_means, watch_weather
from analysis.weather.memory import independent, mean_with_sd

START = pd.Timestamp("2026-06-01T08:00Z")


def frame_of(hours: float = 6.0, **columns) -> pd.DataFrame:
    seconds = np.arange(int(3600 * hours))
    index = START + pd.to_timedelta(seconds, unit="s")
    return pd.DataFrame(
        {name: np.broadcast_to(one(seconds / 3600), len(seconds)) for name, one in columns.items()},
        index=index,
    )


def test_a_steady_fall_is_told_to_the_tenth():
    frame = frame_of(air_pressure_hpa=lambda h: np.round(1010 - 0.8 * h, 1))
    record = pressure_record(ten_minute_means(frame), 0.0, checked=True)
    assert record is not None
    assert [one.amount_hpa for one in record.hourly] == pytest.approx(
        [-2.4] * 3, abs=0.05
    )  # 3 h of 0.8 hPa/h
    assert {one.characteristic for one in record.hourly} == {7}
    assert pd.Timestamp(record.hourly[-1].time_s, unit="s", tz="UTC") == START + pd.Timedelta("6h")
    assert record.fastest_rise is None
    assert record.fastest_fall is not None and record.fastest_fall.amount_hpa < -2.3
    assert 0.03 < record.sd_hpa < 0.1


def test_a_barometer_above_the_sea_is_reduced():
    frame = frame_of(air_pressure_hpa=lambda h: station_pressure_hpa(1010 + 0 * h, 8.0))
    assert ten_minute_means(frame, 8.0).pressure_hpa == pytest.approx(np.full(36, 1010.0), abs=1e-6)


def test_a_pressure_now_and_then_makes_means_all_the_same():
    frame = frame_of(air_pressure_hpa=lambda h: np.where(np.arange(len(h)) % 20, np.nan, 1010.0))
    assert np.isfinite(ten_minute_means(frame).pressure_hpa).all()


def test_a_gap_breaks_the_tendency():
    frame = frame_of(air_pressure_hpa=lambda h: np.where((h > 2) & (h < 3), np.nan, 1010 - h))
    record = pressure_record(ten_minute_means(frame), 0.0, checked=True)
    assert record is not None
    hours = {pd.Timestamp(one.time_s, unit="s", tz="UTC").hour for one in record.hourly}
    assert hours == set()  # every three hours up to 14:00 hold the gap of 10:00 to 11:00, a third of them


def test_the_wind_is_reduced_to_ten_metres_and_told_by_force():
    frame = frame_of(tws_ground_kn=lambda h: 15.0 + 10 * (h >= 5), twd_ground_deg=lambda h: 359.0 + 0 * h)
    weather = watch_weather(frame, WeatherAsked(wind_height_m=20.0), None, None)
    assert weather.pressure is None and weather.forecast is None and weather.wind is not None
    assert weather.wind.strongest_kn == pytest.approx(25 * height_factor(20.0))
    assert weather.wind.hours_by_force[4] == pytest.approx(5.0)  # 14.1 kn
    assert weather.wind.hours_by_force[6] == pytest.approx(1.0)  # 23.5 kn
    assert weather.wind.twd_deg == pytest.approx(np.full(36, 359.0))


def test_the_antimeridian_and_north_are_no_edges():
    frame = frame_of(
        1.0,
        lat_deg=lambda h: 0 * h,
        lon_deg=lambda h: (180.05 + 0.2 * h + 180) % 360 - 180 - 0.1,
        tws_ground_kn=lambda h: 10 + 0 * h,
        twd_ground_deg=lambda h: np.where(np.arange(len(h)) % 2, 350.0, 10.0),
    )
    means = ten_minute_means(frame)
    assert np.abs(((means.lon_deg - 179.95) + 180) % 360 - 180).max() < 0.2
    assert np.cos(np.radians(means.twd_deg)) == pytest.approx(np.ones(6))


def test_a_log_with_nothing_or_next_to_nothing():
    for frame in (frame_of(0.0), frame_of(1 / 3600, stw_kn=lambda h: 5 + 0 * h)):
        weather = watch_weather(frame, WeatherAsked(), None, None)
        assert weather.pressure is None and weather.wind is None and weather.forecast is None


def test_the_barometer_counts_as_checked_once_its_offset_is_known():
    frame = frame_of(air_pressure_hpa=lambda h: 1010 + 0 * h)
    known, unknown = Estimate(1.0, 0.3, "hPa", True), Estimate(None, None, "hPa", False)
    assert watch_weather(frame, WeatherAsked(), None, known).pressure.checked
    assert not watch_weather(frame, WeatherAsked(), None, unknown).pressure.checked


@pytest.mark.parametrize("height_m", [0.5, 150.0, float("nan")])
def test_a_height_no_boat_has(height_m):
    with pytest.raises(SettingError, match="from 1 to 100 m"):
        WeatherAsked(wind_height_m=height_m)


def test_values_that_remember_are_worth_fewer():
    rng = np.random.default_rng(1)
    fresh = rng.normal(size=400)
    kept = np.zeros(400)
    for at in range(1, 400):
        kept[at] = 0.8 * kept[at - 1] + rng.normal()
    assert independent(fresh) > 200
    # n (1 - r) / (1 + r) of a series of the first order: 400 * 0.2 / 1.8 = 44
    assert 20 < independent(kept) < 75
    assert mean_with_sd(np.array([1.0, 1.0, 1.0]))[1] == pytest.approx(0.0, abs=1e-9)


def test_a_mean_is_as_sure_as_its_values_are_independent():
    rng = np.random.default_rng(2)
    fresh = rng.normal(size=2000)
    # 1 / sqrt(n) of white noise of one-sigma 1
    assert mean_with_sd(fresh)[1] == pytest.approx(1 / np.sqrt(2000), rel=0.1)
    kept = np.zeros(2000)
    for at in range(1, 2000):
        kept[at] = 0.8 * kept[at - 1] + 0.6 * rng.normal()
    # sqrt((1 + r) / (1 - r) / n) of noise of the first order
    assert mean_with_sd(kept)[1] == pytest.approx(np.sqrt(9 / 2000), rel=0.15)
    holed = np.where(np.arange(2000) % 3, kept, np.nan)
    assert mean_with_sd(holed)[1] == pytest.approx(np.sqrt(9 / 2000), rel=0.2)
    assert mean_with_sd(np.array([np.nan, 5.0])) == (5.0, 0.0)


@pytest.mark.parametrize("memory_s", [300, 1500, 3600])
def test_the_interval_of_a_mean_holds_it_in_a_short_series(memory_s):
    """Six hours of wind that wanders about nothing: the interval holds nothing in 90 to 99 of 100."""
    rng = np.random.default_rng(memory_s)
    kept, inside = np.exp(-600 / memory_s), []
    for _ in range(120):
        series = np.empty(36)
        series[0] = rng.normal()
        for at in range(1, 36):
            series[at] = kept * series[at - 1] + np.sqrt(1 - kept**2) * rng.normal()
        mean, sd = mean_with_sd(series)
        inside.append(abs(mean) <= SIGMAS_95 * sd)
    assert 0.9 <= np.mean(inside) <= 0.995


def on_both_tacks(share_of_port):
    """An hour close-hauled in 10 kn over the ground at rest, so that the wind felt is the true one."""
    count = 3600
    side = np.where(np.arange(count) < share_of_port * count, -1.0, 1.0)
    index = pd.date_range("2026-06-01", periods=count, freq="s", tz="UTC")
    columns = {"aws_kn": 10.0, "awa_deg": 40 * side, "tws_ground_kn": 10.0, "twa_ground_deg": 40 * side}
    return pd.DataFrame({**columns, "twd_ground_deg": 200.0}, index=index)


def test_what_turns_with_the_tack_evens_out_and_a_vane_does_not():
    upwash, vane = SensorErrors(upwash_deg=3.0), SensorErrors(vane_deg=2.0, compass_deg=1.0)
    even, one_sided = on_both_tacks(0.5), on_both_tacks(0.0)
    assert ten_minute_means(even, errors=upwash).twd_sd_deg == pytest.approx(0, abs=1e-9)
    assert ten_minute_means(one_sided, errors=upwash).twd_sd_deg > 1
    for frame in (even, one_sided):
        # the felt wind is the true one: it turns by the vane's 2 deg, and 1 deg of the compass beside it
        assert ten_minute_means(frame, errors=vane).twd_sd_deg == pytest.approx(np.hypot(2, 1))
        # 5 % of 10 kn, beside what an unknown height leaves: 6 %
        loud = ten_minute_means(frame, errors=SensorErrors(wind_share=0.05))
        assert loud.tws_sd_kn == pytest.approx(np.hypot(0.5, 0.6))
