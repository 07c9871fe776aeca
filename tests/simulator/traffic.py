"""A boat among vessels, written down as RMC, HDT, VDM and VDO: tracks with turns, noisy fixes, rounded reports.

Positions lie on a local plane; what is true of distances is for the caller to work out from the true positions.
Every random number comes from the seed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from pyais import encode_dict
from scipy.signal import lfilter

START_S = 1_900_000_000.0
M_PER_NM, RADIAL_95 = 1852.0, 2.45  # two axes: 95 % of the radii lie within 2.45 one-sigmas of each


@dataclass(frozen=True)
class Vessel:
    """A vessel: place at the start [nm], legs (seconds, course, knots), and how she reports.

    ``fix_m`` is the radius of 95 % of her fixes. A leg begins with a turn of ``turn_deg_s``.
    """

    mmsi: int = 200000001
    name: str = "GREY HERON"
    kind: str = "A"
    east_nm: float = 0.0
    north_nm: float = 0.0
    legs: tuple[tuple[float, float, float], ...] = ((3600.0, 0.0, 6.0),)
    every_s: float = 10.0
    lost: float = 0.0
    accurate: bool = True
    fix_m: float = 10.0
    turn_deg_s: float = 0.5
    status: int = 0
    carrier_sense: bool = True


@dataclass(frozen=True)
class Voyage:
    """True tracks once a second: own and each vessel's latitude, longitude, course and speed."""

    time_s: np.ndarray
    own: "Way"
    others: tuple["Way", ...]
    lines: list[str] = field(repr=False)


@dataclass(frozen=True)
class Way:
    """A true track."""

    lat_deg: np.ndarray
    lon_deg: np.ndarray
    course_deg: np.ndarray
    speed_kn: np.ndarray


def sailed(
    own: Vessel,
    vessels: Sequence[Vessel],
    seed: int,
    lat_deg: float = 47.0,
    lon_deg: float = -9.0,
    vdo: Vessel | None = None,
    vdo_delay_s: float = 0.0,
    vdo_channel: str = "A",
    vdo_until_s: float = np.inf,
    shadow: tuple[float, float] | None = None,
    extra: Sequence[tuple[float, str]] = (),
) -> Voyage:
    """Sail and write the log. ``vdo`` is how the own transponder reports; ``shadow`` bearings lose 85 %."""
    rng = np.random.default_rng(seed)
    seconds = sum(leg[0] for leg in own.legs)
    time = START_S + np.arange(seconds + 1)
    mine = _way(own, time, lat_deg, lon_deg)
    others = tuple(_way(vessel, time, lat_deg, lon_deg) for vessel in vessels)
    lines = _own_lines(mine, time, own.fix_m, rng)
    for vessel, way in zip(vessels, others, strict=True):
        lines += _reports(vessel, way, time, "VDM", rng, mine if shadow else None, shadow)
    if vdo is not None:
        late = round(vdo_delay_s)
        old = Way(
            *(
                np.concatenate((np.repeat(one[0], late), one[: len(one) - late]))
                for one in vars(_way(vdo, time, lat_deg, lon_deg)).values()
            )
        )
        reports = _reports(vdo, old, time, "VDO", rng, None, None, vdo_channel)
        lines += [one for one in reports if one[0] - START_S < vdo_until_s]
    lines += list(extra)
    lines.sort(key=lambda one: one[0])
    return Voyage(time, mine, others, [line for _, line in lines])


def _way(vessel: Vessel, time: np.ndarray, lat_deg: float, lon_deg: float) -> Way:
    ends = np.cumsum([leg[0] for leg in vessel.legs])
    leg = np.minimum(np.searchsorted(ends, time - time[0], side="right"), len(ends) - 1)
    wanted = np.array([one[1] for one in vessel.legs])[leg]
    course = np.full(len(time), wanted[0], dtype=float)
    for k in range(1, len(time) if len(vessel.legs) > 1 else 1):
        off = (wanted[k] - course[k - 1] + 180) % 360 - 180
        course[k] = course[k - 1] + np.clip(off, -vessel.turn_deg_s, vessel.turn_deg_s)
    speed = np.array([one[2] for one in vessel.legs])[leg]
    step = speed / 3600 * np.exp(1j * np.radians(course))
    place = vessel.north_nm + 1j * vessel.east_nm + np.concatenate(([0], np.cumsum(step[:-1])))
    lat = lat_deg + place.real / 60
    return Way(lat, lon_deg + place.imag / 60 / np.cos(np.radians(lat_deg)), course % 360, speed)


