"""The own AIS transponder, class B with carrier sense, printing what it sends (VDO)."""

import numpy as np
import pandas as pd
from pyais import encode_dict

from analysis.invent.noise import Floats, wander
from analysis.invent.scenario import Scenario

# Intervals of class B with carrier sense above and up to 2 kn, and of its name (ITU-R M.1371-5, tables 2 and 3).
_UNDER_WAY_S, _AT_REST_S, _CRAWL_KN, _NAMED_EVERY_S = 30.0, 180.0, 2.0, 360.0
_GIVING_WAY_S = 1.5  # earlier or later, where another sends: judgment
_FIX_SD_NM, _FIX_MEMORY_S = 2.0 / 1852, 300.0
_SPEED_SD_KN, _SPEED_MEMORY_S = 0.05, 5.0


def transponder_lines(
    scenario: Scenario, time_s: Floats, track: pd.DataFrame, rng: np.random.Generator
) -> tuple[Floats, list[str]]:
    """Write the VDO lines of the own transponder along the true track at 1 s: their times [s] and the lines."""
    if scenario.own_mmsi is None:
        return np.empty(0), []
    count = len(time_s)
    north_nm, east_nm = (wander(rng, count, 1.0, _FIX_MEMORY_S, _FIX_SD_NM) for _ in range(2))
    faster_kn = wander(rng, count, 1.0, _SPEED_MEMORY_S, _SPEED_SD_KN)
    lat = track["lat_deg"].to_numpy() + north_nm / 60
    lon = track["lon_deg"].to_numpy() + east_nm / 60 / np.cos(np.radians(lat))
    speed = np.maximum(track["sog_kn"].to_numpy() + faster_kn, 0.0)
    course = track["cog_deg"].to_numpy()
    slots = rng.spawn(1)[0]
    times: list[float] = []
    lines: list[str] = []
    due, named = 7.0, 0.0
    while due < count:
        at = int(due + slots.uniform(-_GIVING_WAY_S, _GIVING_WAY_S))
        if at >= count:
            break
        messages = [_report(scenario.own_mmsi, lat[at], lon[at], speed[at], course[at], time_s[at])]
        if due >= named:
            messages += _who(scenario.own_mmsi, scenario.yacht)
            named = due + _NAMED_EVERY_S
        for k, message in enumerate(messages):
            lines += encode_dict(message, talker_id="AI", sentence_type="VDO", radio_channel="AB"[at % 2])
            times.append(time_s[at] + 0.6 + 0.02 * k)
        due += _UNDER_WAY_S if speed[at] > _CRAWL_KN else _AT_REST_S
    return np.array(times), lines


def _report(
    mmsi: int, lat_deg: float, lon_deg: float, speed_kn: float, course_deg: float, time_s: float
) -> dict[str, object]:
    return {
        "type": 18,
        "mmsi": mmsi,
        "lat": lat_deg,
        "lon": lon_deg,
        "speed": round(speed_kn, 1),
        "course": round(course_deg, 1) % 360,
        "heading": 511,
        "second": int(time_s) % 60,
        "accuracy": 1,
        "cs": 1,
    }


def _who(mmsi: int, yacht: str) -> list[dict[str, object]]:
    size = {"to_bow": 7, "to_stern": 5, "to_port": 2, "to_starboard": 2}
    return [
        {"type": 24, "partno": 0, "mmsi": mmsi, "shipname": yacht.upper()},
        {"type": 24, "partno": 1, "mmsi": mmsi, "ship_type": 36, **size},
    ]
