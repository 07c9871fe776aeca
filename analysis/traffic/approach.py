"""Closest point of approach of two vessels on steady courses.

The relative motion is a straight line, and the closest point the foot of the perpendicular on it (Maneuvering
Board Manual, Pub. 1310, chapter 6). Inputs broadcast; nm and knots east and north, hours.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from analysis.passage import Bools, Floats
from analysis.vectors import wrap_direction_deg, wrap_signed_deg

STILL_KN = 1e-6
ABAFT_DEG = 112.5  # 22.5 deg abaft the beam (COLREG rule 13, from memory)


class Approach(NamedTuple):
    """``cpa_nm`` at ``tcpa_h`` from now, negative where it is past; the bearing [deg] there.

    ``tcpa_h`` is NaN where the range does not change; the CPA is then the range of now. The bearing is NaN
    at a distance of zero.
    """

    cpa_nm: Floats
    tcpa_h: Floats
    bearing_deg: Floats


def closest_approach(
    east_nm: ArrayLike, north_nm: ArrayLike, east_kn: ArrayLike, north_kn: ArrayLike
) -> Approach:
    """Find CPA and TCPA from the other's place relative to the own ship and its motion relative to her."""
    place = np.asarray(north_nm, float) + 1j * np.asarray(east_nm, float)
    motion = np.asarray(north_kn, float) + 1j * np.asarray(east_kn, float)
    speed = np.abs(motion)
    moving = speed > STILL_KN
    with np.errstate(invalid="ignore", divide="ignore"):
        tcpa = np.where(moving, -(place * motion.conj()).real / speed**2, np.nan)
    closest = place + motion * np.where(moving, tcpa, 0.0)
    distance = np.abs(closest)
    bearing = wrap_direction_deg(np.degrees(np.angle(closest)))
    return Approach(distance, tcpa[()], np.where(distance > 1e-9, bearing, np.nan)[()])


def relative_bearing_deg(bearing_deg: ArrayLike, heading_deg: ArrayLike) -> Floats:
    """Bearing counted from a bow, to starboard +."""
    return wrap_signed_deg(np.asarray(bearing_deg, float) - np.asarray(heading_deg, float))


def aspect_deg(bearing_deg: ArrayLike, target_heading_deg: ArrayLike) -> Floats:
    """Where the own ship lies as seen from a target's bow, to its starboard +, for the target's true bearing."""
    return wrap_signed_deg(np.asarray(bearing_deg, float) + 180.0 - np.asarray(target_heading_deg, float))


def abaft(relative_deg: ArrayLike) -> Bools:
    """Whether a relative bearing lies more than 22.5 deg abaft the beam."""
    past: Bools = np.abs(np.asarray(relative_deg, float)) > ABAFT_DEG
    return past


def crosses_bow(
    place_nm: np.ndarray, relative_kn: np.ndarray, own_course_deg: ArrayLike
) -> tuple[Floats, Floats]:
    """Distance ahead (astern negative) [nm] at which a target crosses the own course line, and in how long [h].

    Its place from the own ship and its motion relative to her, north + i east; NaN where it runs along the line.
    """
    ahead = np.exp(-1j * np.radians(own_course_deg))
    place, motion = place_nm * ahead, relative_kn * ahead
    speed = np.abs(motion)
    crossing = (speed >= STILL_KN) & (np.abs(motion.imag) >= 0.1 * speed)  # not within 6 deg: judgment
    hours = np.where(crossing, -place.imag / np.where(crossing, motion.imag, 1.0), np.nan)
    return place.real + motion.real * hours, hours
