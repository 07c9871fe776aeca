"""Set, drift and course to steer against printed worked examples."""

import numpy as np
import pytest

from analysis.earth import geodesic, geodesic_end
from analysis.vectors import course_to_steer, vector_difference, vector_sum


def close(found, course, speed, course_tolerance, speed_tolerance):
    return (
        abs(found.direction_deg - course) <= course_tolerance
        and abs(found.speed_kn - speed) <= speed_tolerance
    )


@pytest.mark.parametrize(
    ("steered", "speed", "set_deg", "drift", "track", "sog", "tolerances"),
    [
        (80, 10, 140, 2, 89, 11.2, (0.5, 0.1)),  # Bowditch (2002), chapter 7: from memory, and computed
        (80, 10, 140, 2, 88.948, 11.1355, (1e-3, 1e-3)),  # the same, computed
        # USCG questions at seatrials.net: inputs read, answers computed
        (160, 10, 210, 0.9, 163.729, 10.6010, (1e-3, 1e-3)),
        (0, 9.5, 82, 1.1, 6.438, 9.7144, (1e-3, 1e-3)),
        (215, 12, 0, 2.3, 222.430, 10.2016, (1e-3, 1e-3)),
        (82, 8, 75, 1.0, 81.224, 8.9934, (1e-3, 1e-3)),
    ],
)
def test_track_made_good(steered, speed, set_deg, drift, track, sog, tolerances):
    assert close(vector_sum(steered, speed, set_deg, drift), track, sog, *tolerances)


@pytest.mark.parametrize(
    ("track", "speed", "set_deg", "drift", "steer", "sog", "tolerances"),
    [
        (95, 12, 170, 2.5, 83.5, 12.4, (0.5, 0.1)),  # Bowditch (2002), chapter 7: from memory, and computed
        (75, 10, 30, 2.5, 85, 11.6, (0.5, 0.1)),  # tutorial page cnavp01 at kakopa.webcindario.com, read
        # chartwork answer sheet, chapter X (scribd 346108670), read; graphical, one course 2 deg rough
        (90, 5, 210, 2.0, 70, 3.7, (1, 0.1)),
        (45, 6.55, 135, 2.0, 25, 6.2, (2.5, 0.1)),
        (150, 5.3, 50, 3.5, 190, 3.4, (1, 0.1)),
        # the same five, computed by the sine rule
        (95, 12, 170, 2.5, 83.391, 12.4016, (1e-3, 1e-3)),
        (75, 10, 30, 2.5, 85.182, 11.6103, (1e-3, 1e-3)),
        (90, 5, 210, 2.0, 69.732, 3.6904, (1e-3, 1e-3)),
        (45, 6.55, 135, 2.0, 27.221, 6.2372, (1e-3, 1e-3)),
        (150, 5.3, 50, 3.5, 190.568, 3.4183, (1e-3, 1e-3)),
    ],
)
def test_course_to_steer_at_a_given_water_speed(track, speed, set_deg, drift, steer, sog, tolerances):
    assert close(course_to_steer(track, speed, set_deg, drift), steer, sog, *tolerances)


def test_course_and_speed_for_a_track_and_its_speed():
    """Bowditch, chapter 7, read at nauticalinformation.blogspot.com/2008/02: steer 276 at 14.8 kn."""
    needed = vector_difference(265, 15, 185, 3)
    assert close(needed, 276, 14.8, 1, 0.1)
    assert close(needed, 276.533, 14.7774, 1e-3, 1e-3)


def test_current_comes_back_from_the_track():
    """The inverse of the first USCG question."""
    track = vector_sum(160, 10, 210, 0.9)
    assert vector_difference(*track, 160, 10) == pytest.approx((210, 0.9), abs=1e-6)


def test_drift_from_a_dead_reckoning_and_a_fix():
    """Teaching page home.teleport.com/~forsberg/setdrift.html, read: 4.2 nm in 2 h is 2.1 kn."""
    reckoned = (48.5, -123.1)
    fix = geodesic_end(*reckoned, 235.0, 4.2)
    line = geodesic(*reckoned, *fix)
    assert line.distance_nm / 2 == pytest.approx(2.1, abs=1e-9)
    assert line.bearing_deg == pytest.approx(235, abs=1e-7)


def test_a_current_too_strong_has_no_course_to_steer():
    assert np.all(np.isnan(course_to_steer(90, 3, 0, 4)))
    assert np.all(np.isnan(course_to_steer(90, 3, 270, 4)))
