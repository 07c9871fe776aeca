"""One encounter through time, as it is drawn: the target seen from the own ship, and both over the ground."""

from dataclasses import dataclass

import numpy as np

from analysis.earth import east_north_nm
from analysis.passage import Floats

from .encounters import Encounter
from .forecast import Forecast, forecast
from .own import OwnShip
from .tracks import Tracks

BEFORE_S, AFTER_S = 2400.0, 1200.0
_POINTS = 400


@dataclass(frozen=True)
class Portrait:
    """Places [nm], north + i east: ``relative`` from the own ship, the others from her place at the closest point.

    ``age_s`` is how far the nearest report lies; velocities in kn, headings true. NaN where not known.
    """

    time_s: Floats
    relative: np.ndarray
    own: np.ndarray
    target: np.ndarray
    age_s: Floats
    own_kn: np.ndarray
    own_heading_deg: Floats
    report_s: Floats
    forecast: Forecast


def portrait(track: Tracks, own: OwnShip, met: Encounter) -> Portrait:
    """Lay out an encounter from 40 minutes before the closest point to 20 after it, as far as it was heard.

    ``track`` holds the reports of its visit alone.
    """
    first = max(met.time_s - BEFORE_S, track.time_s[0])
    last = min(met.time_s + AFTER_S, track.time_s[-1])
    grid = np.linspace(first, last, _POINTS) if last > first else np.array([first])
    time = np.unique(np.append(grid, met.time_s))
    visit = np.zeros(len(time), np.int64)
    lat, lon = track.at(time, visit)
    relative = own.offset_nm(time, lat, lon)
    own_lat, own_lon = own.at(time)
    centre = own.at(np.array([met.time_s]))
    east, north = east_north_nm(own_lat, own_lon, *centre)
    left, right = track.about(time, visit)
    age = np.minimum(np.abs(track.time_s[left] - time), np.abs(track.time_s[right] - time))
    velocity, heading = own.moving_at(time)
    place = north + 1j * east
    seen = forecast(track, own)
    within = (seen.time_s >= first) & (seen.time_s <= last)
    return Portrait(
        time,
        relative,
        place,
        place + relative,
        age,
        velocity,
        heading,
        track.time_s[(track.time_s >= first) & (track.time_s <= last)],
        seen.where(within),
    )
