"""What instruments that err all passage long do to a point of the polar."""

from dataclasses import dataclass

import numpy as np

from analysis.calibration.wind import upwash_shape
from analysis.lasting import SensorErrors
from analysis.passage import Floats
from analysis.vectors import wrap_signed_deg


@dataclass(frozen=True)
class Moved:
    """How far one one-sigma of each error moves a point: rows as ``SensorErrors`` lists them, without the compass.

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
