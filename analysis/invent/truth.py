"""The truth file: every correction under its calibration name, and what really happened."""

from typing import Any

import numpy as np
import pandas as pd

from analysis.invent.motion import bearing_deg
from analysis.invent.noise import Floats
from analysis.invent.scenario import Errors, Scenario
from analysis.invent.sea import toward
from analysis.invent.sensors import log_factor


def corrections(scenario: Scenario, hours: Floats, stw_kn: Floats) -> dict[str, float]:
    """Every injected error as the correction that mends it, under the calibration names.

    Where an error changes on the way its mean stands here: over the distance for the log, over the time
    for the compass. A lag is damping plus delay [s].
    """
    errors, sensors = scenario.errors, scenario.sensors
    stepped = float(np.mean(hours >= errors.compass_step_at_h))
    factor = log_factor(hours, errors)
    weights = stw_kn / factor
    moved = weights.sum() > 0
    return {
        "log_factor": float(np.average(factor, weights=weights if moved else None)),
        "log_zero_offset_kn": errors.log_zero_offset_kn,
        "compass_constant_deg": errors.compass_constant_deg + stepped * errors.compass_step_deg,
        **{f"deviation_{k}_deg": v for k, v in zip("BCDE", errors.deviation_deg, strict=True)},
        "vane_offset_deg": errors.vane_offset_deg,
        "wind_speed_factor": errors.wind_speed_factor,
        "leeway_coefficient": scenario.boat.leeway_coefficient,
        "upwash_deg": errors.upwash_deg,
        "barometer_offset_hpa": errors.barometer_offset_hpa,
        "heading_lag_s": sensors.heading_damping_s + errors.heading_delay_s,
        "stw_lag_s": sensors.stw_damping_s + errors.stw_delay_s,
        "awa_lag_s": sensors.wind_damping_s + errors.wind_delay_s,
    }


def tell_truth(scenario: Scenario, name: str, seed: int, track: pd.DataFrame) -> dict[str, Any]:
    """Sum up an invention from its true track at 1 s: plain values, ready for JSON."""
    start = track.index[0]
    hours = np.asarray((track.index - start).total_seconds()) / 3600
    column = {name: track[name].to_numpy() for name in track}
    water_kn = column["stw_kn"] / np.cos(np.radians(column["leeway_deg"]))
    current = np.mean(column["drift_kn"] * toward(column["set_deg"]))
    wind = np.mean(column["tws_ground_kn"] * toward(column["twd_ground_deg"]))
    return {
        "schema": "sternlog.truth/1",
        "scenario": name,
        "about": scenario.summary,
        "yacht": scenario.yacht,
        "seed": seed,
        "start_utc": _iso(start),
        "end_utc": _iso(track.index[-1]),
        "calibration": corrections(scenario, hours, column["stw_kn"]),
        "instrument": vars(scenario.instrument) | {"variation_deg": scenario.variation_deg},
        "events": _events(scenario.errors, start, float(hours[-1])),
        "current": {
            "mean_set_deg": float(bearing_deg(np.asarray(current))),
            "mean_drift_kn": float(np.abs(current)),
            "max_drift_kn": float(column["drift_kn"].max()),
        },
        "wind": {
            "mean_twd_ground_deg": float(bearing_deg(np.asarray(wind))),
            "mean_tws_ground_kn": float(column["tws_ground_kn"].mean()),
        },
        "summary": {
            "duration_h": float(hours[-1]),
            "distance_over_ground_nm": float(column["sog_kn"].sum() / 3600),
            "distance_through_water_nm": float(np.abs(water_kn).sum() / 3600),
            "max_sog_kn": float(column["sog_kn"].max()),
            "max_stw_kn": float(column["stw_kn"].max()),
            "max_tws_kn": float(column["tws_ground_kn"].max()),
        },
    }


def _events(errors: Errors, start: pd.Timestamp, hours: float) -> list[dict[str, object]]:
    """List the errors that begin on the way, in time order."""
    events: list[dict[str, object]] = []
    if errors.compass_step_deg and errors.compass_step_at_h < hours:
        at = start + pd.Timedelta(hours=errors.compass_step_at_h)
        events.append(
            {"kind": "compass-step", "start_utc": _iso(at), "correction_deg": errors.compass_step_deg}
        )
    for kind, spells in (("stuck", errors.stuck), ("lost", errors.lost)):
        for spell in spells:
            begin, end = (start + pd.Timedelta(hours=min(h, hours)) for h in (spell.start_h, spell.end_h))
            if begin < end:
                events.append(
                    {"kind": kind, "sensor": spell.sensor, "start_utc": _iso(begin), "end_utc": _iso(end)}
                )
    if errors.log_fouling_per_h:
        events.append(
            {
                "kind": "log-fouling",
                "start_utc": _iso(start),
                "log_factor_start": errors.log_factor,
                "log_factor_end": errors.log_factor * (1 + errors.log_fouling_per_h * hours),
            }
        )
    if errors.vane_mirrored:
        events.append({"kind": "vane-mirrored", "start_utc": _iso(start)})
    return sorted(events, key=lambda event: str(event["start_utc"]))


def _iso(time: pd.Timestamp) -> str:
    return f"{time:%Y-%m-%dT%H:%M:%SZ}"
