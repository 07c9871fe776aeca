"""SOG for a silent log."""

import numpy as np
import pandas as pd
import pytest

from analysis.agreement import stand_in


def frame(stw, hours=2.0):
    n = int(hours * 3600)
    return pd.DataFrame(
        {"sog_kn": np.full(n, 6.5), "cog_deg": 90.0, "heading_true_deg": 90.0, "stw_kn": stw(np.arange(n))},
        index=pd.date_range("2026-05-01T08:00", periods=n, freq="s", tz="UTC", name="time_utc"),
    )


def test_a_log_that_speaks_needs_no_stand_in() -> None:
    assert stand_in(frame(lambda t: 6.0 + 0 * t)) is None


def test_the_current_seen_while_the_log_spoke_is_the_cost() -> None:
    one = stand_in(frame(lambda t: np.where(t < 3600, 6.0, np.nan)))
    assert one is not None and not one.absent
    assert one.silent_s == 3600 and one.under_way_s == 7200
    assert one.current_kn == pytest.approx(
        0.5
    )  # 6.5 kn over the ground less 6.0 through the water, on one line
    assert "over the ground" in one.words


def test_without_any_log_the_cost_is_unknown() -> None:
    one = stand_in(frame(lambda t: np.nan * t).drop(columns="stw_kn"))
    assert one is not None and one.absent and one.current_kn is None
    assert stand_in(pd.DataFrame()) is None
