"""How the boat moves through the water on either tack, upwind and downwind: as given, as sailed, as her polar says.

A motion is a complex number relative to where the wind comes from: its length the speed through the water [kn], its
argument the angle from the wind to the course, + clockwise. On starboard tack it is negative.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.manoeuvres import Leg
from analysis.passage import Bools, Floats, column

Complexes = NDArray[np.complex128]
Point = Literal["upwind", "downwind"]
Tack = Literal["starboard", "port"]
Source = Literal["given", "sailed", "polar"]

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

    ``source`` says where the angle comes from, ``legs`` how many were sailed at it. ``mirrored`` says that they were
    sailed on the other tack.
    """

    tack: Tack
    point: Point
    angle_deg: float
    angle_sd_deg: float
    speed_kn: float
    speed_sd_kn: float
    legs: int
    mirrored: bool = False
    source: Source = "sailed"


class OwnAngle(NamedTuple):
    """The best angle of the boat's own polar in one wind: of the course through the water, and the speed at it."""

    point: Point
    tws_kn: float
    angle_deg: float
    angle_sd_deg: float
    speed_kn: float
    speed_sd_kn: float


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
    own: Sequence[OwnAngle] = (),
) -> Sailing | None:
    """Expect an angle and a speed on a tack in a wind; None where neither the user nor legs nor the polar tell.

    What the user gave comes first, for the user knows of the sails and the sea to come; then what was sailed, whose
    errors of the wind cancel where it is sailed again; then ``own``, the polar.

    Legs in a like wind count most. Those of the other tack are mirrored where this one has none, and an angle given
    has none of its own, so that errors of the wind, of one-sigma ``wind_sd_deg``, come in; on one tack they cancel.
    ``usual_kn`` is the speed to fall back on with a given angle.
    """
    side = SIDES[tack]
    alike = _chosen(legs, point, side)
    both = alike if alike.any() else _chosen(legs, point, -side)
    if given_deg is not None:
        speed, speed_sd = usual_kn, GUESSED_SPEED_SD * usual_kn
        if both.any():
            speed, speed_sd, _ = _expected(legs, legs.speed_kn, both, tws_kn, None)
        if not np.isfinite(speed):
            return None
        angle_sd = float(np.hypot(GIVEN_SD_DEG, wind_sd_deg))
        return Sailing(tack, point, given_deg, angle_sd, speed, speed_sd, 0, source="given")
    if not both.any():
        return _by_polar(own, point, tack, tws_kn, wind_sd_deg)
    angle, angle_sd, _ = _expected(legs, np.abs(legs.angle_deg), both, tws_kn, LEG_ANGLE_SD_DEG)
    speed, speed_sd, _ = _expected(legs, legs.speed_kn, both, tws_kn, None)
    mirrored = not alike.any()
    if mirrored:
        angle_sd = float(np.hypot(angle_sd, 2.0 * wind_sd_deg))
    return Sailing(tack, point, angle, angle_sd, speed, speed_sd, int(both.sum()), mirrored)


def tells(legs: SailedLegs, point: Point) -> bool:
    """Whether any leg, of either tack, tells how she sails to windward or to leeward."""
    return any(bool(_chosen(legs, point, side).any()) for side in SIDES.values())


def _by_polar(
    own: Sequence[OwnAngle], point: Point, tack: Tack, tws_kn: float, wind_sd_deg: float
) -> Sailing | None:
    """The best angle in the nearest wind that is alike, held as well as one leg is like the next."""
    apart = {one: abs(np.log(one.tws_kn / max(tws_kn, 1.0))) for one in own if one.point == point}
    near = [one for one in apart if apart[one] <= LIKE_WIND]
    if not near:
        return None
    best = min(near, key=lambda one: float(apart[one]))
    angle_sd = float(np.linalg.norm([best.angle_sd_deg, LEG_ANGLE_SD_DEG, wind_sd_deg]))
    speed_sd = float(np.hypot(best.speed_sd_kn, LEG_SPEED_SD * best.speed_kn))
    return Sailing(tack, point, best.angle_deg, angle_sd, best.speed_kn, speed_sd, 0, source="polar")


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
