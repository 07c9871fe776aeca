"""Vectors: shapes, missing values, calms, signs, and first-order uncertainty."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vectors import (
    UNIFORM_SD_DEG,
    apparent_wind,
    awa_from_vane_deg,
    compass_from_magnetic_deg,
    course_to_steer,
    current,
    current_sd,
    east_north_kn,
    leeway_deg,
    level_apparent_wind,
    made_good_kn,
    mean_direction_deg,
    polar_from_east_north,
    true_wind_ground,
    true_wind_ground_sd,
    true_wind_water,
    true_wind_water_sd,
    vector_sum,
    water_track,
    wrap_direction_deg,
    wrap_signed_deg,
)

angles = st.floats(-1e6, 1e6)


@given(angles)
def test_wrapping_keeps_the_angle_and_the_range(angle):
    direction, signed = wrap_direction_deg(angle), wrap_signed_deg(angle)
    assert 0 <= direction < 360
    assert -180 < signed <= 180
    assert np.cos(np.radians(direction - angle)) == pytest.approx(1)
    assert np.cos(np.radians(signed - angle)) == pytest.approx(1)


def test_wrapping_at_the_edges():
    np.testing.assert_array_equal(wrap_direction_deg([0, 360, -360, 720, -1e-17]), 0)
    np.testing.assert_array_equal(wrap_signed_deg([180, -180, 540]), 180)
    assert wrap_signed_deg(-179.5) == -179.5
    assert np.all(np.isnan(wrap_direction_deg([np.nan, np.inf, -np.inf])))
    assert np.all(np.isnan(wrap_signed_deg([np.nan, np.inf, -np.inf])))


@given(st.floats(0, 359.999), st.floats(0.001, 100))
def test_components_and_back(direction, speed):
    found = polar_from_east_north(*east_north_kn(direction, speed))
    assert wrap_signed_deg(found.direction_deg - direction) == pytest.approx(0, abs=1e-9)
    assert found.speed_kn == pytest.approx(speed)


def test_compass_points_have_the_right_components():
    east, north = east_north_kn([0, 90, 180, 270], 2)
    np.testing.assert_allclose(east, [0, 2, 0, -2], atol=1e-15)
    np.testing.assert_allclose(north, [2, 0, -2, 0], atol=1e-15)


# shapes and missing values

ARGUMENTS = {
    true_wind_water: (30.0, 18.0, 6.0, 40.0, -4.0),
    true_wind_ground: (30.0, 18.0, 40.0, 6.5, 30.0),
    current: (6.0, 40.0, -4.0, 6.5, 30.0),
    level_apparent_wind: (30.0, 18.0, 20.0),
    water_track: (6.0, 40.0, -4.0),
    true_wind_water_sd: (30.0, 18.0, 6.0, 40.0, -4.0),
    true_wind_ground_sd: (30.0, 18.0, 40.0, 6.5, 30.0),
    current_sd: (6.0, 40.0, -4.0, 6.5, 30.0),
}
each = pytest.mark.parametrize("function", ARGUMENTS, ids=lambda function: function.__name__)


@each
def test_scalars_arrays_and_series_agree(function):
    given_values = ARGUMENTS[function]
    scalars = function(*given_values)
    assert all(isinstance(value, float) for value in scalars)
    column, row = np.full((3, 1), given_values[0]), np.full(2, given_values[1])
    for field, scalar in zip(function(column, row, *given_values[2:]), scalars, strict=True):
        np.testing.assert_array_equal(field, np.full((3, 2), scalar))
    series = pd.Series([given_values[0]] * 2, index=[7, 9])
    for field, scalar in zip(function(series, *given_values[1:]), scalars, strict=True):
        np.testing.assert_array_equal(field, [scalar, scalar])


@each
def test_empty_arrays_give_empty_arrays(function):
    empty = [np.array([])] * len(ARGUMENTS[function])
    assert all(np.size(field) == 0 for field in function(*empty))


@each
@pytest.mark.parametrize("bad", [np.nan, np.inf, -9999.0, 9999.0])
def test_a_missing_or_impossible_input_gives_no_output(function, bad):
    for place in range(len(ARGUMENTS[function])):
        inputs = [np.array([value, value]) for value in ARGUMENTS[function]]
        inputs[place][1] = bad
        for field in function(*inputs):
            assert np.isfinite(field[0]), place
            assert np.isnan(field[1]), place


def test_vane_reading_outside_its_circle_is_missing():
    np.testing.assert_array_equal(awa_from_vane_deg([0, 90, 180, 270, 360]), [0, 90, 180, -90, 0])
    assert np.all(np.isnan(awa_from_vane_deg([-9, 361, np.nan])))
    assert awa_from_vane_deg(350, zero_line_deg=20) == 10


def test_leeway_of_a_right_angle_has_no_water_speed():
    assert np.all(np.isnan(water_track(6, 40, [90, -90])))


# calms


def test_no_speed_needs_no_direction():
    """A receiver at rest sends no COG, a vane in a calm no angle; both velocities are still known."""
    still = true_wind_ground(90, 10, 0, 0, np.nan)
    assert still == pytest.approx((90, 10, 90))
    felt = true_wind_water(np.nan, 0, 6, 40)
    assert felt == pytest.approx((220, 6, 180))


def test_a_calm_has_speed_zero_and_no_direction():
    for wind in (true_wind_water(0, 6, 6, 90), true_wind_ground(0, 6, 90, 6, 90)):
        assert wind[1] == 0
        assert np.isnan(wind[0])
        assert np.isnan(wind[2])
    assert current(6, 90, 0, 6, 90).drift_kn == 0
    assert np.isnan(current(6, 90, 0, 6, 90).set_deg)
    assert apparent_wind(270, 6, 90, 90, 6) == pytest.approx((np.nan, 0), nan_ok=True)


# signs


def test_wind_from_starboard_sets_the_boat_to_port():
    heel = -20.0
    assert leeway_deg(heel, 6, 8) < 0
    assert water_track(6, 40, leeway_deg(heel, 6, 8)).direction_deg < 40


def test_leeway_is_held_below_the_guard_speed():
    assert leeway_deg(10, [0, 1, 3, -2], 9) == pytest.approx([10, 10, 10, 10])
    assert leeway_deg(10, 6, 9) == pytest.approx(2.5)


def test_going_astern_moves_against_the_heading():
    assert water_track(-2, 40) == pytest.approx((220, 2))


def test_twa_counts_from_the_bow_and_twd_from_north():
    """Beam wind felt at rest on heading 300: from starboard it comes from 030, from port from 210."""
    wind = true_wind_water([90, -90], 10, 0, 300)
    np.testing.assert_allclose(wind.twd_water_deg, [30, 210])
    np.testing.assert_allclose(wind.twa_water_deg, [90, -90])


def test_made_good_toward_and_away():
    assert made_good_kn([0, 60, 90, 180], 6, 0) == pytest.approx([6, 3, 0, -6], abs=1e-12)


def test_course_to_steer_makes_good_its_track():
    rng = np.random.default_rng(3)
    track, set_deg = rng.uniform(0, 360, (2, 300))
    drift = rng.uniform(0, 2.9, 300)
    steer, sog = course_to_steer(track, 3, set_deg, drift)
    made = vector_sum(steer, 3, set_deg, drift)
    np.testing.assert_allclose(wrap_signed_deg(made.direction_deg - track), 0, atol=1e-9)
    np.testing.assert_allclose(made.speed_kn, sog)


@given(st.floats(-179, 179), st.floats(0.5, 40), st.floats(0, 359), st.floats(0, 12), st.floats(0, 359))
def test_apparent_wind_inverts_true_wind(awa, aws, heading, sog, cog):
    wind = true_wind_ground(awa, aws, heading, sog, cog)
    twd = 0.0 if wind.tws_ground_kn == 0 else wind.twd_ground_deg
    back = apparent_wind(twd, wind.tws_ground_kn, heading, cog, sog)
    assert back == pytest.approx((awa, aws), abs=1e-6)


# directions in the mean


def test_mean_direction_crosses_north_and_skips_missing_values():
    assert wrap_signed_deg(mean_direction_deg([350, 10, np.nan])) == pytest.approx(0, abs=1e-12)
    assert mean_direction_deg([80, 100], weight=[3, 1]) == pytest.approx(
        90 - np.degrees(np.arctan(0.5 / np.tan(np.radians(80))))
    )  # (3 cos 80 + cos 100) / (3 sin 80 + sin 100) = cos 80 / (2 sin 80)
    np.testing.assert_allclose(mean_direction_deg([[10, 350], [20, 40]], axis=0), [15, 15])


def test_mean_direction_of_nothing_or_of_opposites_is_missing():
    assert np.isnan(mean_direction_deg([0, 180]))
    assert np.isnan(mean_direction_deg([np.nan, np.nan]))
    assert np.isnan(mean_direction_deg([]))


def test_compass_that_the_iteration_does_not_find_is_missing():
    """A deviation of 1.5 deg per deg throws each guess farther from 4, where 4 + 6 = 10."""
    assert np.isnan(compass_from_magnetic_deg(10, lambda compass: 1.5 * compass))


# uncertainty

WIND_SDS = ("awa_sd_deg", "aws_sd_kn")
SD_NAMES = {
    true_wind_water_sd: (true_wind_water, (*WIND_SDS, "stw_sd_kn", "heading_sd_deg", "leeway_sd_deg")),
    true_wind_ground_sd: (true_wind_ground, (*WIND_SDS, "heading_sd_deg", "sog_sd_kn", "cog_sd_deg")),
    current_sd: (current, ("stw_sd_kn", "heading_sd_deg", "leeway_sd_deg", "sog_sd_kn", "cog_sd_deg")),
}
each_sd = pytest.mark.parametrize("sd_function", SD_NAMES, ids=lambda function: function.__name__)


def is_angle(field):
    return field.endswith("_deg")


@each_sd
def test_jacobian_against_numerical_differentiation(sd_function):
    """Each input alone with a unit one-sigma: the output's is the size of the central difference."""
    function, names = SD_NAMES[sd_function]
    rng = np.random.default_rng(4)
    spans = {"awa": (-170, 170), "aws": (4, 30), "stw": (3, 9), "heading": (1, 359), "leeway": (-8, 8)}
    spans |= {"sog": (3, 9), "cog": (1, 359)}
    order = [name.split("_")[0] for name in names]
    inputs = [rng.uniform(*spans[name], 200) for name in order]
    step = 1e-5
    for place, name in enumerate(names):
        ahead, behind = list(inputs), list(inputs)
        ahead[place], behind[place] = inputs[place] + step, inputs[place] - step
        sds = sd_function(*inputs, **{name: 1.0})
        for field, high, low, sd in zip(sds._fields, function(*ahead), function(*behind), sds, strict=True):
            change = wrap_signed_deg(high - low) if is_angle(field) else high - low
            expected = np.abs(change) / (2 * step)
            capped = np.minimum(expected, UNIFORM_SD_DEG) if is_angle(field) else expected
            np.testing.assert_allclose(sd, capped, rtol=1e-5, atol=1e-6, err_msg=f"{name} {field}")


