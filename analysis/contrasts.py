"""What a true wind does where it should do nothing: across a manoeuvre, and from one wind angle to another."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.manoeuvres import Manoeuvres, Turn, TurnKind
from analysis.passage import Floats, column
from analysis.vectors import mean_direction_deg, wrap_signed_deg

SIDE_S, LEAST_S = 360.0, 90.0
SETTLING_S = 20.0
SECTOR_DEG = 10.0
LEAST_ROWS = 120


@dataclass(frozen=True)
class Contrast:
    """Mean true wind after a turn less that before it: direction + clockwise, speed in knots.

    ``awa_before_deg`` and ``awa_after_deg`` are means of the same stretches, up to six minutes on either side.
    """

    kind: TurnKind
    at: pd.Timestamp
    awa_before_deg: float
    awa_after_deg: float
    twd_deg: float
    tws_kn: float


@dataclass(frozen=True)
class ByAngle:
    """Mean difference of two wind directions in sectors of the apparent wind angle; arrays of one length [deg].

    ``sd_deg`` is the circular spread within a sector, ``rows`` the seconds in it.
    """

    awa_deg: Floats
    mean_deg: Floats
    sd_deg: Floats
    rows: Floats


def across_turns(frame: pd.DataFrame, manoeuvres: Manoeuvres, over: str) -> tuple[Contrast, ...]:
    """Compare the true wind on both sides of every turn but full ones.

    ``over`` is ``"water"`` or ``"ground"``. A turn without a minute and a half of wind and straight course on each
    side within six minutes is left out. A right wind is the same on both sides but for its own changes (design
    of paired comparisons; common practice, no source).
    """
    twd, tws = column(frame, f"twd_{over}_deg"), column(frame, f"tws_{over}_kn")
    awa = column(frame, "awa_deg")
    time_s = pd.DatetimeIndex(frame.index).as_unit("ms").asi8 / 1e3
    straight = np.ones(len(frame), bool) if manoeuvres.turning is None else ~manoeuvres.turning
    good = straight & np.isfinite(twd) & np.isfinite(tws) & np.isfinite(awa)
    turns = [turn for turn in manoeuvres.turns if turn.kind != "full turn"]
    found = []
    for number, turn in enumerate(turns):
        before, after = _sides(turns, number)
        rows = [good & (time_s >= first) & (time_s <= last) for first, last in (before, after)]
        if min(np.count_nonzero(one) for one in rows) < LEAST_S:
            continue
        means = [float(mean_direction_deg(twd[one])) for one in rows]
        sides = [float(wrap_signed_deg(mean_direction_deg(awa[one]))) for one in rows]
        found.append(
            Contrast(
                turn.kind,
                turn.start,
                sides[0],
                sides[1],
                float(wrap_signed_deg(means[1] - means[0])),
                float(tws[rows[1]].mean() - tws[rows[0]].mean()),
            )
        )
    return tuple(found)


def by_angle(first_deg: Floats, second_deg: Floats, awa_deg: Floats) -> ByAngle:
    """Average the difference of two directions (first less second) in sectors of 10 deg of the wind angle.

    Arrays of one length [deg], a row a second; a sector with less than two minutes is left out.
    """
    difference = wrap_signed_deg(first_deg - second_deg)
    known = np.isfinite(difference) & np.isfinite(awa_deg)
    sector = np.floor(awa_deg[known] / SECTOR_DEG).astype(int)
    turned = np.exp(1j * np.radians(difference[known]))
    offset = sector + 18
    count = np.bincount(offset, minlength=37).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (
            np.bincount(offset, turned.real, 37) / count + 1j * np.bincount(offset, turned.imag, 37) / count
        )
        spread = np.degrees(np.sqrt(-2 * np.log(np.clip(np.abs(mean), 1e-9, 1.0))))
    full = count >= LEAST_ROWS
    middle = (np.arange(37) - 18 + 0.5) * SECTOR_DEG
    told = (middle, np.degrees(np.angle(mean)), spread, count)
    return ByAngle(*(np.asarray(one[full], dtype=np.float64) for one in told))


def _sides(turns: list[Turn], number: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """Bounds [s] of the stretches before and after a turn, which its neighbours cut short."""
    start, end = turns[number].start.timestamp(), turns[number].end.timestamp()
    earliest = turns[number - 1].end.timestamp() + SETTLING_S if number else -np.inf
    latest = turns[number + 1].start.timestamp() if number + 1 < len(turns) else np.inf
    return (max(start - SIDE_S, earliest), start), (
        end + SETTLING_S,
        min(end + SETTLING_S + SIDE_S, latest),
    )
