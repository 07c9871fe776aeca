"""What a sensor error does to the true wind on a pair of tacks and in a full turn; VMG.

All numbers computed by direct vector arithmetic, from the mirror pair of ``test_true_wind``: STW 6 kn,
leeway 4 deg, AWA 30 deg, AWS 18 kn, headings 040 and 130; formulas of the full turn in its test.
"""

import numpy as np
import pytest

from analysis.vectors import (
    apparent_wind,
    east_north_kn,
    made_good_kn,
    polar_from_east_north,
    true_wind_water,
    water_track,
    wrap_signed_deg,
)


@pytest.mark.parametrize(
    ("vane_error", "log_factor", "starboard", "port"),
    [
        (0, 1, (84.4909, 13.4412), (85.5091, 13.4412)),
        (1, 1, (85.7828, 13.5206), (86.8103, 13.3634)),
        (3, 1, (88.3386, 13.6839), (89.4406, 13.2127)),
        (0, 0.9, (82.6269, 13.8472), (87.3731, 13.8472)),
        (0, 1.1, (86.4687, 13.0504), (83.5313, 13.0504)),
    ],
)
def test_tack_pair(vane_error, log_factor, starboard, port):
    stw = 6 * log_factor
    assert true_wind_water(30 + vane_error, 18, stw, 40, -4)[:2] == pytest.approx(starboard, abs=1e-3)
    assert true_wind_water(-30 + vane_error, 18, stw, 130, 4)[:2] == pytest.approx(port, abs=1e-3)


@pytest.mark.parametrize(
    ("offset", "wind_factor", "log_factor", "twd", "tws", "along_bow", "to_starboard"),
    [
        (0, 1, 1, 85, 13.4412, 0, 0),
        (3, 1, 1, 88, 13.4412, -0.00822, 0.31402),
        (0, 1.1, 1, 85, 14.7853, 0.6, 0),
        (0, 0.9, 1, 85, 12.0971, -0.6, 0),
        (0, 1, 1.1, 85, 13.4412, -0.6, 0),
        (0, 1, 0.9, 85, 13.4412, 0.6, 0),
        (3, 1.05, 0.95, 88, 14.1133, 0.59137, 0.32972),
    ],
)
def test_full_turn(offset, wind_factor, log_factor, twd, tws, along_bow, to_starboard):
    """Wind from 085 at 13.4412 kn, 6 kn under power: the mean and the part that turns with the boat."""
    heading = np.arange(0, 360, 5)
    seen = apparent_wind(85, 13.4412, heading, heading, 6)
    awa, aws = wrap_signed_deg(seen.awa_deg + offset), seen.aws_kn * wind_factor
    wind = true_wind_water(awa, aws, 6 * log_factor, heading)
    east, north = east_north_kn(wind.twd_water_deg, wind.tws_water_kn)
    mean = polar_from_east_north(east.mean(), north.mean())
    assert mean == pytest.approx((twd, tws), abs=1e-4)
    starboard, bow = east_north_kn(wind.twa_water_deg, wind.tws_water_kn)
    assert bow.mean() == pytest.approx(along_bow, abs=1e-4)
    assert starboard.mean() == pytest.approx(to_starboard, abs=1e-4)


def test_vmg_is_water_speed_times_cosine_of_the_track_s_wind_angle():
    """The close-hauled case: the water track lies 48.49 deg from the wind."""
    track = water_track(6, 40, -4)
    assert made_good_kn(*track, 84.4909) == pytest.approx(3.9861, abs=1e-4)
    assert made_good_kn(*track, 84.4909) == pytest.approx(track.speed_kn * np.cos(np.radians(48.4909)))
