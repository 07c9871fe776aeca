"""The boat under way: its polar, heel and leeway, and the helm that sails the plan step by step."""

from collections.abc import Callable
from dataclasses import dataclass
from math import atan2, cos, exp, hypot, pi, radians, sin, tan, tanh

import numpy as np

from analysis.invent.noise import Floats, damped, wander
from analysis.invent.scenario import Boat, Leg
from analysis.invent.sea import Weather

_LEAST_LEEWAY_SPEED_KN = 3.0
_FULL_HELM = radians(8)  # rate of turn [rad/s]
_BARE_POLES = 0.12  # share of the heel left when the sails are down


@dataclass(frozen=True)
class Track:
    """The sailed motion on the step grid: angles in deg, before the waves rock the boat."""

    heading_deg: Floats
    stw_kn: Floats
    heel_deg: Floats
    leeway_deg: Floats
    rudder_deg: Floats


def polar_kn(boat: Boat, twa_rad: float, tws_kn: float) -> float:
    """Boat speed [kn] at a true wind angle over the water [rad, either side] and speed [kn].

    Own formula: a fullness between 0 head to wind and 1 on a beam reach scales the wind, and the speed
    saturates toward the hull speed.
    """
    a = abs(twa_rad)
    fullness = (1 - exp(-((a / 0.663) ** 3))) * (0.62 + 0.38 * sin(a))
    return boat.hull_speed_kn * (1 - exp(-tws_kn * fullness / 6.1))


def heel_at(boat: Boat, awa_rad: float, aws_kn: float) -> float:
    """Settled heel [deg, + starboard down] under sail: away from the wind, bounded as by reefing."""
    press = aws_kn**2 * sin(awa_rad) / boat.heel_reference_kn2
    return -boat.heel_limit_deg * tanh(press)


def sail(
    boat: Boat,
    legs: tuple[Leg, ...],
    weather: Weather,
    step_s: float,
    vane_error_deg: Callable[[float], float],
    rng: np.random.Generator,
) -> Track:
    """Sail the plan over and over until the weather ends.

    ``vane_error_deg`` gives shown minus true AWA [deg] at a true AWA [deg]: what a pilot steering by the
    wind display is led astray by.
    """
    n = len(weather.wind)
    water_wind = weather.wind - weather.current
    east, north = water_wind.real.tolist(), water_wind.imag.tolist()
    steady = damped(water_wind.real, step_s, 8), damped(water_wind.imag, step_s, 8)
    twd = np.arctan2(-steady[0], -steady[1]).tolist()
    helm = np.radians(wander(rng, n, step_s, 12, boat.helm_wander_deg)).tolist()

    first = legs[0]
    psi = twd[0] - radians(first.angle_deg) if first.steer in ("twa", "awa") else radians(first.angle_deg)
    rate = heel = leeway = 0.0
    speed = first.power_kn if first.power_kn else 0.0
    awind_e, awind_n = east[0], north[0]
    rows: list[tuple[float, float, float, float, float]] = []

    for leg, start, end in _schedule(legs, n, step_s):
        begun_at = psi
        wanted = radians(leg.angle_deg)
        sails = leg.power_kn == 0 and leg.steer != "stop"
        for i in range(start, end):
            s, c = sin(psi), cos(psi)
            across_water = speed * tan(leeway)
            air_e = east[i] - speed * s - across_water * c
            air_n = north[i] - speed * c + across_water * s
            awa = atan2(-(air_e * c - air_n * s), -(air_e * s + air_n * c))
            aws = hypot(air_e, air_n)

            if leg.steer == "twa":
                target = twd[i] - wanted
            elif leg.steer == "awa":
                awind_e += (air_e - awind_e) * step_s / 6
                awind_n += (air_n - awind_n) * step_s / 6
                shown = atan2(-awind_e, -awind_n) - psi
                shown += radians(vane_error_deg(_signed(shown) * 180 / pi))
                target = psi + _signed(shown - wanted)
            elif leg.steer == "heading":
                target = wanted
            elif leg.steer == "turn":
                target = begun_at + wanted * (i - start) / (end - start)
            else:
                target = begun_at
            off = _signed(target + helm[i] - psi)
            asked = max(-_FULL_HELM, min(_FULL_HELM, off / 4))
            rate += (asked - rate) * step_s / 1.2
            psi += rate * step_s

            if sails:
                tws = hypot(east[i], north[i])
                aim = polar_kn(boat, _signed(atan2(-east[i], -north[i]) - psi), tws)
                lean = heel_at(boat, awa, aws)
            else:
                aim = max(leg.power_kn - 0.012 * aws * cos(awa), 0.0) if leg.power_kn else 0.0
                lean = _BARE_POLES * heel_at(boat, awa, aws)
            speed += (aim - speed) * step_s / 20
            heel += (lean - heel) * step_s / 3
            pace = max(speed, _LEAST_LEEWAY_SPEED_KN)
            leeway = radians(boat.leeway_coefficient * heel / pace**2)
            rows.append((psi, speed, heel, leeway, asked))

    sailed = np.array(rows)
    return Track(
        heading_deg=np.degrees(sailed[:, 0]),
        stw_kn=sailed[:, 1],
        heel_deg=sailed[:, 2],
        leeway_deg=np.degrees(sailed[:, 3]),
        rudder_deg=2.5 * np.degrees(sailed[:, 4])
        + wander(rng, n, step_s, 2, 0.6)
        + boat.weather_helm * sailed[:, 2],
    )


def _signed(angle_rad: float) -> float:
    return (angle_rad + pi) % (2 * pi) - pi


def _schedule(legs: tuple[Leg, ...], n: int, step_s: float) -> list[tuple[Leg, int, int]]:
    """Lay the legs end to end, over and over, on n steps."""
    spans: list[tuple[Leg, int, int]] = []
    at = 0
    while at < n:
        for leg in legs:
            end = min(n, at + max(1, round(leg.minutes * 60 / step_s)))
            if at < end:
                spans.append((leg, at, end))
            at = end
    return spans
