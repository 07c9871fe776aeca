"""Laylines: the tracks over the ground that lead to a mark on either tack, and when the boat meets them.

Velocities are complex, north + i east. On a tack the boat makes good G = W u + C over the ground: W the direction of
the wind over the water as a unit vector, u her motion relative to it, C the current. The mark lies at t1 G1 + t2 G2,
and where both times are positive it takes both tacks. One-sigmas are first order in wind, angles, speeds and current.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.earth import Position, east_north_nm
from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.routes.ahead import History
from analysis.routes.marks import Mark
from analysis.routes.sailed import SIDES, OwnAngle, Point, SailedLegs, Sailing, Tack, sailing
from analysis.vectors import course_to_steer, wrap_direction_deg, wrap_signed_deg

Complexes = NDArray[np.complex128]
State = Literal["two tacks", "on the layline", "fetched", "not determined"]

FARTHEST_NM = 200.0  # the plane of ``east_north_nm`` is good to there
VARIABLE_SD_DEG = 30.0  # a layline less sure than this is none (judgment)
LEAST_SPEED_KN = 0.3
AHEAD_S = 1800.0  # how far ahead the wind counts where the mark can be laid already and no speed is known
SIGMAS_ON = 1.0
TURNED_RAD = (
    0.3  # how far a wind has turned since the legs were sailed that tell how she sails in it (judgment)
)
REACHING_DEG = (
    75.0,
    110.0,
)  # off the wind so far any boat lays the mark, whatever angles it sails (judgment)


@dataclass(frozen=True)
class Layline:
    """One tack on the way to the mark.

    ``bearing_deg`` is the track over the ground, so the bearing of the mark from any place on the layline;
    ``wind_sd_deg``, ``angle_sd_deg`` and ``current_sd_deg`` are its one-sigma part by part. Distance and time are
    those to be sailed on this tack, NaN where the mark does not take both.
    """

    sailing: Sailing
    bearing_deg: float
    bearing_sd_deg: float
    speed_kn: float
    speed_sd_kn: float
    wind_sd_deg: float
    angle_sd_deg: float
    current_sd_deg: float
    distance_nm: float
    distance_sd_nm: float
    time_s: float
    time_sd_s: float


@dataclass(frozen=True)
class Direct:
    """The straight way: course through the water and speed over the ground in the current, and the time it takes."""

    course_deg: float
    speed_kn: float
    time_s: float


@dataclass(frozen=True)
class Laylines:
    """What it takes to a mark from one moment.

    ``twd_deg`` is the wind over the water of the last minutes; ``wind_sd_deg`` how far that of the way to the mark
    may differ. ``current_sd_kn`` is that of either component. ``tack`` is the present one. ``laylines`` are those of
    starboard and port tack, empty where nothing is determined, which ``reason`` explains. Where the mark can be laid
    already, ``margin_deg`` is how far the boat may bear off the closest layline, with its one-sigma.
    """

    time_s: float
    mark: Mark
    boat: Position
    distance_nm: float
    bearing_deg: float
    state: State
    point: Point | None = None
    tack: Tack | None = None
    twd_deg: float = np.nan
    tws_kn: float = np.nan
    wind_sd_deg: float = np.nan
    set_deg: float = np.nan
    drift_kn: float = np.nan
    current_sd_kn: float = np.nan
    laylines: tuple[Layline, ...] = ()
    margin_deg: float = np.nan
    margin_sd_deg: float = np.nan
    direct: Direct | None = None
    reason: str = ""

    @property
    def to_layline(self) -> Layline | None:
        """The leg on the present tack, whose end is the other tack's layline; None where it does not take both."""
        if self.state not in ("two tacks", "on the layline"):
            return None
        return next((one for one in self.laylines if one.sailing.tack == self.tack), None)


