"""Which of two sources to trust, by what the rest of the log says."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.agreement.results import Agreement
from analysis.passage import Bools, Floats, Ints, SourceKey, seconds_of
from analysis.robust import robust_sd
from analysis.vectors import wrap_signed_deg

MINUTE_S = 60
LEAST_MINUTES = 20
STEADIER = 0.8  # a scatter this much smaller counts as steadier
SURE = 3.0
LEAST_SOG_KN = 2.0
HOURS_PER_CURRENT = 1.0
STUCK_SHARE = 0.9
RAD = np.pi / 180
NM_PER_DEG, NM_M = 60.0, 1852.0
KN_M_S = NM_M / 3600
JUMP_M = 20.0  # more than a receiver's noise and a boat's motion in a second


@dataclass(frozen=True)
class Scene:
    """The passage on the sample: seconds, which rows follow the one before, and what the frame shows there."""

    time_s: Floats
    unbroken: Bools
    columns: dict[str, Floats]
    lat_deg: Floats
    lon_deg: Floats
    variation_deg: Floats

    def column(self, name: str) -> Floats:
        """A column of the frame, NaN where it has none."""
        return self.columns.get(name, np.full(len(self.time_s), np.nan))

    def above(self, name: str, least: float) -> Bools:
        """Where a column exceeds a value; everywhere without a name."""
        return np.nan_to_num(self.column(name)) > least if name else np.ones(len(self.time_s), dtype=bool)

    @property
    def ground(self) -> np.ndarray:
        """Velocity over the ground [kn], north + i east."""
        velocity: np.ndarray = self.column("sog_kn") * np.exp(1j * RAD * self.column("cog_deg"))
        return velocity

    @property
    def place(self) -> np.ndarray:
        """Position as a plane vector [nm], north + i east."""
        shrink = np.cos(RAD * np.nanmedian(self.lat_deg)) if np.isfinite(self.lat_deg).any() else 1.0
        place: np.ndarray = NM_PER_DEG * (self.lat_deg + 1j * shrink * self.lon_deg)
        return place

    @property
    def track(self) -> np.ndarray:
        """Velocity by the positions [kn], north + i east, over two seconds."""
        velocity = np.full(len(self.time_s), np.nan, dtype=complex)
        velocity[1:-1] = (self.place[2:] - self.place[:-2]) * 1800
        return np.where(self.unbroken & np.roll(self.unbroken, -1), velocity, np.nan)


def scene_of(frame: pd.DataFrame, rows: Ints) -> Scene:
    """Cut the rows of the sample out of an aligned frame."""
    time_s = seconds_of(frame)[rows]
    columns = {
        name: frame[name].to_numpy(dtype=float)[rows]
        for name in ("sog_kn", "cog_deg", "heading_true_deg", "stw_kn", "awa_deg", "aws_kn")
        if name in frame
    }
    nothing = np.full(len(rows), np.nan)
    lat, lon, variation = (
        frame[name].to_numpy(dtype=float)[rows] if name in frame else nothing
        for name in ("lat_deg", "lon_deg", "variation_deg")
    )
    return Scene(time_s, np.diff(time_s, prepend=np.nan) == 1, columns, lat, lon, variation)


def trusted_of(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> Agreement:
    """Say which of the two to trust, and why; left open where they agree or are one instrument."""
    if agreement.repeat:
        return replace(agreement, why="One instrument, heard in two sentences.")
    if not agreement.disagrees:
        return replace(agreement, why="They agree.")
    for judge in (_stuck, _JUDGES.get(agreement.channel)):
        verdict = judge(agreement, first, second, scene) if judge is not None else None
        if verdict is not None:
            return replace(agreement, trusted=verdict[0], why=verdict[1])
    return replace(agreement, why="Nothing else in the recording tells which of the two is right.")


_Verdict = tuple[SourceKey, str]


def _stuck(agreement: Agreement, first: np.ndarray, second: np.ndarray, _scene: Scene) -> _Verdict | None:
    """One stands still while the other moves; positions do not count, they are told by their jumps."""
    if np.iscomplexobj(first):
        return None
    still = [float(np.nanmean(np.diff(value[np.isfinite(value)]) == 0)) for value in (first, second)]
    lower, upper = sorted(still)
    if upper > STUCK_SHARE and lower < STUCK_SHARE - 0.2:
        keys = (agreement.first, agreement.second)
        moving = keys[int(np.argmin(still))]
        return moving, "the other stands still"
    return None


def _minutes(*values: np.ndarray) -> list[np.ndarray]:
    """Means over the minutes in which all are known for at least half."""
    size = len(values[0]) // MINUTE_S * MINUTE_S
    known = np.logical_and.reduce([np.isfinite(value[:size]) for value in values]).reshape(-1, MINUTE_S)
    enough = known.sum(axis=1) >= MINUTE_S / 2
    folded = [np.where(known, value[:size].reshape(-1, MINUTE_S), 0)[enough] for value in values]
    return [one.sum(axis=1) / known[enough].sum(axis=1) for one in folded]


def _gain(ground: np.ndarray, keel: np.ndarray, hours: Floats) -> tuple[complex, float] | None:
    """Complex gain g of ground = g x keel + current, the current free every hour; and its one-sigma per part."""
    period = np.unique((hours / HOURS_PER_CURRENT).astype(int), return_inverse=True)[1]
    count = np.bincount(period)
    if len(ground) < LEAST_MINUTES:
        return None

    def within_hours(value: np.ndarray) -> np.ndarray:
        mean = (np.bincount(period, value.real) + 1j * np.bincount(period, value.imag)) / count
        rest: np.ndarray = value - mean[period]
        return rest

    moved, meant = within_hours(ground), within_hours(keel)
    power = float(np.sum(np.abs(meant) ** 2))
    if power / len(meant) < 1.0:
        return None
    gain = complex(np.sum(np.conj(meant) * moved)) / power
    left = moved - gain * meant
    weight = 1 / (1 + (np.abs(left) / (2 * np.median(np.abs(left)) + 1e-6)) ** 2)
    gain = complex(np.sum(weight * np.conj(meant) * moved) / np.sum(weight * np.abs(meant) ** 2))
    left = moved - gain * meant
    # The memory of current and leeway over ten minutes or so costs about a factor of three.
    sd = 3 * float(np.median(np.abs(left)) / np.sqrt(np.log(2)) / np.sqrt(2)) / power**0.5
    return gain, sd


def _by_gain(
    agreement: Agreement, gains: Sequence[tuple[complex, float] | None], of_heading: bool
) -> _Verdict | None:
    """Trust the one whose factor or angle against the ground is nearer to none, if that is sure."""
    known = [one for one in gains if one is not None]
    if len(known) < 2:
        return None
    off = [float(abs(np.angle(gain)) if of_heading else abs(np.log(abs(gain)))) for gain, _ in known]
    sd = max(sd for _, sd in known)
    if abs(off[0] - off[1]) < SURE * sd:
        return None
    keys = (agreement.first, agreement.second)
    best = int(np.argmin(off))
    scale, unit = (1 / RAD, "°") if of_heading else (100.0, " %")
    return keys[best], (
        f"on all headings together it fits the motion over the ground within {scale * off[best]:.1f}{unit}, "
        f"the other within {scale * off[1 - best]:.1f}{unit}"
    )


def _log(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    turn = np.exp(1j * RAD * scene.column("heading_true_deg"))
    ground, one, two, time_s = _minutes(scene.ground, first * turn, second * turn, scene.time_s)
    return _by_gain(agreement, [_gain(ground, keel, time_s.real / 3600) for keel in (one, two)], False)


def _heading(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    speed = scene.column("stw_kn")
    if not np.nanmedian(np.nan_to_num(speed)) > LEAST_SOG_KN:
        speed = scene.column("sog_kn")
    keels = [speed * np.exp(1j * RAD * heading) for heading in (first, second)]
    ground, one, two, time_s = _minutes(scene.ground, *keels, scene.time_s)
    return _by_gain(agreement, [_gain(ground, keel, time_s.real / 3600) for keel in (one, two)], True)


def _sog(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    turn = np.exp(1j * RAD * scene.column("cog_deg"))
    track, one, two = (np.abs(mean) for mean in _minutes(scene.track, first * turn, second * turn))
    return _nearer(agreement, one - track, two - track, "the distance between positions", " kn")


def _cog(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    track = np.where(scene.above("sog_kn", LEAST_SOG_KN), scene.track, np.nan)
    turns = (np.exp(1j * RAD * course) for course in (first, second))
    track, one, two = (np.angle(mean, deg=True) for mean in _minutes(track, *turns))
    one, two = (wrap_signed_deg(course - track) for course in (one, two))
    return _nearer(agreement, one, two, "the direction between positions", "°")


def _position(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    """Trust the receiver whose steps follow speed and course."""
    sailed = scene.ground[1:] * KN_M_S
    shared = np.diff(scene.place) * NM_M
    off = [np.abs(np.diff(value) + shared - sailed)[scene.unbroken[1:]] for value in (first, second)]
    jumps = np.array([float(np.mean(one > JUMP_M)) for one in off])
    rough = np.array([float(np.nanmedian(one)) for one in off])
    keys = (agreement.first, agreement.second)
    if jumps.max() > max(3 * jumps.min(), 1e-3):
        return keys[int(np.argmin(jumps))], "the other one jumps"
    if rough.max() > 3 * max(rough.min(), 0.5):
        return keys[int(np.argmin(rough))], "its steps follow speed and course better than those of the other"
    return None


def _vane(agreement: Agreement, first: np.ndarray, second: np.ndarray, scene: Scene) -> _Verdict | None:
    """Trust the vane whose wind over the ground stays steadier from heading to heading."""
    heading, aws = scene.column("heading_true_deg"), scene.column("aws_kn")
    winds = [aws * np.exp(1j * RAD * (awa + heading)) - scene.ground for awa in (first, second)]
    one, two, time_s = _minutes(*winds, scene.time_s)
    if len(one) < LEAST_MINUTES:
        return None
    scatter = []
    for wind in (one, two):
        hours = (time_s.real - time_s.real[0]) / 3600
        steady = np.polynomial.polynomial.polyfit(hours, np.column_stack((wind.real, wind.imag)), 1)
        left = np.abs(wind - (steady[0] + steady[1] * hours[:, None]) @ np.array([1, 1j]))
        scatter.append(float(np.median(left)))
    if min(scatter) > STEADIER * max(scatter):
        return None
    keys = (agreement.first, agreement.second)
    return keys[int(np.argmin(scatter))], (
        f"the true wind worked out with it stays within {min(scatter):.1f} kn from heading to heading, "
        f"with the other within {max(scatter):.1f} kn"
    )


def _nearer(agreement: Agreement, one: Floats, two: Floats, what: str, unit: str) -> _Verdict | None:
    if len(one) < LEAST_MINUTES:
        return None
    off = np.abs([np.median(one), np.median(two)])
    scatter = max(robust_sd(value - np.median(value)) for value in (one, two))
    if abs(off[0] - off[1]) < SURE * scatter / (len(one) / 10) ** 0.5:
        return None
    keys = (agreement.first, agreement.second)
    best = int(np.argmin(off))
    return keys[best], (
        f"against {what} it is off by {off[best]:.1f}{unit}, the other by {off[1 - best]:.1f}{unit}"
    )


_JUDGES = {
    "lat_deg": _position,
    "sog_kn": _sog,
    "cog_deg": _cog,
    "stw_kn": _log,
    "heading_true_deg": _heading,
    "awa_deg": _vane,
}
