"""What the wind over the ground did, in ten-minute means: its force by Beaufort, and the strongest."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.passage import Floats
from analysis.weather.series import BLOCK_S, TenMinutes, height_factor

# WMO code table 1100: the least whole knots of forces 1 to 12.
LEAST_KN = (1, 4, 7, 11, 17, 22, 28, 34, 41, 48, 56, 64)


@dataclass(frozen=True)
class WindRecord:
    """The wind over the ground in ten-minute means.

    ``height_m`` is the height it was measured at, None where it was not given and the wind is as measured;
    ``factor`` brought it to 10 m. ``hours_by_force`` are hours at Beaufort 0 to 12.
    """

    time_s: Floats
    twd_deg: Floats
    tws_kn: Floats
    height_m: float | None
    factor: float
    hours_by_force: tuple[float, ...]
    strongest_kn: float
    strongest_s: float


def beaufort(speed_kn: ArrayLike) -> NDArray[np.int64]:
    """Force of a wind [kn], rounded to whole knots first: WMO code table 1100."""
    whole = np.floor(np.asarray(speed_kn, dtype=float) + 0.5)
    return np.searchsorted(LEAST_KN, whole, side="right").astype(np.int64)


def wind_record(means: TenMinutes, height_m: float | None) -> WindRecord | None:
    """Sum the wind up; None where none over the ground could be derived."""
    known = np.flatnonzero(np.isfinite(means.tws_kn))
    if not len(known):
        return None
    forces = np.bincount(beaufort(means.tws_kn[known]), minlength=len(LEAST_KN) + 1) * BLOCK_S / 3600
    strongest = known[means.tws_kn[known].argmax()]
    return WindRecord(
        means.time_s,
        means.twd_deg,
        means.tws_kn,
        height_m,
        1.0 if height_m is None else height_factor(height_m),
        tuple(forces.tolist()),
        float(means.tws_kn[strongest]),
        float(means.time_s[strongest]),
    )
