"""The aligned frame as NetCDF after the CF conventions: one trajectory of discrete samples.

Conventions: CF 1.11, section 9 (discrete sampling geometries) and appendix H.4.2 (single trajectory). Names: the CF
standard-name table; what has no name there carries a long name only. Units: UDUNITS-2. Text is UTF-8.
"""

import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from analysis.channels import CHANNELS, unit_of
from analysis.errors import WriteError
from analysis.passage import Passage, column
from analysis.writing.atomic import replacing
from analysis.writing.tables import CONVENTIONS
from analysis.writing.times import index_ms

STANDARD_NAMES = {
    "lat_deg": "latitude",
    "lon_deg": "longitude",
    "sog_kn": "platform_speed_wrt_ground",
    "cog_deg": "platform_course",
    "stw_kn": "platform_speed_wrt_sea_water",
    "heading_true_deg": "platform_orientation",
    "heel_deg": "platform_roll_starboard_down",
    "rate_of_turn_deg_min": "platform_yaw_rate_fore_starboard",
    "twd_ground_deg": "wind_from_direction",
    "tws_ground_kn": "wind_speed",
    "set_deg": "sea_water_velocity_to_direction",
    "drift_kn": "sea_water_speed",
    "water_temp_c": "sea_water_temperature",
    "air_temp_c": "air_temperature",
    "dew_point_c": "dew_point_temperature",
    "humidity_percent": "relative_humidity",
    "air_pressure_hpa": "air_pressure",
}
_UNITS = {
    "deg": "degree",
    "kn": "knot",
    "nm": "nautical_mile",
    "degC": "degree_Celsius",
    "%": "percent",
    "deg/min": "degree minute-1",
    "rpm": "minute-1",
    "h": "hour",
    "min": "minute",
    "V": "volt",
}
_PLACES = {"lat_deg": ("lat", "degrees_north", "Y"), "lon_deg": ("lon", "degrees_east", "X")}
_64_BIT_OFFSETS = 2


def write_netcdf(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write the frame's rows that have a position as one trajectory: time, lat, lon, and a variable a column.

    A trajectory has no sample without a place (CF 1.11, section 9.6), so rows without a position are left out.
    Raises WriteError when there is no position or the file cannot be written.
    """
    # Imported here: it takes long to load, and few runs need it.
    from scipy.io import netcdf_file

    placed = frame[np.isfinite(column(frame, "lat_deg")) & np.isfinite(column(frame, "lon_deg"))]
    if placed.empty:
        raise WriteError(
            "The recording holds no position, so there is no track to write; export to .csv or .parquet instead."
        )
    # The file closes its stream, so it is given one of its own.
    with (
        replacing(path) as stream,
        netcdf_file(os.fdopen(os.dup(stream.fileno()), "wb"), "w", version=_64_BIT_OFFSETS) as file,
    ):
        _describe(file, passage)
        _add_identity(file, passage)
        _add_time(file, placed)
        for name in placed.columns:
            _add_column(file, name, placed)


def _describe(file: Any, passage: Passage) -> None:
    conventions = "; ".join(f"{what}: {rule}" for what, rule in CONVENTIONS.items())
    _tell(
        file,
        Conventions="CF-1.11",
        featureType="trajectory",
        title="Passage of a vessel, aligned and corrected",
        source=f"NMEA 0183 sentences of {', '.join(passage.files)}",
        history=f"written by sternlog; {passage.time_basis}",
        comment=f"Not for navigation. {conventions}",
    )


def _add_identity(file: Any, passage: Passage) -> None:
    name = ", ".join(passage.files).encode("ascii", "replace") or b"passage"
    file.createDimension("name_length", len(name))
    variable = file.createVariable("trajectory", "c", ("name_length",))
    variable[:] = np.frombuffer(name, dtype="S1")
    _tell(variable, cf_role="trajectory_id", long_name="the recordings of the passage")


def _add_time(file: Any, frame: pd.DataFrame) -> None:
    file.createDimension("time", len(frame))
    variable = file.createVariable("time", "d", ("time",))
    variable[:] = index_ms(frame).astype(np.int64) / 1000.0
    units = "seconds since 1970-01-01 00:00:00"
    _tell(variable, standard_name="time", long_name="time, UTC", units=units, calendar="standard", axis="T")


def _add_column(file: Any, name: str, frame: pd.DataFrame) -> None:
    title, unit, axis = _PLACES.get(name, (name, _unit(name), None))
    variable = file.createVariable(title, "d", ("time",))
    variable[:] = frame[name].to_numpy(np.float64)
    _tell(variable, long_name=_long_name(name), units=unit)
    standard_name = _standard_name(name)
    if standard_name:
        _tell(variable, standard_name=standard_name)
    if axis:
        _tell(variable, axis=axis)
        return
    variable._FillValue = np.float64(np.nan)
    _tell(variable, coordinates="lat lon trajectory")
    if f"{name}_sd" in frame:
        _tell(variable, ancillary_variables=f"{name}_sd")


def _tell(what: Any, **attributes: str) -> None:
    for name, text in attributes.items():
        setattr(what, name, text.encode())


def _unit(name: str) -> str:
    unit = unit_of(name) or "1"
    return _UNITS.get(unit, unit)


def _standard_name(name: str) -> str | None:
    """The table's name; with the modifier of CF appendix C for a one-sigma."""
    standard_name = STANDARD_NAMES.get(name.removesuffix("_sd").removesuffix("_shown"))
    return f"{standard_name} standard_error" if standard_name and name.endswith("_sd") else standard_name


def _long_name(name: str) -> str:
    channel = CHANNELS.get(name.removesuffix("_sd").removesuffix("_shown"))
    label = channel.label if channel else name
    if name.endswith("_sd"):
        return f"{label}, one standard deviation"
    return f"{label}, as shown before correction" if name.endswith("_shown") else label
