"""A forecast against a passage: interpolation, errors put in and found, timing, and what is not determined."""

import numpy as np
import pytest

from analysis.reading.forecast import Forecast
from analysis.weather import PRESSURE, TWD, TWS, TenMinutes, check_forecast, placed
from analysis.weather.words import bias_text, shift_text, trust_text

HOUR = 3600.0


def forecast_of(time_h, twd=np.nan, tws=np.nan, pressure=np.nan, lat=np.nan, lon=np.nan) -> Forecast:
    time_s = np.asarray(time_h, dtype=float) * HOUR
    rows = (
        np.broadcast_to(np.asarray(one, dtype=float), time_s.shape) for one in (lat, lon, twd, tws, pressure)
    )
    return Forecast("made", time_s, *rows)


def means_of(hours=24.0, twd=None, tws=None, pressure=None, lat=50.0, lon=-2.0, sds=(0.0, 0.0)) -> TenMinutes:
    time_s = (np.arange(round(hours * 6)) + 0.5) * 600
    missing = np.full(len(time_s), np.nan)
    given = [missing if one is None else one(time_s / HOUR) for one in (twd, tws, pressure)]
    return TenMinutes(time_s, np.full(len(time_s), lat), np.full(len(time_s), lon), *given, *sds)


def front(h, at=12.0, width_h=1.0):
    """From 0 to 1 about an hour."""
    return 1 / (1 + np.exp(-4 * (h - at) / width_h))


def remembering(rng, count, sd, memory):
    noise = rng.normal(0, sd, count)
    for step in range(1, count):
        noise[step] = memory * noise[step - 1] + np.sqrt(1 - memory**2) * noise[step]
    return noise


def test_between_the_points_of_a_grid_and_two_times():
    # bilinear by hand: a plane 10 + 2 (lat - 50) + 4 (lon + 2) + 1 h is met exactly
    lat, lon = (one.ravel() for one in np.meshgrid([50.0, 51.0], [-2.0, -1.0], indexing="ij"))
    plane = 10 + 2 * (lat - 50) + 4 * (lon + 2)
    one = forecast_of(
        np.repeat([0.0, 3.0], 4),
        tws=np.concatenate((plane, plane + 3)),
        lat=np.tile(lat, 2),
        lon=np.tile(lon, 2),
    )
    found = placed(one, np.array([1.0, 2.0]) * HOUR, np.array([50.25, 51.0]), np.array([-1.5, -2.0]))
    assert found.tws_kn == pytest.approx([10 + 0.5 + 2 + 1, 10 + 2 + 0 + 2])
    beyond = placed(one, np.array([1.0, 4.0]) * HOUR, np.array([52.0, 50.5]), np.array([-1.5, -1.5]))
    assert np.isnan(beyond.tws_kn).all()


def test_a_veer_through_north_takes_nothing_from_the_speed():
    one = forecast_of([0.0, 6.0], twd=[340.0, 20.0], tws=[20.0, 20.0])
    found = placed(one, np.array([3 * HOUR]), np.array([0.0]), np.array([0.0]))
    assert found.twd_deg[0] == pytest.approx(0.0, abs=1e-6)
    assert found.tws_kn[0] == pytest.approx(20.0)


def test_scattered_points_near_and_far_and_across_the_antimeridian():
    one = forecast_of([0.0, 0.0], tws=[10.0, 20.0], lat=[10.0, 10.0], lon=[179.9, -179.9])
    time_s = np.zeros(3)
    found = placed(one, time_s, np.array([10.0, 10.0, 10.0]), np.array([180.0, 179.9, 170.0]))
    assert found.tws_kn[0] == pytest.approx(15.0)  # half way between the two
    assert found.tws_kn[1] == pytest.approx(10.0, abs=0.01)
    assert np.isnan(found.tws_kn[2])  # 600 nm away


def test_times_more_than_twelve_hours_apart_are_not_bridged():
    one = forecast_of([0.0, 24.0], tws=[10.0, 20.0])
    assert np.isnan(placed(one, np.array([12 * HOUR]), np.zeros(1), np.zeros(1)).tws_kn[0])


