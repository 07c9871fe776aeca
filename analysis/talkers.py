"""THE table of talkers: who speaks in a sentence of NMEA 0183, by its two letters, in words."""

GNSS = ("GP", "GN", "GL", "GA", "GB", "BD", "GQ", "GI")
"""Talkers that are a satellite receiver."""

INSTRUMENTS = {
    **dict.fromkeys(GNSS, "GNSS receiver"),
    "AG": "autopilot",
    "AI": "AIS",
    "AP": "autopilot",
    "CD": "DSC radio",
    "EC": "electronic chart",
    "ER": "engine monitor",
    "HC": "magnetic compass",
    "HE": "gyrocompass",
    "HF": "fluxgate compass",
    "HN": "gyro",
    "II": "integrated instruments",
    "IN": "navigation display",
    "RA": "radar",
    "SD": "echo sounder",
    "TI": "rate-of-turn sensor",
    "VD": "Doppler log",
    "VM": "electromagnetic log",
    "VW": "paddle-wheel log",
    "WI": "wind instrument",
    "YX": "transducer",
}
"""What kind of instrument a talker is (the talker identifiers of NMEA 0183, from memory)."""
