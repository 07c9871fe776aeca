"""The angles to the wind that the boat's own polar says are best."""

import numpy as np
import pandas as pd

from analysis.passage import column
from analysis.performance import BestAngle, Polar
from analysis.routes.sailed import ABOUT_DEG, OwnAngle, Point


def own_angles(polar: Polar, frame: pd.DataFrame) -> tuple[OwnAngle, ...]:
    """List what the polar determines, as courses through the water: angle of the bow and leeway sailed about it."""
    if polar.sailed is None:
        return ()
    return tuple(
        _own(one, frame, polar.errors.leeway_deg) for one in polar.sailed.best if one.twa_deg is not None
    )


def _own(best: BestAngle, frame: pd.DataFrame, leeway_sd_deg: float) -> OwnAngle:
    assert best.twa_deg is not None and best.vmg_kn is not None
    point: Point = "upwind" if best.upwind else "downwind"
    near = np.abs(np.abs(column(frame, "twa_water_deg")) - best.twa_deg) <= ABOUT_DEG[point]
    leeway = np.abs(column(frame, "leeway_deg")[near])
    leeway = leeway[np.isfinite(leeway)]
    toward = abs(np.cos(np.radians(best.twa_deg)))
    return OwnAngle(
        point,
        best.tws_kn,
        best.twa_deg + (float(np.median(leeway)) if leeway.size else 0.0),
        float(np.hypot(best.twa_deg_sd or 0.0, leeway_sd_deg)),
        float(best.vmg_kn / toward),
        float((best.vmg_kn_sd or 0.0) / toward),
    )
