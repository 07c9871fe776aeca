"""Results to files. A format is one module and one entry in ``WRITERS``."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd

from analysis.passage import Passage
from analysis.writing.atomic import check_target, replacing
from analysis.writing.formats import suffix_among
from analysis.writing.geojson import write_geojson
from analysis.writing.gpx import write_gpx
from analysis.writing.netcdf import write_netcdf
from analysis.writing.nmea import corrected_parts, replaced_by_computed, write_nmea
from analysis.writing.readings import READINGS_WRITERS, write_readings
from analysis.writing.spool import spooled
from analysis.writing.tables import write_csv, write_parquet

__all__ = [
    "READINGS_WRITERS",
    "WRITERS",
    "check_target",
    "corrected_parts",
    "replaced_by_computed",
    "replacing",
    "spooled",
    "suffix_among",
    "write_csv",
    "write_frame",
    "write_geojson",
    "write_gpx",
    "write_netcdf",
    "write_nmea",
    "write_parquet",
    "write_readings",
]

WRITERS: Mapping[str, Callable[[pd.DataFrame, Passage, Path], None]] = {
    ".csv": write_csv,
    ".parquet": write_parquet,
    ".gpx": write_gpx,
    ".geojson": write_geojson,
    ".nc": write_netcdf,
    ".nmea": write_nmea,
}


def write_frame(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write the aligned frame and the passage's marks in the format that the ending of ``path`` names.

    Raises WriteError for an unknown ending, a result without content, or a file that cannot be written.
    """
    WRITERS[suffix_among(path, WRITERS)](frame, passage, path)
