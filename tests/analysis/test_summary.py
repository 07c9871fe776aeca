"""The passage in a few numbers, against hand calculations."""

import numpy as np
import pandas as pd
import pytest

from analysis.summary import summarise

START = pd.Timestamp("2026-06-03T10:00:00Z")
MINUTE_ON_THE_EQUATOR_NM = (
    6378.137 / 1.852 * np.pi / 10800
)  # WGS 84: an arc of a circle of the equatorial radius


def frame(count: int, **columns: float | np.ndarray) -> pd.DataFrame:
    index = pd.date_range(START, periods=count, freq="s", name="time_utc")
    return pd.DataFrame(
        {name: np.broadcast_to(value, count) for name, value in columns.items()}, index=index, dtype=float
    )


def along_the_equator(count: int, speed_kn: float) -> pd.DataFrame:
    lon = np.arange(count) * speed_kn / 3600 / MINUTE_ON_THE_EQUATOR_NM / 60
    return frame(count, lat_deg=0.0, lon_deg=lon, sog_kn=speed_kn)


def test_distances_and_duration_of_an_hour_at_six_knots() -> None:
    sailed = along_the_equator(3601, 6.0)
    sailed["stw_kn"] = 5.0
    got = summarise(sailed)
    assert got["distance_over_ground_nm"] == pytest.approx(6.0, abs=1e-6)
    assert got["distance_through_water_nm"] == pytest.approx(5.0, abs=1e-9)
    assert got["duration_h"] == pytest.approx(1.0)
    assert got["mean_sog_kn"] == pytest.approx(6.0)
    assert got["mean_stw_kn"] == pytest.approx(5.0)


def test_an_hour_without_position_is_bridged_by_the_straight_line() -> None:
    sailed = along_the_equator(7201, 6.0)
    sailed.loc[sailed.index[1800:5400], ["lat_deg", "lon_deg", "sog_kn"]] = np.nan
    assert summarise(sailed)["distance_over_ground_nm"] == pytest.approx(12.0, abs=1e-6)


def test_the_log_is_not_counted_across_its_own_silence() -> None:
    sailed = frame(3601, stw_kn=6.0)
    sailed.loc[sailed.index[600:3000], "stw_kn"] = np.nan
    assert summarise(sailed)["distance_through_water_nm"] == pytest.approx(6.0 * (3600 - 2401) / 3600)


def test_the_log_is_counted_across_a_short_outage_and_by_the_trapezium() -> None:
    sailed = frame(101, stw_kn=np.linspace(4, 8, 101))
    sailed.loc[sailed.index[20:50], "stw_kn"] = np.nan
    assert summarise(sailed)["distance_through_water_nm"] == pytest.approx(6.0 * 100 / 3600)


def test_noise_at_rest_adds_no_distance() -> None:
    """Ten minutes at the quay with 2 m of position noise would add up to more than half a mile."""
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 2 / 1852 / 60, (2, 600))
    still = frame(600, lat_deg=50 + noise[0], lon_deg=-1 + noise[1], sog_kn=0.05)
    assert summarise(still)["distance_over_ground_nm"] == 0.0
    assert summarise(still.drop(columns="sog_kn"))["distance_over_ground_nm"] > 0.5


def test_drifting_without_a_log_of_it_still_counts_over_a_gap() -> None:
    """Two hours silent, then a fix three miles on, reported at rest: the hop counts."""
    got = frame(7200, lat_deg=np.nan, lon_deg=0.0, sog_kn=0.0)
    got.loc[got.index[[0, -1]], "lat_deg"] = [
        0.0,
        3 / 59.705,
    ]  # a minute of latitude at the equator: 0.99508 nm
    assert summarise(got)["distance_over_ground_nm"] == pytest.approx(3.0, abs=2e-3)


def test_the_greatest_values_and_their_moments() -> None:
    values = np.full(100, 5.0)
    values[42] = 9.5
    holed = values.copy()
    holed[60:] = np.nan
    got = summarise(frame(100, sog_kn=values, stw_kn=holed, tws_water_kn=values, tws_ground_kn=values - 1))
    for name in ("sog", "stw", "tws"):
        assert got[f"max_{name}_kn"] == 9.5
        assert pd.Timestamp(str(got[f"max_{name}_utc"])) == START + pd.Timedelta("42s")
    assert got["max_tws_ground_kn"] == 8.5
    assert pd.Timestamp(str(got["max_tws_ground_utc"])) == START + pd.Timedelta("42s")
    assert got["mean_stw_kn"] == pytest.approx((59 * 5 + 9.5) / 60)


def test_what_the_log_cannot_give_is_none() -> None:
    got = summarise(frame(10, depth_m=4.0))
    assert got["max_depth_m"] == 4.0
    assert got["duration_h"] == pytest.approx(9 / 3600)
    others = {name: value for name, value in got.items() if "depth" not in name and name != "duration_h"}
    assert set(others.values()) == {None}
    empty = summarise(pd.DataFrame(index=pd.DatetimeIndex([], tz="UTC", name="time_utc")))
    assert set(empty.values()) == {None}
    assert set(empty) == set(got)
    assert set(
        summarise(frame(10, sog_kn=np.nan, lat_deg=np.nan, lon_deg=np.nan, stw_kn=np.nan)).values()
    ) == {None, 9 / 3600}
