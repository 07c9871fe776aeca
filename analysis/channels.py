"""The table of quantities: what a channel is called, measured in, and what is physically possible.

Adding a channel is one entry here. Names end in their unit; directions are true unless the name ends
``_mag_deg``; signs follow the conventions in DEVELOPERS.md.
"""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["scalar", "direction", "signed_angle", "position"]


@dataclass(frozen=True)
class Channel:
    """One quantity: its name, unit, kind, label for a screen, and the physically possible range."""

    name: str
    unit: str
    kind: Kind
    label: str
    low: float
    high: float


_TABLE = [
    # position and motion over the ground
    Channel("lat_deg", "deg", "position", "Latitude", -90, 90),
    Channel("lon_deg", "deg", "position", "Longitude", -180, 180),
    Channel("sog_kn", "kn", "scalar", "SOG", 0, 100),
    Channel("cog_deg", "deg", "direction", "COG", 0, 360),
    Channel("cog_mag_deg", "deg", "direction", "COG, magnetic", 0, 360),
    Channel("sog_along_kn", "kn", "scalar", "Speed over ground along the keel", -100, 100),
    Channel("sog_across_kn", "kn", "scalar", "Speed over ground to starboard", -50, 50),
    Channel("altitude_m", "m", "scalar", "Altitude", -500, 9000),
    Channel("geoid_separation_m", "m", "scalar", "Geoid separation", -150, 150),
    Channel("fix_quality", "1", "scalar", "GNSS fix quality", 0, 8),
    Channel("fix_dimension", "1", "scalar", "GNSS fix dimension", 1, 3),
    Channel("satellites_used", "1", "scalar", "Satellites used", 0, 128),
    Channel("satellites_in_view", "1", "scalar", "Satellites in view", 0, 128),
    Channel("hdop", "1", "scalar", "Horizontal dilution of precision", 0, 100),
    Channel("pdop", "1", "scalar", "Position dilution of precision", 0, 100),
    Channel("vdop", "1", "scalar", "Vertical dilution of precision", 0, 100),
    Channel("position_rms_m", "m", "scalar", "RMS of range residuals", 0, 10000),
    Channel("lat_error_m", "m", "scalar", "Latitude one-sigma", 0, 10000),
    Channel("lon_error_m", "m", "scalar", "Longitude one-sigma", 0, 10000),
    Channel("altitude_error_m", "m", "scalar", "Altitude one-sigma", 0, 10000),
    # heading and attitude
    Channel("heading_true_deg", "deg", "direction", "Heading, true", 0, 360),
    Channel("heading_mag_deg", "deg", "direction", "Heading, magnetic", 0, 360),
    Channel("deviation_deg", "deg", "signed_angle", "Deviation", -180, 180),
    Channel("variation_deg", "deg", "signed_angle", "Variation", -180, 180),
    Channel("rate_of_turn_deg_min", "deg/min", "scalar", "Rate of turn", -5400, 5400),
    Channel("heel_deg", "deg", "signed_angle", "Heel", -90, 90),
    Channel("pitch_deg", "deg", "signed_angle", "Pitch", -90, 90),
    Channel("rudder_deg", "deg", "signed_angle", "Rudder", -90, 90),
    Channel("rudder_port_deg", "deg", "signed_angle", "Rudder, port", -90, 90),
    # motion through the water
    Channel("stw_kn", "kn", "scalar", "STW", -20, 60),
    Channel("stw_across_kn", "kn", "scalar", "Speed through water to starboard", -20, 20),
    Channel("water_distance_nm", "nm", "scalar", "Distance through water, total", 0, 1e7),
    Channel("water_trip_nm", "nm", "scalar", "Distance through water since reset", 0, 1e7),
    Channel("ground_distance_nm", "nm", "scalar", "Distance over ground, total", 0, 1e7),
    Channel("ground_trip_nm", "nm", "scalar", "Distance over ground since reset", 0, 1e7),
    Channel("leeway_deg", "deg", "signed_angle", "Leeway", -90, 90),
    Channel("set_deg", "deg", "direction", "Set", 0, 360),
    Channel("drift_kn", "kn", "scalar", "Drift", 0, 20),
    Channel("logged_set_deg", "deg", "direction", "Set, as recorded", 0, 360),
    Channel("logged_set_mag_deg", "deg", "direction", "Set, as recorded, magnetic", 0, 360),
    Channel("logged_drift_kn", "kn", "scalar", "Drift, as recorded", 0, 20),
    # wind
    Channel("awa_deg", "deg", "signed_angle", "AWA", -180, 180),
    Channel("aws_kn", "kn", "scalar", "AWS", 0, 200),
    Channel("twa_water_deg", "deg", "signed_angle", "TWA over the water", -180, 180),
    Channel("tws_water_kn", "kn", "scalar", "TWS over the water", 0, 200),
    Channel("twd_water_deg", "deg", "direction", "TWD over the water", 0, 360),
    Channel("twa_ground_deg", "deg", "signed_angle", "TWA over the ground", -180, 180),
    Channel("tws_ground_kn", "kn", "scalar", "TWS over the ground", 0, 200),
    Channel("twd_ground_deg", "deg", "direction", "TWD over the ground", 0, 360),
    Channel("vmg_kn", "kn", "scalar", "VMG to windward", -60, 60),
    Channel("logged_twa_deg", "deg", "signed_angle", "TWA, as recorded", -180, 180),
    Channel("logged_tws_kn", "kn", "scalar", "TWS, as recorded", 0, 200),
    Channel("logged_twd_deg", "deg", "direction", "TWD, as recorded", 0, 360),
    Channel("logged_twd_mag_deg", "deg", "direction", "TWD, as recorded, magnetic", 0, 360),
    # depth, water and air
    Channel("depth_m", "m", "scalar", "Depth below transducer", 0, 12000),
    Channel("depth_offset_m", "m", "scalar", "Transducer offset", -50, 50),
    Channel("depth_surface_m", "m", "scalar", "Depth below surface", 0, 12000),
    Channel("depth_keel_m", "m", "scalar", "Depth below keel", -50, 12000),
    Channel("water_temp_c", "degC", "scalar", "Water temperature", -5, 45),
    Channel("air_temp_c", "degC", "scalar", "Air temperature", -60, 65),
    Channel("dew_point_c", "degC", "scalar", "Dew point", -80, 60),
    Channel("air_pressure_hpa", "hPa", "scalar", "Air pressure", 850, 1100),
    Channel("humidity_percent", "%", "scalar", "Relative humidity", 0, 100),
    # engine and transducers
    Channel("engine_rpm", "rpm", "scalar", "Engine speed", 0, 20000),
    Channel("shaft_rpm", "rpm", "scalar", "Shaft speed", -5000, 5000),
    Channel("propeller_pitch_percent", "%", "scalar", "Propeller pitch", -100, 100),
    Channel("engine_hours_h", "h", "scalar", "Engine hours", 0, 1e6),
    Channel("voltage_v", "V", "scalar", "Voltage", -1000, 1000),
    # steering to a mark
    Channel("cross_track_error_nm", "nm", "scalar", "Cross-track error", -1000, 1000),
    Channel("waypoint_lat_deg", "deg", "position", "Waypoint latitude", -90, 90),
    Channel("waypoint_lon_deg", "deg", "position", "Waypoint longitude", -180, 180),
    Channel("waypoint_range_nm", "nm", "scalar", "Distance to waypoint", 0, 22000),
    Channel("waypoint_bearing_deg", "deg", "direction", "Bearing to waypoint", 0, 360),
    Channel("waypoint_bearing_mag_deg", "deg", "direction", "Bearing to waypoint, magnetic", 0, 360),
    Channel("waypoint_closing_kn", "kn", "scalar", "Closing speed to waypoint", -100, 100),
    Channel("leg_bearing_deg", "deg", "direction", "Bearing of the leg", 0, 360),
    Channel("leg_bearing_mag_deg", "deg", "direction", "Bearing of the leg, magnetic", 0, 360),
    Channel("heading_to_steer_deg", "deg", "direction", "Heading to steer", 0, 360),
    Channel("heading_to_steer_mag_deg", "deg", "direction", "Heading to steer, magnetic", 0, 360),
    # targets and marks
    Channel("target_number", "1", "scalar", "Target number", 0, 999999),
    Channel("target_range_nm", "nm", "scalar", "Target range", 0, 200),
    Channel("target_bearing_deg", "deg", "direction", "Target bearing", 0, 360),
    Channel("target_relative_bearing_deg", "deg", "direction", "Target bearing off the bow", 0, 360),
    Channel("target_speed_kn", "kn", "scalar", "Target speed", 0, 200),
    Channel("target_course_deg", "deg", "direction", "Target course", 0, 360),
    Channel("target_cpa_nm", "nm", "scalar", "Target CPA", 0, 200),
    Channel("target_tcpa_min", "min", "scalar", "Target TCPA", -10000, 10000),
    Channel("target_lat_deg", "deg", "position", "Target latitude", -90, 90),
    Channel("target_lon_deg", "deg", "position", "Target longitude", -180, 180),
    Channel("distress_lat_deg", "deg", "position", "Distress latitude", -90, 90),
    Channel("distress_lon_deg", "deg", "position", "Distress longitude", -180, 180),
]

CHANNELS: dict[str, Channel] = {channel.name: channel for channel in _TABLE}


def unit_of(column: str) -> str:
    """Unit of a channel or of a frame column derived from one (``_sd``, ``_shown``); "" if unknown."""
    name = column.removesuffix("_sd").removesuffix("_shown")
    return CHANNELS[name].unit if name in CHANNELS else ""
