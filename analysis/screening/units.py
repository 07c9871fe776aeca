"""Speeds in a wrong unit: SOG against the positions, the log against SOG."""

import numpy as np
import pandas as pd

from analysis.passage import column, seconds_of
from analysis.screening.results import Mistake
from analysis.screening.series import ahead, block_means, windowed_sum
from analysis.vectors import wrap_signed_deg

# What to multiply a number by that is not in knots: m/s and km/h; and knots that were taken for either.
UNITS = (3600 / 1852, 1 / 1.852, 1.852, 1852 / 3600)
NEAR = 0.1  # of the logarithm: a log or receiver that is off by 10 % besides is still known
LIKELIER = 0.05  # of the logarithm: numbers in another unit are common, knots taken for one are rare
LEAST_BLOCKS = 30
WINDOW_BLOCKS = 30
LEAST_TURNED_KN = 1.0
LEAST_MILES = 0.5


def nearest_unit(factor: float, near: float = NEAR) -> float | None:
    """The factor of a wrong unit that lies within ``near`` of the logarithm of ``factor``, else None."""
    if not factor > 0:
        return None
    off = np.abs(np.log(factor / np.array(UNITS)))
    best = int(np.argmin(off + LIKELIER * np.array([0, 0, 1, 1])))
    return UNITS[best] if off[best] < near else None


def about_mean(x: np.ndarray, blocks: int = WINDOW_BLOCKS) -> np.ndarray:
    """Block means less their mean over ``blocks`` around each; NaN where a block is unknown."""
    known = np.isfinite(x)
    number = windowed_sum(known.astype(float), blocks // 2, blocks // 2)
    total = windowed_sum(np.where(known, x, 0), blocks // 2, blocks // 2)
    centred: np.ndarray = x - total / np.maximum(number, 1)
    return centred


def find_speed_units(frame: pd.DataFrame) -> list[Mistake]:
    """Find an SOG that is not in knots by the distance the positions make good, and a log by what SOG says.

    The log is judged by what changes with the course within half an hour, which no current does.
    """
    found = []
    sog = column(frame, "sog_kn")
    ratio = _ratio_of_positions(frame, sog)
    unit = nearest_unit(ratio)
    if unit is not None:
        found.append(Mistake("sog_kn", "unit", factor=unit, evidence={"measured_factor": ratio}))
        sog = unit * sog
    log = _factor_of_log(frame, sog)
    unit = nearest_unit(log)
    if unit is not None:
        found.append(Mistake("stw_kn", "unit", factor=unit, evidence={"measured_factor": log}))
    return found


def _ratio_of_positions(frame: pd.DataFrame, sog: np.ndarray) -> float:
    """Median over minutes of distance made good by position over distance by SOG; NaN where the boat lies."""
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    rows = 60
    if len(frame) < 20 * rows:
        return float("nan")
    time_s = seconds_of(frame)[::rows]
    lat, lon, hours = lat[::rows], lon[::rows], np.diff(time_s) / 3600
    east = np.cos(np.radians(lat[1:])) * wrap_signed_deg(np.diff(lon))
    made_kn = 60 * np.hypot(np.diff(lat), east) / hours
    shown = block_means(sog)[: len(made_kn)]
    moving = (shown > 1) & (made_kn[: len(shown)] > 1) & (hours[: len(shown)] < 0.02)
    ratio = made_kn[: len(shown)][moving] / shown[moving]
    if len(ratio) < LEAST_BLOCKS or np.sum(made_kn[: len(shown)][moving]) / 60 < LEAST_MILES:
        return float("nan")
    return float(np.median(ratio))


def _factor_of_log(frame: pd.DataFrame, sog: np.ndarray) -> float:
    """What the log must be multiplied by for the ground track to change with the course as the log says."""
    bow = ahead(column(frame, "heading_true_deg"))
    ground = block_means(sog * ahead(column(frame, "cog_deg")))
    water = block_means(column(frame, "stw_kn") * bow)
    known = np.isfinite(ground) & np.isfinite(water)
    ground, water = about_mean(np.where(known, ground, np.nan)), about_mean(np.where(known, water, np.nan))
    if known.sum() < LEAST_BLOCKS:
        return float("nan")
    turned = np.abs(ground[known]) ** 2
    if np.sqrt(turned.mean()) < LEAST_TURNED_KN:
        return float("nan")
    together = np.sum((np.conj(ground[known]) * water[known]).real)
    return float(turned.sum() / together) if together > 0 else float("nan")