@dataclass(frozen=True)
class Conditions:
    """The boat and what is around her at one moment; speeds in knots, directions in degrees."""

    time_s: float
    boat: Position
    twd_deg: float
    tws_kn: float
    wind_sd_deg: float
    set_deg: float
    drift_kn: float
    current_sd_kn: float
    stw_kn: float
    tack: Tack | None


def laylines_to(
    mark: Mark,
    now: Conditions,
    legs: SailedLegs,
    wind: History,
    current: History,
    given_deg: Mapping[Point, float],
    jump_sd_deg: Mapping[Point, float],
    own: Sequence[OwnAngle] = (),
) -> Laylines:
    """Work out the laylines to a mark at a moment.

    ``wind`` and ``current`` tell how far both hold; ``given_deg`` are angles to the wind that take the place of the
    sailed ones, ``own`` those of the polar where none were sailed. ``jump_sd_deg`` is how unsure the wind is from
    tack to tack: it counts on the tack she is not on.
    """
    east, north = east_north_nm(mark.lat_deg, mark.lon_deg, *now.boat)
    way = complex(float(north), float(east))
    bearing = float(wrap_direction_deg(np.degrees(np.angle(way))))
    direct = _direct(way, bearing, now)

    def told(state: State, **more: object) -> Laylines:
        return Laylines(
            now.time_s,
            mark,
            now.boat,
            abs(way),
            bearing,
            state,
            tack=now.tack,
            twd_deg=now.twd_deg,
            tws_kn=now.tws_kn,
            set_deg=now.set_deg,
            drift_kn=now.drift_kn,
            **{"direct": direct} | more,  # type: ignore[arg-type]
        )

    if abs(way) > FARTHEST_NM:
        far = f"the mark lies {abs(way):.0f} nm off; beyond {FARTHEST_NM:.0f} nm no wind holds"
        return told("not determined", reason=far)
    pairs = {point: _pair(point, now, legs, given_deg, jump_sd_deg, own) for point in ("upwind", "downwind")}
    barred = {point: pair is not None and pair.barred(bearing, now) for point, pair in pairs.items()}
    chosen = next((pair for pair in pairs.values() if pair and barred[pair.point] and pair.inside(way)), None)
    state: State = "two tacks" if chosen else "fetched"
    if chosen is None:
        off = abs(float(wrap_signed_deg(bearing - now.twd_deg)))
        point: Point = "upwind" if off <= 90 else "downwind"
        chosen = pairs[point]
        if chosen is None and REACHING_DEG[0] <= off <= REACHING_DEG[1]:
            chosen = pairs["downwind" if point == "upwind" else "upwind"]
        if chosen is None:
            return told("not determined", point=point, reason=_no_legs(point))
    ahead = _Ahead(wind, current, now)
    lines = tuple(chosen.layline(place, way, ahead, state == "two tacks") for place in (0, 1))
    whole = sum(one.time_s for one in lines if np.isfinite(one.time_s)) or _seconds(way, lines, direct)
    more: dict[str, object] = {
        "point": chosen.point,
        "wind_sd_deg": np.degrees(ahead.wind_sd(0.0, whole)),
        "current_sd_kn": ahead.current_sd(0.0, whole),
    }
    worst = max(one.bearing_sd_deg for one in lines)
    off_deg = [abs(float(wrap_signed_deg(bearing - one.bearing_deg))) for one in lines]
    nearest = int(np.argmin(off_deg))
    margin_sd = lines[nearest].bearing_sd_deg
    near = off_deg[nearest] < SIGMAS_ON * margin_sd
    if min(one.speed_kn for one in lines) < LEAST_SPEED_KN:
        return told("not determined", reason="the current stops the boat on one of the tacks", **more)
    if state == "fetched" and any(barred.values()) and not near:
        away = "the current carries her away from it on either tack"
        return told("not determined", reason=away, direct=None, **more)
    if worst > VARIABLE_SD_DEG:
        why = f"over the {whole / 3600:.1f} h to the mark the wind is too unsure: ± {SIGMAS_95 * worst:.0f}°"
        return told("not determined", reason=why, **more)
    if near:
        state = "on the layline"
    return told(state, laylines=lines, margin_deg=off_deg[nearest], margin_sd_deg=margin_sd, **more)


