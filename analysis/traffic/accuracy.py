"""How well a report and the own fix are known; one-sigma of each axis."""

import numpy as np

from analysis.passage import Bools, Floats

# Own: 13 m in 95 % (MSC.112(73), from memory); a report with the accuracy flag: 10 m in 95 %, without it worse
# (ITU-R M.1371-5), taken as twice that.
OWN_M, _ACCURATE_M, _LOW_M = 13 / 2.45, 10 / 2.45, 20 / 2.45
COURSE_SD, SPEED_SD_KN = np.radians(2.0), 0.2  # of a reported motion, rounding included: judgment


def place_sd_m(accurate: Bools) -> Floats:
    """Of the place of a target seen from the own ship, by the accuracy flag of its report."""
    sd: Floats = np.hypot(OWN_M, np.where(accurate, _ACCURATE_M, _LOW_M))
    return sd
