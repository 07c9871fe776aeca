"""Runs to and fro and the swing of the compass, against published numbers and exact cases."""

import numpy as np
import pandas as pd
import pytest
from simulator import Errors, sail

from analysis.calibration.classical import (
    deviation_by_handbook,
    deviation_by_least_squares,
    log_factor_from_company,
    log_factor_from_marks,
    log_factor_from_runs,
    log_factor_from_speeds,
    mean_of_means,
    mean_of_means_weights,
    swing,
)
from analysis.errors import SettingError
from analysis.manoeuvres import MarkRun, find_manoeuvres

# NGA, Handbook of Magnetic Compass Adjustment (2004), ch. V art. 501: deviation on N, NE, E ... NW.
HANDBOOK = [10.5, 20.0, 11.5, -1.2, -5.5, -8.0, -12.5, -6.8]
EIGHT = np.arange(0, 360, 45.0)


@pytest.mark.parametrize(
    ("count", "weights"),
    # Binomial weights: E. C. Tupper, Introduction to Naval Architecture, ch. Propulsion, for four; the rest alike.
    [
        (2, [1, 1]),
        (3, [1, 2, 1]),
        (4, [1, 3, 3, 1]),
        (5, [1, 4, 6, 4, 1]),
        (6, [1, 5, 10, 10, 5, 1]),
    ],
)
def test_weights_are_binomial(count, weights):
    np.testing.assert_allclose(
        mean_of_means_weights(count), np.array(weights) / sum(weights), rtol=0, atol=1e-15
    )


@pytest.mark.parametrize(
    ("runs", "expected"),
    # Exact fractions: 7 kn through the water, the current along the runs a polynomial of time.
    [
        ([8.2, 5.8], 7.0),
        ([8.2, 5.8, 8.2], 7.0),
        ([8.2, 5.5], 6.85),
        ([8.2, 5.5, 8.8], 7.0),
        ([8.2, 5.5, 8.8, 4.9], 7.0),
        ([8.0, 5.7, 8.4], 6.95),
        ([8.0, 5.7, 8.4, 5.7], 7.0),
        ([8.0, 5.7, 8.4, 5.7, 8.0, 6.5], 7.0),
        ([8.0, 5.68, 8.56, 5.16], 6.985),
        ([8.0, 5.68, 8.56, 5.16, 9.28, 4.0], 7.0),
    ],
)
def test_mean_of_means_removes_a_changing_current(runs, expected):
    assert mean_of_means(runs) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_any_polynomial_current_up_to_count_less_two_falls_out(count):
    rng = np.random.default_rng(count)
    current = np.polyval(rng.normal(size=count - 1), np.arange(count))
    runs = 7.0 + current * (-1.0) ** np.arange(count)
    assert mean_of_means(runs) == pytest.approx(7.0, abs=1e-9)


@pytest.mark.parametrize("count", [1, 7])
def test_other_counts_are_refused(count):
    with pytest.raises(SettingError, match="2 to 6"):
        mean_of_means(np.ones(count))


def test_speeds_are_averaged_not_times():
    # 1 nm in 12 min and back in 10 min: 5.0 and 6.0 kn, mean 5.5; 2 nm in 22 min would be 5.4545.
    index = pd.date_range("2026-05-01T08:00", periods=1400, freq="s", tz="UTC")
    frame = pd.DataFrame({"stw_kn": np.full(1400, 5.0)}, index=index)
    runs = (
        MarkRun(index[0], index[720], 1, 1.0, 0.0),
        MarkRun(index[780], index[1380], -1, 1.0, 0.0),
    )
    found = log_factor_from_marks(frame, runs)
    assert found.speed_kn == pytest.approx(5.5, abs=1e-9)
    assert found.value == pytest.approx(1.1, abs=1e-9)


