"""The regression engine against plain dense linear algebra and simulated noise of known memory."""

import numpy as np
import pytest
from scipy.linalg import toeplitz

from analysis.calibration import drift

WANDER = drift.Wander(level=0.01, slope=0.1, belief=(1.0, 1.0), level_kn=1.5, slope_kn_h=0.7)


def problem(seed=0, count=400):
    rng = np.random.default_rng(seed)
    number = np.arange(count, dtype=float)
    number[150:] += 40  # a gap
    turn = np.exp(1j * np.repeat(rng.uniform(0, 6.28, count // 20), 20))
    jacobian = np.column_stack((turn * 5, 1j * turn * 0.1))
    seen = (
        jacobian @ [0.05, 1.2] + 0.3 + 0.1j * number / count + 0.05 * (rng.normal(size=(count, 2)) @ [1, 1j])
    )
    noise = (
        drift.Memory(0.002 * 0.6 ** np.arange(drift.AR_ORDER + 1)),
        drift.Memory.white(0.003),
    )
    knots = drift.Knots.over(number * 20, 1200)
    rows = drift.whitened(
        turn, number, noise, np.ones((count, 2)), knots.weights(number * 20), jacobian, seen
    )
    return drift.Normal(*rows, np.diag([40.0, 0.02]), np.zeros(2), knots), number, noise


def dense_prior(knots, level, slope):
    """Precision of one component's states (level, slope per knot) built step by step."""
    h = knots.spacing_s / 3600
    move = np.array([[1, h], [0, 1]])
    q = np.array([[level * h + slope * h**3 / 3, slope * h**2 / 2], [slope * h**2 / 2, slope * h]])
    size = 2 * knots.count
    out = np.zeros((size, size))
    out[:2, :2] = np.diag([WANDER.level_kn**-2, WANDER.slope_kn_h**-2])
    for j in range(knots.count - 1):
        rows = np.zeros((2, size))
        rows[:, 2 * j : 2 * j + 2], rows[:, 2 * j + 2 : 2 * j + 4] = -move, np.eye(2)
        out += rows.T @ np.linalg.inv(q) @ rows
    return out


def full_prior(knots, level, slope):
    one = dense_prior(knots, level, slope).reshape(knots.count, 2, knots.count, 2)
    full = np.zeros((knots.count, 2, 2, knots.count, 2, 2))
    for side in (0, 1):
        full[:, side, :, :, side, :] = one
    return full.reshape(4 * knots.count, 4 * knots.count)


def test_banded_solution_equals_the_dense_one():
    normal, _, _ = problem()
    solution = normal.solve(0.02, 0.3, WANDER)
    w, x = normal.rows_knots.toarray(), normal.rows_theta
    prior = full_prior(normal.knots, 0.02, 0.3)
    whole = np.block([[x.T @ x + normal.prior, x.T @ w], [w.T @ x, w.T @ w + prior]])
    right = np.concatenate((x.T @ normal.rows_seen, w.T @ normal.rows_seen))
    answer, covariance = np.linalg.solve(whole, right), np.linalg.inv(whole)
    np.testing.assert_allclose(solution.step, answer[:2], rtol=1e-8)
    np.testing.assert_allclose(solution.states, answer[2:], rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(solution.theta_covariance, covariance[:2, :2], rtol=1e-7)


def test_deviance_differences_equal_the_dense_likelihood():
    # -2 log of the density of the data with theta and states integrated out, up to a constant.
    normal, _, _ = problem()
    x, w, y = normal.rows_theta, normal.rows_knots.toarray(), normal.rows_seen

    def dense(level, slope):
        spread = np.linalg.inv(full_prior(normal.knots, level, slope))
        total = np.eye(len(y)) + w @ spread @ w.T + x @ np.linalg.inv(normal.prior) @ x.T
        return np.linalg.slogdet(total)[1] + y @ np.linalg.solve(total, y)

    ours = normal.solve(0.02, 0.3, WANDER).deviance - normal.solve(0.005, 0.05, WANDER).deviance
    assert ours == pytest.approx(dense(0.02, 0.3) - dense(0.005, 0.05), abs=1e-5)


def test_whitener_makes_the_noise_independent():
    memory = drift.Memory(
        0.5 * 0.8 ** np.arange(drift.AR_ORDER + 1) + 0.2 * (np.arange(drift.AR_ORDER + 1) == 0)
    )
    number = np.arange(13.0)
    filter_ = memory.whitener(number).toarray()
    covariance = toeplitz(memory.covariance)
    np.testing.assert_allclose(filter_ @ covariance @ filter_.T, np.eye(13), atol=1e-10)


def test_memory_is_found_back():
    rng = np.random.default_rng(1)
    slow = np.zeros(6000)
    for i in range(1, 6000):
        slow[i] = 0.8 * slow[i - 1] + 0.6 * rng.normal()
    found = drift.memory_of(slow + rng.normal(size=6000) * 0.5, np.arange(6000.0), 0.0)
    # unit variance with memory 0.8 and 0.25 white
    expected = 0.8 ** np.arange(drift.AR_ORDER + 1) + 0.25 * (np.arange(drift.AR_ORDER + 1) == 0)
    np.testing.assert_allclose(found.covariance, expected, atol=0.12)


def test_years_of_silence_cost_no_knots() -> None:
    hours = np.arange(0, 3 * 3600, 20.0)
    time_s = np.concatenate((hours, hours + 4 * 365 * 86400.0))
    knots = drift.Knots.over(time_s, 1200)
    assert knots.count < 60  # 6 h of data and 12 h of the silence, three an hour
    weights = knots.weights(time_s).toarray()
    np.testing.assert_allclose(weights.sum(axis=1), 1.0)
    apart = np.abs(weights @ knots.time_s - time_s)
    assert apart[time_s < knots.time_s[9]].max() < 1e-3
    assert knots.time_s[-1] == pytest.approx(time_s[-1])


def test_without_a_silence_the_knots_are_even() -> None:
    knots = drift.Knots.over(np.arange(0, 7200, 20.0), 1200)
    np.testing.assert_allclose(np.diff(knots.time_s), knots.spacing_s)
