"""Times as every format writes them: UTC, ISO 8601, to the millisecond."""

from typing import Any, cast

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

UTC_MS = pa.timestamp("ms", tz="UTC")


def index_ms(frame: pd.DataFrame) -> NDArray[np.datetime64]:
    """Return the frame's ``time_utc`` index as naive UTC datetime64[ms], rounded to the nearest."""
    index = cast("pd.DatetimeIndex", frame.index)
    return index.tz_convert(None).round("ms").to_numpy().astype("datetime64[ms]")


def arrow_ms(time_s: NDArray[np.float64]) -> Any:
    """Return seconds since 1970-01-01 UTC as an Arrow timestamp[ms, UTC] array, null where not finite."""
    known = np.isfinite(time_s)
    milliseconds = np.rint(np.where(known, time_s, 0.0) * 1000.0).astype(np.int64)
    return pa.array(milliseconds, mask=~known).cast(UTC_MS)


def iso_utc(times: Any) -> Any:
    """Return an Arrow timestamp[ms, UTC] array as text such as 2026-06-01T12:00:00.000Z, nulls kept."""
    text = times.cast(pa.timestamp("ms")).cast(pa.string())
    return pc.binary_join_element_wise(pc.utf8_replace_slice(text, 10, 11, "T"), "Z", "")


def iso_ms(times: NDArray[np.datetime64]) -> NDArray[np.str_]:
    """Return naive UTC datetime64 values as text such as 2026-06-01T12:00:00.000Z."""
    return np.datetime_as_string(times.astype("datetime64[ms]"), unit="ms", timezone="UTC")


def iso_stamp(stamp: Any) -> str | None:
    """Return a UTC timestamp as text such as 2026-06-01T12:00:00.000Z, None for a missing one."""
    if pd.isna(stamp):
        return None
    return f"{stamp.tz_convert(None).isoformat('T', 'milliseconds')}Z"