def test_runs_the_same_way_are_counted_out():
    index = pd.date_range("2026-05-01T08:00", periods=3000, freq="s", tz="UTC")
    frame = pd.DataFrame({"stw_kn": np.full(3000, 5.0)}, index=index)
    runs = tuple(
        MarkRun(index[i * 700], index[i * 700 + 600], way, 1.0, 0.0) for i, way in enumerate((1, 1, -1))
    )
    found = log_factor_from_marks(frame, runs)
    assert found.used == 2 and found.rejected == {"same direction": 1}


def test_log_factor_from_four_runs():
    # Indicated 6.5 on every run over 8.0 5.7 8.4 5.7: 7.000 / 6.5 by hand.
    found = log_factor_from_speeds([8.0, 5.7, 8.4, 5.7], [6.5] * 4, run_sd_kn=0.1)
    assert found.value == pytest.approx(7.0 / 6.5, abs=1e-9)
    # sqrt(1 + 9 + 9 + 1) / 8 of one run's sd, over 6.5 kn.
    assert found.sd == pytest.approx(0.1 * np.sqrt(20) / 8 / 6.5, abs=1e-12)
    # 1.0 + 0.4 t - 0.1 t^2 along the first run.
    np.testing.assert_allclose(found.current_kn, [1.0, 1.3, 1.4, 1.3], atol=1e-9)


def test_a_dead_log_and_unlike_lengths_are_refused():
    with pytest.raises(SettingError, match="must turn"):
        log_factor_from_speeds([6.0, 6.0], [0.0, 0.0])
    with pytest.raises(SettingError, match="one of each"):
        log_factor_from_speeds([6.0, 6.0], [6.0])


def test_runs_found_at_sea_tell_the_log():
    orders = [("heading", 40 + 180 * (i % 2), 8) for i in range(4)]
    voyage = sail(orders=orders, hours=0.53, seed=3, errors=Errors(log_factor=1.06), tide_kn=1.5, gaps=False)
    (runs,) = find_manoeuvres(voyage.frame).runs
    found = log_factor_from_runs(voyage.frame, runs)
    assert found.used == 4
    assert abs(found.value - 1.06) < 3 * found.sd
    assert found.sd < 0.01


def test_handbook_rule_gives_the_handbook_values():
    # The five results of the handbook's example.
    np.testing.assert_allclose(deviation_by_handbook(HANDBOOK), [1.0, 12.0, 8.0, 5.0, 1.5], atol=0.1)


def test_least_squares_on_the_handbook_deviations():
    # Least squares on the same eight readings, computed apart with exact normal equations.
    card = deviation_by_least_squares(EIGHT, HANDBOOK)
    np.testing.assert_allclose(card.coefficients_deg, [1.0, 11.9397, 7.9598, 5.0, 1.5], atol=1e-3)
    assert card.rms_residual_deg == pytest.approx(0.051, abs=1e-3)


def test_the_card_reproduces_the_published_curve():
    heading = np.array([0, 30, 45, 60, 90, 120, 135, 150, 180, 210, 225, 240, 270, 300, 315, 330.0])
    exact = [1.0, 12.0, 8.0, 5.0, 1.5]
    h = np.radians(heading)
    seen = np.column_stack((h**0, np.sin(h), np.cos(h), np.sin(2 * h), np.cos(2 * h))) @ exact
    # The curve of A 1, B 12, C 8, D 5, E 1.5, computed apart.
    curve = [10.50, 19.01, 20.14, 18.97, 11.50, 2.31, -1.17, -3.51]
    curve += [-5.50, -6.85, -8.14, -9.81, -12.50, -10.47, -6.83, -1.65]
    np.testing.assert_allclose(seen, curve, atol=0.01)
    card = deviation_by_least_squares(heading, seen)
    np.testing.assert_allclose(card.coefficients_deg, exact, atol=1e-9)
    np.testing.assert_allclose(
        card.table(15)["deviation_deg"].to_numpy()[[0, 3, 6]], [10.5, 20.14, 11.5], atol=0.01
    )


def test_seven_tenths_rule():
    # B of 4.0 makes 2.828 on 045 (sin 45), the adjuster's seven tenths.
    card = deviation_by_least_squares(EIGHT, 4.0 * np.sin(np.radians(EIGHT)))
    assert card.at(np.array([45.0]))[0] == pytest.approx(2.828, abs=1e-3)


