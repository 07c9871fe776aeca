"""A forecast held against what the boat measured: errors, hour by hour, and how late the weather came."""

from dataclasses import dataclass

import numpy as np

from analysis.estimate import SIGMAS_95, Estimate, Need
from analysis.passage import Bools, Floats
from analysis.reading.forecast import Forecast
from analysis.vectors import mean_direction_deg, wrap_signed_deg
from analysis.weather.memory import mean_with_sd
from analysis.weather.placing import Placed, placed, usual_step_s
from analysis.weather.series import BLOCK_S, TenMinutes
from analysis.weather.shift import LONGEST_LAG_S, Shift, lags_s, shift_of

TWD, TWS, PRESSURE = "twd_ground_deg", "tws_ground_kn", "air_pressure_hpa"
LEAST_WIND_KN = 4.0  # WMO-No. 306, from memory: up to 3 kn a direction may be reported as variable
LEAST_ROWS = 6
LEAST_HOURS = 3.0  # judgement: wind wanders for half an hour and more; six such times make a mean
HOUR_S = 3600.0
UNKNOWN_OFFSET = Need(
    "Give a coast station's sea-level pressure with --pressure: then the barometer is told apart"
)
LONGER = Need("Compare a longer passage")


@dataclass(frozen=True)
class HourError:
    """The mean error over one hour that starts at ``time_s``, and how it scattered by ten minutes."""

    time_s: float
    error: float
    scatter: float


@dataclass(frozen=True)
class Score:
    """How a forecast did for one channel, in the channel's unit; an error is forecast less measured.

    ``bias`` holds the scatter of the passage with its memory and the lasting error of the instruments. It is not
    determined where the instrument itself was not checked, or the passage is too short. ``rms`` is of the whole
    error, ``rms_about`` of what remains without the bias. ``error`` has a row per ten minutes, NaN where nothing
    can be compared.
    """

    channel: str
    bias: Estimate
    rms: float
    rms_about: float
    hours: float
    error: Floats
    hourly: tuple[HourError, ...]

    @property
    def is_off(self) -> bool:
        """Whether the bias is more than its own uncertainty."""
        one = self.bias
        return one.determined and one.value is not None and abs(one.value) > SIGMAS_95 * (one.sd or 0.0)


@dataclass(frozen=True)
class ForecastCheck:
    """A forecast along the track, row by row of the ten-minute means, with its scores and its timing.

    ``why_not`` says in a sentence why nothing could be compared; it is empty where something was.
    """

    name: str
    time_s: Floats
    twd_deg: Floats
    tws_kn: Floats
    pressure_hpa: Floats
    scores: tuple[Score, ...]
    shift: Shift | None
    why_not: str = ""

    def score(self, channel: str) -> Score | None:
        """Return the score of a channel, None where it could not be compared."""
        return next((one for one in self.scores if one.channel == channel), None)


def check_forecast(forecast: Forecast, means: TenMinutes, barometer_sd_hpa: float | None) -> ForecastCheck:
    """Compare a forecast with ten-minute means; ``barometer_sd_hpa`` is None where its offset is not known."""
    along = placed(forecast, means.time_s, means.lat_deg, means.lon_deg)
    scores = tuple(
        one
        for one in (
            _score(TWS, along.tws_kn - means.tws_kn, means, means.tws_sd_kn),
            _score(TWD, _turned(along, means), means, means.twd_sd_deg),
            _score(PRESSURE, along.pressure_hpa - means.pressure_hpa, means, barometer_sd_hpa),
        )
        if one is not None
    )
    why_not = "" if scores else _why_not(forecast, means, along)
    shift = _shift(forecast, means) if scores else None
    return ForecastCheck(forecast.name, means.time_s, *along, scores, shift, why_not)


def _turned(along: Placed, means: TenMinutes) -> Floats:
    """How far the forecast direction lies clockwise of the measured one, where there is wind to have one."""
    windy = np.fmin(along.tws_kn, means.tws_kn) >= LEAST_WIND_KN
    told = np.where(np.isnan(along.tws_kn), means.tws_kn >= LEAST_WIND_KN, windy)
    return np.where(told, wrap_signed_deg(along.twd_deg - means.twd_deg), np.nan)


