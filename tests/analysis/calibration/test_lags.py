"""Lags of heading, vane and log: a kinematic boat that tacks, displays that delay and damp."""

import numpy as np
import pandas as pd
import pytest
from scipy.signal import lfilter

from analysis.calibration.lags import estimate_lags
from analysis.manoeuvres import find_manoeuvres

RAD = np.pi / 180
NAMES = ("heading_lag_s", "awa_lag_s", "stw_lag_s")


def late(x, delay_s, damping_s):
    """First-order damping and a delay at 1 s: mean delay is their sum."""
    keep = damping_s / (1 + damping_s)
    x = lfilter([1 - keep], [1, -keep], x, zi=[keep * x[0]])[0]
    row = np.arange(len(x))
    return np.interp(row - delay_s, row, x)


def beat(tacks=10, heading=(0.0, 0.0), wind=(0.0, 0.0), log=(0.0, 0.0), seed=0, current_kn=0.8):
    """Tacks of 90 deg at 7 deg/s every six minutes, the speed falling to 55 % and coming back in 20 s.

    Lags are (delay, damping) in seconds. Wind 14 kn from north; the current sets east.
    """
    rng = np.random.default_rng(seed)
    n = 360 * (tacks + 1)
    t = np.arange(n)
    h, v = np.full(n, 45.0), np.full(n, 6.0)
    for k in range(1, tacks + 1):
        at, side = 360 * k, 1 if k % 2 else -1
        h -= side * np.clip((t - at) * 7.0, 0, 90)
        since = np.clip(t - at - 10, 0, None)
        v = np.where(t >= at, v - 2.7 * np.clip((t - at) / 10, 0, 1) * np.exp(-since / 20), v)
    h = h + lfilter([0.5], [1, -0.85], rng.standard_normal(n))
    ground = v * np.exp(1j * RAD * h) + 1j * current_kn
    felt = (14.0 + ground) * np.exp(-1j * RAD * h)
    track = np.cumsum(ground) / 3600 / 60
    track = track - ground / 7200 / 60  # a position belongs to the middle of its second
    awa = np.unwrap(np.angle(felt)) / RAD
    return pd.DataFrame(
        {
            "lat_deg": 50 + track.real,
            "lon_deg": -4 + track.imag / np.cos(50 * RAD),
            "sog_kn": abs(ground),
            "cog_deg": np.angle(ground) / RAD % 360,
            "heading_true_deg": late(h + 0.3 * rng.standard_normal(n), *heading) % 360,
            "awa_deg": late(awa + rng.standard_normal(n), *wind),
            "aws_kn": late(abs(felt), *wind),
            "stw_kn": late(v + 0.1 * rng.standard_normal(n), *log),
        },
        index=pd.date_range("2026-05-01T08:00", periods=n, freq="s", tz="UTC", name="time_utc"),
    )


def lags_of(frame):
    return estimate_lags(frame, find_manoeuvres(frame))


@pytest.mark.parametrize(
    ("heading", "wind", "log"),
    [((0, 0), (0, 0), (0, 0)), ((4, 0), (1, 2), (1, 4)), ((0.5, 1), (5, 0), (0.5, 2))],
)
def test_lags_are_the_delay_plus_the_damping_within_their_deviation(heading, wind, log) -> None:
    found = lags_of(beat(heading=heading, wind=wind, log=log))
    assert tuple(found) == NAMES
    for name, truth in zip(NAMES, map(sum, (heading, wind, log)), strict=True):
        estimate = found[name]
        assert estimate.determined and estimate.unit == "s" and estimate.needs is None
        assert estimate.sd < 0.8
        assert abs(estimate.value - truth) < 1.96 * estimate.sd, name


def test_three_tacks_are_too_few() -> None:
    found = lags_of(beat(tacks=3))
    assert not any(estimate.determined for estimate in found.values())
    assert found["heading_lag_s"].needs.startswith("Make 2 more tacks")


def test_a_receiver_without_positions_costs_half_a_second() -> None:
    frame = beat(heading=(2, 0))
    with_positions = lags_of(frame)["heading_lag_s"]
    without = lags_of(frame.drop(columns=["lat_deg", "lon_deg"]))["heading_lag_s"]
    assert with_positions.sd < 0.4 < 0.5 < without.sd


def test_how_late_the_receiver_is_comes_from_its_own_track() -> None:
    """Speed and course 3 s late, positions to 0.005 min: these tell the heading's lag, but hardly the log's."""
    frame = beat(heading=(1, 0), log=(1, 3))
    ground = frame["sog_kn"] * np.exp(1j * RAD * frame["cog_deg"])
    shown = late(ground.to_numpy().real, 3, 0) + 1j * late(ground.to_numpy().imag, 3, 0)
    frame["sog_kn"], frame["cog_deg"] = abs(shown), np.degrees(np.angle(shown)) % 360
    frame["lat_deg"], frame["lon_deg"] = (
        (frame[name] * 12000).round() / 12000 for name in ("lat_deg", "lon_deg")
    )
    found = lags_of(frame)
    for name, truth in (("heading_lag_s", 1), ("stw_lag_s", 4)):
        assert found[name].determined
        assert abs(found[name].value - truth) < 1.96 * found[name].sd, name


def test_a_stuck_log_has_no_lag_and_leaves_the_heading_its_own() -> None:
    found = lags_of(beat(heading=(2, 0), current_kn=0.3).assign(stw_kn=0.0))
    assert not found["stw_lag_s"].determined
    assert abs(found["heading_lag_s"].value - 2) < 1.96 * found["heading_lag_s"].sd


def test_what_is_not_logged_has_no_lag() -> None:
    found = lags_of(beat(tacks=4).drop(columns=["awa_deg", "aws_kn", "stw_kn"]))
    assert list(found) == ["heading_lag_s"]


@pytest.mark.parametrize("missing", [["sog_kn", "cog_deg", "lat_deg"], ["heading_true_deg"]])
def test_without_motion_or_heading_nothing_is_determined(missing) -> None:
    assert not any(estimate.determined for estimate in lags_of(beat(tacks=4).drop(columns=missing)).values())