def _wander_m(count: int, fix_m: float, rng: np.random.Generator) -> np.ndarray:
    """Errors of fixes once a second: slow, of 95 % within ``fix_m``."""
    keep = np.exp(-1 / 600.0)
    noise = rng.normal(size=(count, 2)) * np.sqrt(1 - keep**2)
    noise[0] = rng.normal(size=2)
    wandered: np.ndarray = lfilter([1.0], [1.0, -keep], noise, axis=0)
    return wandered * fix_m / RADIAL_95


def _shifted(way: Way, error_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    lat = way.lat_deg + error_m[:, 0] / M_PER_NM / 60
    return lat, way.lon_deg + error_m[:, 1] / M_PER_NM / 60 / np.cos(np.radians(way.lat_deg))


def _closed(body: str, start: str = "$") -> str:
    total = 0
    for letter in body.encode():
        total ^= letter
    return f"{start}{body}*{total:02X}"


def _angle(value: float, width: int, letters: str) -> str:
    whole, rest = divmod(abs(value) * 60, 60)
    return f"{int(whole):0{width}d}{rest:07.4f},{letters[0] if value >= 0 else letters[1]}"


def _own_lines(
    mine: Way, time: np.ndarray, fix_m: float, rng: np.random.Generator
) -> list[tuple[float, str]]:
    lat, lon = _shifted(mine, _wander_m(len(time), fix_m, rng))
    lines = []
    for k, moment in enumerate(time):
        stamp = np.datetime64(int(moment), "s").item()
        speed = max(mine.speed_kn[k] + rng.normal(0, 0.05), 0)
        course = (mine.course_deg[k] + rng.normal(0, 0.5)) % 360
        lines.append(
            (
                moment + 0.1,
                _closed(
                    f"GPRMC,{stamp:%H%M%S}.00,A,{_angle(lat[k], 2, 'NS')},{_angle(lon[k], 3, 'EW')},"
                    f"{speed:.1f},{course:.1f},{stamp:%d%m%y},,,A"
                ),
            )
        )
        lines.append((moment + 0.2, _closed(f"HEHDT,{mine.course_deg[k]:.1f},T")))
    return lines


def _reports(
    vessel: Vessel,
    way: Way,
    time: np.ndarray,
    sentence: str,
    rng: np.random.Generator,
    own: Way | None,
    shadow: tuple[float, float] | None,
    channel: str | None = None,
) -> list[tuple[float, str]]:
    lat, lon = _shifted(way, _wander_m(len(time), vessel.fix_m, rng))
    due = np.arange(rng.uniform(0, vessel.every_s), len(time) - 2, vessel.every_s)
    lines: list[tuple[float, str]] = []
    for count, at in enumerate(due):
        k = int(at)
        lost = rng.random()
        if own is not None and shadow is not None and _inside(own, way, k, shadow) and lost < 0.85:
            continue
        if lost < vessel.lost:
            continue
        said = {
            "type": 1 if vessel.kind == "A" else 18,
            "mmsi": vessel.mmsi,
            "lat": lat[k],
            "lon": lon[k],
            "speed": round(max(way.speed_kn[k] + rng.normal(0, 0.1), 0), 1),
            "course": round((way.course_deg[k] + rng.normal(0, 1.0)) % 360, 1) % 360,
            "heading": round(way.course_deg[k]) % 360,
            "second": int(time[k]) % 60,
            "accuracy": vessel.accurate,
            "status": vessel.status,
            "cs": vessel.carrier_sense,
        }
        messages = [said]
        if count % 20 == 0:
            messages.append(
                {
                    "type": 5,
                    "mmsi": vessel.mmsi,
                    "shipname": vessel.name,
                    "ship_type": 70,
                    "to_bow": 90,
                    "to_stern": 20,
                }
                if vessel.kind == "A"
                else {"type": 24, "partno": 0, "mmsi": vessel.mmsi, "shipname": vessel.name}
            )
        moment = time[k] + rng.uniform(0.3, 0.9)
        for message in messages:
            radio = channel if channel is not None else "AB"[count % 2]
            for part in encode_dict(
                message, talker_id="AI", sentence_type=sentence, radio_channel=radio or "A"
            ):
                if radio == "":
                    fields = part.split("*")[0][1:].split(",")
                    fields[4] = ""
                    part = _closed(",".join(fields), "!")
                lines.append((moment, part))
                moment += 0.01
    return lines


def _inside(own: Way, other: Way, k: int, shadow: tuple[float, float]) -> bool:
    east = (other.lon_deg[k] - own.lon_deg[k]) * np.cos(np.radians(own.lat_deg[k]))
    bearing = np.degrees(np.arctan2(east, other.lat_deg[k] - own.lat_deg[k]))
    off = (bearing - own.course_deg[k] - shadow[0]) % 360
    return bool(off < (shadow[1] - shadow[0]) % 360)
