"""A wind that stands still shows no contrast; one worked out with a vane offset shows it by hand calculation."""

import numpy as np
import pandas as pd
import pytest

from analysis.contrasts import across_turns, by_angle
from analysis.manoeuvres import Manoeuvres, Turn

SECONDS = 1800
TURN_S = (880, 920)


def passage(twd_before: float, twd_after: float) -> pd.DataFrame:
    index = pd.date_range("2026-06-01T08:00:00Z", periods=SECONDS, freq="s")
    later = np.arange(SECONDS) >= TURN_S[0] + 20
    return pd.DataFrame(
        {
            "twd_water_deg": np.where(later, twd_after, twd_before),
            "tws_water_kn": np.where(later, 14.0, 12.5),
            "awa_deg": np.where(later, -31.0, 29.0),
        },
        index=index,
    )


def tack(frame: pd.DataFrame, kind: str = "tack") -> Manoeuvres:
    start, end = (frame.index[row] for row in TURN_S)
    turning = np.zeros(len(frame), bool)
    turning[slice(*TURN_S)] = True
    turn = Turn(kind, start, end, -95.0, 0, 200.0, 105.0, 29.0, -31.0)
    return Manoeuvres((turn,), (), (), (), turning)


def test_the_wind_after_less_the_wind_before() -> None:
    frame = passage(356.0, 4.0)  # eight degrees to the right, through north
    (found,) = across_turns(frame, tack(frame), "water")
    assert (found.awa_before_deg, found.awa_after_deg) == pytest.approx((29.0, -31.0))
    assert found.twd_deg == pytest.approx(8.0)
    assert found.tws_kn == pytest.approx(1.5)


def test_a_full_turn_and_a_turn_without_wind_beside_it_are_left_out() -> None:
    frame = passage(356.0, 4.0)
    assert across_turns(frame, tack(frame, "full turn"), "water") == ()
    silent = frame.assign(twd_water_deg=frame["twd_water_deg"].where(frame.index >= frame.index[880]))
    assert across_turns(silent, tack(frame), "water") == ()
    assert across_turns(frame, tack(frame), "ground") == ()


def test_differences_are_averaged_by_sector_across_north() -> None:
    awa = np.repeat([-34.0, 35.0, 176.0], 200)
    second = np.repeat([359.0, 2.0, 100.0], 200)
    first = np.repeat([3.0, 356.0, 100.0], 200)  # + 4, − 6 and 0 degrees
    found = by_angle(first, second, awa)
    np.testing.assert_allclose(found.awa_deg, [-35.0, 35.0, 175.0])
    np.testing.assert_allclose(found.mean_deg, [4.0, -6.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(found.sd_deg, 0.0, atol=1e-3)


def test_a_sector_hardly_met_says_nothing() -> None:
    assert not len(by_angle(np.full(60, 3.0), np.zeros(60), np.full(60, 40.0)).awa_deg)
    assert not len(by_angle(np.full(600, np.nan), np.zeros(600), np.full(600, 40.0)).awa_deg)
