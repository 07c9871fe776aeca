"""Manoeuvres on headings drawn by hand: what happened and when is known by construction."""

import numpy as np
import pandas as pd
import pytest

from analysis.manoeuvres import find_manoeuvres, find_mark_runs, turning


def frame_of(heading, awa=None, sog=6.0, stw=6.0, yaw_deg=0.0, seed=0):
    heading = np.asarray(heading, dtype=float)
    rng = np.random.default_rng(seed)
    t = np.arange(len(heading))
    yaw = yaw_deg * np.sqrt(2) * np.sin(2 * np.pi * t / 6.0) + rng.normal(0, 0.3 * yaw_deg, len(t))
    columns = {
        "heading_true_deg": (heading + yaw) % 360,
        "sog_kn": np.broadcast_to(sog, heading.shape),
        "stw_kn": np.broadcast_to(stw, heading.shape),
    }
    if awa is not None:
        columns["awa_deg"] = np.asarray(awa, dtype=float)
    index = pd.date_range("2026-05-01T08:00", periods=len(heading), freq="s", tz="UTC", name="time_utc")
    return pd.DataFrame(columns, index=index)


def hold(value, seconds):
    return np.full(seconds, float(value))


def sweep(start, end, seconds):
    return np.linspace(start, end, seconds)


def seconds_into(frame, moment):
    return (moment - frame.index[0]).total_seconds()


@pytest.mark.parametrize("yaw_deg", [0.0, 3.0, 6.0])
def test_a_tack_is_found_once_and_in_time(yaw_deg):
    heading = np.concatenate([hold(315, 600), sweep(315, 405, 15), hold(405, 600)])
    awa = np.concatenate([hold(30, 607), hold(-30, 608)])
    frame = frame_of(heading, awa, yaw_deg=yaw_deg)
    (turn,) = find_manoeuvres(frame).turns
    assert turn.kind == "tack" and turn.turns == 0
    assert turn.change_deg == pytest.approx(90, abs=2)
    assert (turn.awa_before_deg, turn.awa_after_deg) == pytest.approx((30, -30), abs=0.1)
    assert seconds_into(frame, turn.start) == pytest.approx(600, abs=12)
    assert seconds_into(frame, turn.end) == pytest.approx(615, abs=12)


def test_a_gybe_turns_the_stern_through_the_wind():
    # Wind from north: on 160 it comes from 160 on the port side, on 200 from 160 on the starboard side.
    heading = np.concatenate([hold(160, 300), sweep(160, 200, 20), hold(200, 300)])
    awa = np.concatenate([hold(-160, 310), hold(160, 310)])
    kinds = [turn.kind for turn in find_manoeuvres(frame_of(heading, awa)).turns]
    assert kinds == ["gybe"]


def test_bearing_away_on_one_tack_is_a_turn():
    heading = np.concatenate([hold(45, 300), sweep(45, 130, 30), hold(130, 300)])
    awa = np.concatenate([hold(-35, 315), hold(-110, 315)])
    (turn,) = find_manoeuvres(frame_of(heading, awa)).turns
    assert turn.kind == "turn"
    assert turn.change_deg == pytest.approx(85, abs=1)


@pytest.mark.parametrize(("sweep_deg", "turns"), [(360, 1), (-360, -1), (1080, 3), (-720, -2)])
@pytest.mark.parametrize("rate_deg_per_s", [0.8, 2.0, 6.0])
def test_full_turns_are_counted_either_way(sweep_deg, turns, rate_deg_per_s):
    seconds = int(abs(sweep_deg) / rate_deg_per_s)
    heading = np.concatenate([hold(10, 300), sweep(10, 10 + sweep_deg, seconds), hold(10 + sweep_deg, 300)])
    (turn,) = find_manoeuvres(frame_of(heading, yaw_deg=2)).of_kind("full turn")
    assert turn.turns == turns
    assert turn.change_deg == pytest.approx(sweep_deg, abs=3)


