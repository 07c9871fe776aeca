"""What goes wrong between a sensor and the displays: functions (rng, shown) -> shown, a row a second."""

import numpy as np

from .instruments import RAD
from .noise import wander


def _from(shown, share):
    """The row at which ``share`` of the passage is over."""
    return int(share * len(shown["stw_kn"]))


def held(channel, share, value=None):
    """Stand still from ``share`` of the passage on, at what was shown then or at ``value``."""

    def spoil(rng, shown):
        if channel not in shown:
            return shown
        at, frozen = _from(shown, share), shown[channel].copy()
        frozen[at:] = frozen[at] if value is None else value
        return shown | {channel: frozen}

    return spoil


def scaled(channel, factor):
    return lambda rng, shown: shown | {channel: factor * shown[channel]} if channel in shown else shown


def shifted(channel, offset):
    return lambda rng, shown: shown | {channel: shown[channel] + offset} if channel in shown else shown


def fouling(loss):
    """The log reads less and less: its factor grows by ``loss`` from a point in the first half to the end."""

    def spoil(rng, shown):
        n = len(shown["stw_kn"])
        begin = int(rng.uniform(0, 0.4) * n)
        growth = np.clip((np.arange(n) - begin) / (n - begin), 0, 1)
        return shown | {"stw_kn": shown["stw_kn"] / (1 + loss * growth)}

    return spoil


def disturbed(size, share, toward):
    """Something magnetic is put beside the compass: a step, most of it the same on all headings."""

    def spoil(rng, shown):
        at, compass = _from(shown, share), shown["compass_deg"].copy()
        compass[at:] -= size * (1 + 0.3 * np.sin((compass[at:] - toward) * RAD))
        return shown | {"compass_deg": compass}

    return spoil


def drop_outs(times):
    """The wind speed falls to next to nothing for 3 to 40 s, so many times."""

    def spoil(rng, shown):
        speed = shown["aws_kn"].copy()
        for begin in rng.integers(60, len(speed) - 60, times):
            speed[begin : begin + int(rng.uniform(3, 40))] *= rng.choice([0.0, 0.02])
        return shown | {"aws_kn": speed}

    return spoil


def velocity_noise(sd_kn):
    """The receiver's velocity wanders by ``sd_kn`` on top of its own noise."""

    def spoil(rng, shown):
        n = len(shown["sog_kn"])
        velocity = shown["sog_kn"] * np.exp(1j * shown["cog_deg"] * RAD)
        velocity = velocity + wander(rng, n, sd_kn, 6) + 1j * wander(rng, n, sd_kn, 6)
        return shown | {"sog_kn": abs(velocity), "cog_deg": np.angle(velocity) / RAD % 360}

    return spoil


def position_jumps(times):
    """The position jumps 0.1 to 2 nm away for 1 to 40 s, so many times; the velocity does not."""

    def spoil(rng, shown):
        lat, lon = shown["lat_deg"].copy(), shown["lon_deg"].copy()
        for begin in rng.integers(60, len(lat) - 60, times):
            rows = slice(begin, begin + int(rng.uniform(1, 40)))
            off = rng.uniform(0.1, 2) / 60 * np.exp(1j * rng.uniform(0, 2 * np.pi))
            lat[rows] += off.real
            lon[rows] += off.imag / np.cos(lat[begin] * RAD)
        return shown | {"lat_deg": lat, "lon_deg": lon}

    return spoil


def poor_fix(share):
    """For ``share`` of the passage few satellites, HDOP of 6 to 20 and a position that wanders by 40 m."""

    def spoil(rng, shown):
        n = len(shown["hdop"])
        begin = int(rng.uniform(0, 1 - share) * n)
        rows = slice(begin, begin + int(share * n))
        hdop, satellites = shown["hdop"].copy(), shown["satellites"].copy()
        count = rows.stop - rows.start
        hdop[rows] = np.clip(11 + wander(rng, count, 3, 300), 6, 20)
        satellites[rows] = rng.choice([3, 4])
        lat, lon = shown["lat_deg"].copy(), shown["lon_deg"].copy()
        fade = np.clip(np.minimum(np.arange(count), np.arange(count)[::-1]) / 300, 0, 1) / 111_120
        lat[rows] += fade * wander(rng, count, 40, 120)
        lon[rows] += fade * wander(rng, count, 40, 120) / np.cos(lat[begin] * RAD)
        return shown | {"hdop": hdop, "satellites": satellites, "lat_deg": lat, "lon_deg": lon}

    return spoil


def offset_field(before, after, share):
    """The offset field of DPT is changed on the way."""

    def spoil(rng, shown):
        offset = np.full(len(shown["depth_m"]), before)
        offset[_from(shown, share) :] = after
        return shown | {"depth_offset_m": offset}

    return spoil


def water_temperature(kind):
    """Stuck at 0, at 60 degC, or jumping by 10 degC every few minutes."""

    def spoil(rng, shown):
        n = len(shown["water_temp_c"])
        if kind == "jumping":
            jumps = 10 * rng.choice([-1, 0, 0, 1], n // 200 + 1).repeat(200)[:n]
            return shown | {"water_temp_c": shown["water_temp_c"] + jumps}
        return shown | {"water_temp_c": np.full(n, 0.0 if kind == "zero" else 60.0)}

    return spoil