def test_cards_refuse_too_little():
    with pytest.raises(SettingError, match="eight"):
        deviation_by_handbook([1.0, 2.0])
    with pytest.raises(SettingError, match="at least five"):
        deviation_by_least_squares(EIGHT[:4], HANDBOOK[:4])
    with pytest.raises(SettingError, match="swing wider"):
        deviation_by_least_squares([0.0] * 6, [1.0] * 6)


def test_missing_readings_are_counted_out():
    card = deviation_by_least_squares(EIGHT, [*HANDBOOK[:7], np.nan])
    assert card.used == 7 and card.rejected == {"missing": 1}


def test_swing_on_a_full_turn_in_a_current():
    deviation = (1.5, 4.0, -3.0, 1.0, 0.5)
    orders = [("heading", 10, 3), ("circle", 1, 8), ("heading", 10, 3)]
    voyage = sail(
        orders=orders,
        hours=0.23,
        seed=5,
        errors=Errors(deviation=deviation, leeway_coefficient=0.0),
        tide_kn=1.0,
        gaps=False,
    )
    (turn,) = find_manoeuvres(voyage.frame).of_kind("full turn")
    card = swing(voyage.frame, turn)
    spread = np.sqrt(np.diag(card.covariance))
    # 0.75 deg/s and sensors up to 3.5 s apart put up to 2.6 deg on A of a single turn, nothing on B to E.
    assert abs(card.coefficients_deg[0] - deviation[0]) < 2.6
    np.testing.assert_array_less(np.abs(card.coefficients_deg - np.array(deviation))[1:], 3 * spread[1:])
    assert spread.max() < 1.0


def test_swing_refuses_a_tack():
    voyage = sail(orders=[("heading", 0, 5), ("heading", 90, 5)], hours=0.16, seed=1, gaps=False)
    (turn,) = find_manoeuvres(voyage.frame).turns
    with pytest.raises(SettingError, match="full turn"):
        swing(voyage.frame, turn)


def sailed_together(factor, seconds=1800, apart_nm=0.1):
    """Two boats in one tide of 1.2 kn setting north-east; ours reads ``factor`` too little, theirs is right."""
    t = np.arange(seconds)
    index = pd.date_range("2026-05-01T08:00", periods=seconds, freq="s", tz="UTC")
    current = 1.2 * np.exp(1j * np.pi / 4)

    def boat(heading_deg, speed_kn, shown_kn, off_nm):
        ground = speed_kn * np.exp(1j * np.radians(heading_deg)) + current
        track = np.cumsum(ground) / 3600 / 60
        return pd.DataFrame(
            {
                "lat_deg": 49.0 + track.real + off_nm / 60,
                "lon_deg": -4.0 + track.imag / np.cos(np.radians(49)),
                "sog_kn": np.abs(ground),
                "cog_deg": np.degrees(np.angle(ground)) % 360,
                "stw_kn": np.full(seconds, shown_kn),
                "heading_true_deg": heading_deg % 360 + 0.0 * t,
            },
            index=index,
        )

    heading = np.where(t < seconds // 2, 60.0, 300.0)
    return boat(heading, 6.0, 6.0 / factor, 0.0), boat(heading, 5.9, 5.9, apart_nm)


def test_a_vessel_in_company_tells_the_factor_whatever_the_tide():
    ours, theirs = sailed_together(1.08)
    result = log_factor_from_company(ours, theirs)
    # Exact by construction: both boats float in one current.
    assert result.value == pytest.approx(1.08, abs=1e-6)
    assert 0.1 / 5.6 < result.sd < 0.03
    assert result.used == 30


def test_a_vessel_too_far_away_is_no_company():
    ours, theirs = sailed_together(1.08, apart_nm=3.0)
    with pytest.raises(SettingError, match="within 1 nm"):
        log_factor_from_company(ours, theirs)
