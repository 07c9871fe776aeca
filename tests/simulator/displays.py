"""What else is measured on board, and what the boat's own displays work out from what its sensors show."""

from dataclasses import dataclass

import numpy as np

from .instruments import RAD
from .noise import damp, swell, wander


@dataclass(frozen=True)
class TrueWind:
    """How the boat's display works out the true wind; ``reference`` is water, ground or none (apparent repeated).

    ``direction`` of the true field of MWD: true, magnetic, or twice (variation applied twice). ``lag_s`` delays
    the wind input on top of the damping ``tau_s``. The input named ``frozen`` stands still from ``hold_share`` of
    the passage on. The display adds ``vane_offset_deg`` to the vane, multiplies the apparent wind speed by
    ``wind_factor`` and the true one it gives out by ``speed_factor``.
    """

    reference: str = "water"
    leeway_coefficient: float = 0.0
    direction: str = "true"
    mirrored: bool = False
    tau_s: float = 3.0
    lag_s: float = 0.0
    frozen: str = ""
    hold_share: float = 0.0
    vane_offset_deg: float = 0.0
    wind_factor: float = 1.0
    speed_factor: float = 1.0


def measured(rng, voyage):
    """All that the sensors show each second, before the displays: the sailing sensors and the ship's others."""
    truth, n = voyage.truth, len(voyage.truth.heading_deg)
    t = np.arange(n)
    lat, lon = truth.lat_deg, truth.lon_deg
    metre = 1 / 111_120
    shown = {name: value.copy() for name, value in voyage.sensed.items()}
    shown["compass_deg"] = shown.pop("heading_true_deg") - truth.variation_deg
    shown["lat_deg"] = lat + metre * wander(rng, n, 1.5, 300)
    shown["lon_deg"] = lon + metre / np.cos(lat * RAD) * wander(rng, n, 1.5, 300)
    shown["pitch_deg"] = rng.uniform(-1, 2) + swell(rng, n, 1.8, 5.5)
    shown["rate_of_turn_deg_min"] = 60 * np.gradient(np.unwrap(truth.heading_deg, period=360)) + wander(
        rng, n, 15, 2
    )
    shown["rudder_deg"] = damp(shown["rate_of_turn_deg_min"] / 40 + wander(rng, n, 2, 4), 1)
    shown["leeway_deg"] = truth.leeway_deg + wander(rng, n, 0.6, 20)
    depth = np.exp(np.log(rng.uniform(12, 45)) + wander(rng, n, 0.35, 2500) + wander(rng, n, 0.03, 60))
    shown["depth_m"] = np.maximum(depth, 2.5) + wander(rng, n, 0.08, 3)
    season = 4 * np.cos(2 * np.pi * (truth.start.day_of_year - 225) / 365) * np.sign(lat[0])
    shown["water_temp_c"] = 29 - 0.33 * abs(lat[0]) + season + wander(rng, n, 0.25, 4000)
    shown["pressure_hpa"] = (
        rng.uniform(1000, 1028)
        + rng.normal(0, 0.5) * t / 3600
        + wander(rng, n, 0.6, 9000)
        + wander(rng, n, 0.03, 60)
    )
    shown["satellites"] = np.clip(np.round(10.5 + wander(rng, n, 1.3, 500)), 7, 14)
    shown["hdop"] = np.clip(2.2 - 0.12 * shown["satellites"] + wander(rng, n, 0.06, 300), 0.6, 1.9)
    return shown


def displayed(shown, fit):
    """Add headings and the boat's own true wind to what the sensors show, as its displays work them out."""
    shown = dict(shown)
    compass = shown["compass_deg"]
    shown["heading_mag_deg"] = compass + fit.boat_deviation_deg(compass)
    shown["heading_true_deg"] = shown["heading_mag_deg"] + fit.variation_deg * fit.variation_times
    return shown | _true_wind(shown, fit.true_wind, fit.variation_deg)


def _held(value, at):
    value = value.copy()
    value[at:] = value[at]
    return value


def _true_wind(shown, how, variation_deg):
    inputs = {name: shown[name] for name in ("awa_deg", "aws_kn", "stw_kn", "heading_true_deg")}
    if how.frozen == "log-zero":
        inputs["stw_kn"] = np.zeros_like(inputs["stw_kn"])
    elif how.frozen:
        inputs[how.frozen] = _held(inputs[how.frozen], int(how.hold_share * len(shown["stw_kn"])))
    vane = inputs["awa_deg"] * (-1 if how.mirrored else 1) + how.vane_offset_deg
    wind = how.wind_factor * inputs["aws_kn"] * np.exp(1j * vane * RAD)
    wind = damp(wind.real, 0, how.lag_s) + 1j * damp(wind.imag, 0, how.lag_s)
    leeway = how.leeway_coefficient * shown.get("heel_deg", 0) / np.maximum(inputs["stw_kn"], 3) ** 2
    water = inputs["stw_kn"] * (1 + 1j * np.tan(leeway * RAD))
    ground = shown["sog_kn"] * np.exp(1j * (shown["cog_deg"] - inputs["heading_true_deg"]) * RAD)
    boat = {"water": water, "ground": ground, "none": 0}[how.reference]
    true = wind - boat
    angle = np.angle(true) / RAD
    speed = damp(abs(true), how.tau_s) * how.speed_factor
    twa = damp(angle, how.tau_s, 0, 360)
    twd = damp(angle + inputs["heading_true_deg"], how.tau_s, 0, 360)
    shift = {"true": 0, "magnetic": -variation_deg, "twice": variation_deg}[how.direction]
    return {
        "twa_deg": twa,
        "tws_kn": speed,
        "twd_deg": twd + shift,
        "twd_mag_deg": twd - variation_deg,
    }
