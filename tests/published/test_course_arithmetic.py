"""Compass, magnetic and true courses against printed questions; the deviation curve of a handbook."""

import numpy as np
import pytest

from analysis.vectors import (
    compass_from_magnetic_deg,
    compass_from_true_deg,
    deviation_deg,
    true_from_compass_deg,
    water_track,
    wrap_signed_deg,
)

# NAVEDTRA 14221, assignment 2: questions and choices read, each answer the one choice that fits


@pytest.mark.parametrize(
    ("compass", "deviation", "variation", "true"),
    [(255, 0, -5, 250), (170, -5, 15, 180), (85, 10, -5, 90), (240, 0, 7, 247), (180, 2, -6, 176)],
)
def test_compass_to_true_and_back(compass, deviation, variation, true):
    assert true_from_compass_deg(compass, deviation, variation) == true
    assert compass_from_true_deg(true, deviation, variation) == compass


def test_compass_to_magnetic():
    """The same assignment: compass 270, deviation 5 E is magnetic 275, whatever the variation."""
    assert true_from_compass_deg(270, 5, 0) == 275
    assert compass_from_true_deg(true_from_compass_deg(270, 5, 10), 0, 10) == 275


def test_variation_from_compass_true_and_deviation():
    """The same assignment: compass 180, true 176, deviation 2 E leave a variation of 6 W."""
    assert wrap_signed_deg(176 - 180 - 2) == -6


def test_course_made_good_with_leeway():
    """USCG question at seatrials.net, inputs read, answer computed: wind WSW pushes 2 deg to port."""
    heading = true_from_compass_deg(195, 4, -13)
    assert heading == 186
    assert water_track(6, heading, -2).direction_deg == pytest.approx(184)


@pytest.mark.parametrize(("variation", "deviation", "error"), [(-10, -5, -15), (-10, 5, -5)])
def test_compass_error(variation, deviation, error):
    """Draper, Lectures in Navigation (public domain), read: compass error is variation plus deviation."""
    assert wrap_signed_deg(true_from_compass_deg(0, deviation, variation)) == error


# NGA Handbook of Magnetic Compass Adjustment (2004), chapter V, article 501: the card read, its coefficients
# from memory and computed from it; the curve computed.

CARD = {0: 10.5, 45: 20.0, 90: 11.5, 135: -1.2, 180: -5.5, 225: -8.0, 270: -12.5, 315: -6.8}
COEFFICIENTS = (1.0, 12.0, 8.0, 5.0, 1.5)
CURVE = {
    0: 10.50, 30: 19.01, 45: 20.14, 60: 18.97, 90: 11.50, 120: 2.31, 135: -1.17, 150: -3.51,
    180: -5.50, 210: -6.85, 225: -8.14, 240: -9.81, 270: -12.50, 300: -10.47, 315: -6.83, 330: -1.65,
}  # fmt: skip


def card_deviation(compass):
    return np.interp(compass, list(CARD), list(CARD.values()), period=360)


def test_deviation_curve():
    np.testing.assert_allclose(deviation_deg(list(CURVE), COEFFICIENTS), list(CURVE.values()), atol=0.01)


def test_seven_tenths_rule():
    """Bowditch, article 613: a coefficient B moves the deviation on 045 by seven tenths of itself."""
    assert deviation_deg(45, (0, 4, 0, 0, 0)) == pytest.approx(2.828, abs=1e-3)


def test_card_is_entered_with_the_compass_heading():
    """On the handbook's card compass 045 has deviation 20 E, so magnetic 065 is compass 045."""
    assert true_from_compass_deg(45, card_deviation(45), 0) == 65
    assert compass_from_magnetic_deg(65, card_deviation) == pytest.approx(45, abs=1e-7)


def test_card_and_curve_run_backwards_on_every_heading():
    magnetic = np.arange(0, 360, 0.5)
    for deviation in (card_deviation, lambda compass: deviation_deg(compass, COEFFICIENTS)):
        compass = compass_from_magnetic_deg(magnetic, deviation)
        np.testing.assert_allclose(wrap_signed_deg(compass + deviation(compass) - magnetic), 0, atol=1e-8)
