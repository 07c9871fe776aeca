"""Legs of a route against outside calculators and a printed answer.

RhumbSolve and GeodSolve of GeographicLib 2.1.2; the three legs of a UK Chief Mate paper (28 March 2006, as printed at
docsbay.net 150072) are on a sphere of one minute to the mile, so they agree to 0.4 % only.
"""

import pytest

from analysis.routes import Mark, leg_between

BAYS = (37 + 47.5 / 60, -122 - 27.8 / 60, -33 - 51.7 / 60, 151 + 12.7 / 60)


@pytest.mark.parametrize(
    ("ends", "rhumb_m", "course_deg", "geodesic_m", "azimuth_deg"),
    [
        ((50.0, -5.0, 50.0, 5.0), 716957.536, 90.0, 716422.977, 86.1657),
        (
            (37 + 47.5 / 60, -122 - 27.8 / 60, -33 - 51.7 / 60, 151 + 12.7 / 60),
            11965092.971,
            228.471983,
            11931395.338,
            240.4594,
        ),
    ],
)
def test_both_lines_of_a_leg(ends, rhumb_m, course_deg, geodesic_m, azimuth_deg):
    leg = leg_between(Mark("a", *ends[:2]), Mark("b", *ends[2:]))
    assert leg.rhumb.distance_nm * 1852 == pytest.approx(rhumb_m, abs=2e-3)
    assert leg.rhumb.bearing_deg == pytest.approx(course_deg, abs=1e-6)
    assert leg.geodesic.distance_nm * 1852 == pytest.approx(geodesic_m, abs=2e-3)
    assert leg.geodesic.bearing_deg == pytest.approx(azimuth_deg, abs=1e-4)
    assert leg.saved_nm * 1852 == pytest.approx(rhumb_m - geodesic_m, abs=3e-3)


@pytest.mark.parametrize(
    ("ends", "printed_nm", "wgs84_nm"),
    [
        ((30.0, -79 - 40 / 60, 36.0, -50.0), 1529.2, 1533.086),
        ((36.0, -50.0, 40.0, -40.0), 529.8, 530.958),
        ((40.0, -40.0, 61 + 14 / 60, -6 - 40 / 60), 1762.2, 1766.377),
    ],
)
def test_great_circle_legs_of_an_examination(ends, printed_nm, wgs84_nm):
    leg = leg_between(Mark("a", *ends[:2]), Mark("b", *ends[2:]))
    assert leg.geodesic.distance_nm == pytest.approx(wgs84_nm, abs=1e-3)
    assert leg.geodesic.distance_nm == pytest.approx(printed_nm, rel=4e-3)
