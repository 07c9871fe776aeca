"""One voyage: the boat sails her plan through wind and tide, and faulty instruments write it down."""

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from .noise import damp, step, swell, wander
from .plans import PLANS

RAD = np.pi / 180


@dataclass(frozen=True)
class Errors:
    """What the instruments are off by: true = factor x shown, true = shown + offset."""

    log_factor: float = 1.0
    log_zero_kn: float = 0.0
    deviation: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    vane_offset_deg: float = 0.0
    wind_speed_factor: float = 1.0
    upwash_deg: float = 0.0
    leeway_coefficient: float = 8.0


@dataclass(frozen=True)
class Truth:
    errors: Errors
    current_north_kn: np.ndarray
    current_east_kn: np.ndarray
    heading_deg: np.ndarray
    wind_from_deg: np.ndarray
    wind_kn: np.ndarray


@dataclass(frozen=True)
class Voyage:
    frame: pd.DataFrame
    truth: Truth
    orders: list = field(default_factory=list)


def draw_errors(rng):
    """A plausible faulty boat."""
    return Errors(
        log_factor=rng.uniform(0.9, 1.1),
        deviation=tuple(rng.normal(0, s) for s in (2.5, 2.0, 2.0, 0.8, 0.5)),
        vane_offset_deg=rng.normal(0, 4),
        wind_speed_factor=rng.uniform(0.9, 1.1),
        upwash_deg=rng.uniform(-4, 1),
        leeway_coefficient=rng.uniform(5, 12),
    )


def deviation(coefficients, compass_deg):
    a, b, c, d, e = coefficients
    h = compass_deg * RAD
    return a + b * np.sin(h) + c * np.cos(h) + d * np.sin(2 * h) + e * np.cos(2 * h)


def polar(wind, twa):
    shape = np.interp(
        abs(twa),
        [0, 25, 35, 45, 60, 90, 110, 135, 160, 180],
        [0, 0.1, 0.66, 0.8, 0.92, 1.0, 1.01, 0.96, 0.83, 0.78],
    )
    return 7.9 * np.tanh(wind / 11.5) * shape


def _environment(rng, n, tide_kn, heavy):
    t = np.arange(n) / 3600
    axis, phase, round_ = rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.35)
    along, across = np.cos(2 * np.pi * t / 12.42 + phase), round_ * np.sin(2 * np.pi * t / 12.42 + phase)
    current = tide_kn * (along + 1j * across) * np.exp(1j * axis)
    current = current + wander(rng, n, 0.03, 1500) + 1j * wander(rng, n, 0.03, 1500)
    trend = rng.normal(0, 3) * t
    wind_from = rng.uniform(0, 360) + trend + wander(rng, n, 5, 900) + wander(rng, n, 5, 45, heavy)
    mean = rng.uniform(9, 18)
    wind = mean * np.exp(wander(rng, n, 0.09, 1200) + wander(rng, n, 0.08, 40, heavy))
    return current, wind_from, wind


def _steer(rng, n, orders, wind_from, wind, current, errors, yaw):
    """Second by second: true heading, keel speed, leeway, heel. The pilot sails by the shown compass."""
    heading, speed, heel, leeway = (np.empty(n) for _ in range(4))
    ends = np.cumsum([60 * o[2] for o in orders])
    order_at = np.minimum(np.searchsorted(ends, np.arange(n), side="right"), len(orders) - 1)
    h = v = 0.0
    smooth_from = wind_from[0]
    rolling, active, circling = 0.0, -1, 0.0
    for i in range(n):
        kind, amount, minutes = orders[order_at[i]]
        smooth_from += (wind_from[i] - smooth_from) / 60
        if active != order_at[i]:
            active, circling = order_at[i], h
            if i == 0:
                h = amount if kind == "heading" else smooth_from - (amount if kind == "wind" else 0)
        if kind == "wind":
            goal = smooth_from - amount
        elif kind == "heading":
            goal = amount
        else:
            circling += 360 * amount / (60 * minutes)
            goal = circling
        off = (goal - h + 180) % 360 - 180
        h += np.clip(off / 6, -7, 7) if kind != "circle" else off
        true = h + yaw[i]
        heading[i] = true
        water_wind = -wind[i] * np.exp(1j * wind_from[i] * RAD) - current[i]
        twa = (np.angle(-water_wind) / RAD - true + 180) % 360 - 180
        target = polar(abs(water_wind), twa) if kind == "wind" else 5.6
        v += (target - v) / 14 if i else target
        side = leeway[i - 1] if i else 0.0
        boat = v * (1 + 1j * np.tan(side * RAD)) * np.exp(1j * true * RAD)
        relative = (water_wind - boat) * np.exp(-1j * true * RAD)
        press = (
            0.055 * abs(relative) * relative.imag if kind == "wind" else 0.02 * abs(relative) * relative.imag
        )
        rolling += (27 * np.tanh(press / 27) - rolling) / 5
        heel[i], speed[i] = rolling, v
        leeway[i] = errors.leeway_coefficient * rolling / max(v, 2.5) ** 2
    return heading, speed, leeway, heel


