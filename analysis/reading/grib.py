"""Read wind and pressure from GRIB, edition 1 or 2, by way of a process of its own.

The decoder is a C library: a damaged file may end the process it runs in, so it runs in another one.
"""

import io
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from analysis.errors import LogError
from analysis.passage import Floats
from analysis.reading.grib_decoding import MOST_ROWS, TOO_LARGE

MAGIC = b"GRIB"
_SEARCHED = 4096  # bulletins carry a heading before the first message
_PATIENCE_S = 120.0
_WORKER = Path(__file__).with_name("grib_decoding.py")


def is_grib(path: Path) -> bool:
    """Tell whether a file holds GRIB by its first bytes. Raises OSError where it cannot be read."""
    with path.open("rb") as stream:
        return MAGIC in stream.read(_SEARCHED)


def read_grib(path: Path) -> tuple[Floats, ...]:
    """Columns of a GRIB file: time [s since 1970], lat, lon, twd [deg], tws [kn], pressure [hPa], NaN where unsaid.

    Wind at 10 m and pressure at mean sea level are read, whatever else the file holds. Raises LogError.
    """
    if find_spec("eccodes") is None:
        raise LogError(
            f"{path}: reading GRIB takes the package eccodes, which is not installed; run pip install "
            "'sternlog[grib]', or give the forecast as a table (.csv)."
        )
    try:
        done = subprocess.run(
            [sys.executable, str(_WORKER), str(path)], capture_output=True, timeout=_PATIENCE_S, check=False
        )
        if done.returncode == TOO_LARGE:
            raise LogError(f"{path}: holds more than {MOST_ROWS:,} values; cut it to the passage's area.")
        with np.load(io.BytesIO(done.stdout), allow_pickle=False) as columns:
            table = np.asarray(columns["table"], dtype=float)
    except subprocess.TimeoutExpired as error:
        raise LogError(
            f"{path}: decoding took over {_PATIENCE_S:.0f} s; cut the file to the passage's area."
        ) from error
    except (ValueError, OSError, KeyError, EOFError) as error:
        raise LogError(f"{path}: the GRIB file is damaged or of an unknown kind; fetch it again.") from error
    if not table.size:
        raise LogError(
            f"{path}: holds no wind at 10 m and no mean-sea-level pressure; choose these when you request it."
        )
    return tuple(table.T)
