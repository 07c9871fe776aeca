"""Profiles by heading and by size; the numbers are put in by hand."""

import numpy as np
import pytest

from analysis.profiles import by_heading, by_size


def test_sectors_of_heading_hold_the_mean_and_the_spread_of_their_minutes() -> None:
    heading = np.concatenate((np.full(600, 358.0), np.full(600, 3.0), np.full(600, 91.0), np.full(60, 200.0)))
    value = np.concatenate((np.full(600, 1.0), np.full(600, 3.0), np.full(600, -2.0), np.full(60, 9.0)))
    got = by_heading(heading, value)
    # 358° and 3° are one sector about north; one minute at 200° is too few.
    assert got.at.tolist() == [0.0, 90.0]
    assert got.mean.tolist() == pytest.approx([2.0, -2.0])
    assert got.minutes.tolist() == [20.0, 10.0]
    # Ten minutes of 1 and ten of 3: variance 20 / 19.
    assert got.sd.tolist() == pytest.approx([(20 / 19) ** 0.5, 0.0])


def test_minutes_half_unknown_do_not_count() -> None:
    heading = np.full(300, 45.0)
    value = np.ones(300)
    value[:95] = np.nan  # the first minute whole, the second by 35 s
    assert by_heading(heading, value).minutes.tolist() == [3.0]
    assert by_heading(heading, np.full(300, np.nan)).at.size == 0


def test_steps_of_size() -> None:
    size = np.repeat(np.linspace(2.0, 7.0, 51), 60)
    got = by_size(size, 0.1 * size)
    # 51 minutes from 2 to 7; the 2 % at either end lie at 2.1 and 6.9, a tenth of that is 0.48 wide.
    assert got.at == pytest.approx(2.1 + 0.48 * (np.arange(10) + 0.5))
    assert got.mean == pytest.approx(0.1 * got.at, abs=0.006)
    assert by_size(np.full(600, np.nan), np.ones(600)).at.size == 0
