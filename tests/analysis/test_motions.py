"""The sides of the triangles: they close, and the derived winds and current are among them."""

import numpy as np
import pytest

from analysis.motions import mean_motions, motions
from analysis.vectors import current, polar_from_east_north, true_wind_ground, true_wind_water

COLUMNS = {
    "heading_true_deg": np.array([40.0, 350.0]),
    "stw_kn": np.array([6.0, 7.5]),
    "leeway_deg": np.array([-4.0, 5.0]),
    "sog_kn": np.array([6.5, 6.0]),
    "cog_deg": np.array([50.0, 340.0]),
    "awa_deg": np.array([-32.0, 140.0]),
    "aws_kn": np.array([18.0, 9.0]),
}


def test_the_sides_left_out_are_the_derived_winds_and_the_current() -> None:
    one = COLUMNS
    found = motions(one, 2)
    flow = current(one["stw_kn"], one["heading_true_deg"], one["leeway_deg"], one["sog_kn"], one["cog_deg"])
    wet = true_wind_water(
        one["awa_deg"], one["aws_kn"], one["stw_kn"], one["heading_true_deg"], one["leeway_deg"]
    )
    dry = true_wind_ground(
        one["awa_deg"], one["aws_kn"], one["heading_true_deg"], one["sog_kn"], one["cog_deg"]
    )
    water, ground, air = (motion.north_kn + 1j * motion.east_kn for motion in found)
    for vector, direction, speed in (
        (ground - water, flow.set_deg, flow.drift_kn),
        (-(water + air), wet.twd_water_deg, wet.tws_water_kn),
        (-(ground + air), dry.twd_ground_deg, dry.tws_ground_kn),
    ):
        np.testing.assert_allclose(np.abs(vector), speed)
        np.testing.assert_allclose(np.degrees(np.angle(vector)) % 360, direction)


def test_what_is_not_logged_is_missing_and_leeway_counts_as_none() -> None:
    found = motions({"heading_true_deg": np.array([90.0]), "stw_kn": np.array([5.0])}, 1)
    # Due east at 5 kn, by hand.
    assert (found.water.east_kn[0], found.water.north_kn[0]) == pytest.approx((5.0, 0.0), abs=1e-12)
    assert np.isnan(found.ground.east_kn[0])
    assert np.isnan(found.air.north_kn[0])


def test_means_are_of_vectors_over_the_rows_of_each_stretch() -> None:
    direction = np.array([0.0, 90.0, np.nan, 180.0, np.nan])
    firsts, lasts = np.array([0, 3, 4]), np.array([2, 3, 4])
    mean = mean_motions(direction, np.full(5, 2.0), firsts, lasts)
    # By hand: 2 kn north and 2 kn east give 1 and 1, which is 045 at 1.41 kn; the last stretch holds nothing.
    polar = polar_from_east_north(mean.east_kn, mean.north_kn)
    np.testing.assert_allclose(polar.direction_deg, [45.0, 180.0, np.nan])
    np.testing.assert_allclose(polar.speed_kn, [2**0.5, 2.0, np.nan])
