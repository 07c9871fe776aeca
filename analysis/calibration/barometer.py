"""The barometer against a reference: a station's or chart's sea-level pressure, reduced to the sensor's height."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from analysis.estimate import Estimate, Need
from analysis.passage import Floats, seconds_of
from analysis.reading.pressure import REFERENCE_SD_HPA, PressureReference

GRAVITY_M_S2 = 9.80665
GAS_CONSTANT_J_KG_K = 287.05
LAPSE_K_M = 0.0065
STANDARD_TEMP_C = 15.0

WELL_KNOWN_HPA = 1.0  # a correction known no better than to the step of most displays is none
BLOCK_S = 600.0
NEAR_S = 1800.0
FEWEST_S = 300
SCALE_RANGE_HPA = 5.0
REFERENCE = Need(
    "Give the sea-level pressure of a coast station or chart within 50 nm, for a time the recording covers",
    expected_sd=REFERENCE_SD_HPA,
)


@dataclass(frozen=True)
class BarometerCheck:
    """The barometer against its reference.

    ``offset`` obeys ``true = shown + offset``, true being the air pressure at the sensor, so that it corrects what a
    barometer shows that is not set to sea level; for one that is, the sensor's height is 0. ``scale`` is
    the change shown per change of the reference, with its one-sigma ``scale_sd``, None where the reference
    ranges over less than 5 hPa. ``hours`` is the time compared, ``shown_hpa`` and ``expected_hpa`` the means.
    """

    offset: Estimate
    scale: float | None = None
    scale_sd: float | None = None
    hours: float = 0.0
    shown_hpa: float | None = None
    expected_hpa: float | None = None
    height_m: float = 0.0


def sea_level_pressure_hpa(
    station_hpa: ArrayLike, height_m: float, air_temp_c: ArrayLike = STANDARD_TEMP_C, vapour_hpa: float = 0.0
) -> Floats:
    """Reduce a pressure [hPa] from a height [m] above the sea to sea level.

    ``air_temp_c`` and the vapour pressure ``vapour_hpa`` are those at the station. Deutscher Wetterdienst, VuB 2,
    p. 28: p exp((g/R) H / (T + 0.12 e + 0.0065 H/2)).
    """
    return np.asarray(station_hpa, dtype=float) * _ratio(height_m, air_temp_c, vapour_hpa)


def station_pressure_hpa(
    sea_level_hpa: ArrayLike,
    height_m: float,
    air_temp_c: ArrayLike = STANDARD_TEMP_C,
    vapour_hpa: float = 0.0,
) -> Floats:
    """Find the pressure [hPa] at a height [m] from that at sea level; the inverse of the reduction."""
    return np.asarray(sea_level_hpa, dtype=float) / _ratio(height_m, air_temp_c, vapour_hpa)


def _ratio(height_m: float, air_temp_c: ArrayLike, vapour_hpa: float) -> Floats:
    temp_k = np.asarray(air_temp_c, dtype=float) + 273.15
    mean_k = temp_k + 0.12 * vapour_hpa + LAPSE_K_M * height_m / 2
    ratio: Floats = np.exp(GRAVITY_M_S2 / GAS_CONSTANT_J_KG_K * height_m / mean_k)
    return ratio


def check_barometer(
    frame: pd.DataFrame, reference: PressureReference | None, height_m: float = 0.0
) -> BarometerCheck:
    """Compare ``air_pressure_hpa`` of an aligned frame with a reference; ``height_m`` is the sensor's above the sea.

    The reference is interpolated between its times, never beyond them by more than half an hour. One-sigma: the
    reference's own, the scatter of 10 min means with their memory, and, for a pressure without a time, the
    pressure's own variation over the passage.
    """
    if "air_pressure_hpa" not in frame or frame["air_pressure_hpa"].notna().sum() < FEWEST_S:
        return BarometerCheck(
            Estimate(None, None, "hPa", False, Need("Record the air pressure for 5 min")), height_m=height_m
        )
    if reference is None:
        return BarometerCheck(Estimate(None, None, "hPa", False, REFERENCE), height_m=height_m)
    shown = frame["air_pressure_hpa"].to_numpy(dtype=float)
    time_s = seconds_of(frame)
    temp_c = float(frame["air_temp_c"].median()) if "air_temp_c" in frame else STANDARD_TEMP_C
    temp_c = temp_c if np.isfinite(temp_c) else STANDARD_TEMP_C
    expected = station_pressure_hpa(_at(reference, time_s), height_m, temp_c)
    seconds, shown, expected = _block_means(time_s, shown, expected)
    if len(shown) == 0:
        return BarometerCheck(Estimate(None, None, "hPa", False, REFERENCE), height_m=height_m)
    residual = expected - shown
    spread = float(np.std(shown)) if reference.time_utc is None else _sd_of_mean(residual)
    sd = float(np.hypot(reference.sd_hpa, spread))
    offset = Estimate(
        float(residual.mean()), sd, "hPa", sd <= WELL_KNOWN_HPA, None if sd <= WELL_KNOWN_HPA else REFERENCE
    )
    scale, scale_sd = _scale(shown, expected)
    return BarometerCheck(
        offset,
        scale,
        scale_sd,
        hours=len(seconds) * BLOCK_S / 3600,
        shown_hpa=float(shown.mean()),
        expected_hpa=float(expected.mean()),
        height_m=height_m,
    )


def _at(reference: PressureReference, time_s: Floats) -> Floats:
    """The reference's pressure at the given times, NaN where it does not speak of them."""
    if reference.time_utc is None:
        return np.full(len(time_s), float(np.mean(reference.pressure_hpa)))
    told_s = reference.time_utc.to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    order = np.argsort(told_s)
    told_s, told_hpa = told_s[order], reference.pressure_hpa[order]
    within = (time_s >= told_s[0] - NEAR_S) & (time_s <= told_s[-1] + NEAR_S)
    return np.where(within, np.interp(time_s, told_s, told_hpa), np.nan)


