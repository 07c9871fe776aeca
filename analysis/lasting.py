"""What the instruments err by all passage long, once corrected."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.correction import compass_left_deg, sd_left
from analysis.derive import LEEWAY_MODEL_SD_DEG, LEEWAY_UNKNOWN_SD_DEG, VANE_SD_DEG, Accuracy
from analysis.estimate import Estimate


@dataclass(frozen=True)
class SensorErrors:
    """One-sigmas of the errors that last: shares of the speeds, angles in deg; upwash at 30 deg AWA."""

    log_share: float = 0.0
    wind_share: float = 0.0
    vane_deg: float = 0.0
    upwash_deg: float = 0.0
    leeway_deg: float = 0.0
    compass_deg: float = 0.0


ALWAYS = SensorErrors(log_share=0.003, wind_share=0.005, vane_deg=0.3, upwash_deg=0.5)
"""What no correction removes: rounding, damping, delay, and an upwash that follows no law (judgment)."""


def sensor_errors(estimates: Mapping[str, Estimate], leeway_known: bool) -> SensorErrors:
    """Say what the corrections leave: their one-sigma where determined, else all they may amount to."""

    def left(name: str, least: float, always: float) -> float:
        return float(np.hypot(sd_left(estimates.get(name), least), always))

    standard = Accuracy()
    return SensorErrors(
        log_share=left("log_factor", standard.log_share, ALWAYS.log_share),
        wind_share=left("wind_speed_factor", standard.wind_share, ALWAYS.wind_share),
        vane_deg=left("vane_offset_deg", VANE_SD_DEG, ALWAYS.vane_deg),
        upwash_deg=left("upwash_deg", 0.0, ALWAYS.upwash_deg),
        leeway_deg=LEEWAY_MODEL_SD_DEG if leeway_known else LEEWAY_UNKNOWN_SD_DEG,
        compass_deg=compass_left_deg(estimates),
    )
