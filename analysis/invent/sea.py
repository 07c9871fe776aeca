"""Wind, tide, waves and air as series in time, drawn before the boat sails."""

from dataclasses import dataclass

import numpy as np

from analysis.invent.noise import Floats, damped, swell, wander
from analysis.invent.scenario import Sea

_TIDE_PERIOD_H = 12.42  # principal lunar semidiurnal tide
_DEEPEST_M = 4500.0


@dataclass(frozen=True)
class Weather:
    """Series on the step grid, all of one length.

    ``wind`` and ``current`` are vectors of motion (toward), complex east + i north [kn]; attitude in deg.
    """

    wind: np.ndarray[tuple[int], np.dtype[np.complex128]]
    current: np.ndarray[tuple[int], np.dtype[np.complex128]]
    roll_deg: Floats
    pitch_deg: Floats
    yaw_deg: Floats
    orbital_kn: Floats
    pressure_hpa: Floats
    water_temp_c: Floats
    depth_m: Floats


def toward(direction_deg: Floats | float) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    """Return the unit vector of motion toward a compass direction [deg true], complex east + i north."""
    return np.asarray(1j * np.exp(-1j * np.radians(direction_deg)))


def draw_weather(sea: Sea, hours: Floats, step_s: float, rng: np.random.Generator) -> Weather:
    """Draw the weather at times ``hours`` [h] since the start, a grid of step_s [s]."""
    n = len(hours)

    wind_from = sea.wind_from_deg + sea.veer_deg_per_h * hours + wander(rng, n, step_s, 1500, sea.shift_deg)
    lull = 1 + wander(rng, n, step_s, 1200, 0.8 * sea.gust)
    for memory_s, share in ((60.0, 1.0), (4.0, 0.6)):
        gust = share * sea.gust
        lull += wander(rng, n, step_s, memory_s, gust)
        wind_from += wander(rng, n, step_s, memory_s, np.degrees(gust) * 0.7)
    wind_kn = np.maximum(sea.wind_kn + sea.freshening_kn_per_h * hours, 0.5) * np.maximum(lull, 0.1)

    phase = 2 * np.pi * (hours - sea.tide_phase_h) / _TIDE_PERIOD_H
    ellipse = sea.tide_kn * np.cos(phase) - 1j * sea.tide_cross_kn * np.sin(phase)
    drift_east, drift_north = (
        damped(wander(rng, n, step_s, 5400, sea.stream_wander_kn), step_s, 600) for _ in range(2)
    )
    current = (
        ellipse * toward(sea.tide_axis_deg)
        + sea.stream_kn * toward(sea.stream_to_deg)
        + drift_east
        + 1j * drift_north
    )

    return Weather(
        wind=-wind_kn * toward(wind_from),
        current=current,
        roll_deg=swell(rng, n, step_s, sea.wave_period_s, sea.roll_deg),
        pitch_deg=swell(rng, n, step_s, 0.8 * sea.wave_period_s, sea.pitch_deg),
        yaw_deg=swell(rng, n, step_s, 1.2 * sea.wave_period_s, sea.yaw_deg),
        orbital_kn=swell(rng, n, step_s, sea.wave_period_s, 0.06 * sea.roll_deg),
        pressure_hpa=sea.pressure_hpa
        + sea.pressure_trend_hpa_per_h * hours
        + damped(wander(rng, n, step_s, 3600, 0.15), step_s, 600),
        water_temp_c=sea.water_temp_c + damped(wander(rng, n, step_s, 5400, 0.3), step_s, 300),
        depth_m=np.minimum(sea.depth_m * 2 ** (hours / sea.depth_doubling_h), _DEEPEST_M)
        * np.exp(damped(wander(rng, n, step_s, 600, 0.1), step_s, 60)),
    )