def test_what_was_put_in_is_found():
    rng = np.random.default_rng(2)
    noise = [remembering(rng, 144, sd, 0.7) for sd in (5.0, 1.0, 0.1)]
    means = means_of(
        twd=lambda h: (350 + 1.0 * h + noise[0]) % 360,
        tws=lambda h: 15 + noise[1],
        pressure=lambda h: 1010 + 3 * np.sin(h / 4) + noise[2],
        sds=(1.0, 0.3),
    )
    hours = np.arange(-6, 31.0)
    one = forecast_of(
        hours,
        twd=(350 + hours + 15) % 360,
        tws=15 - 3.0 + 0 * hours,
        pressure=1010 + 3 * np.sin(hours / 4) + 2,
    )
    check = check_forecast(one, means, 0.3)
    for channel, true in ((TWD, 15.0), (TWS, -3.0), (PRESSURE, 2.0)):
        score = check.score(channel)
        assert score is not None and score.bias.determined
        assert score.bias.value == pytest.approx(true, abs=2 * score.bias.sd)
        assert score.rms >= score.rms_about
        assert len(score.hourly) == 24
        assert score.is_off
    assert "too weak" in bias_text(check.score(TWS))
    assert "too far to the right" in bias_text(check.score(TWD))
    text = trust_text(check)
    assert "more wind than it says" in text
    assert "farther to the left" in text
    assert "lower" in text


def test_a_barometer_that_was_not_checked_shares_the_blame():
    means = means_of(pressure=lambda h: 1010 + np.sin(9 * h))
    score = check_forecast(forecast_of([0.0, 12.0, 24.0], pressure=1012.0), means, None).score(PRESSURE)
    assert score is not None and not score.bias.determined
    assert score.bias.value == pytest.approx(2.0, abs=0.1)
    assert "or the barometer too low: it was not checked" in bias_text(score)
    assert "--pressure" in score.bias.needs


@pytest.mark.parametrize("late_h", [-1.5, 0.0, 2.0])
def test_a_front_is_timed(late_h):
    rng = np.random.default_rng(3)
    turn, gusts = remembering(rng, 144, 5.0, 0.7), remembering(rng, 144, 1.0, 0.7)
    means = means_of(
        twd=lambda h: 220 + 60 * front(h, 12 + late_h) + turn,
        tws=lambda h: 15 + 5 * front(h, 12 + late_h) + gusts,
    )
    hours = np.arange(-6, 31.0)
    one = forecast_of(hours, twd=220 + 60 * front(hours), tws=15 + 5 * front(hours))
    lag = check_forecast(one, means, None).shift.lag
    assert lag.determined
    assert lag.value == pytest.approx(late_h, abs=2 * lag.sd)
    assert lag.sd < 0.3
    text = shift_text(check_forecast(one, means, None).shift)
    assert ("on time" if late_h == 0 else "later" if late_h > 0 else "earlier") in text


def test_weather_without_a_change_times_nothing():
    rng = np.random.default_rng(4)
    turn = remembering(rng, 144, 5.0, 0.7)
    means = means_of(twd=lambda h: 220 + turn, tws=lambda h: 15 + 0 * h)
    check = check_forecast(forecast_of(np.arange(-6, 31.0), twd=220.0, tws=15.0), means, None)
    assert not check.shift.lag.determined
    assert "not determined" in shift_text(check.shift)


def test_a_direction_in_a_calm_is_not_judged():
    means = means_of(twd=lambda h: 100 + 0 * h, tws=lambda h: 2.0 + 0 * h)
    check = check_forecast(forecast_of([0.0, 12.0, 24.0], twd=300.0, tws=2.0), means, None)
    assert check.score(TWD) is None
    assert check.score(TWS) is not None


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (forecast_of([100.0, 110.0], tws=10.0), "another time"),
        (forecast_of([0.0, 12.0, 24.0], tws=10.0, lat=0.0, lon=0.0), "other places"),
        (forecast_of([0.0, 0.5], tws=10.0), "less than an hour"),
    ],
)
def test_why_nothing_could_be_compared(one, told):
    check = check_forecast(one, means_of(tws=lambda h: 10 + 0 * h), None)
    assert not check.scores
    assert told in check.why_not
    assert trust_text(check) == check.why_not


def test_a_log_without_wind_and_pressure_and_one_without_a_row():
    for means in (means_of(), means_of(hours=0.0)):
        assert "neither" in check_forecast(forecast_of([0.0, 24.0], tws=10.0), means, None).why_not