@dataclass(frozen=True)
class _Ahead:
    """How unsure wind [rad] and current [kn] are over a stretch to come.

    The current itself matters little where the motion of the tack comes from the ground: by how far the wind has
    turned since, in radians. For a mirrored or given motion it matters wholly.
    """

    wind: History
    current: History
    now: Conditions

    def wind_sd(self, from_s: float, length_s: float) -> float:
        return self.wind.ahead_sd(from_s, length_s)

    def current_sd(self, from_s: float, length_s: float, share: float = 1.0) -> float:
        return float(np.hypot(share * self.now.current_sd_kn, self.current.ahead_sd(from_s, length_s)))


@dataclass(frozen=True)
class _Pair:
    """Both tacks of a point of sail: ``x`` is wind direction, angle and speed of each, current north and east.

    Angles in radians, speeds in knots.
    """

    point: Point
    tacks: tuple[Sailing, Sailing]
    x: Floats

    def ground(self, x: Floats) -> Complexes:
        """Velocity over the ground on each tack, shape (..., 2), for rows of ``x``."""
        sides = np.array([SIDES[one.tack] for one in self.tacks])
        course = x[..., :1] + sides * x[..., 1:3]
        return np.asarray(x[..., 3:5] * np.exp(1j * course) + x[..., 5:6] + 1j * x[..., 6:7])

    def hours(self, x: Floats, way: complex) -> Floats:
        """Time on each tack to the mark [h], negative where that tack leads away from it."""
        first, second = np.moveaxis(self.ground(x), -1, 0)
        cross = (np.conj(first) * second).imag
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.stack(((np.conj(way) * second).imag / cross, (np.conj(first) * way).imag / cross), -1)

    def inside(self, way: complex) -> bool:
        """Tell whether the mark takes both tacks."""
        return bool((self.hours(self.x, way) > 0.0).all())

    def barred(self, bearing_deg: float, now: Conditions) -> bool:
        """Tell whether neither tack lays a bearing: its course lies between theirs, or the current forbids it.

        A mark that is barred and not ``inside`` is out of reach: the current is stronger than what she makes good.
        """
        steer = course_to_steer(bearing_deg, self.x[3:5], *_flow(now))
        sides = np.array([SIDES[one.tack] for one in self.tacks])
        off = sides * wrap_signed_deg(steer.direction_deg - now.twd_deg)
        angle = np.degrees(self.x[1:3])
        free = off >= angle if self.point == "upwind" else (off >= 0.0) & (off <= angle)
        return not (free & (steer.speed_kn > 0.0)).any()

    def layline(self, place: int, way: complex, ahead: _Ahead, both: bool) -> Layline:
        """Work out one tack, sailed last."""
        ground = self.ground(self.x)[place]
        hours = self.hours(self.x, way)
        own_s = 3600.0 * hours[place] if both else 3600.0 * abs(way) / max(abs(ground), LEAST_SPEED_KN)
        other_s = 3600.0 * hours[1 - place] if both else 0.0
        sd = self._sds(ahead, other_s, own_s)
        step = np.diag(np.maximum(sd, 1e-6))
        change = self.ground(self.x + step)[:, place] - self.ground(self.x - step)[:, place]
        effect = change / 2.0 / ground * (sd > 0)
        wind, angle, flow = (
            float(np.degrees(np.sqrt(np.sum(effect.imag[rows] ** 2)))) for rows in ([0], [1, 2, 3, 4], [5, 6])
        )
        distance, distance_sd, time_sd = np.nan, np.nan, np.nan
        if both:
            sd = self._sds(ahead, 0.0, other_s + own_s)
            step = np.diag(np.maximum(sd, 1e-6))
            ends = [self.hours(self.x + way_ * step, way)[:, place] for way_ in (1, -1)]
            runs = [
                hours_ * np.abs(self.ground(self.x + way_ * step)[:, place])
                for hours_, way_ in zip(ends, (1, -1), strict=True)
            ]
            time_sd = float(3600.0 * np.sqrt(np.sum((ends[0] - ends[1]) ** 2)) / 2.0)
            distance_sd = float(np.sqrt(np.sum((runs[0] - runs[1]) ** 2)) / 2.0)
            distance = float(hours[place] * abs(ground))
        return Layline(
            self.tacks[place],
            float(wrap_direction_deg(np.degrees(np.angle(ground)))),
            float(np.hypot(np.hypot(wind, angle), flow)),
            float(abs(ground)),
            float(np.sqrt(np.sum((effect.real * abs(ground)) ** 2))),
            wind,
            angle,
            flow,
            distance,
            distance_sd,
            float(own_s) if both else np.nan,
            time_sd,
        )

    def _sds(self, ahead: _Ahead, from_s: float, length_s: float) -> Floats:
        first, second = self.tacks
        own = all(one.legs and not one.mirrored for one in self.tacks)
        flow = ahead.current_sd(from_s, length_s, TURNED_RAD if own else 1.0)
        return np.array(
            [
                ahead.wind_sd(from_s, length_s),
                np.radians(first.angle_sd_deg),
                np.radians(second.angle_sd_deg),
                first.speed_sd_kn,
                second.speed_sd_kn,
                flow,
                flow,
            ]
        )


