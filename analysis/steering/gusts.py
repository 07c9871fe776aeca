"""Gusts: how many and how strong, and what the boat does in them."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.manoeuvres import Manoeuvres
from analysis.passage import NO_ROWS, Floats, column, seconds_of
from analysis.steering.rates import smoothed, straight

GUST_ROWS, MEAN_ROWS = 3, 600  # WMO-No. 8: a gust is a mean of 3 s, the wind a mean of 10 min (from memory)
LEAST_RISE_KN, LEAST_SIGMAS = 2.0, 1.5  # above the mean (judgment)
APART_ROWS, BEFORE_ROWS, AFTER_ROWS = 60, 40, 60
WAVE_ROWS = 7  # of the sea: the masthead rolls through the wind (judgment)
QUIET_ROWS = slice(0, 25)  # of an epoch: before the gust
MARGIN_S, LEAST_GUSTS = 10, 5


@dataclass(frozen=True)
class GustResponse:
    """What happens in the mean gust on one side of the wind: ``name`` "upwind" or "downwind", over ``count`` gusts.

    Changes from before the gust to the 15 s about and after its peak, each with its one-sigma: ``luff_deg`` is +
    where the bow comes up to the wind and - where she bears away, ``awa_deg`` + where the apparent wind comes
    aft, ``heel_deg`` + where she leans further, NaN where not logged. ``curves`` holds the mean of each [deg or
    kn] over 7 s at ``curve_s`` from the peak: rows tws, luff, awa, heel.
    """

    name: str
    count: int
    luff_deg: float
    luff_sd_deg: float
    awa_deg: float
    awa_sd_deg: float
    heel_deg: float
    heel_sd_deg: float
    curve_s: Floats
    curves: Floats


@dataclass(frozen=True)
class Gusts:
    """The gusts of a passage: means of 3 s at least 2 kn and 1.5 standard deviations above that of 10 min.

    ``time_s`` and ``rise_kn`` are those of each, ``per_hour`` how many an hour of wind on a straight course,
    ``build_s`` the median time from half the rise to the peak.
    """

    time_s: Floats
    rise_kn: Floats
    hours: float
    build_s: float | None
    responses: tuple[GustResponse, ...]
    missing: str

    @property
    def per_hour(self) -> float | None:
        """Gusts an hour."""
        return len(self.time_s) / self.hours if self.hours > 0 else None


def watch_gusts(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> Gusts:
    """Find the gusts of a corrected and derived frame at 1 s and sum up what the boat does in them.

    Uses the true wind over the water, for it does not change when the boat turns.
    """
    nothing = np.empty(0)
    if "tws_water_kn" not in frame:
        lacking = "No true wind is known (it takes wind, log and heading)."
        return Gusts(nothing, nothing, 0.0, None, (), lacking if len(frame) else f"{NO_ROWS.capitalize()}.")
    tws = pd.Series(column(frame, "tws_water_kn"))
    gust = tws.rolling(GUST_ROWS, center=True).mean().to_numpy()
    wind = tws.rolling(MEAN_ROWS, center=True, min_periods=MEAN_ROWS // 2)
    rise, spread = gust - wind.mean().to_numpy(), wind.std().to_numpy()
    good = straight(frame, manoeuvres, MARGIN_S) & np.isfinite(rise)
    strong = good & (rise > np.maximum(LEAST_RISE_KN, LEAST_SIGMAS * spread))
    peaks = _peaks(np.where(strong, rise, -np.inf))
    responses = _responses(frame, peaks, gust, good)
    return Gusts(
        seconds_of(frame)[peaks],
        rise[peaks],
        float(good.sum()) / 3600,
        _build_s(rise, peaks),
        responses,
        "" if good.any() else "No true wind on a straight course under way.",
    )


def _peaks(rise: Floats) -> np.ndarray:
    """The greatest rows, none within a minute of a greater one."""
    greatest = pd.Series(rise).rolling(2 * APART_ROWS + 1, center=True, min_periods=1).max().to_numpy()
    rows = np.flatnonzero(np.isfinite(rise) & (rise >= greatest))
    kept: list[int] = []
    for row in rows.tolist():
        if not kept or row - kept[-1] > APART_ROWS:
            kept.append(row)
    return np.array(kept, dtype=int)


def _build_s(rise: Floats, peaks: np.ndarray) -> float | None:
    times = []
    for peak in peaks.tolist():
        before = rise[max(peak - 60, 0) : peak]
        low = np.flatnonzero(~(before >= rise[peak] / 2))
        if low.size:
            times.append(len(before) - int(low[-1]))
    return float(np.median(times)) if times else None


def _responses(
    frame: pd.DataFrame, peaks: np.ndarray, tws: Floats, good: np.ndarray
) -> tuple[GustResponse, ...]:
    heading, awa = column(frame, "heading_true_deg"), column(frame, "awa_deg")
    twa, heel = column(frame, "twa_water_deg"), column(frame, "heel_deg")
    inside = (peaks >= BEFORE_ROWS) & (peaks < len(good) - AFTER_ROWS)
    rows = peaks[inside, None] + np.arange(-BEFORE_ROWS, AFTER_ROWS)
    rows = rows[good[rows].all(axis=1)] if len(rows) else rows
    if not len(rows):
        return ()
    side = np.sign(np.nanmedian(twa[rows], axis=1))[:, None]
    epochs = np.stack(
        [
            tws[rows],
            side * np.unwrap(heading[rows], period=360, axis=1),
            side * np.unwrap(awa[rows], period=360, axis=1),
            -side * heel[rows],
        ]
    )
    epochs = epochs - epochs[:, :, QUIET_ROWS].mean(axis=2, keepdims=True)
    angle = np.abs(np.nanmedian(twa[rows], axis=1))
    found = []
    for name, on in (("upwind", angle < 90), ("downwind", angle >= 90)):
        told = on & np.isfinite(epochs[:3]).all(axis=(0, 2))
        if told.sum() < LEAST_GUSTS:
            continue
        after = epochs[1:, told, BEFORE_ROWS : BEFORE_ROWS + 15].mean(axis=2)
        mean = after.mean(axis=1).tolist()
        sd = (after.std(axis=1, ddof=1) / told.sum() ** 0.5).tolist()
        found.append(
            GustResponse(
                name=name,
                count=int(told.sum()),
                luff_deg=mean[0],
                luff_sd_deg=sd[0],
                awa_deg=mean[1],
                awa_sd_deg=sd[1],
                heel_deg=mean[2],
                heel_sd_deg=sd[2],
                curve_s=np.arange(-BEFORE_ROWS, AFTER_ROWS, dtype=float),
                curves=np.stack([smoothed(one, WAVE_ROWS) for one in epochs[:, told].mean(axis=1)]),
            )
        )
    return tuple(found)
