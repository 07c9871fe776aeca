"""A plain boat of plain trigonometry whose every quantity two instruments may tell."""

from dataclasses import replace

import numpy as np
from scipy.signal import lfilter

from analysis.alignment import align
from analysis.derive import true_heading
from analysis.passage import Passage, Series, SourceKey

START_S = 1_780_000_000.0
RAD = np.pi / 180


class Boat:
    """``hours`` of 10 min legs on headings all round at 5 to 7 kn, the current setting east at 0.7 kn, wind 14 kn."""

    def __init__(self, hours: float = 2.0, seed: int = 0) -> None:
        self.rng = np.random.default_rng(seed)
        n = int(hours * 3600)
        self.t = np.arange(n, dtype=float)
        legs = 40 + 137.0 * (self.t // 600)
        self.heading = lfilter([1 / 8], [1, -7 / 8], legs) + self.wander(1.5, 6)
        self.stw = 6 + np.sin(2 * np.pi * self.t / 1500) + self.wander(0.2, 10)
        self.ground = self.stw * np.exp(1j * RAD * self.heading) + 0.7j
        wind = 14 + self.wander(1, 60) + 1j * self.wander(1, 60)
        felt = (wind + self.ground) * np.exp(-1j * RAD * self.heading)
        self.awa, self.aws = np.angle(felt, deg=True), np.abs(felt)
        self.depth = 30 + 20 * np.sin(2 * np.pi * self.t / 5000) + self.wander(0.5, 60)
        track = np.cumsum(self.ground) / 3600 / 60
        self.lat, self.lon = 50 + track.real, -4 + track.imag / np.cos(50 * RAD)

    def wander(self, sd: float, memory_s: float) -> np.ndarray:
        keep = np.exp(-1 / memory_s)
        return lfilter(
            [sd * (1 - keep**2) ** 0.5], [1, -keep], self.rng.standard_normal(len(getattr(self, "t", [])))
        )

    def noise(self, sd: float) -> np.ndarray:
        return sd * self.rng.standard_normal(len(self.t))


def told(channel, talker, formatter, value, phase_s=0.0, every_s=1, decimals=1, instance=""):
    """One source: the value each second, printed so often and so finely, a fraction of a second later."""
    rows = np.arange(0, len(value), every_s)
    key = SourceKey(channel, talker, formatter, instance)
    printed = np.round(value[rows], decimals)
    if channel.startswith(("heading", "cog")):
        printed %= 360
    zeros = np.zeros(len(rows))
    time_s = START_S + rows + phase_s
    return Series.alone(key, "", time_s, printed, zeros == 0, rows.astype(np.int32), zeros.astype(np.int16))


def positions(boat, talker="GP", formatter="RMC", north_m=0.0, sd_m=0.5):
    """Latitude and longitude of one receiver."""
    lat = boat.lat + (north_m + boat.noise(sd_m)) / 111120
    lon = boat.lon + boat.noise(sd_m) / 111120
    return [
        told(name, talker, formatter, value, decimals=6)
        for name, value in (("lat_deg", lat), ("lon_deg", lon))
    ]


def motion(boat, talker="GP", formatter="RMC", factor=1.0):
    """SOG and COG of one receiver."""
    sog, cog = factor * np.abs(boat.ground), np.angle(boat.ground, deg=True)
    return [
        told("sog_kn", talker, formatter, sog + boat.noise(0.05), decimals=2),
        told("cog_deg", talker, formatter, cog + boat.noise(0.4)),
    ]


def rest(boat):
    """One of everything, so that there is something to judge by; magnetic headings with 3 deg of variation east."""
    return [
        *positions(boat),
        *motion(boat),
        told("heading_mag_deg", "HC", "HDG", boat.heading - 3 + boat.noise(0.3), 0.1),
        told("variation_deg", "HC", "HDG", np.full(len(boat.t), 3.0), 0.1),
        told("stw_kn", "VW", "VHW", boat.stw + boat.noise(0.05), 0.3, decimals=2),
        told("awa_deg", "WI", "MWV", boat.awa + boat.noise(1), 0.2),
        told("aws_kn", "WI", "MWV", boat.aws + boat.noise(0.3), 0.2),
        told("depth_m", "SD", "DPT", boat.depth + boat.noise(0.1), 0.4),
    ]


def passage_of(series, like: Passage) -> Passage:
    """A passage of these sources; what else a passage has is taken from ``like``."""
    kept = {one.key: one for one in series}
    aligned = align(kept, ())
    frame, facts = true_heading(aligned.frame)
    return replace(
        like, series=kept, sources=aligned.sources, frame=frame, age=aligned.age, facts=tuple(facts), gaps=()
    )
