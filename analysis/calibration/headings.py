"""Every logged heading against the one in use: what the sources make of variation and deviation."""

from dataclasses import dataclass

import numpy as np

from analysis.calibration.results import Floats
from analysis.passage import Passage, Series, SourceKey, seconds_of
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
    """

    key: SourceKey
    off_deg: float
    sd_deg: float
    share_of_deviation: float | None


def logged_headings(passage: Passage) -> tuple[LoggedHeading, ...]:
    """Compare all sources of heading with the passage's true heading; empty where there is none."""
    frame = passage.frame
    if "heading_true_deg" not in frame or len(frame) < LEAST_READINGS:
        return ()
    in_use = {"heading_true_deg": frame["heading_true_deg"].to_numpy(dtype=float)}
    if "variation_deg" in frame:
        in_use["heading_mag_deg"] = in_use["heading_true_deg"] - frame["variation_deg"].to_numpy(dtype=float)
    time_s = seconds_of(frame)
    deviation = frame["deviation_deg"].to_numpy(dtype=float) if "deviation_deg" in frame else None
    compared = (
        _compared(one, time_s, in_use[key.channel], deviation)
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
    one: Series, time_s: Floats, in_use_deg: Floats, deviation_deg: Floats | None
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
    return LoggedHeading(one.key, middle, spread / np.sqrt(len(known)), share)
