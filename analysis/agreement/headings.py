"""Every logged heading against the one in use: what the sources make of variation and deviation."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.agreement.in_use import from_magnetic
from analysis.agreement.results import Agreement
from analysis.alignment import TRUE_NORTH_TALKERS
from analysis.calibration import Calibration
from analysis.calibration.water import DEVIATION, deviation_curve_deg
from analysis.passage import Floats, Passage, Series, SourceKey, column, seconds_of
from analysis.robust import robust_sd
from analysis.vectors import wrap_signed_deg

LEAST_READINGS = 60
MOST_READINGS = 20_000
WITHIN_S = 1.0
LEAST_DEVIATION_DEG = 0.5
UNLIKE = 0.5  # a difference left over larger than this share of the deviation is of another kind


@dataclass(frozen=True)
class LoggedHeading:
    """A source of heading, true or magnetic, less the heading in use, true or less variation.

    ``off_deg`` is the median, ``sd_deg`` its one-sigma. ``share_of_deviation`` is how much of the logged deviation
    the difference holds (+1 for all of it), None where no deviation is logged or the difference is of another kind.
    ``own_north`` says that it knows true north by itself and is not worked out from a magnetic heading.
    """

    key: SourceKey
    off_deg: float
    sd_deg: float
    share_of_deviation: float | None
    own_north: bool


@dataclass(frozen=True)
class HeadingCheck:
    """What was done to the heading on its way.

    ``variation_deg`` is the median of the variation in use, 0 without one. ``from_magnetic`` says that the true
    heading in use was made with it, ``own_north`` that its source knows true north beside a magnetic compass.
    ``deviation_deg`` is the size that the logged deviation stays below for 95 % of the time, 0 without one,
    ``deviation_share`` how much of it the deviation estimated from the passage holds, None where that is not known.
    """

    sources: tuple[LoggedHeading, ...] = ()
    variation_deg: float = 0.0
    from_magnetic: bool = False
    own_north: bool = False
    deviation_deg: float = 0.0
    deviation_share: float | None = None


def check_headings(
    passage: Passage, calibration: Calibration, agreement: Sequence[Agreement] = ()
) -> HeadingCheck:
    """Compare all sources of heading with the one in use, and the logged deviation with that of the passage.

    ``agreement`` tells which headings are one instrument heard twice.
    """
    frame = passage.frame
    variation, deviation = column(frame, "variation_deg"), column(frame, "deviation_deg")
    median = float(np.nanmedian(variation)) if np.isfinite(variation).any() else 0.0
    curve = _curve(calibration)
    share = None
    if curve is not None:
        share = share_of(deviation_curve_deg(column(frame, "heading_true_deg") - median, curve), deviation)
    chosen = next(
        (one.key for one in passage.sources if one.chosen and one.key.channel == "heading_true_deg"), None
    )
    from_compass = from_magnetic(passage)
    repeats = [{one.first, one.second} for one in agreement if one.repeat]
    return HeadingCheck(
        sources=logged_headings(passage, repeats),
        variation_deg=median,
        from_magnetic=from_compass,
        own_north=chosen is not None and not from_compass and _own_north(chosen, passage, repeats),
        deviation_deg=float(np.nanpercentile(np.abs(deviation), 95)) if np.isfinite(deviation).any() else 0.0,
        deviation_share=share,
    )


def logged_headings(passage: Passage, repeats: Sequence[set[SourceKey]] = ()) -> tuple[LoggedHeading, ...]:
    """Compare all sources of heading with the passage's true heading; empty where there is none.

    ``repeats`` are pairs of one instrument heard twice.
    """
    frame = passage.frame
    if "heading_true_deg" not in frame or len(frame) < LEAST_READINGS:
        return ()
    in_use = {"heading_true_deg": frame["heading_true_deg"].to_numpy(dtype=float)}
    if "variation_deg" in frame:
        in_use["heading_mag_deg"] = in_use["heading_true_deg"] - frame["variation_deg"].to_numpy(dtype=float)
    time_s = seconds_of(frame)
    deviation = frame["deviation_deg"].to_numpy(dtype=float) if "deviation_deg" in frame else None
    compared = (
        _compared(one, time_s, in_use[key.channel], deviation, _own_north(key, passage, repeats))
        for key, one in passage.series.items()
        if key.channel in in_use
    )
    return tuple(one for one in compared if one is not None)


def share_of(difference_deg: Floats, deviation_deg: Floats) -> float | None:
    """Share of a deviation [deg] that a difference [deg] holds; None where it is of another kind or there is none."""
    known = np.isfinite(difference_deg) & np.isfinite(deviation_deg)
    difference, deviation = difference_deg[known], deviation_deg[known]
    if not known.any() or np.sqrt(np.mean(deviation**2)) < LEAST_DEVIATION_DEG:
        return None
    share = float(difference @ deviation / (deviation @ deviation))
    left = np.sqrt(np.mean((difference - share * deviation) ** 2))
    return share if left < UNLIKE * np.sqrt(np.mean(deviation**2)) else None


def _compared(
    one: Series, time_s: Floats, in_use_deg: Floats, deviation_deg: Floats | None, own_north: bool
) -> LoggedHeading | None:
    told = one.time_s
    rows = np.flatnonzero(np.isfinite(told))
    rows = rows[:: 1 + len(rows) // MOST_READINGS]
    near = np.clip(np.searchsorted(time_s, told[rows]), 0, len(time_s) - 1)
    off = wrap_signed_deg(one.value[rows] - in_use_deg[near])
    off = np.where(np.abs(time_s[near] - told[rows]) <= WITHIN_S, off, np.nan)
    known = off[np.isfinite(off)]
    if len(known) < LEAST_READINGS:
        return None
    middle = float(np.median(known))
    spread = robust_sd(known - middle)
    share = None if deviation_deg is None else share_of(off, deviation_deg[near])
    return LoggedHeading(one.key, middle, spread / np.sqrt(len(known)), share, own_north)


def _own_north(key: SourceKey, passage: Passage, repeats: Sequence[set[SourceKey]]) -> bool:
    """Whether a heading is of a satellite or gyro compass beside a magnetic one that it does not repeat.

    What a log passes on (VHW) is no compass.
    """
    magnetic = [
        one.key
        for one in passage.sources
        if one.key.channel == "heading_mag_deg" and one.count >= LEAST_READINGS and one.key.formatter != "VHW"
    ]
    if not magnetic or key.channel != "heading_true_deg" or key.talker not in TRUE_NORTH_TALKERS:
        return False
    return not any(key.talker == one.talker or {key, one} in repeats for one in magnetic)


def _curve(calibration: Calibration) -> list[float] | None:
    """Coefficients A to E where the passage tells them."""
    values = [calibration.estimates[name].value for name in DEVIATION if name in calibration.estimates]
    known = [value for value in values if value is not None]
    sailed = calibration.sailed
    if sailed is None or not sailed.courses_differ or len(known) < len(DEVIATION):
        return None
    return known
