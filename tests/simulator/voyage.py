"""One voyage: the boat sails her plan through wind and tide, and faulty instruments write it down."""

import cmath
import math
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from .instruments import RAD, Errors, sense
from .noise import step, swell, wander
from .plans import PLANS


@dataclass(frozen=True)
class Truth:
    """What really happened, one row a second; complex velocities are north + i east [kn], those of the air
    ``air_kn`` relative to the boat forward + i starboard, where the air goes.
    """

    errors: Errors
    current_north_kn: np.ndarray
    current_east_kn: np.ndarray
    heading_deg: np.ndarray
    wind_from_deg: np.ndarray
    wind_kn: np.ndarray
    keel_speed_kn: np.ndarray
    leeway_deg: np.ndarray
    heel_deg: np.ndarray
    ground_kn: np.ndarray
    orbital_kn: np.ndarray
    air_kn: np.ndarray
    variation_deg: float
    start: pd.Timestamp
    lat_deg: np.ndarray
    lon_deg: np.ndarray


@dataclass(frozen=True)
class Voyage:
    """``frame`` is what the instruments show, quantised and with gaps; ``sensed`` the same before both."""

    frame: pd.DataFrame
    truth: Truth
    orders: list = field(default_factory=list)
    sensed: dict = field(default_factory=dict)


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


_SHAPE = np.interp(
    np.arange(182),
    [0, 25, 35, 45, 60, 90, 110, 135, 160, 180],
    [0, 0.1, 0.66, 0.8, 0.92, 1.0, 1.01, 0.96, 0.83, 0.78],
).tolist()


def polar(wind, twa):
    """Speed of the boat [kn] in ``wind`` [kn] at ``twa`` [deg], either side."""
    whole, part = divmod(abs(twa), 1)
    low, high = _SHAPE[int(whole) : int(whole) + 2]
    return 7.9 * math.tanh(wind / 11.5) * (low + part * (high - low))


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


def _signed(angle):
    return (angle + 180) % 360 - 180


class _Pilot:
    """Steers the ``wind`` orders: by the ``wind`` itself, by ``compass`` with a look at the wind every ten
    minutes, or by ``shown-awa``, the apparent wind angle the vane shows, whatever its error.
    """

    def __init__(self, kind, errors):
        self.kind, self.errors = kind, errors
        self.since, self.course, self.target_awa = 0, 0.0, 0.0
        self.seen, self.mean_wind = 0j, None

    def feel(self, relative, wind):
        self.seen += (relative - self.seen) / 5 if self.seen else relative
        self.mean_wind = wind if self.mean_wind is None else self.mean_wind + (wind - self.mean_wind) / 60

    def begin(self, twa):
        self.since = 0
        speed = polar(self.mean_wind, twa)
        self.target_awa = cmath.phase(self.mean_wind * cmath.rect(1, twa * RAD) + speed) / RAD

    def goal(self, h, smooth_from, amount):
        if self.kind == "wind":
            return smooth_from - amount
        amount = max(abs(amount), 50.0) * (1 if amount > 0 else -1)
        if self.kind == "compass":
            if self.since % 600 == 0:
                self.course = smooth_from - amount
            self.since += 1
            return self.course
        if self.since == 0:
            self.begin(amount)
        self.since += 1
        if self.since < 30:
            return smooth_from - amount
        return h + 0.25 * _signed(self.errors.shown_awa(cmath.phase(-self.seen) / RAD) - self.target_awa)


