"""The table of XDR transducers: which channel a type, unit and name mean.

No standard fixes the names; these patterns are the ones met in recordings and public threads. A transducer
that matches none keeps its own name as the channel ``xdr:NAME`` with the unit it printed.
"""

import re
from dataclasses import dataclass

_UNITS = frozenset("ABCDFGHIKLMNPRSVW%") | {"HPA", "MBAR"}


@dataclass(frozen=True)
class Transducer:
    """A recognised transducer: channel, unit, and the channel's value = shown x scale + shift.

    ``scale`` is None for a pressure without a unit, whose magnitude tells it.
    """

    channel: str
    unit: str
    scale: float | None = 1.0
    shift: float = 0.0


_PRESSURE_SCALE = {"B": 1000.0, "P": 0.01, "HPA": 1.0, "MBAR": 1.0, "H": 1.0, "M": 1.0}
_TEMPERATURE = {"C": (1.0, 0.0), "": (1.0, 0.0), "K": (1.0, -273.15), "F": (5 / 9, -160 / 9)}
_ATTITUDE = (
    (re.compile(r"PTCH|PITCH|TRIM"), "pitch_deg"),
    (re.compile(r"ROLL|HEEL"), "heel_deg"),
    (re.compile(r"RUDD"), "rudder_deg"),
)
_MACHINERY = re.compile(r"ENG|OIL|BOOST|FUEL|TANK|EXHAUST|COOL|GEAR|TRANS|HYDR|ALT|BATT|INSIDE|CABIN|FRIDGE")
_WATER = re.compile(r"WATER|SEA|WTR")
_AIR = re.compile(r"AIR|OUTSIDE|AMBIENT|^$")
_HOURS = re.compile(r"ENG.*(HRS|HOURS)")


def transducer(kind: str, unit: str, name: str) -> Transducer:
    """Name the channel of an XDR quadruple by its type letter, unit and name.

    Any may be blank; unit and name may stand in each other's place.
    """
    if unit.upper() not in _UNITS and (name == "" or name.upper() in _UNITS):
        unit, name = name, unit
    letter, upper = unit.upper(), name.upper()
    known = _known(kind.upper(), letter, upper)
    return known or Transducer(f"xdr:{name or kind}", unit)


def _known(kind: str, unit: str, name: str) -> Transducer | None:
    if kind in ("A", "") and unit in ("D", "", "R"):
        for pattern, channel in _ATTITUDE:
            if pattern.search(name):
                return Transducer(channel, "deg", 57.29577951308232 if unit == "R" else 1.0)
    if _HOURS.search(name):
        return Transducer("engine_hours_h", "h")
    if kind == "T" and unit in ("R", "") and "ENG" in name:
        return Transducer("engine_rpm", "rpm")
    if kind == "U" and unit in ("V", ""):
        return Transducer("voltage_v", "V")
    if _MACHINERY.search(name):
        return None
    if kind == "P" and unit in ("", *_PRESSURE_SCALE):
        return Transducer("air_pressure_hpa", "hPa", _PRESSURE_SCALE.get(unit))
    if kind == "H" and unit in ("P", "%", ""):
        return Transducer("humidity_percent", "%")
    if kind == "C" and unit in _TEMPERATURE:
        scale, shift = _TEMPERATURE[unit]
        if _WATER.search(name):
            return Transducer("water_temp_c", "degC", scale, shift)
        if _AIR.search(name):
            return Transducer("air_temp_c", "degC", scale, shift)
    return None
