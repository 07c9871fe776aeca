"""Read what a barometer is compared with: one sea-level pressure, or a table of times and pressures."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import LogError, SettingError
from analysis.passage import Floats
from analysis.reading.rows import TIME_NAMES, column_of, number_of, rows_of, utc_of, words_of
from analysis.sentences import INHG_HPA

REFERENCE_SD_HPA = 0.5  # judgement: a coast station or chart within some 50 nm, read to the nearest hPa
HPA_PER = {
    "hpa": 1.0,
    "mbar": 1.0,
    "mb": 1.0,
    "inhg": INHG_HPA,
    "kpa": 10.0,
    "bar": 1000.0,
    "pa": 0.01,
    "mmhg": 1013.25 / 760,
}
LOWEST_HPA, HIGHEST_HPA = 850.0, 1100.0
_INHG = (LOWEST_HPA / INHG_HPA, HIGHEST_HPA / INHG_HPA)
_SINGLE = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>[A-Za-z]*)\s*(?:@\s*(?P<time>.+))?")
PRESSURE_NAMES = ("pressure", "mslp", "slp", "qff", "qnh", "barometer", "press", *HPA_PER)
_REMEDY = (
    "give a pressure in hPa, or a table with a header time,pressure and rows such as 2026-06-01T12:00Z,1013.2"
)


@dataclass(frozen=True)
class PressureReference:
    """Sea-level pressures [hPa] to compare with, and their common one-sigma.

    ``time_utc`` is None for a single pressure that holds for the passage as a whole. The error ``sd_hpa`` is
    taken as common to all of them: stations and charts of one area err alike.
    """

    time_utc: pd.DatetimeIndex | None
    pressure_hpa: Floats
    sd_hpa: float = REFERENCE_SD_HPA


def pressure_reference(given: str) -> PressureReference:
    """Read a reference from what the user gave: VALUE, VALUE@TIME, or the name of a CSV file.

    A value is in hPa, or in the unit written behind it, or in inches of mercury where it lies between 25.1 and
    32.5. Raises SettingError where the value is no pressure, LogError where the file cannot be used.
    """
    single = _SINGLE.fullmatch(given.strip())
    if single is None:
        return read_pressures(Path(given))
    value = hpa_of(float(single["number"].replace(",", ".")), single["unit"])
    if value is None:
        raise SettingError(
            f"pressure {given}: give a sea-level pressure from {LOWEST_HPA:.0f} to {HIGHEST_HPA:.0f} hPa, or in inHg."
        )
    if single["time"] is None:
        return PressureReference(None, np.array([value]))
    time = utc_of(single["time"])
    if time is None:
        raise SettingError(f"pressure {given}: write the time behind @ as 2026-06-01T12:00Z.")
    return PressureReference(pd.DatetimeIndex([time]), np.array([value]))


def read_pressures(path: Path) -> PressureReference:
    """Read a CSV file with a header that names a time and a pressure column, more columns or none.

    Times are ISO 8601; one without a zone is UTC. The unit stands in the header (pressure_inHg, mbar …), in a
    column ``unit``, or shows by the magnitude. Fields part at comma, semicolon or tab. Raises LogError with file
    and line.
    """
    rows = rows_of(path, _REMEDY)
    header = [words_of(name) for name in rows[0][1]]
    time_at = column_of(header, TIME_NAMES)
    pressure_at = column_of(header, PRESSURE_NAMES)
    if time_at is None or pressure_at is None:
        missing = "time" if time_at is None else "pressure"
        raise LogError(f"{path}, line {rows[0][0]}: no column for the {missing}; {_REMEDY}.")
    unit_at = column_of(header, ("unit", "units"))
    written = next((word for word in header[pressure_at] if word in HPA_PER), "")
    times: list[pd.Timestamp] = []
    values: list[float] = []
    for line, fields in rows[1:]:
        time = utc_of(fields[time_at]) if time_at < len(fields) else None
        if time is None:
            raise LogError(f"{path}, line {line}: no time such as 2026-06-01T12:00Z; {_REMEDY}.")
        unit = fields[unit_at].strip() if unit_at is not None and unit_at < len(fields) else written
        value = number_of(fields[pressure_at]) if pressure_at < len(fields) else None
        hpa = None if value is None else hpa_of(value, unit)
        if hpa is None:
            raise LogError(
                f"{path}, line {line}: no sea-level pressure from {LOWEST_HPA:.0f} to {HIGHEST_HPA:.0f} hPa (or in "
                f"inHg, with the unit in the header); {_REMEDY}."
            )
        times.append(time)
        values.append(hpa)
    if not times:
        raise LogError(f"{path}: no row below the header; {_REMEDY}.")
    order = np.argsort(pd.DatetimeIndex(times))
    return PressureReference(pd.DatetimeIndex(times)[order], np.array(values)[order])


def hpa_of(value: float, unit: str) -> float | None:
    """A pressure in hPa, None where it is no pressure at sea level; ``unit`` may be empty."""
    if unit and unit.lower() not in HPA_PER:
        return None
    if unit:
        value *= HPA_PER[unit.lower()]
    elif _INHG[0] <= value <= _INHG[1]:
        value *= INHG_HPA
    return value if LOWEST_HPA <= value <= HIGHEST_HPA else None