def sail(
    plan="mixed",
    seed=0,
    hours=6.0,
    heavy=False,
    errors=None,
    tide_kn=None,
    heel_logged=True,
    gaps=True,
    orders=None,
):
    """Sail ``plan`` and return the aligned frame as shown, with the truth; ``heavy`` is the second noise."""
    rng = np.random.default_rng([seed, sum(map(ord, plan)), int(heavy)])
    n = int(hours * 3600)
    errors = draw_errors(rng) if errors is None else replace(errors)
    tide_kn = rng.uniform(0, 2) if tide_kn is None else tide_kn
    orders = PLANS[plan](rng) if orders is None else orders
    current, wind_from, wind = _environment(rng, n, tide_kn, heavy)
    yaw_sd = rng.uniform(1, 2.5)
    yaw = swell(rng, n, yaw_sd, 6.5) if heavy else wander(rng, n, yaw_sd, 7)
    heading, speed, leeway, heel = _steer(rng, n, orders, wind_from, wind, current, errors, yaw)

    turn = np.exp(1j * heading * RAD)
    orbital = swell(rng, n, 0.25, 5.5) * np.exp(1j * (wind_from[0] + 20) * RAD)
    water = speed * (1 + 1j * np.tan(leeway * RAD)) * turn
    ground = water + current + 0.5 * orbital
    air = (-wind * np.exp(1j * wind_from * RAD) - ground) / turn
    awa, aws = np.angle(-air) / RAD, abs(air)

    a = np.abs(awa)
    bend = errors.upwash_deg * np.exp(-((a / 55) ** 2)) / np.exp(-((30 / 55) ** 2)) * np.sign(awa)
    mast = swell(rng, n, 1.5, 5.5) if heavy else wander(rng, n, 1.5, 3)
    lag = rng.uniform(0, 2, 4)
    seen_air = (
        aws / errors.wind_speed_factor * np.exp(1j * (awa - errors.vane_offset_deg - bend + mast) * RAD)
    )
    seen_air = damp(seen_air.real, 2, lag[0]) + 1j * damp(seen_air.imag, 2, lag[0])
    log_noise = wander(rng, n, 0.12, 9, heavy) + wander(rng, n, 0.03, 150)
    log = (speed + 0.3 * (orbital / turn).real) / errors.log_factor - errors.log_zero_kn + log_noise
    compass = heading.copy()
    for _ in range(6):
        compass = heading - deviation(errors.deviation, compass)
    compass = compass + wander(rng, n, 0.8, 4, heavy) + wander(rng, n, 0.25, 200)
    fix = ground + wander(rng, n, 0.06, 20, heavy) + 1j * wander(rng, n, 0.06, 20, heavy)
    fix = damp(fix.real, 1.5, lag[1]) + 1j * damp(fix.imag, 1.5, lag[1])

    cog_step, awa_step = rng.choice([0.1, 1.0]), rng.choice([0.1, 1.0])
    track = np.cumsum(ground) / 3600 / 60
    columns = {
        "lat_deg": 49.5 + track.real,
        "lon_deg": -4.0 + track.imag / np.cos(49.5 * RAD),
        "sog_kn": step(abs(fix), 0.1),
        "cog_deg": step(np.angle(fix) / RAD % 360, cog_step) % 360,
        "stw_kn": step(np.maximum(damp(log, rng.uniform(1, 6), lag[2]), 0), rng.choice([0.01, 0.1])),
        "heading_true_deg": step(damp(compass, rng.uniform(0, 1.5), lag[3], 360), rng.choice([0.1, 1.0]))
        % 360,
        "awa_deg": (step(np.angle(seen_air) / RAD, awa_step) + 180) % 360 - 180,
        "aws_kn": step(abs(seen_air), 0.1),
    }
    if heel_logged:
        columns["heel_deg"] = step(damp(heel + wander(rng, n, 2.0, 3), 1), 0.5)
    frame = pd.DataFrame(
        columns, index=pd.date_range("2026-05-01T08:00", periods=n, freq="s", tz="UTC", name="time_utc")
    )
    if gaps:
        for name in columns:
            for at in rng.integers(0, n - 600, 3):
                frame.iloc[at : at + int(rng.uniform(5, 200)), frame.columns.get_loc(name)] = np.nan
    truth = Truth(errors, current.real, current.imag, heading % 360, wind_from % 360, wind)
    return Voyage(frame, truth, orders)
