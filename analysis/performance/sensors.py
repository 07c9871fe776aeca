"""What instruments that err all passage long do to a point of the polar."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.calibration.wind import upwash_shape
from analysis.correction import sd_left
from analysis.derive import LEEWAY_MODEL_SD_DEG, LEEWAY_UNKNOWN_SD_DEG, VANE_SD_DEG, Accuracy
from analysis.estimate import Estimate
from analysis.passage import Floats
from analysis.vectors import wrap_signed_deg


@dataclass(frozen=True)
class SensorErrors:
    """One-sigmas of the errors that last: shares of the speeds, angles in deg; upwash at 30 deg AWA."""

    log_share: float = 0.0
    wind_share: float = 0.0
    vane_deg: float = 0.0
    upwash_deg: float = 0.0
    leeway_deg: float = 0.0


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
    )


@dataclass(frozen=True)
class Moved:
    """How far one one-sigma of each error moves a point: rows as ``SensorErrors`` lists them.

    ``twa_deg`` is of |TWA|, + away from the wind.
    """

    tws_kn: Floats
    twa_deg: Floats
    speed_kn: Floats


def moved(errors: SensorErrors, tws_kn: Floats, twa_deg: Floats, speed_kn: Floats) -> Moved:
    """Work out what the derived point would be with each error in turn; ``twa_deg`` signed, arrays of one shape.

    Apparent wind = true wind + motion through the water, all in the boat's frame.
    """
    side = np.where(twa_deg < 0, -1.0, 1.0)
    wind = tws_kn * np.exp(1j * np.radians(twa_deg))
    apparent = wind + speed_kn
    bend = np.asarray(upwash_shape(np.degrees(np.angle(apparent))))
    none = np.zeros_like(wind)
    felt = [
        apparent,
        apparent * (1 + errors.wind_share),
        apparent * np.exp(1j * np.radians(errors.vane_deg)),
        apparent * np.exp(1j * np.radians(errors.upwash_deg * bend)),
        apparent,
    ]
    run = [
        speed_kn * (1 + errors.log_share) + none,
        speed_kn + none,
        speed_kn + none,
        speed_kn + none,
        speed_kn * np.exp(-1j * np.radians(errors.leeway_deg) * side),
    ]
    derived = np.stack(felt) - np.stack(run)
    turned = wrap_signed_deg(np.degrees(np.angle(derived)) - twa_deg) * side
    return Moved(np.abs(derived) - tws_kn, turned, np.abs(np.stack(run)) - speed_kn)
