"""What the sensors show of the true state: their errors, damping, delay and noise."""

import numpy as np

from analysis.invent.motion import bearing_deg, signed_deg
from analysis.invent.noise import Floats, damped, delayed, wander
from analysis.invent.scenario import Errors, Instrument, Scenario, Sensor
from analysis.invent.sea import Weather, toward

_METRE_S_KN = 3600 / 1852
_COLUMNS: dict[Sensor, tuple[str, ...]] = {
    "gnss": ("lat_deg", "lon_deg", "sog_kn", "cog_deg"),
    "compass": ("heading_mag_deg",),
    "log": ("stw_kn",),
    "wind": ("awa_deg", "aws_kn"),
    "depth": ("depth_m",),
    "attitude": ("heel_deg", "pitch_deg"),
    "barometer": ("air_pressure_hpa",),
    "water_temp": ("water_temp_c",),
    "rudder": ("rudder_deg",),
}


def upwash_shape(awa_deg: Floats) -> Floats:
    """Upwash correction at an AWA [deg] for 1 deg at 30 deg: odd, largest close-hauled, nil when running.

    Own form: ((1 + cos a) / 2)^2 for the load on the sails, times tanh(a / 10 deg) to pass through zero.
    """

    def load(a: Floats) -> Floats:
        return ((1 + np.cos(np.radians(a))) / 2) ** 2 * np.tanh(a / 10)

    return load(awa_deg) / load(np.array(30.0))


def vane_shown_deg(awa_deg: Floats, errors: Errors) -> Floats:
    """AWA [deg] the vane shows at a true AWA: true = shown + offset + upwash x shape(shown + offset)."""
    airflow = awa_deg
    for _ in range(6):
        airflow = awa_deg - errors.upwash_deg * upwash_shape(airflow)
    shown = signed_deg(airflow - errors.vane_offset_deg)
    return -shown if errors.vane_mirrored else shown


def compass_correction_deg(compass_deg: Floats, hours: Floats, errors: Errors) -> Floats:
    """Return what mends a compass heading: A + B sin h + C cos h + D sin 2h + E cos 2h, and the step."""
    b, c, d, e = errors.deviation_deg
    h = np.radians(compass_deg)
    step = np.where(hours >= errors.compass_step_at_h, errors.compass_step_deg, 0.0)
    deviation: Floats = b * np.sin(h) + c * np.cos(h) + d * np.sin(2 * h) + e * np.cos(2 * h)
    return errors.compass_constant_deg + step + deviation


def log_factor(hours: Floats, errors: Errors) -> Floats:
    """Factor that mends the log, growing as it fouls."""
    return errors.log_factor * (1 + errors.log_fouling_per_h * hours)