@each_sd
def test_one_sigmas_against_monte_carlo(sd_function):
    """200 000 draws, close-hauled and in a strong current, with everyday errors; agreement within 1 %."""
    function, names = SD_NAMES[sd_function]
    sizes = {"awa": 1.5, "aws": 0.4, "stw": 0.1, "heading": 1.0, "leeway": 1.0, "sog": 0.05, "cog": 0.8}
    rng = np.random.default_rng(5)
    inputs = {**ARGUMENTS, current: (6.0, 40.0, -4.0, 9.5, 60.0)}[function]
    sd_of = {name: sizes[name.split("_")[0]] for name in names}
    drawn = [rng.normal(value, sd, 200_000) for value, sd in zip(inputs, sd_of.values(), strict=True)]
    centre, sds = function(*inputs), sd_function(*inputs, **sd_of)
    for field, value, outcome, sd in zip(sds._fields, centre, function(*drawn), sds, strict=True):
        scatter = wrap_signed_deg(outcome - value) if is_angle(field) else outcome - value
        assert np.sqrt(np.mean(scatter**2)) == pytest.approx(sd, rel=0.01), field


def test_heading_error_turns_twd_but_not_twa_over_the_water():
    sd = true_wind_water_sd(30, 18, 6, 40, -4, heading_sd_deg=2)
    assert sd == pytest.approx((2, 0, 0), abs=1e-12)


def test_no_errors_in_no_errors_out():
    assert true_wind_water_sd(30, 18, 6, 40, -4) == (0, 0, 0)


def test_one_sigmas_near_a_calm_saturate():
    """In a calm the direction is anywhere (180 / sqrt 3) and the speed's error is that of the vector."""
    calm = true_wind_water_sd(0, 6, 6, 90, aws_sd_kn=0.3, stw_sd_kn=0.4)
    assert calm == pytest.approx((UNIFORM_SD_DEG, 0.5, UNIFORM_SD_DEG))
    nearly = true_wind_water_sd(0, 6.001, 6, 90, aws_sd_kn=0.3, awa_sd_deg=3)
    assert nearly.twd_water_deg == UNIFORM_SD_DEG
    assert pytest.approx(103.923, abs=1e-3) == UNIFORM_SD_DEG


def test_one_sigmas_may_vary_along_the_track():
    sd = current_sd(np.full(3, 6.0), 40, 0, 6.5, 40, sog_sd_kn=np.array([0.1, 0.2, np.nan]))
    np.testing.assert_allclose(sd.drift_kn, [0.1, 0.2, np.nan])
