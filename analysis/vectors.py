"""Wind and water triangles, leeway, course arithmetic and first-order uncertainty, on arrays of any shape.

Inside, a velocity is one complex number, north + i east: its argument is its compass direction, a turn is a
product, and a relative change d/v is a change of speed (real part) and a turn in radians (imaginary part).

Everywhere: inputs broadcast and scalars give scalars; signs and units follow DEVELOPERS.md; a missing (NaN)
input, or one outside the physical range of its channel, gives a missing output. A zero speed needs no
direction, and a result shorter than ``CALM_KN`` has speed 0 and direction NaN.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.channels import CHANNELS

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]

CALM_KN = 1e-9
LEEWAY_GUARD_KN = 3.0
UNIFORM_SD_DEG = 180.0 / np.sqrt(3.0)  # 103.9: one-sigma of a direction about which nothing is known


class Polar(NamedTuple):
    """A velocity: the direction it moves toward, and its speed."""

    direction_deg: Floats
    speed_kn: Floats


class WaterWind(NamedTuple):
    """True wind over the water; TWA is counted from the bow."""

    twd_water_deg: Floats
    tws_water_kn: Floats
    twa_water_deg: Floats


class GroundWind(NamedTuple):
    """True wind over the ground; TWA is counted from the bow."""

    twd_ground_deg: Floats
    tws_ground_kn: Floats
    twa_ground_deg: Floats


class ApparentWind(NamedTuple):
    """The wind a boat feels, counted from the bow."""

    awa_deg: Floats
    aws_kn: Floats


class Current(NamedTuple):
    """The motion of the water over the ground, toward ``set_deg``."""

    set_deg: Floats
    drift_kn: Floats


# angles


def wrap_direction_deg(angle_deg: ArrayLike) -> Floats:
    """Wrap an angle to 0 <= x < 360."""
    with np.errstate(invalid="ignore"):
        wrapped = np.mod(_floats(angle_deg), 360.0)
    return _where(wrapped < 360.0, wrapped, wrapped - 360.0)


def wrap_signed_deg(angle_deg: ArrayLike) -> Floats:
    """Wrap an angle to -180 < x <= 180."""
    return 180.0 - wrap_direction_deg(180.0 - _floats(angle_deg))


def awa_from_vane_deg(vane_deg: ArrayLike, zero_line_deg: ArrayLike = 0.0) -> Floats:
    """Turn a vane reading of 0..360 clockwise from its zero line into an AWA; any other reading is missing.

    ``zero_line_deg`` is the zero line's own angle clockwise from the bow.
    """
    reading = _between(vane_deg, 0.0, 360.0)
    return wrap_signed_deg(reading + _floats(zero_line_deg))


def mean_direction_deg(direction_deg: ArrayLike, weight: ArrayLike = 1.0, axis: int | None = None) -> Floats:
    """Average directions as weighted unit vectors, leaving missing ones out; NaN where they cancel."""
    vectors = _velocity(direction_deg, weight)
    total: Complexes = np.asarray(np.nansum(vectors, axis=axis), dtype=complex)
    return _polar(total / max(vectors.size, 1)).direction_deg


# vectors


def east_north_kn(direction_deg: ArrayLike, speed_kn: ArrayLike) -> tuple[Floats, Floats]:
    """Resolve a velocity into its east and north components."""
    vector = _velocity(direction_deg, speed_kn)
    return vector.imag, vector.real


def polar_from_east_north(east_kn: ArrayLike, north_kn: ArrayLike) -> Polar:
    """Turn east and north components into direction and speed."""
    return _polar(_floats(north_kn) + 1j * _floats(east_kn))


def vector_sum(a_deg: ArrayLike, a_kn: ArrayLike, b_deg: ArrayLike, b_kn: ArrayLike) -> Polar:
    """Add two velocities: motion through the water plus current is motion over the ground."""
    return _polar(_velocity(a_deg, a_kn) + _velocity(b_deg, b_kn))


def vector_difference(a_deg: ArrayLike, a_kn: ArrayLike, b_deg: ArrayLike, b_kn: ArrayLike) -> Polar:
    """Subtract velocity b from a: motion over the ground less current is motion through the water."""
    return _polar(_velocity(a_deg, a_kn) - _velocity(b_deg, b_kn))


def made_good_kn(course_deg: ArrayLike, speed_kn: ArrayLike, toward_deg: ArrayLike) -> Floats:
    """Project a velocity on a direction.

    Toward ``twd_water_deg`` with the water track it is the VMG to windward, toward ``twd_ground_deg`` with
    the ground track the same over the ground, toward a bearing the speed made good to a mark.
    """
    return (_velocity(course_deg, speed_kn) * np.conj(_unit(toward_deg))).real


def course_to_steer(
    track_deg: ArrayLike, water_speed_kn: ArrayLike, set_deg: ArrayLike, drift_kn: ArrayLike
) -> Polar:
    """Find the course through the water that makes good a track in a current, and the speed over the ground.

    NaN where the current is too strong for the track to be made good.
    """
    current = _velocity(set_deg, drift_kn) * np.conj(_unit(track_deg))
    speed = _floats(water_speed_kn)
    with np.errstate(invalid="ignore"):
        along = np.sqrt(speed**2 - current.imag**2)
        possible = along + current.real > 0.0
    through_water = np.where(possible, along - 1j * current.imag, np.nan)
    return Polar(_polar(through_water * _unit(track_deg)).direction_deg, (through_water + current).real)


# boat, wind and current


def water_track(stw_kn: ArrayLike, heading_true_deg: ArrayLike, leeway_deg: ArrayLike = 0.0) -> Polar:
    """Find the velocity through the water from the speed along the keel: speed STW / cos(leeway)."""
    return _polar(_water_velocity(stw_kn, heading_true_deg, leeway_deg))


def leeway_deg(heel_deg: ArrayLike, stw_kn: ArrayLike, coefficient: ArrayLike) -> Floats:
    """Estimate leeway as coefficient * heel / STW^2, with STW taken as at least ``LEEWAY_GUARD_KN``.

    The coefficient (deg kn^2 / deg, about 8..10) is positive: wind from starboard heels the boat to port
    (heel < 0) and sets it to port of its heading (leeway < 0). After J. Garrett,
    The Symmetry of Sailing (1987), section 3.5.3.
    """
    speed: Floats = np.maximum(_within("stw_kn", stw_kn), LEEWAY_GUARD_KN)
    return _floats(coefficient) * _within("heel_deg", heel_deg) / speed**2


def level_apparent_wind(awa_deg: ArrayLike, aws_kn: ArrayLike, heel_deg: ArrayLike) -> ApparentWind:
    """Correct the apparent wind for a vane and cups that heel with the mast.

    They see the wind across the boat shortened by cos(heel): tan(AWA) = tan(AWA seen) / cos(heel).
    """
    seen = _velocity(_within("awa_deg", awa_deg), _within("aws_kn", aws_kn))
    return _apparent_wind(seen.real + 1j * seen.imag * _secant(_within("heel_deg", heel_deg)))


def true_wind_water(
    awa_deg: ArrayLike,
    aws_kn: ArrayLike,
    stw_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    leeway_deg: ArrayLike = 0.0,
) -> WaterWind:
    """Find the true wind over the water from the apparent wind and the velocity through the water."""
    heading = _within("heading_true_deg", heading_true_deg)
    wind = _apparent(awa_deg, aws_kn, heading) - _water_velocity(stw_kn, heading, leeway_deg)
    direction, speed = _polar(wind)
    return WaterWind(direction, speed, wrap_signed_deg(direction - heading))


def true_wind_ground(
    awa_deg: ArrayLike,
    aws_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    sog_kn: ArrayLike,
    cog_deg: ArrayLike,
) -> GroundWind:
    """Find the true wind over the ground from apparent wind, heading and velocity over the ground.

    Smith, Bourassa & Sharp (1999), J. Atmos. Oceanic Technol. 16, 939-952.
    """
    heading = _within("heading_true_deg", heading_true_deg)
    wind = _apparent(awa_deg, aws_kn, heading) - _ground_velocity(sog_kn, cog_deg)
    direction, speed = _polar(wind)
    return GroundWind(direction, speed, wrap_signed_deg(direction - heading))


def apparent_wind(
    twd_deg: ArrayLike,
    tws_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    course_deg: ArrayLike,
    speed_kn: ArrayLike,
) -> ApparentWind:
    """Find the apparent wind on a moving boat.

    Wind and motion share one reference: the wind over the water with the water track, or over the ground
    with COG and SOG.
    """
    felt = _velocity(twd_deg, tws_kn) + _velocity(course_deg, speed_kn)
    return _apparent_wind(felt * np.conj(_unit(heading_true_deg)))


def current(
    stw_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    leeway_deg: ArrayLike,
    sog_kn: ArrayLike,
    cog_deg: ArrayLike,
) -> Current:
    """Find the current as velocity over the ground less velocity through the water.

    Uncorrected log, compass and leeway errors appear in it as well.
    """
    water = _water_velocity(stw_kn, heading_true_deg, leeway_deg)
    return Current(*_polar(_ground_velocity(sog_kn, cog_deg) - water))


# one-sigmas: analytic first-order propagation of independent errors


def true_wind_water_sd(
    awa_deg: ArrayLike,
    aws_kn: ArrayLike,
    stw_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    leeway_deg: ArrayLike = 0.0,
    *,
    awa_sd_deg: ArrayLike = 0.0,
    aws_sd_kn: ArrayLike = 0.0,
    stw_sd_kn: ArrayLike = 0.0,
    heading_sd_deg: ArrayLike = 0.0,
    leeway_sd_deg: ArrayLike = 0.0,
) -> WaterWind:
    """Propagate one-sigmas of the inputs to one-sigmas of ``true_wind_water``; limits as in ``_spread``."""
    apparent = _apparent(awa_deg, aws_kn, heading_true_deg)
    wind = apparent - _water_velocity(stw_kn, heading_true_deg, leeway_deg)
    effects = [
        *_apparent_effects(apparent, awa_deg, heading_true_deg, awa_sd_deg, aws_sd_kn),
        *_water_effects(stw_kn, heading_true_deg, leeway_deg, stw_sd_kn, leeway_sd_deg),
    ]
    return WaterWind(*_wind_spread(wind, effects, 1j * wind, heading_sd_deg))


def true_wind_ground_sd(
    awa_deg: ArrayLike,
    aws_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    sog_kn: ArrayLike,
    cog_deg: ArrayLike,
    *,
    awa_sd_deg: ArrayLike = 0.0,
    aws_sd_kn: ArrayLike = 0.0,
    heading_sd_deg: ArrayLike = 0.0,
    sog_sd_kn: ArrayLike = 0.0,
    cog_sd_deg: ArrayLike = 0.0,
) -> GroundWind:
    """Propagate one-sigmas of the inputs to one-sigmas of ``true_wind_ground``; limits as in ``_spread``."""
    apparent = _apparent(awa_deg, aws_kn, heading_true_deg)
    velocity = _ground_velocity(sog_kn, cog_deg)
    effects = [
        *_apparent_effects(apparent, awa_deg, heading_true_deg, awa_sd_deg, aws_sd_kn),
        *_ground_effects(velocity, cog_deg, sog_sd_kn, cog_sd_deg),
    ]
    return GroundWind(*_wind_spread(apparent - velocity, effects, 1j * apparent, heading_sd_deg))


def current_sd(
    stw_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    leeway_deg: ArrayLike,
    sog_kn: ArrayLike,
    cog_deg: ArrayLike,
    *,
    stw_sd_kn: ArrayLike = 0.0,
    heading_sd_deg: ArrayLike = 0.0,
    leeway_sd_deg: ArrayLike = 0.0,
    sog_sd_kn: ArrayLike = 0.0,
    cog_sd_deg: ArrayLike = 0.0,
) -> Current:
    """Propagate one-sigmas of the inputs to one-sigmas of ``current``; limits as in ``_spread``."""
    ground = _ground_velocity(sog_kn, cog_deg)
    water = _water_velocity(stw_kn, heading_true_deg, leeway_deg)
    effects = [
        (1j * water, np.radians(heading_sd_deg)),
        *_water_effects(stw_kn, heading_true_deg, leeway_deg, stw_sd_kn, leeway_sd_deg),
        *_ground_effects(ground, cog_deg, sog_sd_kn, cog_sd_deg),
    ]
    return Current(*_spread(ground - water, effects))


# compass: true = compass + deviation + variation


def true_from_compass_deg(
    compass_deg: ArrayLike, deviation_deg: ArrayLike, variation_deg: ArrayLike
) -> Floats:
    """Turn a compass course into a true one."""
    return wrap_direction_deg(_floats(compass_deg) + _floats(deviation_deg) + _floats(variation_deg))


def compass_from_true_deg(true_deg: ArrayLike, deviation_deg: ArrayLike, variation_deg: ArrayLike) -> Floats:
    """Turn a true course into a compass one, the deviation being that of the compass course."""
    return wrap_direction_deg(_floats(true_deg) - _floats(deviation_deg) - _floats(variation_deg))


def deviation_deg(compass_deg: ArrayLike, coefficients_deg: Sequence[float]) -> Floats:
    """Evaluate A + B sin h + C cos h + D sin 2h + E cos 2h at the compass heading h."""
    a, b, c, d, e = coefficients_deg
    h = np.radians(_floats(compass_deg))
    curve: Floats = a + b * np.sin(h) + c * np.cos(h) + d * np.sin(2 * h) + e * np.cos(2 * h)
    return curve


def compass_from_magnetic_deg(
    magnetic_deg: ArrayLike, deviation_of_compass: Callable[[Floats], Floats]
) -> Floats:
    """Find the compass heading whose heading plus deviation is the magnetic one, by iteration.

    ``deviation_of_compass`` maps compass headings to deviations. NaN where the iteration does not settle, as
    may happen where the deviation changes by a degree per degree or more.
    """
    magnetic = _floats(magnetic_deg)
    compass = wrap_direction_deg(magnetic)
    for _ in range(100):
        previous, compass = compass, wrap_direction_deg(magnetic - deviation_of_compass(compass))
        unsettled = np.abs(wrap_signed_deg(compass - previous)) > 1e-9
        if not np.any(unsettled):
            break
    return _where(unsettled, np.nan, compass)


# velocities as complex numbers, inputs outside their channel's range taken as missing


def _floats(value: ArrayLike) -> Floats:
    return np.asarray(value, dtype=float)


def _where(condition: Bools, value: ArrayLike, otherwise: ArrayLike) -> Floats:
    """Choose element by element; a scalar where all are scalars."""
    chosen: Floats = np.where(condition, value, otherwise)[()]
    return chosen


def _between(value: ArrayLike, low: float, high: float) -> Floats:
    array = _floats(value)
    return _where((array >= low) & (array <= high), array, np.nan)


def _within(channel: str, value: ArrayLike) -> Floats:
    return _between(value, CHANNELS[channel].low, CHANNELS[channel].high)


def _unit(direction_deg: ArrayLike) -> Complexes:
    with np.errstate(invalid="ignore"):
        angle = np.radians(_floats(direction_deg))
        return np.cos(angle) + 1j * np.sin(angle)


def _velocity(direction_deg: ArrayLike, speed_kn: ArrayLike) -> Complexes:
    speed = _floats(speed_kn)
    with np.errstate(invalid="ignore"):
        vector: Complexes = np.where(speed == 0.0, 0.0, speed * _unit(direction_deg))[()]
    return vector


def _polar(vector: Complexes) -> Polar:
    speed = np.abs(vector)
    calm = speed < CALM_KN
    direction = wrap_direction_deg(np.degrees(np.angle(vector)))
    return Polar(_where(calm, np.nan, direction), _where(calm, 0.0, speed))


def _apparent(awa_deg: ArrayLike, aws_kn: ArrayLike, heading_true_deg: ArrayLike) -> Complexes:
    """Apparent wind referred to true north, as the vector it comes from."""
    return _velocity(_within("awa_deg", awa_deg), _within("aws_kn", aws_kn)) * _unit(
        _within("heading_true_deg", heading_true_deg)
    )


def _apparent_wind(felt_from_bow: Complexes) -> ApparentWind:
    direction, speed = _polar(felt_from_bow)
    return ApparentWind(wrap_signed_deg(direction), speed)


def _secant(angle_deg: Floats) -> Floats:
    """Return 1 / cos, missing from 90 deg on either way."""
    return 1.0 / _where(np.abs(angle_deg) < 90.0, np.cos(np.radians(angle_deg)), np.nan)


def _water_velocity(stw_kn: ArrayLike, heading_true_deg: ArrayLike, leeway_deg: ArrayLike) -> Complexes:
    leeway = _within("leeway_deg", leeway_deg)
    speed = _within("stw_kn", stw_kn) * _secant(leeway)
    return _velocity(_within("heading_true_deg", heading_true_deg) + leeway, speed)


def _ground_velocity(sog_kn: ArrayLike, cog_deg: ArrayLike) -> Complexes:
    return _velocity(_within("cog_deg", cog_deg), _within("sog_kn", sog_kn))


# an effect: the change of a vector per unit of one input, and that input's one-sigma in the same unit

_Effect = tuple[Complexes, Floats]


def _apparent_effects(
    apparent: Complexes,
    awa_deg: ArrayLike,
    heading_true_deg: ArrayLike,
    awa_sd_deg: ArrayLike,
    aws_sd_kn: ArrayLike,
) -> list[_Effect]:
    return [
        (1j * apparent, np.radians(awa_sd_deg)),
        (_unit(awa_deg) * _unit(heading_true_deg), _floats(aws_sd_kn)),
    ]


def _water_effects(
    stw_kn: ArrayLike,
    heading_true_deg: ArrayLike,
    leeway_deg: ArrayLike,
    stw_sd_kn: ArrayLike,
    leeway_sd_deg: ArrayLike,
) -> list[_Effect]:
    keel = _unit(heading_true_deg)
    secant = _secant(_within("leeway_deg", leeway_deg))
    return [
        (keel * _unit(leeway_deg) * secant, _floats(stw_sd_kn)),
        (1j * keel * _within("stw_kn", stw_kn) * secant**2, np.radians(leeway_sd_deg)),
    ]


def _ground_effects(
    velocity: Complexes, cog_deg: ArrayLike, sog_sd_kn: ArrayLike, cog_sd_deg: ArrayLike
) -> list[_Effect]:
    return [
        (_unit(cog_deg), _floats(sog_sd_kn)),
        (1j * velocity, np.radians(cog_sd_deg)),
    ]


def _spread(vector: Complexes, effects: Sequence[_Effect]) -> tuple[Floats, Floats]:
    """One-sigmas of direction and speed of a vector sum.

    The direction's stops at ``UNIFORM_SD_DEG``. In a calm, where neither is smooth, the direction's is that
    limit and the speed's is the rms length of the error. The signs of effects do not matter.
    """
    speed = np.abs(vector)
    calm = speed < CALM_KN
    length = np.where(calm, 1.0, speed)
    with np.errstate(invalid="ignore"):
        back = np.conj(np.where(calm, 1.0, vector) / length)
    turned = [(effect * back, sd) for effect, sd in effects]
    along = np.sqrt(sum((change.real * sd) ** 2 for change, sd in turned))
    across = np.sqrt(sum((change.imag * sd) ** 2 for change, sd in turned))
    direction_sd = np.minimum(np.degrees(across / length), UNIFORM_SD_DEG)
    return _where(calm, UNIFORM_SD_DEG, direction_sd), _where(calm, np.hypot(along, across), along)


def _wind_spread(
    wind: Complexes, effects: Sequence[_Effect], heading_effect: Complexes, heading_sd_deg: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """One-sigmas of TWD, TWS and TWA; seen from the bow a turn of the heading also turns the wind back."""
    heading_sd = np.radians(heading_sd_deg)
    twd_sd, tws_sd = _spread(wind, [*effects, (heading_effect, heading_sd)])
    twa_sd, _ = _spread(wind, [*effects, (heading_effect - 1j * wind, heading_sd)])
    return twd_sd, tws_sd, twa_sd
