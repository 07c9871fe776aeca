"""The weather: pressure and its change, the wind by force, and how a forecast did."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.findings.lookup import moment
from analysis.findings.telling import clock, iso
from analysis.passage import NO_ROWS, column
from analysis.review import Review
from analysis.weather import (
    CHARACTERISTICS,
    TWD,
    TWS,
    ForecastCheck,
    PressureRecord,
    Score,
    Tendency,
    WindRecord,
    change_text,
)
from analysis.weather.words import Speed, bias_text, in_knots, shift_text, trust_text

from .values import estimate_object, known

TITLE = "Weather"
At = Callable[[float], str]
NO_PRESSURE = "The recording has no air pressure (XDR with a barometer, or MDA)."
NO_WIND = "The recording gives no wind over the ground (apparent wind, heading and GNSS)."
BRIEF_WIND = "The wind over the ground is recorded for too short a time to be a mean of ten minutes."
NO_FORECAST = "None was given to compare with (--forecast)."
NAMES = {TWS: "forecast speed", TWD: "forecast direction"}


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the part as plain values."""
    weather = review.case.weather
    return {
        "pressure": {"missing": no_pressure(review)}
        if weather.pressure is None
        else _pressure(weather.pressure),
        "wind": {"missing": no_wind(review)} if weather.wind is None else _wind(weather.wind),
        "forecast": {"missing": NO_FORECAST} if weather.forecast is None else _forecast(weather.forecast),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say the part in a few rows; nothing where the log has neither pressure nor wind and no forecast was given."""
    weather = review.case.weather
    if weather.pressure is None and weather.wind is None and weather.forecast is None:
        return []
    at = _at(review)
    rows = (
        [("pressure", no_pressure(review))]
        if weather.pressure is None
        else pressure_rows(weather.pressure, at)
    )
    rows.append(("wind", no_wind(review) if weather.wind is None else wind_text(weather.wind, at)))
    return [*rows, *([] if weather.forecast is None else forecast_rows(weather.forecast))]


def _at(review: Review) -> At:
    """Write times of day, after their day where the passage has more than one."""
    index = review.frame.index
    if not len(index) or index[0].date() == index[-1].date():
        return lambda time_s: clock(moment(time_s))
    return lambda time_s: f"{moment(time_s):%d %b} {clock(moment(time_s))}"


def no_pressure(review: Review) -> str:
    """Say why there is no pressure."""
    return NO_PRESSURE if len(review.frame) else f"{NO_ROWS.capitalize()}."


def no_wind(review: Review) -> str:
    """Say why there is no wind."""
    if not len(review.frame):
        return f"{NO_ROWS.capitalize()}."
    return BRIEF_WIND if np.isfinite(column(review.frame, "tws_ground_kn")).any() else NO_WIND


def pressure_rows(record: PressureRecord, at: At) -> list[tuple[str, str]]:
    """Say where the pressure was and what it did."""
    known = np.flatnonzero(np.isfinite(record.sea_level_hpa))
    first, last = (f"{record.sea_level_hpa[known[end]]:.1f}" for end in (0, -1))
    level = "" if record.checked else "; the barometer was not checked, so the level may be off"
    span = first if len(known) == 1 else f"{first} to {last}"
    rows = [("pressure", f"{span} hPa at sea level{level}")]
    if not np.isfinite(record.amount_hpa).any():
        return [*rows, ("tendency", "not known: it takes three hours of pressure without a long gap")]
    latest = record.hourly[-1] if record.hourly else None
    if latest is not None:
        rows.append(("last 3 h", tendency_text(latest, at)))
    if record.fastest_fall is not None:
        rows.append(("fastest fall", tendency_text(record.fastest_fall, at)))
    return rows


def tendency_text(one: Tendency, at: At) -> str:
    """Say a change over three hours: amount, class, pace and when it ended."""
    words = CHARACTERISTICS[one.characteristic]
    return (
        f"{one.amount_hpa:+.1f} ± {max(SIGMAS_95 * one.sd_hpa, 0.1):.1f} hPa to {at(one.time_s)}, "
        f"{change_text(one.amount_hpa)}; {words} (WMO code {one.characteristic})"
    )


def wind_text(record: WindRecord, at: At, speed: Speed = in_knots) -> str:
    """Say the wind by force, and how it was reduced."""
    hours = record.hours_by_force
    forces = [force for force, spent in enumerate(hours) if spent > 0]
    most = max(range(len(hours)), key=lambda force: hours[force])
    span = f"force {forces[0]}" if len(forces) == 1 else f"force {forces[0]} to {forces[-1]}, mostly {most}"
    reduced = (
        "at the sensor's height, not reduced (--wind-height)"
        if record.height_m is None
        else f"reduced from {record.height_m:g} to 10 m (× {record.factor:.3f})"
    )
    return (
        f"over the ground {span}; strongest ten minutes by the clock {speed(record.strongest_kn, None)} at "
        f"{at(record.strongest_s)}; {reduced}"
    )


def forecast_rows(check: ForecastCheck) -> list[tuple[str, str]]:
    """Say how the forecast did."""
    if check.why_not:
        return [("forecast", check.why_not)]
    rows = [
        (
            NAMES.get(one.channel, "forecast pressure"),
            f"{bias_text(one)}; rms {_rms(one)} in {one.hours:.1f} h",
        )
        for one in check.scores
    ]
    return [*rows, ("timing", shift_text(check.shift)), ("next forecast", trust_text(check))]


def _rms(score: Score) -> str:
    unit = {TWS: " kn", TWD: "°"}.get(score.channel, " hPa")
    return f"{score.rms:.0f}{unit}" if score.channel == TWD else f"{score.rms:.1f}{unit}"


def _pressure(record: PressureRecord) -> Mapping[str, Any]:
    return {
        "missing": None,
        "barometer_height_m": record.height_m,
        "barometer_checked": record.checked,
        "mean_sea_level_hpa": float(np.nanmean(record.sea_level_hpa)),
        "lowest_hpa": float(np.nanmin(record.sea_level_hpa)),
        "highest_hpa": float(np.nanmax(record.sea_level_hpa)),
        "tendencies": [_tendency(one) for one in record.hourly],
        "fastest_fall": record.fastest_fall and _tendency(record.fastest_fall),
        "fastest_rise": record.fastest_rise and _tendency(record.fastest_rise),
    }


def _tendency(one: Tendency) -> Mapping[str, Any]:
    return {
        "end_utc": iso(moment(one.time_s)),
        "amount_hpa": one.amount_hpa,
        "sd_hpa": one.sd_hpa,
        "characteristic": one.characteristic,
        "words": f"{change_text(one.amount_hpa)}; {CHARACTERISTICS[one.characteristic]}",
    }


def _wind(record: WindRecord) -> Mapping[str, Any]:
    return {
        "missing": None,
        "sensor_height_m": record.height_m,
        "factor_to_10_m": record.factor if record.height_m is not None else None,
        "hours_by_beaufort": list(record.hours_by_force),
        "strongest_10_min_kn": record.strongest_kn,
        "strongest_10_min_utc": iso(moment(record.strongest_s)),
    }


def _forecast(check: ForecastCheck) -> Mapping[str, Any]:
    if check.why_not:
        return {"missing": check.why_not, "file": check.name}
    lag = None if check.shift is None else check.shift.lag
    return {
        "missing": None,
        "file": check.name,
        "scores": {one.channel: _score(one) for one in check.scores},
        "lag": estimate_object(lag),
        "trust": trust_text(check),
    }


def _score(score: Score) -> Mapping[str, Any]:
    return {
        "bias": estimate_object(score.bias),
        "rms": score.rms,
        "rms_without_bias": score.rms_about,
        "hours": score.hours,
        "by_hour": [
            {"start_utc": iso(moment(one.time_s)), "error": one.error, "scatter": known(one.scatter)}
            for one in score.hourly
        ],
    }
