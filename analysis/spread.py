"""A stretch of one quantity in a few numbers: its mean, its spread, its extremes and when they were."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.channels import CHANNELS
from analysis.passage import column
from analysis.vectors import mean_direction_deg, wrap_signed_deg


@dataclass(frozen=True)
class Spread:
    """Mean, standard deviation and extremes of the values of a channel, in its unit.

    Of a direction the mean is that of unit vectors, the deviation circular, and the extremes are the values
    farthest to the left and to the right of the mean.
    """

    channel: str
    count: int
    mean: float
    sd: float
    lowest: float
    lowest_at: pd.Timestamp
    highest: float
    highest_at: pd.Timestamp


def spread_of(frame: pd.DataFrame, channel: str) -> Spread | None:
    """Sum up a column of a frame; None where it holds nothing.

    The circular standard deviation is sqrt(-2 ln R), R the length of the mean unit vector: Mardia and Jupp,
    Directional Statistics, 2000, section 2.3.
    """
    known = np.flatnonzero(np.isfinite(column(frame, channel)))
    if not len(known):
        return None
    values = column(frame, channel)[known]
    if CHANNELS[channel].kind == "scalar":
        mean, sd, ordered = float(values.mean()), float(values.std()), values
    else:
        mean = float(mean_direction_deg(values))
        away = wrap_signed_deg(values - mean)
        length = float(np.hypot(np.cos(np.radians(values)).mean(), np.sin(np.radians(values)).mean()))
        sd = float(np.degrees(np.sqrt(-2.0 * np.log(np.clip(length, 1e-12, 1.0)))))
        ordered = away if CHANNELS[channel].kind == "direction" else values
        mean = mean if CHANNELS[channel].kind == "direction" else float(wrap_signed_deg(mean))
    low, high = int(ordered.argmin()), int(ordered.argmax())
    return Spread(
        channel,
        len(values),
        mean,
        sd,
        float(values[low]),
        frame.index[known[low]],
        float(values[high]),
        frame.index[known[high]],
    )
