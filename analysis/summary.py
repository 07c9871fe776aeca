"""The passage in a few numbers: distances, duration, and the greatest values with their times."""

import numpy as np
import pandas as pd

from analysis import earth
from analysis.passage import Floats, seconds_of

_MAXIMA = ("sog_kn", "stw_kn", "aws_kn", "tws_water_kn", "tws_ground_kn", "drift_kn", "depth_m")
_JOINED_S = 60.0
_STOPPED_KN = 0.5


def summarise(frame: pd.DataFrame) -> dict[str, float | str | None]:
    """Summarise an aligned, derived frame; a value that the log cannot give is None."""
    summary: dict[str, float | str | None] = {
        "distance_over_ground_nm": _distance_over_ground_nm(frame),
        "distance_through_water_nm": _distance_through_water_nm(frame),
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


def _steps(frame: pd.DataFrame, rows: np.ndarray) -> Floats:
    return np.diff(seconds_of(frame)[rows])


def _distance_over_ground_nm(frame: pd.DataFrame) -> float | None:
    """Sum of hops between positions, taken where the boat moves so that noise at rest adds nothing."""
    if not {"lat_deg", "lon_deg"} <= set(frame):
        return None
    lat, lon = frame["lat_deg"].to_numpy(), frame["lon_deg"].to_numpy()
    rows = np.flatnonzero(~np.isnan(lat) & ~np.isnan(lon))
    if rows.size < 2:
        return None
    hops = earth.hop(lat[rows[:-1]], lon[rows[:-1]], lat[rows[1:]], lon[rows[1:]]).distance_nm
    if "sog_kn" in frame:
        sog = np.nan_to_num(frame["sog_kn"].to_numpy()[rows[1:]], nan=np.inf)
        hops = np.where((sog < _STOPPED_KN) & (_steps(frame, rows) < _JOINED_S), 0.0, hops)
    return float(np.nansum(hops))


def _distance_through_water_nm(frame: pd.DataFrame) -> float | None:
    if "stw_kn" not in frame:
        return None
    stw = frame["stw_kn"].to_numpy()
    rows = np.flatnonzero(~np.isnan(stw))
    if rows.size < 2:
        return None
    step = _steps(frame, rows)
    mean = (stw[rows[1:]] + stw[rows[:-1]]) / 2
    return float(np.sum(np.where(step < _JOINED_S, mean * step / 3600, 0.0)))
