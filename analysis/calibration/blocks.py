"""Steady means: 20 s vector means of the frame away from turns, and the account of what was left out.

Vectors are complex, north + i east; headings of zero length never occur since the boat moves.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.calibration.results import Bools, Excluded, Floats
from analysis.manoeuvres import STOPPED_KN, turning
from analysis.passage import column, seconds_of

BLOCK_S = 20
LEAST_SHARE = 0.6
TURN_MARGIN_S = 30
LEAST_STW_KN = 0.8  # paddle wheels stall below; a zero offset shows in what is slow (judgment)
LEAST_EXCLUDED_S = 120
REASONS = ("missing", "at rest", "turning", "log missing", "slow")
FIRST_LOG_REASON, NO_REASON = REASONS.index("log missing"), len(REASONS)
UNTOLD = "turning"  # every passage has turns
RAD = np.pi / 180


@dataclass(frozen=True)
class Blocks:
    """One row per 20 s mean. ``number`` counts 20 s steps from the start, so a difference above 1 is a gap.

    ``ground`` [kn, complex] is the mean velocity over the ground, ``keel`` the mean of STW along the shown
    heading; ``compass_deg`` is what the compass showed, without variation; ``heel_deg`` is NaN where unknown.
    ``wind`` is the mean apparent wind as shown in the boat's frame [kn, complex, where it comes from, bow +
    i starboard] and ``wind_over`` the same turned by the shown heading second by second; NaN where unknown.
    ``yaw_loss`` is the share of a steady speed that averaging over the yaw takes away, half its variance.
    """

    time_s: Floats
    number: Floats
    ground: np.ndarray
    keel: np.ndarray
    stw_kn: Floats
    compass_deg: Floats
    heading_deg: Floats
    heel_deg: Floats
    wind: np.ndarray
    wind_over: np.ndarray
    yaw_loss: Floats

    def __len__(self) -> int:
        return len(self.time_s)

    def where(self, mask: Bools) -> "Blocks":
        """Return the rows where ``mask`` holds."""
        return Blocks(**{name: value[mask] for name, value in vars(self).items()})


@dataclass(frozen=True)
class Steady:
    """The steady means with the log alive (``blocks``) and with or without it (``dry``, NaN where silent).

    ``excluded`` are the stretches left out, ``rejected`` counts the 20 s steps that fell to each reason.
    """

    blocks: Blocks
    dry: Blocks
    excluded: tuple[Excluded, ...]
    rejected: dict[str, int]


def steady_blocks(frame: pd.DataFrame, busy: Bools | None = None) -> Steady:
    """Average the frame over 20 s wherever the boat moves steadily and the instruments live.

    The frame is screened: what no sensor can have meant is missing. ``busy`` marks the rows in a turn, found here
    where not given. Of several reasons against a row the first in ``REASONS`` is told.
    """
    step_s = _step_s(frame)
    rows = max(round(BLOCK_S / step_s), 1)
    judged = _judge(frame, turning(frame) if busy is None else busy, step_s)
    moving = judged >= FIRST_LOG_REASON
    count = len(frame) // rows
    whole = count * rows

    def mean(values: np.ndarray) -> np.ndarray:
        known = (moving & np.isfinite(values))[:whole].reshape(count, rows)
        total = np.where(known, values[:whole].reshape(count, rows), 0).sum(axis=1)
        number = known.sum(axis=1)
        return np.where(number >= LEAST_SHARE * rows, total / np.maximum(number, 1), np.nan)

    heading = column(frame, "heading_true_deg")
    stw = np.where(judged == NO_REASON, column(frame, "stw_kn"), np.nan)
    bow = np.exp(1j * RAD * heading)
    wind = column(frame, "aws_kn") * np.exp(1j * RAD * column(frame, "awa_deg"))
    mean_bow = mean(bow)
    compass = mean(bow * np.exp(-1j * RAD * np.nan_to_num(column(frame, "variation_deg"))))
    blocks = Blocks(
        seconds_of(frame)[:whole].reshape(count, rows).mean(axis=1),
        np.arange(count, dtype=float),
        mean(column(frame, "sog_kn") * np.exp(1j * RAD * column(frame, "cog_deg"))),
        mean(stw * bow),
        mean(stw),
        np.angle(compass, deg=True) % 360,
        np.angle(mean_bow, deg=True) % 360,
        mean(column(frame, "heel_deg")),
        mean(wind),
        mean(wind * bow),
        1 - np.abs(mean_bow),
    )
    dry = np.isfinite(blocks.ground) & np.isfinite(mean_bow)
    wet = dry & np.isfinite(blocks.keel)
    lost = np.bincount(judged[:whole][~np.repeat(wet, rows)], minlength=NO_REASON + 1)
    rejected = {name: int(np.ceil(n / rows)) for name, n in zip(REASONS, lost, strict=False) if n}
    return Steady(blocks.where(wet), blocks.where(dry), _told(frame.index, judged), rejected)


def _judge(frame: pd.DataFrame, busy: Bools, step_s: float) -> NDArray[np.int8]:
    """Place in ``REASONS`` of the first reason against every row, ``NO_REASON`` where there is none."""
    stw, sog, cog = column(frame, "stw_kn"), column(frame, "sog_kn"), column(frame, "cog_deg")
    heading = column(frame, "heading_true_deg")

    def rows(of_s: float) -> int:
        return max(round(of_s / step_s), 1)

    def settled(x: Floats) -> Floats:
        return np.asarray(pd.Series(x).rolling(rows(60), center=True, min_periods=1).median(), dtype=float)

    masks = {
        "missing": np.isnan(sog) | np.isnan(cog) | np.isnan(heading),
        "at rest": settled(sog) < STOPPED_KN,
        "turning": _widen(busy, rows(TURN_MARGIN_S)),
        "log missing": np.isnan(stw),
        "slow": settled(stw) < LEAST_STW_KN,
    }
    judged = np.full(len(frame), NO_REASON, dtype=np.int8)
    for place in range(NO_REASON - 1, -1, -1):
        judged[masks[REASONS[place]]] = place
    return judged


def _widen(mask: Bools, rows: int) -> Bools:
    if not mask.size:
        return mask
    wide = np.convolve(mask.astype(np.float32), np.ones(2 * rows + 1, dtype=np.float32))
    return np.asarray(wide[rows : len(mask) + rows] > 0.5)


def _told(index: pd.Index, judged: NDArray[np.int8]) -> tuple[Excluded, ...]:
    """Spell out the stretches of at least two minutes that are worth telling."""
    if not len(judged):
        return ()
    edges = np.flatnonzero(judged[1:] != judged[:-1]) + 1
    firsts, lasts = np.concatenate(([0], edges)), np.concatenate((edges, [len(judged)])) - 1
    return tuple(
        Excluded(index[first], index[last], REASONS[judged[first]])
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True)
        if judged[first] != NO_REASON
        and REASONS[judged[first]] != UNTOLD
        and (index[last] - index[first]).total_seconds() >= LEAST_EXCLUDED_S
    )


def _step_s(frame: pd.DataFrame) -> float:
    if len(frame) < 2:
        return 1.0
    return max(float(np.median(np.diff(seconds_of(frame.iloc[:1000])))), 1e-3)