def test_yaw_alone_is_no_turn():
    frame = frame_of(hold(90, 3600), yaw_deg=8)
    found = find_manoeuvres(frame)
    assert found.turns == ()
    (leg,) = found.legs
    assert leg.duration_s == 3600
    assert leg.heading_deg == pytest.approx(90, abs=0.5)
    assert leg.heading_sd_deg == pytest.approx(8 * np.hypot(1, 0.3), rel=0.05)
    assert not turning(frame).any()


def test_a_veering_wind_followed_slowly_is_no_turn():
    assert find_manoeuvres(frame_of(sweep(80, 140, 3600), yaw_deg=3)).turns == ()


def test_a_turn_hidden_in_a_gap_is_still_a_turn():
    heading = np.concatenate([hold(0, 300), hold(90, 300)])
    heading[270:330] = np.nan
    (turn,) = find_manoeuvres(frame_of(heading)).turns
    assert turn.change_deg == pytest.approx(90, abs=1)


def test_legs_leave_the_turns_out():
    heading = np.concatenate([hold(315, 600), sweep(315, 405, 15), hold(405, 600)])
    first, second = find_manoeuvres(frame_of(heading)).legs
    assert first.heading_deg == pytest.approx(315, abs=0.5)
    assert second.heading_deg == pytest.approx(45, abs=0.5)
    assert first.duration_s < 600 and second.duration_s < 600


@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_reciprocal_runs_are_gathered(count):
    pieces = []
    for i in range(count):
        pieces += [hold(70 + 180 * i, 400), sweep(70 + 180 * i, 250 + 180 * i, 40)]
    (runs,) = find_manoeuvres(frame_of(np.concatenate(pieces[:-1]), yaw_deg=2)).runs
    assert len(runs.legs) == count
    assert runs.heading_deg == pytest.approx(70, abs=1)


def test_legs_at_right_angles_are_no_runs():
    heading = np.concatenate(
        [hold(0, 400), sweep(0, 90, 20), hold(90, 400), sweep(90, 180, 20), hold(180, 400)]
    )
    assert find_manoeuvres(frame_of(heading)).runs == ()


def test_stops_are_found_without_a_heading():
    sog = np.concatenate([hold(6, 300), hold(0.1, 400), hold(6, 300)])
    frame = frame_of(hold(0, 1000), sog=sog).drop(columns="heading_true_deg")
    found = find_manoeuvres(frame)
    (stop,) = found.stops
    assert stop.duration_s == pytest.approx(400, abs=4)
    assert found.turns == () and found.legs == ()


def test_a_missing_log_of_heading_gives_nothing():
    frame = frame_of(np.full(600, np.nan))
    assert find_manoeuvres(frame).turns == ()
    assert find_manoeuvres(frame).legs == ()
    assert find_manoeuvres(frame.iloc[:5]).turns == ()


def test_runs_between_two_marks_are_timed_abeam():
    # Due north at 6 kn: one minute of latitude in 600 s, since a knot is a minute of latitude an hour.
    t = np.arange(2000)
    lat = 50.0 + (t - 300) / 600 / 60
    frame = frame_of(hold(0, 2000)).assign(lat_deg=lat, lon_deg=-5.001)
    there = find_mark_runs(frame, (50.0, -5.0), (50.0 + 2 / 60, -5.0))
    back = find_mark_runs(frame.iloc[::-1].set_axis(frame.index), (50.0, -5.0), (50.0 + 2 / 60, -5.0))
    (run,), (reverse,) = there, back
    assert (run.direction, reverse.direction) == (1, -1)
    assert run.distance_nm == pytest.approx(2.0)
    assert (run.end - run.start).total_seconds() == pytest.approx(1200, abs=1e-3)
    assert seconds_into(frame, run.start) == pytest.approx(300, abs=1e-3)
    # 0.001 deg of longitude at 50 N: 0.06' x cos 50.
    assert run.cross_track_nm == pytest.approx(0.06 * np.cos(np.radians(50.0)), abs=1e-4)
    assert find_mark_runs(frame, (50.0, -6.0), (50.0 + 2 / 60, -6.0)) == ()
