"""The passage in a few numbers: distances, duration, and the greatest values with their times."""

import numpy as np
import pandas as pd

from analysis import earth
from analysis.passage import Floats, Ints, column, seconds_of

_MAXIMA = ("sog_kn", "stw_kn", "aws_kn", "tws_water_kn", "tws_ground_kn", "drift_kn", "depth_m")
_JOINED_S = 60.0
_STOPPED_KN = 0.5


def summarise(frame: pd.DataFrame) -> dict[str, float | str | None]:
    """Summarise an aligned, derived frame; a value that the log cannot give is None."""
    summary: dict[str, float | str | None] = {
        "distance_over_ground_nm": distance_over_ground_nm(frame),
        "distance_through_water_nm": distance_through_water_nm(frame),
        "duration_h": (frame.index[-1] - frame.index[0]).total_seconds() / 3600 if len(frame) else None,
    }
    for name in _MAXIMA:
        known = frame[name].dropna() if name in frame else pd.Series(dtype=np.float64)
        label = name.replace("_water", "")
        summary[f"max_{label}"] = float(known.max()) if len(known) else None
        summary[f"max_{label.rsplit('_', 1)[0]}_utc"] = _time_of_maximum(known) if len(known) else None
    for name in ("sog_kn", "stw_kn", "tws_water_kn"):
        known = frame[name].dropna() if name in frame else pd.Series(dtype=np.float64)
        summary[f"mean_{name.replace('_water', '')}"] = float(known.mean()) if len(known) else None
    return summary


def _time_of_maximum(column: pd.Series) -> str:
    moment = column.index[int(column.to_numpy().argmax())]
    return str(moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"))


def distance_over_ground_nm(frame: pd.DataFrame) -> float | None:
    """Sum of the hops over the ground; None without two positions."""
    rows, hops = hops_over_ground_nm(frame)
    return float(hops.sum()) if rows.size else None


def distance_through_water_nm(frame: pd.DataFrame) -> float | None:
    """Sum of the hops through the water; None without two readings of the log."""
    rows, hops = hops_through_water_nm(frame)
    return float(hops.sum()) if rows.size else None


def hops_over_ground_nm(frame: pd.DataFrame) -> tuple[Ints, Floats]:
    """Rows that have a position and another after them, and the way to that one [nm].

    Taken where the boat moves, so that noise at rest adds nothing.
    """
    rows = np.flatnonzero(np.isfinite(column(frame, "lat_deg")) & np.isfinite(column(frame, "lon_deg")))
    if rows.size < 2:
        return rows[:0], np.empty(0)
    lat, lon = column(frame, "lat_deg")[rows], column(frame, "lon_deg")[rows]
    hops = earth.hop(lat[:-1], lon[:-1], lat[1:], lon[1:]).distance_nm
    if "sog_kn" in frame:
        sog = np.nan_to_num(column(frame, "sog_kn")[rows[1:]], nan=np.inf)
        hops = np.where((sog < _STOPPED_KN) & (_steps(frame, rows) < _JOINED_S), 0.0, hops)
    return rows[:-1], np.nan_to_num(hops)


def hops_through_water_nm(frame: pd.DataFrame) -> tuple[Ints, Floats]:
    """Rows that have a speed through the water and another after them, and the way between them [nm].

    Silences of a minute and more add nothing.
    """
    stw = column(frame, "stw_kn")
    rows = np.flatnonzero(np.isfinite(stw))
    if rows.size < 2:
        return rows[:0], np.empty(0)
    step = _steps(frame, rows)
    mean = (stw[rows[1:]] + stw[rows[:-1]]) / 2
    return rows[:-1], np.where(step < _JOINED_S, mean * step / 3600, 0.0)


def _steps(frame: pd.DataFrame, rows: Ints) -> Floats:
    return np.diff(seconds_of(frame)[rows])