def shown_state(
    scenario: Scenario,
    state: dict[str, Floats],
    weather: Weather,
    hours: Floats,
    step_s: float,
    rng: np.random.Generator,
) -> dict[str, Floats]:
    """Turn the true state into what each instrument shows at every step, before printing."""
    errors, sensors, boat = scenario.errors, scenario.sensors, scenario.boat
    n = len(hours)

    def noise(memory_s: float, sd: float) -> Floats:
        return wander(rng, n, step_s, memory_s, sd)

    def settle(x: Floats, damping_s: float, delay_s: float) -> Floats:
        return delayed(damped(x, step_s, damping_s), step_s, delay_s)

    shown = {name: state[name] + noise(1, 0.2) for name in ("heel_deg", "pitch_deg", "rudder_deg")}
    shown["rudder_deg"] = shown["rudder_deg"] - errors.rudder_offset_deg
    shown["depth_m"] = state["depth_m"] + noise(2, 0.05)
    shown["water_temp_c"] = state["water_temp_c"]
    shown["air_pressure_hpa"] = state["air_pressure_hpa"] - errors.barometer_offset_hpa + noise(30, 0.03)

    ground = state["sog_kn"] * toward(state["cog_deg"])
    speed_noise = sensors.gnss_speed_noise_kn
    ground = ground + noise(2, speed_noise) + 1j * noise(2, speed_noise)
    metre_deg = 1 / 111_000
    shown["sog_kn"], shown["cog_deg"] = np.abs(ground), bearing_deg(ground)
    shown["lat_deg"] = state["lat_deg"] + noise(300, 1.2) * metre_deg
    shown["lon_deg"] = state["lon_deg"] + noise(300, 1.2) * metre_deg

    magnetic = np.degrees(np.unwrap(np.radians(state["heading_true_deg"]))) - scenario.variation_deg
    compass = magnetic
    for _ in range(8):
        compass = magnetic - compass_correction_deg(compass, hours, errors)
    compass = compass + noise(1.5, 0.3)
    shown["heading_mag_deg"] = settle(compass, sensors.heading_damping_s, errors.heading_delay_s) % 360

    flow = state["stw_kn"] + weather.orbital_kn * (state["stw_kn"] > 0.5) + noise(1, 0.04)
    wheel = (flow - errors.log_zero_offset_kn) / log_factor(hours, errors)
    shown["stw_kn"] = np.maximum(settle(wheel, sensors.stw_damping_s, errors.stw_delay_s), 0)

    masthead_m_s = boat.mast_height_m * np.radians(
        np.gradient(np.stack([-state["pitch_deg"], weather.roll_deg]), step_s, axis=1)
    )
    angle = np.radians(state["awa_deg"])
    ahead = state["aws_kn"] * np.cos(angle) + masthead_m_s[0] * _METRE_S_KN
    starboard = state["aws_kn"] * np.sin(angle) + masthead_m_s[1] * _METRE_S_KN
    vane = vane_shown_deg(np.degrees(np.arctan2(starboard, ahead)), errors) + noise(0.5, 0.6)
    vane = np.degrees(np.unwrap(np.radians(vane)))
    shown["awa_deg"] = signed_deg(settle(vane, sensors.wind_damping_s, errors.wind_delay_s))
    cups = np.hypot(ahead, starboard) / errors.wind_speed_factor + noise(0.5, 0.1)
    shown["aws_kn"] = np.maximum(settle(cups, sensors.wind_damping_s, errors.wind_delay_s), 0)

    for spell in errors.stuck:
        inside = (hours >= spell.start_h) & (hours < spell.end_h)
        if inside.any():
            for name in _COLUMNS[spell.sensor]:
                shown[name] = np.where(inside, shown[name][np.argmax(inside)], shown[name])

    shown["log_nm"] = np.cumsum(shown["stw_kn"]) * step_s / 3600
    return shown | _instrument_wind(scenario.instrument, scenario, shown, step_s)


def _instrument_wind(
    instrument: Instrument, scenario: Scenario, shown: dict[str, Floats], step_s: float
) -> dict[str, Floats]:
    """Work out true wind as the wind display does from the shown values: TWA off the bow, TWS, TWD."""
    variation = scenario.variation_deg
    heading = shown["heading_mag_deg"] + variation
    if instrument.reference == "ground":
        boat = shown["sog_kn"] * toward(shown["cog_deg"])
    else:
        leeway = np.zeros_like(heading)
        if instrument.leeway:
            pace = np.maximum(shown["stw_kn"], 3.0)
            leeway = scenario.boat.leeway_coefficient * damped(shown["heel_deg"], step_s, 10) / pace**2
        boat = shown["stw_kn"] / np.cos(np.radians(leeway)) * toward(heading + leeway)
    air = -shown["aws_kn"] * toward(heading + shown["awa_deg"])
    wind = air + boat
    wind = damped(wind.real, step_s, instrument.damping_s) + 1j * damped(
        wind.imag, step_s, instrument.damping_s
    )
    added = {"applied": 0.0, "omitted": -variation, "twice": variation}[instrument.variation]
    twd = bearing_deg(-wind)
    return {
        "logged_twa_deg": signed_deg(twd - heading),
        "logged_tws_kn": np.abs(wind),
        "logged_twd_deg": (twd + added) % 360,
        "logged_twd_mag_deg": (twd + added - variation) % 360,
    }