def _score(channel: str, error: Floats, means: TenMinutes, lasting_sd: float | None) -> Score | None:
    known = np.isfinite(error)
    if known.sum() < LEAST_ROWS:
        return None
    if channel == TWD:
        middle = float(mean_direction_deg(error[known]))
        error = middle + wrap_signed_deg(error - middle)
        error = error - 360.0 * np.round(middle / 360.0)
    mean, sampling_sd = mean_with_sd(error)
    unit = {TWD: "deg", TWS: "kn", PRESSURE: "hPa"}[channel]
    hours = float(known.sum() * BLOCK_S / 3600)
    if hours < LEAST_HOURS:
        bias = Estimate(mean, None, unit, False, LONGER)
    elif lasting_sd is None:
        bias = Estimate(mean, sampling_sd, unit, False, UNKNOWN_OFFSET)
    else:
        bias = Estimate(mean, float(np.hypot(sampling_sd, lasting_sd)), unit, True)
    return Score(
        channel,
        bias,
        float(np.sqrt(np.mean(error[known] ** 2))),
        float(error[known].std()),
        hours,
        error,
        _by_hour(means.time_s, error, known),
    )


def _by_hour(time_s: Floats, error: Floats, known: Bools) -> tuple[HourError, ...]:
    hour = (time_s // HOUR_S).astype(np.int64)
    return tuple(
        HourError(float(one * HOUR_S), float(error[at].mean()), float(error[at].std()))
        for one in np.unique(hour[known]).tolist()
        if (at := known & (hour == one)).any()
    )


def _shift(forecast: Forecast, means: TenMinutes) -> Shift:
    """Compare the passage with the forecast of earlier and later times, at each lag where the boat then was."""
    lags = lags_s(min(LONGEST_LAG_S, 600.0 * (len(means.time_s) // 2)))
    shape = (len(lags), len(means.time_s))
    times = (means.time_s[None, :] - lags[:, None]).ravel()
    lat, lon = (np.broadcast_to(one, shape).ravel() for one in (means.lat_deg, means.lon_deg))
    moved = Placed(*(one.reshape(shape) for one in placed(forecast, times, lat, lon)))
    turned = np.radians(moved.twd_deg - means.twd_deg)
    typical = float(np.nanmean(means.tws_kn)) if np.isfinite(means.tws_kn).any() else 0.0
    differences = [
        np.degrees(np.arctan2(np.sin(turned), np.cos(turned)))
        if typical >= LEAST_WIND_KN
        else turned * np.nan,
        moved.tws_kn - means.tws_kn,
        moved.pressure_hpa - means.pressure_hpa,
    ]
    start, end = float(means.time_s[0]), float(means.time_s[-1])
    step = max(
        usual_step_s(forecast, values, start, end)
        for values in (forecast.twd_deg, forecast.tws_kn, forecast.pressure_hpa)
    )
    return shift_of(differences, lags, step, _sharpness(forecast, means, step))


def _sharpness(forecast: Forecast, means: TenMinutes, step_s: float) -> list[float]:
    """How much of the quickest change of direction, speed and pressure falls into one of three steps about it."""
    if step_s <= BLOCK_S:
        return [0.0, 0.0, 0.0]
    times = np.arange(means.time_s[0], means.time_s[-1] + step_s, step_s)
    place = np.clip(np.searchsorted(means.time_s, times), 0, len(means.time_s) - 1)
    along = placed(forecast, times, means.lat_deg[place], means.lon_deg[place])
    changes = (
        np.abs(wrap_signed_deg(np.diff(along.twd_deg))),
        np.abs(np.diff(along.tws_kn)),
        np.abs(np.diff(along.pressure_hpa)),
    )
    return [_share(np.nan_to_num(change)) for change in changes]


def _share(change: Floats) -> float:
    if not change.any():
        return 1.0
    at = int(change.argmax())
    return float(change[at] / change[max(at - 1, 0) : at + 2].sum())


def _why_not(forecast: Forecast, means: TenMinutes, along: Placed) -> str:
    measured = [np.isfinite(one) for one in (means.twd_deg, means.tws_kn, means.pressure_hpa)]
    if not any(one.any() for one in measured):
        return "The recording holds neither wind over the ground nor pressure to hold the forecast against."
    if len(forecast.time_s) and (
        forecast.time_s[-1] < means.time_s[0] or forecast.time_s[0] > means.time_s[-1]
    ):
        return "The forecast speaks of another time than the passage."
    if not any(np.isfinite(one).any() for one in along):
        if not np.isfinite(means.lat_deg).any():
            return "The recording has no position to find the forecast's place by."
        return "The forecast speaks of other places than the passage, or its times lie more than 12 h apart."
    return "The forecast and the recording have less than an hour in common in any quantity."
