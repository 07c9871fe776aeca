"""Do the stated intervals of the weather hold the truth: barometer offset, forecast errors, timing of a front.

Run with ``pytest -m study -s tests/studies/test_weather_study.py``. Passages of four hours are invented whole, with
errors of vane, anemometer and barometer that the road must find; fronts are made here, as ten-minute means.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis import Settings, review
from analysis.asked import Asked
from analysis.estimate import SIGMAS_95
from analysis.invent import SCENARIOS, Errors, Sea, invent
from analysis.invent.sea import draw_weather
from analysis.reading.forecast import Forecast
from analysis.reading.pressure import PressureReference
from analysis.weather import PRESSURE, TWD, TWS, TenMinutes, WeatherAsked, check_forecast
from analysis.weather.memory import mean_with_sd

pytestmark = pytest.mark.study

PASSAGES, FRONTS, SKIES = 40, 100, 400
HOURS = 4.0
HOUR = 3600.0
REFERENCE_SD_HPA = 0.5


def judged(name: str, misses: list[tuple[float, float]], least: int) -> None:
    """Print and hold the coverage of 95 % intervals: at least nine in ten, and none so wide that it says nothing."""
    error, sd = np.array(misses).T
    inside = float((np.abs(error) <= SIGMAS_95 * sd).mean())
    size = float(np.sqrt(np.mean((error / sd) ** 2)))
    print(
        f"\n{name}: inside in {inside:.1%} of {len(misses)}, rms error {np.sqrt(np.mean(error**2)):.2f}, "
        f"median sd {np.median(sd):.2f}, rms of error over sd {size:.2f}"
    )
    assert len(misses) >= least
    assert inside >= 0.9
    assert size > 0.3


@pytest.fixture(scope="module")
def passages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[tuple[float, float]]]:
    """Errors and one-sigmas from whole invented passages: barometer offset, mean errors of three quantities."""
    found: dict[str, list[tuple[float, float]]] = {"barometer": [], TWS: [], TWD: [], PRESSURE: []}
    folder = tmp_path_factory.mktemp("weather")
    for seed in range(PASSAGES):
        rng = np.random.default_rng(7000 + seed)
        sea = Sea(
            wind_from_deg=rng.uniform(0, 360),
            wind_kn=rng.uniform(10, 18),
            veer_deg_per_h=rng.normal(0, 3),
            freshening_kn_per_h=rng.normal(0, 0.4),
            gust=rng.uniform(0.05, 0.1),
            pressure_hpa=rng.uniform(995, 1025),
            pressure_trend_hpa_per_h=rng.normal(0, 0.6),
        )
        errors = Errors(
            log_factor=rng.normal(1, 0.04),
            vane_offset_deg=rng.normal(0, 3),
            wind_speed_factor=rng.normal(1, 0.04),
            barometer_offset_hpa=rng.normal(0, 2),
        )
        made = invent(replace(SCENARIOS["open-passage"], sea=sea), 100 + seed, HOURS, errors)
        log = folder / f"{seed}.nmea"
        log.write_bytes(made.log_bytes())
        start_s = made.track.index[0].timestamp()
        found_one(log, sea, errors, start_s, rng, found)
        log.unlink()
    return found


def found_one(
    log: Path,
    sea: Sea,
    errors: Errors,
    start_s: float,
    rng: np.random.Generator,
    found: dict[str, list[tuple[float, float]]],
) -> None:
    told_h = np.arange(-3.0, 9.1, 3.0)
    bias = {TWS: rng.normal(0, 2), TWD: rng.normal(0, 12), PRESSURE: rng.normal(0, 1.5)}
    missing = np.full(len(told_h), np.nan)
    forecast = Forecast(
        "made",
        start_s + told_h * HOUR,
        missing,
        missing,
        (sea.wind_from_deg + sea.veer_deg_per_h * told_h + bias[TWD]) % 360,
        sea.wind_kn + sea.freshening_kn_per_h * told_h + bias[TWS],
        sea.pressure_hpa + sea.pressure_trend_hpa_per_h * told_h + bias[PRESSURE],
    )
    hours = np.arange(0.0, HOURS + 0.1)
    station = sea.pressure_hpa + sea.pressure_trend_hpa_per_h * hours + rng.normal(0, REFERENCE_SD_HPA)
    reference = PressureReference(
        pd.DatetimeIndex(pd.to_datetime(start_s + hours * HOUR, unit="s", utc=True)),
        np.round(station + rng.normal(0, 0.1, len(hours)), 1),
        REFERENCE_SD_HPA,
    )
    asked = Asked(weather=WeatherAsked(forecast, 10.0))
    case = review(log, Settings(pressure=reference, asked=asked)).case
    offset = case.calibration.estimates["barometer_offset_hpa"]
    assert offset.determined
    found["barometer"].append((offset.value - errors.barometer_offset_hpa, offset.sd))
    for score in case.weather.forecast.scores:
        if score.bias.determined:
            found[score.channel].append((score.bias.value - bias[score.channel], score.bias.sd))


@pytest.mark.parametrize("name", ["barometer", TWS, TWD, PRESSURE])
def test_whole_passages(passages: dict[str, list[tuple[float, float]]], name: str) -> None:
    judged(name, passages[name], PASSAGES if name == "barometer" else PASSAGES // 2)


@pytest.fixture(scope="module")
def skies() -> dict[str, list[tuple[float, float]]]:
    """Mean and one-sigma of what the wind alone strays from its course in four hours, in ten-minute means."""
    strayed: dict[str, list[tuple[float, float]]] = {TWD: [], TWS: []}
    hours = np.arange(HOURS * HOUR) / HOUR
    for seed in range(SKIES):
        rng = np.random.default_rng(20_000 + seed)
        sea = Sea(wind_from_deg=0.0, wind_kn=rng.uniform(10, 18), gust=rng.uniform(0.05, 0.1))
        wind = draw_weather(sea, hours, 1.0, rng).wind * np.exp(1j * np.radians(sea.veer_deg_per_h * hours))
        course = sea.wind_kn + sea.freshening_kn_per_h * hours
        for channel, values in ((TWD, np.degrees(np.angle(1j * wind))), (TWS, np.abs(wind) - course)):
            strayed[channel].append(mean_with_sd(values.reshape(-1, 600).mean(axis=1)))
    return strayed


@pytest.mark.parametrize("channel", [TWD, TWS])
def test_the_wander_of_the_wind_alone(skies: dict[str, list[tuple[float, float]]], channel: str) -> None:
    judged(f"wander of {channel}", skies[channel], SKIES)


def remembering(rng: np.random.Generator, count: int, memory_s: float, sd: float) -> np.ndarray:
    kept, noise = np.exp(-600 / memory_s), rng.normal(0, sd, count)
    for step in range(1, count):
        noise[step] = kept * noise[step - 1] + np.sqrt(1 - kept**2) * noise[step]
    return noise


@pytest.mark.parametrize(
    ("hours", "step_h", "width_h"), [(24, 1, 1.0), (24, 3, 3.0), (12, 1, 2.0), (48, 3, 1.0)]
)
def test_fronts_are_timed(hours: float, step_h: float, width_h: float) -> None:
    misses = []
    for seed in range(FRONTS):
        rng = np.random.default_rng(9000 + seed)
        at_h, veer, rise, late_h = (
            rng.uniform(0.3, 0.7) * hours,
            rng.uniform(30, 70),
            rng.uniform(2, 6),
            rng.uniform(-2, 2),
        )

        def weather(h, at_h=at_h, veer=veer, rise=rise):
            front = 1 / (1 + np.exp(-4 * (h - at_h) / width_h))
            return (
                220 + veer * front,
                15 + rise * front,
                1010 - 5 * np.exp(-(((h - at_h) / 5) ** 2)) - 0.2 * h,
            )

        time_s = (np.arange(round(hours * 6)) + 0.5) * 600
        count, twd, tws, hpa = len(time_s), *weather(time_s / HOUR)
        memory_s = 1500 * rng.uniform(1, 2.5)
        means = TenMinutes(
            time_s,
            np.full(count, 50.0),
            np.full(count, -2.0),
            (twd + remembering(rng, count, memory_s, 6) + rng.normal(0, 1.5, count)) % 360,
            tws + remembering(rng, count, memory_s, 1.2) + rng.normal(0, 0.4, count),
            hpa + remembering(rng, count, 3600, 0.15),
            0.0,
            0.0,
        )
        told_h = np.arange(-6.0, hours + 6.1, step_h)
        twd, tws, hpa = weather(told_h + late_h)
        missing = np.full(len(told_h), np.nan)
        lag = check_forecast(
            Forecast(
                "made",
                told_h * HOUR,
                missing,
                missing,
                (twd + rng.normal(0, 10)) % 360,
                tws + rng.normal(0, 2),
                hpa + rng.normal(0, 1),
            ),
            means,
            0.3,
        ).shift.lag
        if lag.determined:
            misses.append((lag.value - late_h, lag.sd))
    judged(f"front of {width_h} h in {hours} h, forecast every {step_h} h", misses, FRONTS // 2)
