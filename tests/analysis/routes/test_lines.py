"""The lines of a leg. Expected numbers of geodesic and rhumb line are checked in tests/published."""

import math
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from scipy.optimize import minimize

from analysis.routes import Mark, leg_between
from analysis.routes.lines import composite_points, geodesic_points, highest_point, rhumb_points

CAPE, STRAIT = Mark("Cape", -34.4, 18.5), Mark("Strait", -43.7, 147.0)


def test_composite_is_the_shortest_line_below_the_latitude():
    """An independent search over the two longitudes at which the parallel is joined."""
    limit = 48.0
    leg = leg_between(CAPE, STRAIT, limit)
    wgs84 = Geodesic.WGS84

    def length(joins):
        up = wgs84.Inverse(CAPE.lat_deg, CAPE.lon_deg, -limit, joins[0])
        down = wgs84.Inverse(-limit, joins[1], STRAIT.lat_deg, STRAIT.lon_deg)
        # A line that comes to the parallel from beyond it is forbidden: it must arrive southward, leave northward.
        beyond = max(math.cos(math.radians(up["azi2"])), -math.cos(math.radians(down["azi1"])), 0.0)
        circle = wgs84.Inverse(-limit, joins[0], -limit, joins[0] + 1e-3)["s12"] / 1e-3
        return (up["s12"] + down["s12"] + circle * abs(joins[1] - joins[0])) / 1852 + 1e4 * beyond

    found = minimize(length, (60.0, 110.0), method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-7})
    assert leg.composite is not None
    assert leg.composite.distance_nm == pytest.approx(found.fun, abs=2e-3)
    assert [join.lon_deg for join in leg.composite.joins] == pytest.approx(found.x, abs=0.02)
    assert leg.geodesic.distance_nm < leg.composite.distance_nm < leg.rhumb.distance_nm
    assert abs(leg.highest.lat_deg) > limit


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_composite_is_the_same_mirrored_and_backward(side, turned):
    ends = [Mark("a", side * 34.4, 170.0), Mark("b", side * 43.7, -61.5)]
    leg = leg_between(*(ends[::-1] if turned else ends), 48.0)
    straight = leg_between(CAPE, STRAIT, 48.0)
    assert leg.composite is not None and straight.composite is not None
    assert leg.composite.distance_nm == pytest.approx(straight.composite.distance_nm, abs=1e-6)
    assert {join.lat_deg for join in leg.composite.joins} == {side * 48.0}


def test_points_of_the_composite_keep_below_and_add_up():
    leg = leg_between(CAPE, STRAIT, 48.0)
    points = composite_points(leg)
    assert np.abs(points[:, 0]).max() == pytest.approx(48.0, abs=1e-9)
    steps = [Geodesic.WGS84.Inverse(*one, *other)["s12"] / 1852 for one, other in pairwise(points)]
    assert sum(steps) == pytest.approx(leg.composite.distance_nm, abs=0.5)


@pytest.mark.parametrize("limit", [None, 89.0, 30.0])
def test_no_composite_without_need_or_way(limit):
    leg = leg_between(CAPE, STRAIT, limit)
    assert leg.composite is None
    assert leg.beyond == (limit == 30.0)


def test_highest_point_is_the_highest_of_many():
    many = geodesic_points(leg_between(CAPE, STRAIT))
    assert highest_point(CAPE, STRAIT).lat_deg == pytest.approx(many[:, 0].min(), abs=0.02)
    assert highest_point(CAPE, STRAIT).lat_deg <= many[:, 0].min()
    east = Mark("east", 10.0, 20.0)
    assert highest_point(Mark("west", 5.0, 0.0), east) == (10.0, 20.0)


def test_both_lines_end_at_the_mark():
    leg = leg_between(Mark("a", 50.0, 179.5), Mark("b", 50.5, -179.5))
    for points in (geodesic_points(leg), rhumb_points(leg)):
        assert points[-1] == pytest.approx((50.5, -179.5), abs=1e-9)
    assert leg.saved_nm == pytest.approx((90444.062 - 90443.384) / 1852, abs=1e-6)  # RhumbSolve 2.1.2


def test_a_leg_of_no_length_has_no_course():
    leg = leg_between(CAPE, CAPE, 40.0)
    assert leg.geodesic.distance_nm == 0.0 and math.isnan(leg.geodesic.bearing_deg)
