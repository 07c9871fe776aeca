"""Where what was in the water has drifted: the datum, by current and leeway, with the radius that grows about it.

Every error is taken to last: that of the current as long as the drift, that of the leeway as a share of it. What the
current does between the estimate and the person wanders beside it, with a memory. Positions given later begin anew.

Where the current is not estimated, the nearest estimates are kept, and what it may have changed by is added to their
variance: 2 v (1 - exp(-(t / T)²)) in each component, with t the time since, v the mean square of the current in the
passage and T = P / (pi sqrt 2), so that it sets in as the change of a tide of period P, 2 v (1 - cos(2 pi t / P)).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis import earth
from analysis.calibration.results import CurrentSeries
from analysis.emergencies.marks import Adrift, Fix
from analysis.passage import Floats, column, nearest_fixes, seconds_of
from analysis.vectors import east_north_kn, wrap_direction_deg

STEP_S = 30.0
LONGEST_S = 86400.0
SMOOTHED_S = 600.0
AT_ONCE_S = 60.0
_TOLD_MIN = (10, 20, 30, 60, 120, 180, 360, 720, 1440)
FAR_NM = 10.0  # judgement: beyond it the boat's current and wind are not those of what drifts
WANDER_KN, WANDER_MEMORY_H = 0.1, 0.5  # judgement: eddies and shear between the boat and what drifts
UNKNOWN_WIND_KN = 15.0  # judgement: what leeway is held possible for, from anywhere, where no wind is logged

TIDE_H = 12.42  # the principal lunar tide
# Judgement: the root of v at least, as a passage at slack water tells little of what follows.
LEAST_CURRENT_KN = 0.5
UNTIMED = "a position taken when it was received, as it is given without its time"


@dataclass(frozen=True)
class Leeway:
    """How something drifts through the water: ``share`` of the wind plus ``least_kn``, off downwind by up to
    ``divergence_deg`` to either side, any angle alike; ``share_sd`` is the one-sigma of its speed as a share of that.
    """

    share: float
    least_kn: float
    divergence_deg: float
    share_sd: float
    words: str


# IAMSAR vol. II, table of leeway after Allen & Plourde 1999 (USCG CG-D-08-99), from memory: a person in the water of
# unknown state 0.011 W + 0.07 kn, 30 deg to either side; those of known state 0.005 to 0.015 W. Rafts with canopy and
# ballast about 0.03 W + 0.02 kn, small craft adrift up to twice that.
LEEWAY: dict[Adrift, Leeway] = {
    "person": Leeway(0.011, 0.07, 30.0, 0.3, "a person in the water: 1.1 % of the wind + 0.07 kn"),
    "craft": Leeway(0.03, 0.02, 30.0, 0.4, "a raft or small craft: 3 % of the wind + 0.02 kn"),
}


@dataclass(frozen=True)
class Datum:
    """The place of what drifts at times ``time_s`` [s since 1970-01-01 UTC], and the radius about it at 95 % [nm].

    ``range_nm`` and ``bearing_deg`` lead from the boat to it, NaN where her position is missing. ``drift_kn`` and
    ``set_deg`` are means over the drift, of the current and of the leeway. ``by`` says in words what it rests on.
    """

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    radius_nm: Floats
    range_nm: Floats
    bearing_deg: Floats
    current_kn: float
    current_set_deg: float
    leeway_kn: float
    leeway_set_deg: float
    by: tuple[str, ...]


@dataclass(frozen=True)
class Flow:
    """A velocity through time [kn], toward north and east, with the one-sigma of each component."""

    time_s: Floats
    north_kn: Floats
    east_kn: Floats
    sd_kn: Floats
    words: str


def current_of(frame: pd.DataFrame, estimated: CurrentSeries | None) -> Flow | None:
    """Choose the current: as estimated from the whole passage where determined, else as derived; None without."""
    if estimated is not None and estimated.determined and len(estimated.time_utc):
        time_s = estimated.time_utc.to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
        words = "the current as estimated from the whole passage"
        return Flow(time_s, estimated.north_kn, estimated.east_kn, estimated.component_kn_sd, words)
    if "drift_kn" not in frame:
        return None
    east, north = east_north_kn(column(frame, "set_deg"), column(frame, "drift_kn"))
    words = "the current as derived, in means of ten minutes; log and compass are not told apart from it"
    return _smoothed(frame, north, east, column(frame, "drift_kn_sd"), words)


def wind_of(frame: pd.DataFrame) -> Flow | None:
    """Take the motion of the air over the water, in means of ten minutes; None where no true wind is known."""
    if "tws_water_kn" not in frame:
        return None
    east, north = east_north_kn(column(frame, "twd_water_deg"), column(frame, "tws_water_kn"))
    return _smoothed(frame, -north, -east, np.zeros(len(frame)), "the wind over the water")


def drifted(
    fixes: Sequence[Fix], adrift: Adrift, frame: pd.DataFrame, current: Flow, wind: Flow | None
) -> Datum | None:
    """Drift from the last of ``fixes`` before each time, from the first of them to the end of the frame.

    A day at most, and no further than the boat is known to be within 10 nm; None where the frame ends before the
    first fix or the boat is farther off.
    """
    first_s = fixes[0].time_s
    end_s = min(float(seconds_of(frame.iloc[-1:])[0]), first_s + LONGEST_S) if len(frame) else first_s
    if end_s <= first_s:
        return None
    time_s = np.append(np.arange(first_s, end_s, STEP_S), end_s)
    leeway = LEEWAY[adrift]
    flow = _at(current, time_s)
    unseen_s = _unseen(current, time_s)
    current_sd_kn = np.sqrt(flow[2] ** 2 + _turned(current, unseen_s))
    slip = _slip(wind, leeway, time_s)
    began = np.searchsorted([fix.time_s for fix in fixes], time_s, side="right") - 1
    fix_s = np.array([fix.time_s for fix in fixes])[began]
    hours = (time_s - fix_s) / 3600
    by_current = _since(flow[0] + 1j * flow[1], time_s, fix_s)
    by_leeway = _since(slip, time_s, fix_s)
    place = earth.position_at(
        (by_current + by_leeway).imag,
        (by_current + by_leeway).real,
        np.array([fix.lat_deg for fix in fixes])[began],
        np.array([fix.lon_deg for fix in fixes])[began],
    )
    even = np.array([fix.sd_nm for fix in fixes])[began] ** 2
    even += _since(current_sd_kn + 0j, time_s, fix_s).real ** 2
    remembered = WANDER_MEMORY_H
    even += 2 * WANDER_KN**2 * remembered * (hours - remembered * (1 - np.exp(-hours / remembered)))
    along = (leeway.share_sd * np.abs(by_leeway)) ** 2
    across = (np.sin(np.radians(leeway.divergence_deg)) * np.abs(by_leeway)) ** 2 / 3
    if wind is None:
        unknown = (leeway.share * UNKNOWN_WIND_KN + leeway.least_kn) * hours
        along = across = unknown**2
    lat, lon = _boat(frame, time_s)
    away = earth.hop(lat, lon, place.lat_deg, place.lon_deg)
    kept = _within_reach(away.distance_nm)
    if kept < 2:
        return None
    means = [_mean(one[:kept]) for one in (flow[0] + 1j * flow[1], slip)]
    return Datum(
        time_s[:kept],
        place.lat_deg[:kept],
        place.lon_deg[:kept],
        _radius(even + along, even + across)[:kept],
        away.distance_nm[:kept],
        away.bearing_deg[:kept],
        *means[0],
        *means[1],
        by=(
            current.words + _kept(float(unseen_s[:kept].max())),
            f"leeway of {leeway.words}, up to {leeway.divergence_deg:.0f}° to either side of downwind"
            if wind is not None
            else f"no leeway, as no wind is known; the radius holds that of {UNKNOWN_WIND_KN:.0f} kn from anywhere",
            *(() if all(fix.timed for fix in fixes) else (UNTIMED,)),
        ),
    )


def _within_reach(range_nm: Floats) -> int:
    """How many rows there are before the boat is first too far off, taken as far as last known in between."""
    last = pd.Series(range_nm).ffill().bfill().to_numpy()
    beyond = np.flatnonzero(~(last <= FAR_NM))
    return int(beyond[0]) if beyond.size else len(last)


def _radius(one: Floats, other: Floats) -> Floats:
    """Radius about the datum at 95 %, from the variances along two axes.

    Squares of distances as chi-square of 1 to 2 degrees of freedom (Satterthwaite), between the tabled 3.841 of one
    and 5.991 of two.
    """
    total = one + other
    freedom = total**2 / (one**2 + other**2)
    return np.asarray(np.sqrt(total * (3.841 + (freedom - 1) * (5.991 / 2 - 3.841))))


def _slip(wind: Flow | None, leeway: Leeway, time_s: Floats) -> np.ndarray:
    """Velocity of leeway, north + i east [kn]."""
    if wind is None:
        return np.zeros(len(time_s), dtype=complex)
    north, east, _ = _at(wind, time_s)
    air = north + 1j * east
    speed = np.abs(air)
    toward = np.divide(air, speed, out=np.zeros_like(air), where=speed > 0)
    return np.asarray((leeway.share * speed + leeway.least_kn) * toward)


def _since(velocity: np.ndarray, time_s: Floats, fix_s: Floats) -> np.ndarray:
    """Way made since the fix in force at each time [nm], from velocities [kn] at the times."""
    step = np.diff(time_s) / 3600
    whole = np.concatenate(([0], np.cumsum((velocity[1:] + velocity[:-1]) / 2 * step)))
    return np.asarray(whole - np.interp(fix_s, time_s, whole))


def _at(flow: Flow, time_s: Floats) -> tuple[Floats, Floats, Floats]:
    north, east, sd = (
        np.interp(time_s, flow.time_s, one) for one in (flow.north_kn, flow.east_kn, flow.sd_kn)
    )
    return north, east, sd


def _unseen(flow: Flow, time_s: Floats) -> Floats:
    """How much longer ago, or ahead, the nearest estimate is than they usually lie apart [s]."""
    apart_s = float(np.median(np.diff(flow.time_s))) if len(flow.time_s) > 1 else SMOOTHED_S
    after = np.searchsorted(flow.time_s, time_s)
    edges = np.concatenate(([-np.inf], flow.time_s, [np.inf]))
    nearest_s = np.minimum(time_s - edges[after], edges[after + 1] - time_s)
    return np.asarray(np.maximum(nearest_s - apart_s / 2, 0.0))


def _turned(flow: Flow, unseen_s: Floats) -> Floats:
    """Variance of each component of what a current has changed by meanwhile [kn²]: see above."""
    square = max(float(np.mean(flow.north_kn**2 + flow.east_kn**2)), LEAST_CURRENT_KN**2)
    memory_s = 3600 * TIDE_H / (np.pi * np.sqrt(2))
    return np.asarray(2 * square * (1 - np.exp(-((unseen_s / memory_s) ** 2))))


def _kept(unseen_s: float) -> str:
    if unseen_s < SMOOTHED_S:
        return ""
    return (
        f", kept where it is not known, for up to {unseen_s / 60:.0f} min, with a ± that grows as for a tide"
    )


def _smoothed(frame: pd.DataFrame, north: Floats, east: Floats, sd: Floats, words: str) -> Flow | None:
    known = np.isfinite(north) & np.isfinite(east)
    if not known.any():
        return None
    time_s = seconds_of(frame)[known]
    bucket = ((time_s - time_s[0]) // SMOOTHED_S).astype(np.int64)
    count = np.bincount(bucket)
    full = count > 0
    middle, toward_north, toward_east, spread = (
        np.bincount(bucket, one)[full] / count[full]
        for one in (time_s, north[known], east[known], np.nan_to_num(sd[known]))
    )
    return Flow(middle, toward_north, toward_east, spread, words)


def _boat(frame: pd.DataFrame, time_s: Floats) -> tuple[Floats, Floats]:
    """Position of the boat at the times, NaN where none lies within a minute."""
    rows = nearest_fixes(frame, time_s, AT_ONCE_S)
    lat, lon = (np.where(rows >= 0, column(frame, name)[rows], np.nan) for name in ("lat_deg", "lon_deg"))
    return lat, lon


def _mean(velocity: np.ndarray) -> tuple[float, float]:
    mean = complex(velocity.mean())
    return abs(mean), float(wrap_direction_deg(np.degrees(np.arctan2(mean.imag, mean.real))))


def told_rows(datum: Datum) -> tuple[int, ...]:
    """Rows of a datum to tell: after 10, 20, 30 min, 1, 2, 3, 6, 12 and 24 h as far as it goes, and the last."""
    after_s = datum.time_s - datum.time_s[0]
    wanted = [60.0 * minutes for minutes in _TOLD_MIN if 60.0 * minutes < after_s[-1]]
    return (*(int(row) for row in np.searchsorted(after_s, wanted)), len(after_s) - 1)
