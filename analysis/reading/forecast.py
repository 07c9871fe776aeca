"""Read a forecast of wind and pressure: a table of times and places, or GRIB."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.errors import LogError
from analysis.passage import Floats
from analysis.reading.grib import is_grib, read_grib
from analysis.reading.pressure import HPA_PER, PRESSURE_NAMES, hpa_of
from analysis.reading.rows import TIME_NAMES, number_of, rows_of, utc_of, words_of

KN_PER = {"kn": 1.0, "kt": 1.0, "m/s": 3600 / 1852, "km/h": 1 / 1.852, "mph": 1.609344 / 1.852}
_SPELT = {
    "kts": "kn", "knots": "kn", "kt": "kn", "mps": "m/s", "ms": "m/s", "m_s": "m/s", "kmh": "km/h",
    "kph": "km/h", "km_h": "km/h",
}  # fmt: skip
_SPEED_UNIT = re.compile(r"(?:^|[^a-z])(knots|kn|kts|kt|m/s|m_s|mps|ms|km/h|km_h|kmh|kph|mph)(?:[^a-z]|$)")
_ROLES = {
    "time": TIME_NAMES,
    "lat": ("lat", "latitude"),
    "lon": ("lon", "long", "lng", "longitude"),
    "twd": ("twd", "wdir", "wd", "dir", "direction"),
    "tws": ("tws", "wspd", "ws", "speed", "windspeed", "wind"),
    "pressure": PRESSURE_NAMES,
}
MOST_KN = 200.0
REMEDY = (
    "write a header time,lat,lon,twd,tws,pressure, or some of these, and rows such as "
    "2026-06-01T12:00Z,50.0,-2.0,225,14,1013.2"
)


@dataclass(frozen=True)
class Forecast:
    """Rows of a forecast in order of time, all of one length; NaN for what a row does not say.

    ``time_s`` is seconds since 1970-01-01 UTC, ``lat_deg`` and ``lon_deg`` the place, NaN where it holds
    everywhere; wind is from, at 10 m above the sea, over the ground; pressure is that at sea level.
    """

    name: str
    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    twd_deg: Floats
    tws_kn: Floats
    pressure_hpa: Floats


def read_forecast(path: Path) -> Forecast:
    """Read a forecast from a table or a GRIB file, told by its first bytes. Raises LogError."""
    try:
        grib = is_grib(path)
    except OSError as error:
        raise LogError(f"{path}: cannot be read ({error.strerror}); name a table or a GRIB file.") from error
    columns = read_grib(path) if grib else _read_table(path)
    order = np.argsort(columns[0], kind="stable")
    return Forecast(path.name, *(column[order] for column in columns))


def _read_table(path: Path) -> tuple[Floats, ...]:
    """Columns of a table: time, lat, lon, twd, tws, pressure.

    A wind speed without a unit in its header is in knots, a pressure without one shows its unit by magnitude.
    A cell left empty says nothing.
    """
    rows = rows_of(path, REMEDY)
    header = rows[0][1]
    places = _places(header)
    where = f"{path}, line {rows[0][0]}"
    if "time" not in places:
        raise LogError(f"{where}: no column for the time; {REMEDY}.")
    if ("lat" in places) != ("lon" in places):
        raise LogError(f"{where}: latitude and longitude go together; {REMEDY}.")
    if not {"twd", "tws", "pressure"} & set(places):
        raise LogError(f"{where}: no column for wind or pressure; {REMEDY}.")
    if len(rows) == 1:
        raise LogError(f"{path}: no row below the header; {REMEDY}.")
    units = {role: _unit(role, header[place]) for role, place in places.items()}
    table = np.array(
        [[_cell(path, line, fields, role, places, units) for role in _ROLES] for line, fields in rows[1:]]
    )
    if np.isnan(table[:, 3:]).all():
        raise LogError(f"{path}: no row holds a wind or a pressure; {REMEDY}.")
    return tuple(table.T)


def _places(header: list[str]) -> dict[str, int]:
    """Which column plays which role; each plays one, the first that its words name."""
    found: dict[str, int] = {}
    for place, name in enumerate(header):
        words = words_of(name)
        role = next((role for role, names in _ROLES.items() if any(word in names for word in words)), None)
        if role is not None:
            found.setdefault(role, place)
    return found


def _unit(role: str, name: str) -> str:
    if role == "pressure":
        return next((word for word in words_of(name) if word in HPA_PER), "")
    found = _SPEED_UNIT.search(name.lower()) if role == "tws" else None
    return _SPELT.get(found[1], found[1]) if found else "kn"


def _cell(
    path: Path, line: int, fields: list[str], role: str, places: dict[str, int], units: dict[str, str]
) -> float:
    """One cell in the units of the house, NaN where it is empty. Raises LogError where it has no meaning."""
    place = places.get(role)
    text = fields[place].strip() if place is not None and place < len(fields) else ""
    if role == "time":
        time = utc_of(text)
        if time is None:
            raise LogError(f"{path}, line {line}: {text!r} is no time such as 2026-06-01T12:00Z; {REMEDY}.")
        return time.timestamp()
    if not text or text.lower() in ("nan", "null", "-"):
        return np.nan
    value = _value(role, text, units)
    if value is None:
        raise LogError(f"{path}, line {line}: {text!r} is no {_MEANT[role]}; {REMEDY}.")
    return value


_MEANT = {
    "lat": "latitude from -90 to 90",
    "lon": "longitude from -180 to 360",
    "twd": "wind direction from 0 to 360",
    "tws": f"wind speed from 0 to {MOST_KN:.0f} kn",
    "pressure": "sea-level pressure",
}
_LIMITS = {"lat": (-90.0, 90.0), "lon": (-180.0, 360.0), "twd": (0.0, 360.0), "tws": (0.0, MOST_KN)}


def _value(role: str, text: str, units: dict[str, str]) -> float | None:
    sign = 1.0
    if role in ("lat", "lon") and text[-1].upper() in "NSEW":
        sign = -1.0 if text[-1].upper() in "SW" else 1.0
        text = text[:-1]
    number = number_of(text.removesuffix("°"))
    if number is None:
        return None
    if role == "pressure":
        return hpa_of(number, units[role])
    value = sign * number * (KN_PER[units[role]] if role == "tws" else 1.0)
    low, high = _LIMITS[role]
    return value if low <= value <= high else None