def _steer(n, orders, wind_from, wind, current, errors, yaw, pilot):
    """Second by second: true heading, keel speed, leeway, heel. The pilot sails by the shown compass."""
    heading, speed, heel, leeway = (np.empty(n) for _ in range(4))
    ends = np.cumsum([60 * o[2] for o in orders])
    order_at = np.minimum(np.searchsorted(ends, np.arange(n), side="right"), len(orders) - 1).tolist()
    air_ground = (-wind * np.exp(1j * wind_from * RAD)).tolist()
    wind_from, wind, current, yaw = wind_from.tolist(), wind.tolist(), current.tolist(), yaw.tolist()
    pilot = _Pilot(pilot, errors)
    h = v = side = 0.0
    smooth_from = wind_from[0]
    rolling, active, circling = 0.0, -1, 0.0
    for i in range(n):
        kind, amount, minutes = orders[order_at[i]]
        smooth_from += (wind_from[i] - smooth_from) / 60
        pilot.mean_wind = pilot.mean_wind or wind[i]
        if active != order_at[i]:
            active, circling, pilot.since = order_at[i], h, 0
            if i == 0:
                h = amount if kind == "heading" else smooth_from - (amount if kind == "wind" else 0)
        if kind == "wind":
            goal = pilot.goal(h, smooth_from, amount)
        elif kind == "heading":
            goal = amount
        elif kind == "drift":
            goal = h
        else:
            circling += 360 * amount / (60 * minutes)
            goal = circling
        off = _signed(goal - h)
        h += max(-7, min(7, off / 6)) if kind != "circle" else off
        true = h + yaw[i]
        heading[i] = true
        turn = cmath.rect(1, true * RAD)
        water_wind = air_ground[i] - current[i]
        twa = _signed(cmath.phase(-water_wind) / RAD - true)
        target = polar(abs(water_wind), twa) if kind == "wind" else amount if kind == "drift" else 5.6
        v += (target - v) / 14 if i else target
        relative = water_wind / turn - v * (1 + 1j * math.tan(side * RAD))
        pilot.feel(relative, wind[i])
        press = (0.055 if kind == "wind" else 0.02) * abs(relative) * relative.imag
        rolling += (27 * math.tanh(press / 27) - rolling) / 5
        side = errors.leeway_coefficient * rolling / max(v, 2.5) ** 2
        heel[i], speed[i], leeway[i] = rolling, v, side
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
    pilot="wind",
    start="2026-05-01T08:00Z",
    at=(49.5, -4.0),
    variation_deg=0.0,
):
    """Sail ``plan`` and return the aligned frame as shown, with the truth; ``heavy`` is the second noise.

    ``pilot`` is how the wind orders are steered: ``wind``, ``compass`` or ``shown-awa``. The compass of a place
    with ``variation_deg`` shows magnetic headings; the frame's true ones have the real variation applied.
    """
    rng = np.random.default_rng([seed, sum(map(ord, plan)), int(heavy)])
    n = int(hours * 3600)
    errors = draw_errors(rng) if errors is None else replace(errors)
    tide_kn = rng.uniform(0, 2) if tide_kn is None else tide_kn
    orders = PLANS[plan](rng) if orders is None else orders
    current, wind_from, wind = _environment(rng, n, tide_kn, heavy)
    yaw_sd = rng.uniform(1, 2.5)
    yaw = swell(rng, n, yaw_sd, 6.5) if heavy else wander(rng, n, yaw_sd, 7)
    heading, speed, leeway, heel = _steer(n, orders, wind_from, wind, current, errors, yaw, pilot)

    turn = np.exp(1j * heading * RAD)
    orbital = swell(rng, n, 0.25, 5.5) * np.exp(1j * (wind_from[0] + 20) * RAD)
    ground = speed * (1 + 1j * np.tan(leeway * RAD)) * turn + current + 0.5 * orbital
    air = (-wind * np.exp(1j * wind_from * RAD) - ground) / turn
    track = np.cumsum(ground) / 3600 / 60
    truth = Truth(
        errors=errors,
        current_north_kn=current.real,
        current_east_kn=current.imag,
        heading_deg=heading % 360,
        wind_from_deg=wind_from % 360,
        wind_kn=wind,
        keel_speed_kn=speed,
        leeway_deg=leeway,
        heel_deg=heel,
        ground_kn=ground,
        orbital_kn=orbital,
        air_kn=air,
        variation_deg=variation_deg,
        start=pd.Timestamp(start),
        lat_deg=at[0] + track.real,
        lon_deg=at[1] + track.imag / np.cos(at[0] * RAD),
    )
    sensed, steps = sense(rng, truth, heavy, heel_logged)
    columns = {name: step(value, steps[name]) for name, value in sensed.items() if name in steps}
    columns = {"lat_deg": truth.lat_deg, "lon_deg": truth.lon_deg} | columns
    columns["cog_deg"] %= 360
    columns["heading_true_deg"] %= 360
    columns["awa_deg"] = _signed(columns["awa_deg"])
    index = pd.date_range(truth.start, periods=n, freq="s", name="time_utc")
    frame = pd.DataFrame(columns, index=index)
    if gaps:
        for name in columns:
            for begin in rng.integers(0, n - 600, 3):
                frame.iloc[begin : begin + int(rng.uniform(5, 200)), frame.columns.get_loc(name)] = np.nan
    return Voyage(frame, truth, orders, sensed)