def _block_means(time_s: Floats, shown: Floats, expected: Floats) -> tuple[Floats, Floats, Floats]:
    """Means over 10 min of what both know; times, shown and expected."""
    known = np.isfinite(shown) & np.isfinite(expected)
    block = (time_s[known] // BLOCK_S).astype(np.int64)
    _, first, inverse, count = np.unique(block, return_index=True, return_inverse=True, return_counts=True)
    full = count >= min(60, count.max(initial=0))
    means = (np.bincount(inverse, weights=value[known]) / count for value in (shown, expected))
    shown_mean, expected_mean = (mean[full] for mean in means) if count.size else (np.empty(0), np.empty(0))
    return time_s[known][first][full], shown_mean, expected_mean


def _sd_of_mean(residual: Floats) -> float:
    """One-sigma of the mean of a series with memory, by its first autocorrelation."""
    count = len(residual)
    if count < 3:
        return 0.0
    centred = residual - residual.mean()
    variance = float(centred @ centred) / (count - 1)
    if variance == 0:
        return 0.0
    memory = float(np.clip(centred[1:] @ centred[:-1] / (centred @ centred) + 1 / count, 0.0, 0.95))
    return float(np.sqrt(min(variance / count * (1 + memory) / (1 - memory), variance)))


def _scale(shown: Floats, expected: Floats) -> tuple[float | None, float | None]:
    """Change shown per change expected, by least squares, and its one-sigma."""
    if len(shown) < 6 or np.ptp(expected) < SCALE_RANGE_HPA:
        return None, None
    x = expected - expected.mean()
    slope = float(x @ (shown - shown.mean()) / (x @ x))
    left = shown - shown.mean() - slope * x
    return slope, _sd_of_mean(left) * np.sqrt(len(x)) / float(np.sqrt(x @ x))
