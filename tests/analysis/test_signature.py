"""The part of a current that turns with the boat, on a boat that turns in a known stream."""

import numpy as np
import pandas as pd
import pytest

from analysis.calibration import Calibration, CurrentSeries
from analysis.derive import derive
from analysis.estimate import Estimate
from analysis.profiles import by_heading
from analysis.signature import deviation_seen, left_over

LEG_S = 600
HEADINGS = (20.0, 110.0, 200.0, 290.0)
NORTH_KN, EAST_KN = 0.3, -0.6


def sailed(factor: float = 1.0, compass_deg: float = 0.0, variation_deg: float = 0.0) -> pd.DataFrame:
    """6 kn through the water on four headings in a steady stream; the log shows 6 / factor, the compass less."""
    heading = np.repeat(HEADINGS, LEG_S)
    ground = 6.0 * np.exp(1j * np.radians(heading)) + NORTH_KN + 1j * EAST_KN
    index = pd.date_range("2026-06-01 08:00", periods=len(heading), freq="s", tz="UTC", name="time_utc")
    return pd.DataFrame(
        {
            "sog_kn": np.abs(ground),
            "cog_deg": np.degrees(np.angle(ground)) % 360,
            "heading_true_deg": (heading - compass_deg) % 360,
            "variation_deg": np.full(len(heading), variation_deg),
            "stw_kn": np.full(len(heading), 6.0 / factor),
        },
        index=index,
    )


def stream(frame: pd.DataFrame) -> CurrentSeries:
    times = frame.index[[0, -1]]
    both = np.ones(2)
    drift = float(np.hypot(NORTH_KN, EAST_KN))
    return CurrentSeries(
        pd.DatetimeIndex(times), 296.6 * both, drift * both, both, 0.1 * both, NORTH_KN * both, EAST_KN * both,
        0.05 * both, True,
    )  # fmt: skip


def calibration(frame: pd.DataFrame, leeway: float | None = None) -> Calibration:
    known = Estimate(leeway, None if leeway is None else 1.0, "deg kn2/deg", leeway is not None)
    return Calibration({"leeway_coefficient": known}, stream(frame), (), (), 0)


def test_a_log_that_reads_low_leaves_a_current_ahead_on_every_heading() -> None:
    frame = sailed(factor=1.05)
    got = left_over(derive(frame), stream(frame))
    # 6 kn through the water, 6 / 1.05 shown: 0.2857 kn ahead, nothing across.
    assert got.along_kn == pytest.approx(6 - 6 / 1.05, abs=1e-6)
    assert got.across_kn == pytest.approx(0.0, abs=1e-6)
    assert by_heading(frame["heading_true_deg"].to_numpy(), got.along_kn).at.tolist() == [15, 105, 195, 285]


def test_a_compass_that_reads_low_leaves_a_current_to_starboard() -> None:
    frame = sailed(compass_deg=4.0)
    got = left_over(derive(frame), stream(frame))
    # The boat goes 4 deg to the right of where the compass says: 6 sin 4 deg.
    assert got.across_kn == pytest.approx(6 * np.sin(np.radians(4.0)), abs=1e-6)


def test_turns_are_left_out() -> None:
    frame = sailed()
    turning = np.arange(len(frame)) < 100
    got = left_over(derive(frame), stream(frame), turning)
    assert np.isnan(got.along_kn[:100]).all()
    assert got.along_kn[100:] == pytest.approx(0.0, abs=1e-6)


def test_the_deviation_is_where_the_boat_pointed_less_what_the_compass_showed() -> None:
    frame = sailed(factor=1.05, compass_deg=4.0, variation_deg=-10.0)
    compass, seen = deviation_seen(frame, calibration(frame))
    # Headings of 20 and so on less 4 are shown; 10 deg of variation west make the compass show 10 more.
    assert compass[0] == pytest.approx(26.0)
    assert seen == pytest.approx(4.0, abs=1e-6)


def test_leeway_is_taken_out_where_heel_is_logged() -> None:
    frame = sailed()
    frame["heel_deg"] = 12.0
    _, seen = deviation_seen(frame, calibration(frame, leeway=9.0))
    # The boat made no leeway; 9 x 12 / 36 = 3 deg are taken for it.
    assert seen == pytest.approx(-3.0, abs=1e-6)


def test_without_a_current_no_deviation_is_seen() -> None:
    frame = sailed()
    _, seen = deviation_seen(frame, Calibration({}, None, (), (), 0))
    assert np.isnan(seen).all()
