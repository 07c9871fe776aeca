"""A stretch in a few numbers, by hand."""

import numpy as np
import pandas as pd
import pytest

from analysis.spread import spread_of

INDEX = pd.date_range("2031-05-03T18:00:00", periods=4, freq="s", tz="UTC")


def test_a_scalar_has_its_mean_spread_and_extremes_with_times() -> None:
    found = spread_of(pd.DataFrame({"sog_kn": [2.0, np.nan, 6.0, 4.0]}, index=INDEX), "sog_kn")
    assert found is not None
    # By hand: 2, 6, 4 have the mean 4 and the variance (4 + 4 + 0) / 3.
    assert (found.count, found.mean, found.sd) == (3, 4.0, pytest.approx((8 / 3) ** 0.5))
    assert (found.lowest, found.lowest_at) == (2.0, INDEX[0])
    assert (found.highest, found.highest_at) == (6.0, INDEX[2])


def test_a_direction_is_averaged_around_north_and_its_extremes_lie_left_and_right_of_it() -> None:
    found = spread_of(pd.DataFrame({"cog_deg": [350.0, 10.0, 355.0, 5.0]}, index=INDEX), "cog_deg")
    assert found is not None
    assert np.cos(np.radians(found.mean)) == pytest.approx(1.0)
    assert (found.lowest, found.highest) == (350.0, 10.0)
    # For a small spread the circular deviation is the plain one: sqrt((100 + 100 + 25 + 25) / 4) = 7.9.
    assert found.sd == pytest.approx(62.5**0.5, abs=0.05)


def test_an_angle_keeps_its_side() -> None:
    found = spread_of(pd.DataFrame({"awa_deg": [-30.0, -40.0, -35.0, -35.0]}, index=INDEX), "awa_deg")
    assert found is not None
    assert found.mean == pytest.approx(-35.0)
    assert (found.lowest, found.highest) == (-40.0, -30.0)


def test_nothing_has_no_spread() -> None:
    assert spread_of(pd.DataFrame({"sog_kn": [np.nan] * 4}, index=INDEX), "sog_kn") is None
    assert spread_of(pd.DataFrame(index=INDEX), "sog_kn") is None