def _pair(
    point: Point,
    now: Conditions,
    legs: SailedLegs,
    given_deg: Mapping[Point, float],
    jump_sd_deg: Mapping[Point, float],
    own: Sequence[OwnAngle],
) -> _Pair | None:
    given = given_deg.get(point)
    tacks = [
        sailing(legs, point, tack, now.tws_kn, now.wind_sd_deg, given, now.stw_kn, own) for tack in SIDES
    ]
    tacks = [
        replace(one, angle_sd_deg=float(np.hypot(one.angle_sd_deg, jump_sd_deg[point])))
        if one is not None and one.tack != now.tack
        else one
        for one in tacks
    ]
    first, second = tacks
    if first is None or second is None:
        return None
    toward = np.radians(now.set_deg)
    drift = now.drift_kn * np.exp(1j * toward) if now.drift_kn > 0 else 0j
    x = np.array(
        [
            np.radians(now.twd_deg),
            *np.radians([first.angle_deg, second.angle_deg]),
            first.speed_kn,
            second.speed_kn,
            drift.real,
            drift.imag,
        ]
    )
    return _Pair(point, (first, second), x)


def _direct(way: complex, bearing_deg: float, now: Conditions) -> Direct | None:
    """Hold the straight way at the present speed through the water; None where the current forbids it."""
    steer = course_to_steer(bearing_deg, now.stw_kn, *_flow(now))
    course, speed = float(steer.direction_deg), float(steer.speed_kn)
    if not (np.isfinite(course) and speed > LEAST_SPEED_KN):
        return None
    return Direct(course, speed, 3600.0 * abs(way) / speed)


def _flow(now: Conditions) -> tuple[float, float]:
    """Set [deg] and drift [kn] of the current; a set of 0 where there is no drift to have one."""
    return now.set_deg if now.drift_kn > 0 else 0.0, now.drift_kn


def _seconds(way: complex, lines: tuple[Layline, ...], direct: Direct | None) -> float:
    if direct is not None:
        return direct.time_s
    fastest = max(one.speed_kn for one in lines)
    return 3600.0 * abs(way) / fastest if fastest > LEAST_SPEED_KN else AHEAD_S


def _no_legs(point: Point) -> str:
    return (
        f"the passage has no steady leg {point} to tell at which angle the boat sails, nor a polar that brackets it; "
        "give the angle"
    )
