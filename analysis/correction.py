"""The determined corrections, applied: ``true = factor x shown`` for speeds, ``true = shown + offset`` else."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis import vectors
from analysis.calibration.water import DEVIATION, deviation_curve_deg
from analysis.calibration.wind import upwash_shape
from analysis.estimate import Estimate
from analysis.passage import Floats
from analysis.screening import Screened


def correct(shown: pd.DataFrame, screened: Screened, estimates: Mapping[str, Estimate]) -> pd.DataFrame:
    """Return the frame with every determined correction applied to what the screening left.

    A corrected channel keeps what the sensor showed beside it, as ``<channel>_shown``.
    """
    frame = screened.frame.copy(deep=False)
    known = {name: one.value for name, one in estimates.items() if one.determined and one.value is not None}
    if "stw_kn" in frame and known.keys() & {"log_factor", "log_zero_offset_kn"}:
        frame["stw_kn"] = (
            known.get("log_factor", 1.0) * frame["stw_kn"] + known.get("log_zero_offset_kn", 0.0)
        ).clip(lower=0)
    if "heading_true_deg" in frame and known.keys() & set(DEVIATION):
        frame["heading_true_deg"] = _heading_deg(frame, known)
    if "awa_deg" in frame and known.keys() & {"vane_offset_deg", "upwash_deg"}:
        frame["awa_deg"] = _awa_deg(frame["awa_deg"].to_numpy(), known)
    if "aws_kn" in frame and "wind_speed_factor" in known:
        frame["aws_kn"] = known["wind_speed_factor"] * frame["aws_kn"]
    if "air_pressure_hpa" in frame and "barometer_offset_hpa" in known:
        frame["air_pressure_hpa"] = frame["air_pressure_hpa"] + known["barometer_offset_hpa"]
    for name in ("stw_kn", "heading_true_deg", "awa_deg", "aws_kn", "air_pressure_hpa"):
        if name in frame and frame[name] is not shown[name] and not frame[name].equals(shown[name]):
            frame[f"{name}_shown"] = shown[name]
    return frame


def _heading_deg(frame: pd.DataFrame, known: Mapping[str, float]) -> Floats:
    heading = frame["heading_true_deg"].to_numpy()
    variation = frame["variation_deg"].to_numpy() if "variation_deg" in frame else np.zeros(len(frame))
    compass = heading - np.nan_to_num(variation)
    deviation = deviation_curve_deg(compass, [known.get(name, 0.0) for name in DEVIATION])
    return vectors.wrap_direction_deg(heading + deviation)


def _awa_deg(shown_deg: Floats, known: Mapping[str, float]) -> Floats:
    offset = shown_deg + known.get("vane_offset_deg", 0.0)
    return vectors.wrap_signed_deg(offset + known.get("upwash_deg", 0.0) * upwash_shape(offset))
