"""How the boat moves through the water on either tack, upwind and downwind: as sailed in the passage, or as given.

A motion is a complex number relative to where the wind comes from: its length the speed through the water [kn], its
argument the angle from the wind to the course, + clockwise. On starboard tack it is negative.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.manoeuvres import Leg
from analysis.passage import Bools, Floats, column

Complexes = NDArray[np.complex128]
Point = Literal["upwind", "downwind"]
Tack = Literal["starboard", "port"]

SIDES: dict[Tack, float] = {"starboard": -1.0, "port": 1.0}
# Judgment, from what ordinary yachts do: between which angles a leg counts, which of them are sailed to get to
# windward or leeward (the rest are reaches), and how far about that angle.
RANGES_DEG: dict[Point, tuple[float, float]] = {"upwind": (25.0, 75.0), "downwind": (110.0, 180.0)}
USUAL_SHARE: dict[Point, float] = {"upwind": 0.25, "downwind": 0.5}
ABOUT_DEG: dict[Point, float] = {"upwind": 8.0, "downwind": 12.0}
LIKE_WIND = 0.3  # one-sigma of the logarithm of TWS within which two legs are alike
# What one leg differs from the next by before any is known, and how many legs that is worth (judgment).
LEG_ANGLE_SD_DEG, LEG_SPEED_SD, PRIOR_LEGS = 3.0, 0.08, 2.0
GIVEN_SD_DEG, GUESSED_SPEED_SD = 3.0, 0.25


@dataclass(frozen=True)
class SailedLegs:
    """The steady legs of a passage: course against the wind (- on starboard tack), speed, TWS, duration."""

    angle_deg: Floats
    speed_kn: Floats
    tws_kn: Floats
    seconds: Floats


@dataclass(frozen=True)
class Sailing:
    """What to expect on one tack: the angle between course through the water and wind, 0..180, and the speed.

    ``legs`` is from how many legs it comes, 0 where the angle was given. ``mirrored`` says that they were sailed on
    the other tack.
    """

    tack: Tack
    point: Point
    angle_deg: float
    angle_sd_deg: float
    speed_kn: float
    speed_sd_kn: float
    legs: int
    mirrored: bool = False


def sailed_legs(
    frame: pd.DataFrame, legs: tuple[Leg, ...], twd_deg: Floats, current: Complexes
) -> SailedLegs:
    """Take the mean motion of every steady leg against the mean wind over the water.

    The motion is that over the ground less the current (north + i east [kn], of every row). So errors of log, compass
    and leeway stay out: whatever they are, on this tack and in this wind the boat did go that way.
    """
    motion = column(frame, "sog_kn") * np.exp(1j * np.radians(column(frame, "cog_deg"))) - current
    from_wind = np.exp(1j * np.radians(twd_deg))
    tws = column(frame, "tws_water_kn")
    known = np.isfinite(motion) & np.isfinite(from_wind)
    found = []
    for leg in legs:
        rows = slice(*frame.index.searchsorted([leg.start, leg.end]))
        use = known[rows]
        if use.sum() < leg.duration_s / 2:
            continue
        mean = motion[rows][use].mean() * np.exp(-1j * np.angle(from_wind[rows][use].mean()))
        found.append((np.degrees(np.angle(mean)), abs(mean), np.mean(tws[rows][use]), float(use.sum())))
    table = np.array(found).reshape(-1, 4)
    return SailedLegs(*table.T)


def sailing(
    legs: SailedLegs,
    point: Point,
    tack: Tack,
    tws_kn: float,
    wind_sd_deg: float,
    given_deg: float | None = None,
    usual_kn: float = np.nan,
) -> Sailing | None:
    """Expect an angle and a speed on a tack in a wind; None where neither legs nor the user tell.

    Legs in a like wind count most. Those of the other tack are mirrored where this one has none, and an angle given
    has none of its own, so that errors of the wind, of one-sigma ``wind_sd_deg``, come in; on one tack they cancel.
    ``usual_kn`` is the speed to fall back on with a given angle.
    """
    side = SIDES[tack]
    own = _chosen(legs, point, side)
    both = own if own.any() else _chosen(legs, point, -side)
    if given_deg is not None:
        speed, speed_sd = usual_kn, GUESSED_SPEED_SD * usual_kn
        if both.any():
            speed, speed_sd, _ = _expected(legs, legs.speed_kn, both, tws_kn, None)
        if not np.isfinite(speed):
            return None
        return Sailing(tack, point, given_deg, float(np.hypot(GIVEN_SD_DEG, wind_sd_deg)), speed, speed_sd, 0)
    if not both.any():
        return None
    angle, angle_sd, _ = _expected(legs, np.abs(legs.angle_deg), both, tws_kn, LEG_ANGLE_SD_DEG)
    speed, speed_sd, _ = _expected(legs, legs.speed_kn, both, tws_kn, None)
    mirrored = not own.any()
    if mirrored:
        angle_sd = float(np.hypot(angle_sd, 2.0 * wind_sd_deg))
    return Sailing(tack, point, angle, angle_sd, speed, speed_sd, int(both.sum()), mirrored)


def _chosen(legs: SailedLegs, point: Point, side: float) -> Bools:
    """Legs of a tack at the angles that take the boat to windward or leeward."""
    low, high = RANGES_DEG[point]
    angle = legs.angle_deg * side
    among = (angle >= low) & (angle <= high)
    if not among.any():
        return among
    usual = np.quantile(angle[among], USUAL_SHARE[point], weights=legs.seconds[among], method="inverted_cdf")
    return np.asarray(among & (np.abs(angle - usual) <= ABOUT_DEG[point]))


def _expected(
    legs: SailedLegs, values: Floats, chosen: Bools, tws_kn: float, leg_sd: float | None
) -> tuple[float, float, int]:
    """Mean, one-sigma for one leg more, and number of legs; their spread is held to the usual one.

    ``leg_sd`` is that usual spread, None for a share of the mean.
    """
    weight = legs.seconds[chosen] * _likeness(legs.tws_kn[chosen], tws_kn)
    weight = weight / weight.sum()
    mean = float(weight @ values[chosen])
    count = 1.0 / float(weight @ weight)
    usual = LEG_SPEED_SD * mean if leg_sd is None else leg_sd
    spread = float(weight @ (values[chosen] - mean) ** 2) * count  # count - 1 degrees of freedom
    variance = (PRIOR_LEGS * usual**2 + spread) / (PRIOR_LEGS + count - 1.0)
    return mean, float(np.sqrt(variance * (1.0 + 1.0 / count))), int(chosen.sum())


def _likeness(tws_kn: Floats, now_kn: float) -> Floats:
    apart = np.log(np.maximum(tws_kn, 1.0) / max(now_kn, 1.0)) / LIKE_WIND
    likeness: Floats = np.exp(-0.5 * np.minimum(apart**2, 50.0))
    return likeness
