"""The wind over the water evened between the tacks: what it jumps by at every turn is the instruments' doing.

Upwash, leeway, log and wind speed, each off by a little, shift the wind one way on starboard and the other way on
port tack. On one tack that cancels against the angle sailed; across a turn it would count twice.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.manoeuvres import Manoeuvres, Turn
from analysis.passage import Bools, Floats, column
from analysis.routes.sailed import RANGES_DEG, Point
from analysis.vectors import mean_direction_deg, wrap_signed_deg

BESIDE_S = 300
LEAST_KNOWN = 0.5
# Judgment: by how much a fair installation shifts the wind from tack to tack, and by how much the wind itself does in
# the minutes of a turn; the latter weighs as much as so many turns.
SHIFT_SD_DEG, TURN_SD_DEG, PRIOR_TURNS = 6.0, 6.0, 2.0
KINDS: dict[Point, str] = {"upwind": "tack", "downwind": "gybe"}


@dataclass(frozen=True)
class Evened:
    """The wind's direction without the jump from tack to tack, and the one-sigma of that jump by point of sail."""

    twd_deg: Floats
    jump_sd_deg: dict[Point, float]


def evened_wind(frame: pd.DataFrame, manoeuvres: Manoeuvres, steady: Bools) -> Evened:
    """Take half the mean jump of tacks, and of gybes, off the wind of either side.

    ``steady`` marks the rows between turns.
    """
    twd, twa = column(frame, "twd_water_deg"), column(frame, "twa_water_deg")
    known = np.where(steady, twd, np.nan)
    evened, sds = twd.copy(), {}
    for point, kind in KINDS.items():
        turns = [turn for turn in manoeuvres.turns if turn.kind == kind]
        jump, sds[point] = _jump(frame, known, turns)
        low, high = RANGES_DEG[point]
        sailing = (np.abs(twa) >= low) & (np.abs(twa) <= high)
        evened = np.where(sailing, evened + np.sign(twa) * jump / 2.0, evened)
    return Evened(np.mod(evened, 360.0), sds)


def _jump(frame: pd.DataFrame, twd_deg: Floats, turns: list[Turn]) -> tuple[float, float]:
    """Mean of TWD on port less TWD on starboard tack across the turns [deg], held to none, and its one-sigma."""
    jumps = [one for one in (_across(frame, twd_deg, turn) for turn in turns) if np.isfinite(one)]
    if not jumps:
        return 0.0, SHIFT_SD_DEG
    mean, count = float(np.mean(jumps)), len(jumps)
    squares = PRIOR_TURNS * TURN_SD_DEG**2 + float(np.sum((np.array(jumps) - mean) ** 2))
    variance = squares / (PRIOR_TURNS + count - 1) / count
    kept = SHIFT_SD_DEG**2 / (SHIFT_SD_DEG**2 + variance)
    return kept * mean, float(np.sqrt(kept * variance))


def _across(frame: pd.DataFrame, twd_deg: Floats, turn: Turn) -> float:
    start, end = (int(row) for row in frame.index.searchsorted([turn.start, turn.end]))
    before = _mean_direction(twd_deg[max(start - BESIDE_S, 0) : start])
    after = _mean_direction(twd_deg[end : end + BESIDE_S])
    from_starboard = 1.0 if turn.awa_before_deg > 0 else -1.0
    return from_starboard * float(wrap_signed_deg(after - before))


def _mean_direction(direction_deg: Floats) -> float:
    known = direction_deg[np.isfinite(direction_deg)]
    if len(known) < LEAST_KNOWN * BESIDE_S:
        return float("nan")
    return float(mean_direction_deg(known))
