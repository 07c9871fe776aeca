"""SOG as the stand-in for a silent log, and what that costs."""

import numpy as np
import pandas as pd

from analysis.agreement.results import StandIn
from analysis.vectors import wrap_signed_deg

UNDER_WAY_KN = 1.5
LEAST_SILENT_S = 600
RAD = np.pi / 180


def stand_in(frame: pd.DataFrame) -> StandIn | None:
    """Say what SOG in place of the log costs; None where the log speaks or the boat hardly moves.

    ``frame`` is the aligned frame without what no sensor can mean. Where the log spoke for at least a tenth of the
    time, the current it showed tells how large the error is.
    """
    if "sog_kn" not in frame or frame.empty:
        return None
    sog = frame["sog_kn"].to_numpy(dtype=float)
    stw = frame["stw_kn"].to_numpy(dtype=float) if "stw_kn" in frame else np.full(len(sog), np.nan)
    under_way = sog > UNDER_WAY_KN
    silent = under_way & np.isnan(stw)
    if silent.sum() < LEAST_SILENT_S or silent.sum() < 0.1 * under_way.sum():
        return None
    current = _current_kn(frame, sog, stw) if (under_way & ~silent).sum() > 0.1 * under_way.sum() else None
    size = f"about {current:.1f} kn while the log spoke" if current is not None else "of unknown size"
    words = (
        f"Current goes unseen ({size}); the true wind is that over the ground and differs from the wind over the "
        "water by as much; distance and speed through the water are those over the ground."
    )
    return StandIn(bool(np.isnan(stw).all()), float(silent.sum()), float(under_way.sum()), current, words)


def _current_kn(frame: pd.DataFrame, sog: np.ndarray, stw: np.ndarray) -> float | None:
    if not {"cog_deg", "heading_true_deg"} <= set(frame):
        return None
    heading = frame["heading_true_deg"].to_numpy(dtype=float)
    drift = np.abs(sog * np.exp(1j * RAD * wrap_signed_deg(frame["cog_deg"].to_numpy() - heading)) - stw)
    drift = drift[np.isfinite(drift)]
    return float(np.median(drift)) if len(drift) else None
