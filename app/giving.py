"""Files that the parts beside the instruments take from their pages: a forecast, routes, a table of speeds."""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO

from analysis.asked import Asked
from analysis.errors import SternlogError
from analysis.performance import PolarAsked
from analysis.reading import gpx, polar_table
from analysis.reading.forecast import read_forecast
from analysis.reading.polar_table import read_polar_table

from .asking.routes import routes_of_file
from .sent_files import keep, safe_name, without_folders


class FileRefusedError(SternlogError):
    """A file that was sent cannot be used; the message names no folder."""


@dataclass(frozen=True)
class Taken:
    """The files that a part takes: their endings and greatest size, and what becomes of one.

    ``put`` reads a file into what is asked, ``none`` takes all that was given out again, ``told`` names it.
    """

    endings: tuple[str, ...]
    most_bytes: int
    put: Callable[[Asked, Path], Asked]
    none: Callable[[Asked], Asked]
    told: Callable[[Asked], tuple[str, ...]]


def received(taken: Taken, asked: Asked, name: str, stream: IO[bytes]) -> Asked:
    """Read the file that a stream gives into what is asked. Raises FileRefusedError."""
    with tempfile.TemporaryDirectory(prefix="sternlog-") as folder:
        path = Path(folder) / safe_name(name)
        try:
            keep(stream, path, taken.most_bytes)
            return taken.put(asked, path)
        except SternlogError as error:
            raise FileRefusedError(without_folders(str(error), [path])) from error


def _forecast(asked: Asked, path: Path) -> Asked:
    return replace(asked, weather=replace(asked.weather, forecast=read_forecast(path)))


def _forecast_named(asked: Asked) -> tuple[str, ...]:
    return () if asked.weather.forecast is None else (asked.weather.forecast.name,)


def _routes(asked: Asked, path: Path) -> Asked:
    routes = (*asked.routes.routes, *routes_of_file(path))
    return replace(asked, routes=replace(asked.routes, routes=routes))


def _speeds(asked: Asked, path: Path) -> Asked:
    return replace(asked, polar=PolarAsked(read_polar_table(path)))


def _speeds_named(asked: Asked) -> tuple[str, ...]:
    table = asked.polar.table
    return () if table is None else (f"{len(table.twa_deg)} angles by {len(table.tws_kn)} wind speeds",)


TAKEN = {
    "forecast": Taken(
        endings=(".csv", ".txt", ".grb", ".grb1", ".grb2", ".grib", ".grib1", ".grib2"),
        most_bytes=60_000_000,
        put=_forecast,
        none=lambda asked: replace(asked, weather=replace(asked.weather, forecast=None)),
        told=_forecast_named,
    ),
    "routes": Taken(
        endings=(".gpx",),
        most_bytes=gpx.MOST_BYTES,
        put=_routes,
        none=lambda asked: replace(asked, routes=replace(asked.routes, routes=())),
        told=lambda asked: tuple(one.name for one in asked.routes.routes),
    ),
    "speeds": Taken(
        endings=(".csv", ".txt", ".pol", ".tsv"),
        most_bytes=polar_table.LARGEST_BYTES,
        put=_speeds,
        none=lambda asked: replace(asked, polar=PolarAsked()),
        told=_speeds_named,
    ),
}
"""What the parts take, by the name it is sent under."""
