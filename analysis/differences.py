"""Two sources of one quantity through the whole passage, one less the other."""

from dataclasses import dataclass

import numpy as np

from analysis.alignment import resample
from analysis.channels import CHANNELS
from analysis.passage import Floats, Passage, SourceKey, column, seconds_of
from analysis.vectors import wrap_direction_deg, wrap_signed_deg

METRES_PER_DEG = 60 * 1852.0


@dataclass(frozen=True)
class Difference:
    """Second less first at the rows of the frame, directions along the shorter arc; for positions the distance [m].

    ``first`` holds what the first source says; for positions it is NaN.
    """

    difference: Floats
    first: Floats


def difference(passage: Passage, first: SourceKey, second: SourceKey) -> Difference | None:
    """Compare two sources row by row; None where the passage does not hold both.

    Magnetic headings are made true with the frame's variation. Latitudes stand for positions.
    """
    if not {first, second} <= set(passage.series):
        return None
    if first.channel == "lat_deg":
        return _distance(passage, first, second)
    one, other = (_values(passage, key) for key in (first, second))
    off = other - one
    if CHANNELS[first.channel].kind in ("direction", "signed_angle"):
        off = wrap_signed_deg(off)
    return Difference(off, one)


def _distance(passage: Passage, first: SourceKey, second: SourceKey) -> Difference | None:
    keys = [(key, key._replace(channel="lon_deg")) for key in (first, second)]
    if any(lon not in passage.series for _, lon in keys):
        return None
    (lat, lon), (other_lat, other_lon) = ([_values(passage, key) for key in pair] for pair in keys)
    east = wrap_signed_deg(other_lon - lon) * np.cos(np.radians(lat))
    return Difference(METRES_PER_DEG * np.hypot(other_lat - lat, east), np.full(len(lat), np.nan))


def _values(passage: Passage, key: SourceKey) -> Floats:
    rate_hz = next((one.rate_hz for one in passage.sources if one.key == key), None)
    value = resample(passage.series[key], seconds_of(passage.frame), 1 / rate_hz if rate_hz else np.inf)[0]
    if key.channel == "heading_mag_deg":
        return wrap_direction_deg(value + column(passage.frame, "variation_deg"))
    return value
