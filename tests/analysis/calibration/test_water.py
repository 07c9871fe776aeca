"""The water block on means drawn by hand, where the truth is exact."""

import numpy as np
import pytest

from analysis.calibration.blocks import Blocks
from analysis.calibration.water import DEVIATION, LEEWAY, fit_water, leeway_driver, water_velocity

RAD = np.pi / 180
NAMES = ("log_factor", *DEVIATION, "leeway_coefficient")
TRUE = np.array([1.06, 2.0, -3.0, 1.5, 0.8, -0.4, 9.5])


def drawn(headings, minutes=15, noise_kn=0.0, current=0.6 - 0.3j, seed=0, theta=TRUE):
    """Steady means on the headings in turn; the heel follows a fixed wind from 045."""
    rng = np.random.default_rng(seed)
    each = 3 * minutes
    heading = np.repeat(np.asarray(headings, dtype=float), each)
    number = np.arange(len(heading)) + 4.0 * (np.arange(len(heading)) // each)
    stw = 5.5 + 0.8 * np.sin(number / 37)
    heel = -18 * np.sin(RAD * (45 - heading)) * (1 + 0.3 * np.sin(number / 23))
    wind = 15 * np.exp(1j * RAD * (45 - heading))
    zero = np.zeros(len(heading), dtype=complex)
    blocks = Blocks(
        1.7e9 + 20 * number,
        number,
        zero,
        stw * np.exp(1j * RAD * heading),
        stw,
        heading,
        heading,
        heel,
        wind,
        zero,
        0 * number,
    )
    water, _ = water_velocity(blocks, heel[:, None], stw, theta, NAMES)
    ground = water + current + noise_kn * (rng.normal(size=(len(heading), 2)) @ [1, 1j])
    return Blocks(**(vars(blocks) | {"ground": ground}))


def test_derivatives_are_those_of_the_velocity():
    blocks = drawn(range(0, 360, 30))
    names = ("log_factor", *DEVIATION, *LEEWAY, "log_zero_offset_kn")
    theta = np.array([1.06, 2.0, -3.0, 1.5, 0.8, -0.4, 9.5, 1.0, 0.3, 0.1])
    driver = np.column_stack((blocks.heel_deg, blocks.heel_deg**2 / 20, blocks.heel_deg * 0 + 3))
    _, exact = water_velocity(blocks, driver, blocks.stw_kn, theta, names)
    for i in range(len(theta)):
        step = np.zeros(len(theta))
        step[i] = 1e-5
        up, _ = water_velocity(blocks, driver, blocks.stw_kn, theta + step, names)
        down, _ = water_velocity(blocks, driver, blocks.stw_kn, theta - step, names)
        np.testing.assert_allclose(exact[:, i], (up - down) / 2e-5, atol=1e-7)


def test_leeway_turns_the_track_to_the_side_of_the_heel():
    # Wind from port heels the boat to starboard (+) and sets it to the right: 9.5 * 18 / 36 = 4.75 deg at 6 kn.
    blocks = drawn([0], minutes=1)
    blocks = Blocks(**(vars(blocks) | {"stw_kn": np.full(3, 6.0), "keel": np.full(3, 6.0 + 0j)}))
    water, _ = water_velocity(
        blocks, np.full((3, 1), 18.0), np.full(3, 6.0), np.array([1.0, 9.5]), ("log_factor", LEEWAY[0])
    )
    np.testing.assert_allclose(np.angle(water, deg=True), 4.75, atol=1e-9)
    # STW is the keel component: 6 / cos(leeway).
    np.testing.assert_allclose(np.abs(water), 6 / np.cos(RAD * 4.75), atol=1e-9)


def test_truth_is_found_where_headings_go_round():
    fit = fit_water(drawn([0, 90, 45, 200, 310, 130, 260, 20, 170, 290, 80, 225], noise_kn=0.03))
    assert fit.converged
    for name, true in zip(NAMES, TRUE, strict=True):
        assert abs(fit.value(name) - true) < 3 * fit.sd(name), name
    assert fit.sd("log_factor") < 0.003
    assert fit.sd("compass_constant_deg") < 0.2
    np.testing.assert_allclose(fit.current_at_knots, 0.6 - 0.3j, atol=0.05)


@pytest.mark.parametrize("constant", [-20.0, 18.0])
def test_a_gross_compass_error_is_no_local_minimum(constant):
    theta = TRUE.copy()
    theta[1] = constant
    fit = fit_water(drawn([0, 90, 45, 200, 310, 130, 260, 20], noise_kn=0.03, theta=theta))
    assert fit.converged
    assert fit.value("compass_constant_deg") == pytest.approx(constant, abs=0.4)


def test_one_course_tells_neither_log_nor_compass():
    fit = fit_water(drawn([60] * 12, noise_kn=0.03))
    assert not fit.courses_differ
    assert fit.sd("compass_constant_deg") > 1.0
    assert fit_water(drawn([15, 105] * 6, noise_kn=0.03)).courses_differ


def test_a_fouled_hour_is_found_and_left_out():
    blocks = drawn([0, 90, 45, 200, 310, 130, 260, 20, 170, 290, 80, 225], noise_kn=0.03)
    fouled = np.zeros(len(blocks), dtype=bool)
    fouled[200:340] = True
    share = np.where(fouled, 0.4, 1.0)
    fit = fit_water(Blocks(**(vars(blocks) | {"stw_kn": blocks.stw_kn * share, "keel": blocks.keel * share})))
    assert fit.excluded[fouled].mean() > 0.95
    assert fit.excluded[~fouled].mean() < 0.05
    assert abs(fit.value("log_factor") - 1.06) < 3 * fit.sd("log_factor")


def test_a_zero_offset_shows_only_where_speeds_range():
    blocks = drawn([0, 90, 45, 200, 310, 130, 260, 20] * 2, noise_kn=0.03)
    assert "log_zero_offset_kn" not in fit_water(blocks).names
    pace = np.repeat(np.tile([1.0, 0.45], 8), 45)
    slow = drawn([0, 90, 45, 200, 310, 130, 260, 20] * 2)
    bow = np.exp(1j * RAD * slow.heading_deg)
    stw = slow.stw_kn * pace
    blocks = Blocks(**(vars(slow) | {"stw_kn": stw, "keel": stw * bow}))
    theta = np.append(TRUE, 0.35)
    water, _ = water_velocity(blocks, blocks.heel_deg[:, None], stw, theta, (*NAMES, "log_zero_offset_kn"))
    rng = np.random.default_rng(4)
    noise = 0.03 * (rng.normal(size=(len(stw), 2)) @ [1, 1j])
    fit = fit_water(Blocks(**(vars(blocks) | {"ground": water + 0.2j + noise})))
    assert fit.value("log_zero_offset_kn") == pytest.approx(0.35, abs=0.1)
    assert fit.value("log_factor") == pytest.approx(1.06, abs=0.015)


def test_without_heel_the_wind_stands_in():
    blocks = drawn([0, 90, 45, 200, 310, 130, 260, 20, 170, 290, 80, 225], noise_kn=0.03)
    blind = Blocks(**(vars(blocks) | {"heel_deg": np.full(len(blocks), np.nan)}))
    seen, guessed = fit_water(blocks), fit_water(blind)
    assert seen.heel_known and not guessed.heel_known
    assert leeway_driver(blind).shape[1] == len(LEEWAY)
    # It costs certainty, never honesty.
    assert guessed.sd("deviation_B_deg") > seen.sd("deviation_B_deg")
    assert abs(guessed.value("log_factor") - 1.06) < 3 * guessed.sd("log_factor")


def test_a_stream_that_wanders_within_the_half_hour_is_followed():
    """Eddies of 0.06 kn over 40 min: the log factor's errors are as large as said (rms z of 8 draws: 1 +- 0.25).

    Lines between knots 20 min apart cannot follow them: one-sigmas of 0.003.
    """
    scores, sds = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        blocks = drawn([0, 90, 300, 45, 200, 120, 330, 250, 20], minutes=18, noise_kn=0.03, seed=seed)
        phases = rng.uniform(0, 2 * np.pi, 2)
        eddy = 0.06 * np.sin(2 * np.pi * blocks.time_s[:, None] / 2400 + phases) @ [1, 1j]
        fit = fit_water(Blocks(**(vars(blocks) | {"ground": blocks.ground + eddy})))
        sds.append(fit.sd("log_factor"))
        scores.append((fit.value("log_factor") - 1.06) / sds[-1])
    assert np.sqrt(np.mean(np.square(scores))) < 1.5
    assert np.median(sds) < 0.002


def test_too_little_is_no_fit():
    assert fit_water(drawn([0], minutes=1)) is None
