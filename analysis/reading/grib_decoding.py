"""Decode a GRIB file and write its wind and pressure to the output, as the one table of an npz; run by grib.py."""

import datetime
import sys
from collections import defaultdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

WIND, PRESSURE = ("10u", "10v"), ("prmsl", "msl", "mslet", "mslma")
_AT_TEN_METRES = {"u": "10u", "v": "10v"}  # as some centres name the wind at 10 m
KN_PER_M_S = 3600 / 1852
MOST_ROWS = 3_000_000
TOO_LARGE = 3  # exit code

Grid = tuple[NDArray[np.float64], NDArray[np.float64]]


def table_of(path: str) -> NDArray[np.float64]:
    """Rows of time [s], lat, lon, twd [deg], tws [kn], pressure [hPa]; of messages that repeat, the first."""
    import eccodes

    grids: dict[bytes, Grid] = {}
    found: dict[tuple[float, bytes], dict[str, NDArray[np.float64]]] = defaultdict(dict)
    with open(path, "rb") as stream:  # noqa: PTH123
        while (message := eccodes.codes_grib_new_from_file(stream)) is not None:
            try:
                name = _name(eccodes, message)
                if name is None:
                    continue
                lat, lon, value = (
                    eccodes.codes_get_array(message, key) for key in ("latitudes", "longitudes", "values")
                )
                value = np.where(value == eccodes.codes_get(message, "missingValue", float), np.nan, value)
                grid = lat.tobytes() + lon.tobytes()
                grids.setdefault(grid, (lat, lon))
                found[_time_s(eccodes, message), grid].setdefault(name, value)
            finally:
                eccodes.codes_release(message)
    rows = [_rows(time_s, *grids[grid], values) for (time_s, grid), values in found.items()]
    if sum(map(len, rows)) > MOST_ROWS:
        sys.exit(TOO_LARGE)
    return np.concatenate(rows) if rows else np.empty((0, 6))


def _name(eccodes: Any, message: int) -> str | None:
    get = eccodes.codes_get
    name = str(get(message, "shortName"))
    if name in _AT_TEN_METRES and get(message, "level", int) == 10:
        name = _AT_TEN_METRES[name]
    if name in PRESSURE:
        return "pressure"
    return name if name in WIND else None


def _time_s(eccodes: Any, message: int) -> float:
    date, time = (int(eccodes.codes_get(message, key, int)) for key in ("validityDate", "validityTime"))
    at = datetime.datetime(date // 10000, date // 100 % 100, date % 100, time // 100, time % 100)
    return at.replace(tzinfo=datetime.UTC).timestamp()


def _rows(
    time_s: float,
    lat: NDArray[np.float64],
    lon: NDArray[np.float64],
    values: dict[str, NDArray[np.float64]],
) -> NDArray[np.float64]:
    missing = np.full(len(lat), np.nan)
    east, north = (values.get(name, missing) for name in WIND)
    return np.column_stack(
        (
            np.full(len(lat), time_s),
            lat,
            (lon + 180.0) % 360.0 - 180.0,
            np.degrees(np.arctan2(-east, -north)) % 360.0,
            np.hypot(east, north) * KN_PER_M_S,
            values.get("pressure", missing) / 100.0,
        )
    )


if __name__ == "__main__":
    np.savez(sys.stdout.buffer, table=table_of(sys.argv[1]))
