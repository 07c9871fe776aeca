"""AIS messages of invented vessels met on the way, as a receiver would print them."""

import numpy as np
from pyais import encode_dict

from analysis.invent.motion import Vectors, bearing_deg
from analysis.invent.noise import Floats
from analysis.invent.scenario import Scenario, Target
from analysis.invent.sea import toward

_POSITION_EVERY_S = 30
_STATIC_EVERY_S = 360
_REACH_NM = {"A": 18.0, "B": 7.0}


def traffic_lines(
    scenario: Scenario, time_s: Floats, lat_deg: Floats, lon_deg: Floats, rng: np.random.Generator
) -> tuple[Floats, list[str]]:
    """Write the VDM lines received along a track given once a second: their times [s] and the lines."""
    times: list[float] = []
    lines: list[str] = []
    for target in scenario.targets:
        east_nm, north_nm = _path(target, time_s - time_s[0])
        shrink = np.cos(np.radians(scenario.lat_deg))
        lat = scenario.lat_deg + north_nm / 60
        lon = scenario.lon_deg + east_nm / 60 / shrink
        away = np.hypot((lat - lat_deg) * 60, (lon - lon_deg) * 60 * shrink)
        heard = rng.spawn(1)[0].random(len(away)) < 1 / (
            1 + np.exp((away - _REACH_NM[target.transponder]) / 1.5)
        )
        due = (np.arange(len(away)) + target.mmsi) % _POSITION_EVERY_S == 0
        for i in np.flatnonzero(due & heard).tolist():
            static = i % _STATIC_EVERY_S < _POSITION_EVERY_S
            for message in _messages(target, float(lat[i]), float(lon[i]), time_s[i], static):
                parts = encode_dict(message, talker_id="AI", sentence_type="VDM", radio_channel="AB"[i % 2])
                times.extend(time_s[i] + 0.75 + 0.02 * k for k in range(len(parts)))
                lines.extend(parts)
    return np.array(times), lines


def _path(target: Target, elapsed_s: Floats) -> tuple[Floats, Floats]:
    """Position [nm east, nm north] of a target from the yacht's start."""
    place: Vectors = (
        target.distance_nm * toward(target.bearing_deg)
        + target.speed_kn * toward(target.course_deg) * elapsed_s / 3600
    )
    return place.real, place.imag


def _messages(
    target: Target, lat_deg: float, lon_deg: float, time_s: float, static: bool
) -> list[dict[str, object]]:
    course = float(bearing_deg(toward(target.course_deg)))
    report: dict[str, object] = {
        "type": 1 if target.transponder == "A" else 18,
        "mmsi": target.mmsi,
        "lat": lat_deg,
        "lon": lon_deg,
        "speed": target.speed_kn,
        "course": course,
        "heading": round(course) % 360,
        "second": int(time_s) % 60,
    }
    if not static:
        return [report]
    if target.transponder == "A":
        return [
            report,
            {
                "type": 5,
                "mmsi": target.mmsi,
                "shipname": target.name,
                "ship_type": 70,
                "to_bow": 110,
                "to_stern": 30,
                "to_port": 10,
                "to_starboard": 12,
                "draught": 7.2,
            },
        ]
    return [report, {"type": 24, "partno": 0, "mmsi": target.mmsi, "shipname": target.name}]
