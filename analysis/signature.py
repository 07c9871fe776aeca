"""What a current that is no current looks like: the part that turns with the boat, and the deviation behind it.

A log that is off leaves a false current along the heading, a compass that is off one across it, on every heading
alike; a real current keeps its direction over the ground while the boat turns.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis import vectors
from analysis.calibration import Calibration, CurrentSeries
from analysis.passage import Bools, Floats, column, seconds_of

LEAST_WATER_KN = 1.5  # slower, the direction through the water is noise


@dataclass(frozen=True)
class LeftOver:
    """What a derived current holds beside the estimated one [kn], row by row; NaN in turns and where not derived.

    ``along_kn`` is + ahead, ``across_kn`` + to starboard.
    """

    along_kn: Floats
    across_kn: Floats


def left_over(frame: pd.DataFrame, current: CurrentSeries, turning: Bools | None = None) -> LeftOver:
    """Take the estimated current from a frame's derived one and part what is left by the frame's own heading.

    Needs ``set_deg``, ``drift_kn`` and ``heading_true_deg``; all NaN without them.
    """
    derived = column(frame, "drift_kn") * _unit(column(frame, "set_deg"))
    left = (derived - _at(current, frame)) * np.conj(_unit(column(frame, "heading_true_deg")))
    left = _straight(left, turning)
    return LeftOver(left.real.copy(), left.imag.copy())


def deviation_seen(
    shown: pd.DataFrame, calibration: Calibration, turning: Bools | None = None
) -> tuple[Floats, Floats]:
    """Compass headings [deg] and what the compass was off by there [deg, true = compass + deviation], row by row.

    The motion over the ground less the estimated current is the motion through the water; its direction less the
    leeway is where the boat pointed. ``shown`` is the frame as shown. Leeway counts as nil where heel is not
    logged. NaN in turns, at low speed and where anything is missing.
    """
    heading = column(shown, "heading_true_deg")
    compass = vectors.wrap_direction_deg(heading - np.nan_to_num(column(shown, "variation_deg")))
    if calibration.current is None:
        return compass, np.full(len(shown), np.nan)
    ground = column(shown, "sog_kn") * _unit(column(shown, "cog_deg"))
    water = _straight(ground - _at(calibration.current, shown), turning)
    coefficient = calibration.estimates["leeway_coefficient"].value
    leeway = np.zeros(len(shown))
    if coefficient is not None and "heel_deg" in shown:
        leeway = np.nan_to_num(
            vectors.leeway_deg(column(shown, "heel_deg"), np.abs(water), max(coefficient, 0.0))
        )
    off = vectors.wrap_signed_deg(np.degrees(np.angle(water)) - leeway - heading)
    return compass, np.where(np.abs(water) > LEAST_WATER_KN, off, np.nan)


def _unit(direction_deg: Floats) -> np.ndarray:
    return np.asarray(np.exp(1j * np.radians(direction_deg)))


def _at(current: CurrentSeries, frame: pd.DataFrame) -> np.ndarray:
    """The estimated current at the rows of a frame [kn, north + i east]; it runs straight between its knots."""
    known_s = pd.DatetimeIndex(current.time_utc).as_unit("ns").asi8 / 1e9
    time_s = seconds_of(frame)
    return np.asarray(
        np.interp(time_s, known_s, current.north_kn) + 1j * np.interp(time_s, known_s, current.east_kn)
    )


def _straight(values: np.ndarray, turning: Bools | None) -> np.ndarray:
    return values if turning is None else np.where(turning, np.nan, values)
