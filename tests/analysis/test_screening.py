"""Screening of frames from a boat of plain trigonometry: clean ones stay whole, each gross fault is named alone."""

import numpy as np
import pandas as pd
import pytest

from analysis import read_log
from analysis.screening import screen

N = 10_800
WIND_KN, WIND_FROM_DEG = 14.0, 240.0
TWA_DEG = (45, -45, 45, -45, 100, -100, 140, -140)  # a course each, with what the boat does on it
KNOTS = {45: 6.0, 100: 7.0, 140: 6.5}
HEEL_DEG = {45: 16.0, 100: 9.0, 140: 4.0}


def toward(direction_deg):
    return np.exp(1j * np.radians(direction_deg))


def signed(angle_deg):
    return (angle_deg + 180) % 360 - 180


def memory(rng, sd, seconds):
    """Noise that forgets over ``seconds``."""
    kernel = np.exp(-np.arange(6 * int(seconds)) / seconds)
    noise = np.convolve(rng.standard_normal(N + len(kernel)), kernel)[len(kernel) :][:N]
    return sd * noise / np.sqrt(np.sum(kernel**2))


def sailed(seed=0, twa_deg=TWA_DEG):
    """Three hours under sail through a turning tide of 1.2 kn, quantised as displays do."""
    rng = np.random.default_rng(seed)
    twa = np.repeat(twa_deg, N // len(twa_deg))
    way = np.array([KNOTS[abs(a)] for a in twa_deg]).repeat(N // len(twa_deg)) + memory(rng, 0.2, 60)
    heel = -np.sign(twa) * np.array([HEEL_DEG[abs(a)] for a in twa_deg]).repeat(N // len(twa_deg))
    side = np.where(np.abs(twa) < 60, 3.0, 1.0) * -np.sign(twa)  # leeway
    heading = WIND_FROM_DEG - twa + memory(rng, 2, 8)
    current = 1.2 * toward(20 + 50 * np.arange(N) / N)
    ground = way * toward(heading + side) + current
    wind = (WIND_KN + memory(rng, 1.2, 90)) * toward(WIND_FROM_DEG + memory(rng, 4, 120))
    air = (wind + ground) / toward(heading)
    fix = ground + memory(rng, 0.05, 10) + 1j * memory(rng, 0.05, 10)
    track = np.cumsum(ground) / 3600 / 60
    index = pd.date_range("2026-06-01T08:00", periods=N, freq="s", tz="UTC", name="time_utc")
    return pd.DataFrame(
        {
            "lat_deg": 49 + track.real,
            "lon_deg": -5 + track.imag / np.cos(np.radians(49)),
            "sog_kn": np.round(abs(fix), 1),
            "cog_deg": np.round(np.degrees(np.angle(fix)) % 360) % 360,
            "stw_kn": np.round(way + memory(rng, 0.1, 5), 1),
            "heading_true_deg": np.round(heading) % 360,
            "variation_deg": -3.0,
            "awa_deg": signed(np.round(np.degrees(np.angle(air)) + memory(rng, 2, 2))),
            "aws_kn": np.round(abs(air), 1),
            "heel_deg": np.round(heel + memory(rng, 2, 4)),
            "leeway_deg": np.round(side + memory(rng, 0.5, 20), 1),
            "air_pressure_hpa": np.round(1013 + memory(rng, 0.4, 1500), 1),
            "hdop": 0.9,
            "satellites_used": 10.0,
        },
        index=index,
    )


@pytest.fixture(scope="module")
def clean():
    return sailed()


def told(screened):
    """The account in short: channel and reason of what was taken out, channel and kind of every mistake and doubt."""
    return {(one.channel, one.reason) for one in screened.unfit} | {
        (one.channel, one.kind) for one in (*screened.mistakes, *screened.doubts)
    }


@pytest.mark.parametrize("seed", range(3))
def test_a_clean_passage_stays_whole(seed):
    frame = sailed(seed)
    screened = screen(frame)
    assert told(screened) == set()
    pd.testing.assert_frame_equal(screened.frame, frame)


def test_slow_sensors_with_gaps_are_not_stuck(clean):
    frame = clean.iloc[::10].reindex(clean.index).ffill()
    frame["lat_deg"], frame["lon_deg"] = clean["lat_deg"], clean["lon_deg"]
    frame.iloc[2000:2190] = np.nan
    assert told(screen(frame)) == set()


STUCK = {
    "stw_kn": ("stw_kn", None),
    "log at zero": ("stw_kn", 0.0),
    "awa_deg": ("awa_deg", None),
    "aws_kn": ("aws_kn", None),
    "wind speed at zero": ("aws_kn", 0.0),
    "heading_true_deg": ("heading_true_deg", None),
    "cog_deg": ("cog_deg", None),
    "sog_kn": ("sog_kn", None),
    "heel_deg": ("heel_deg", None),
}


@pytest.mark.parametrize("case", STUCK)
def test_a_channel_that_stands_still_is_taken_out_where_it_does(clean, case):
    channel, value = STUCK[case]
    first, last = 4000, 8200  # over two turns
    frame = clean.copy()
    frame.loc[frame.index[first:last], channel] = frame[channel].iloc[first] if value is None else value
    screened = screen(frame)
    assert told(screened) == {(channel, "stuck")}
    gone = np.flatnonzero(screened.frame[channel].isna())
    assert abs(gone[0] - first) < 30 and abs(gone[-1] - last) < 30
    assert len(gone) == gone[-1] - gone[0] + 1
    others = [name for name in clean if name != channel]
    pd.testing.assert_frame_equal(screened.frame[others], clean[others])


def test_a_compass_that_stands_still_on_a_straight_course_is_told_by_the_lively_rest(clean):
    frame = clean.copy()
    frame.loc[frame.index[4200:5150], "heading_true_deg"] = 283.0  # within the fourth leg
    assert told(screen(frame)) == {("heading_true_deg", "stuck")}
    calm = slice(4200, 5150)
    for name in ("cog_deg", "awa_deg"):
        frame.loc[frame.index[calm], name] = frame[name].iloc[4200]
    assert ("heading_true_deg", "stuck") not in told(screen(frame))


def test_a_frozen_receiver_loses_position_speed_and_course(clean):
    frame = clean.copy()
    names = ["lat_deg", "lon_deg", "sog_kn", "cog_deg"]
    frame.loc[frame.index[5000:7000], names] = frame[names].iloc[5000].to_numpy()
    screened = screen(frame)
    assert {("lat_deg", "stuck"), ("sog_kn", "stuck"), ("cog_deg", "stuck")} <= told(screened)
    assert screened.frame["lon_deg"].iloc[5000:7000].isna().all()


def test_a_boat_at_rest_may_stand_still():
    still = sailed()
    rng = np.random.default_rng(4)
    still["sog_kn"] = np.round(np.abs(0.05 * rng.standard_normal(N)), 1)
    still["cog_deg"], still["stw_kn"], still["heel_deg"] = 66.0, 0.0, 0.5
    still["lat_deg"], still["lon_deg"] = 49.0, -5.0
    still["heading_true_deg"] = 270.0
    still["leeway_deg"] = 0.0
    still["awa_deg"] = still["aws_kn"] = 0.0  # a calm
    assert told(screen(still)) == set()


def test_a_boat_adrift_in_a_tide_has_no_stuck_log():
    frame = sailed()
    drift = 2.2 * toward(20 + np.arange(N) / 120)
    frame["sog_kn"], frame["cog_deg"] = np.round(abs(drift), 1), np.round(np.degrees(np.angle(drift)) % 360)
    track = np.cumsum(drift) / 3600 / 60
    frame["lat_deg"], frame["lon_deg"] = 49 + track.real, -5 + track.imag / np.cos(np.radians(49))
    frame["stw_kn"] = 0.0
    assert ("stw_kn", "stuck") not in told(screen(frame))


def test_a_barometer_is_stuck_only_after_many_hours(clean):
    still = clean.assign(air_pressure_hpa=1013.2)
    assert told(screen(still)) == set()
    longer = still.set_axis(pd.date_range(still.index[0], periods=N, freq="2s", tz="UTC", name="time_utc"))
    assert told(screen(longer[["air_pressure_hpa"]])) == {("air_pressure_hpa", "stuck")}


def test_wind_that_drops_out_is_taken_out_and_a_lull_is_not(clean):
    frame = clean.copy()
    speed = frame["aws_kn"].to_numpy(copy=True)
    for first, last in ((1000, 1004), (3000, 3100), (9000, 9600)):
        speed[first:last] = 0.1
    lull = np.abs(np.arange(N) - 5500) / 60
    speed = np.where(lull < 1, speed * lull, speed)
    screened = screen(frame.assign(aws_kn=np.round(speed, 1)))
    assert told(screened) == {("aws_kn", "drop-out")}
    assert np.isnan(screened.frame["aws_kn"]).sum() == 4 + 100 + 600


@pytest.mark.parametrize("seconds", [1, 40, 400])
def test_a_position_that_jumps_out_and_back_is_taken_out(clean, seconds):
    frame = clean.copy()
    frame.loc[frame.index[6000 : 6000 + seconds], "lat_deg"] += 0.2 / 60  # 0.2 nm, 370 m
    screened = screen(frame)
    assert told(screened) == {("lat_deg", "jump")}
    assert len(screened.unfit) == 1
    assert screened.unfit[0].value == pytest.approx(370.4, abs=30)
    assert screened.frame[["lat_deg", "lon_deg"]].iloc[6000 : 6000 + seconds].isna().all(axis=None)
    assert screened.frame["lat_deg"].isna().sum() < seconds + 25


def test_a_spike_of_sog_is_taken_out(clean):
    frame = clean.copy()
    frame.iloc[6000:6002, frame.columns.get_loc("sog_kn")] = 44.0
    screened = screen(frame)
    assert told(screened) == {("sog_kn", "jump")}
    assert screened.frame["sog_kn"].isna().sum() == 2


def test_a_mirrored_vane_is_turned_back(clean):
    screened = screen(clean.assign(awa_deg=-clean["awa_deg"]))
    assert told(screened) == {("awa_deg", "mirrored")}
    assert np.abs(signed(screened.frame["awa_deg"] - clean["awa_deg"])).max() < 1e-9


def test_a_reversed_vane_is_turned_round(clean):
    screened = screen(clean.assign(awa_deg=signed(clean["awa_deg"] + 180)))
    assert told(screened) == {("awa_deg", "reversed")}
    assert np.abs(signed(screened.frame["awa_deg"] - clean["awa_deg"])).max() < 1e-9


@pytest.mark.parametrize("twa_deg", [(45,), (-100,)])
def test_on_one_course_no_vane_is_judged(twa_deg):
    frame = sailed(twa_deg=twa_deg)
    assert told(screen(frame.assign(awa_deg=-frame["awa_deg"]))) == set()
    assert told(screen(frame.assign(aws_kn=frame["aws_kn"] * 1.852))) == set()


def test_beating_only_no_unit_of_the_wind_is_judged():
    frame = sailed(twa_deg=(45, -45, 45, -45))
    assert told(screen(frame.assign(aws_kn=frame["aws_kn"] * 1.852))) == set()


# 1 m/s = 3600/1852 kn, 1 km/h = 1/1.852 kn: the nautical mile is 1852 m.
@pytest.mark.parametrize("per_knot", [1852 / 3600, 1.852])
@pytest.mark.parametrize("channel", ["aws_kn", "stw_kn", "sog_kn"])
def test_a_speed_in_another_unit_is_found(clean, channel, per_knot):
    screened = screen(clean.assign(**{channel: clean[channel] * per_knot}))
    assert told(screened) == {(channel, "unit")}
    assert screened.mistakes[0].factor == pytest.approx(1 / per_knot)
    assert np.abs(screened.frame[channel] - clean[channel]).max() < 1e-9


@pytest.mark.parametrize("factor", [0.75, 1.3])
@pytest.mark.parametrize("channel", ["aws_kn", "stw_kn"])
def test_a_wrong_calibration_is_no_wrong_unit(clean, channel, factor):
    assert told(screen(clean.assign(**{channel: clean[channel] * factor}))) == set()


def test_heel_of_the_wrong_sign_does_not_accuse_the_vane(clean):
    screened = screen(clean.assign(heel_deg=-clean["heel_deg"]))
    assert told(screened) == {("heel_deg", "sign")}
    assert np.abs(screened.frame["heel_deg"] - clean["heel_deg"]).max() < 1e-9


def test_a_mirrored_vane_does_not_accuse_heel_and_leeway_once_it_is_undone(clean):
    screened = screen(clean.assign(awa_deg=-clean["awa_deg"], heel_deg=-clean["heel_deg"]))
    assert told(screened) == {("awa_deg", "mirrored"), ("heel_deg", "sign")}


@pytest.mark.parametrize("off_deg", [-5.0, 6.0])
def test_the_zero_of_the_heel_comes_from_both_tacks(clean, off_deg):
    screened = screen(clean.assign(heel_deg=clean["heel_deg"] + off_deg))
    assert told(screened) == {("heel_deg", "zero")}
    (mistake,) = screened.mistakes
    assert abs(mistake.offset_deg + off_deg) < 1.96 * mistake.sd


def test_leeway_of_the_wrong_sign_is_found(clean):
    assert told(screen(clean.assign(leeway_deg=-clean["leeway_deg"]))) == {("leeway_deg", "sign")}


def test_course_that_scatters_at_low_speed_is_doubted_only_under_way(clean):
    rng = np.random.default_rng(2)
    slow = np.arange(N) < 1800
    scatter = clean["cog_deg"] + np.where(slow, 25 * rng.standard_normal(N), 0)
    frame = clean.assign(cog_deg=scatter % 360)
    frame.loc[slow, "sog_kn"] = 0.9
    frame.loc[slow, ["lat_deg", "lon_deg", "stw_kn"]] = np.nan
    screened = screen(frame)
    assert told(screened) == {("cog_deg", "noise")}
    assert screened.doubts[0].value == pytest.approx(25, rel=0.15)
    assert screened.doubts[0].duration_s == 1800
    frame.loc[slow, "sog_kn"] = 0.1
    assert told(screen(frame)) == set()


def test_a_poor_fix_is_timed(clean):
    hdop = np.where(np.arange(N) < 2160, 8.0, 0.9)  # a fifth of the passage
    (doubt,) = screen(clean.assign(hdop=hdop)).doubts
    assert (doubt.kind, doubt.value) == ("poor fix", pytest.approx(0.2))
    assert doubt.evidence["hdop_most"] == 8.0


def test_a_position_that_wanders_in_a_poor_fix_does_not_jump(clean):
    rng = np.random.default_rng(6)
    poor = slice(3000, 6000)
    frame = clean.copy()
    frame.loc[frame.index[poor], "hdop"] = 12.0
    wander = 40 / 111_120 * memory(rng, 1, 60)[poor]  # 40 m
    frame.loc[frame.index[poor], "lat_deg"] += wander
    assert told(screen(frame)) == {("lat_deg", "poor fix")}


def test_a_frame_of_nothing_is_handed_back():
    empty = pd.DataFrame(index=pd.DatetimeIndex([], tz="UTC", name="time_utc"))
    assert screen(empty).frame.empty
    bare = pd.DataFrame(
        {"sog_kn": [1.0, 1.0, np.nan]}, index=pd.date_range("2026", periods=3, freq="s", tz="UTC")
    )
    assert told(screen(bare)) == set()


@pytest.mark.recording
def test_the_stuck_log_of_a_recording_is_found(recordings):
    screened = screen(read_log(recordings / "stuck_log_2020.nmea").frame)
    assert told(screened) == {("stw_kn", "stuck")}


@pytest.mark.recording
@pytest.mark.parametrize(
    "name",
    [
        "moored_2020.nmea", "moored_with_ais_2020.log", "berth_2021_a.nmea", "berth_multiplexer_2017.nmea",
        "berth_windy_2021.nmea", "weather_station_rollover.nmea", "yacht_sailing_2018.log",
    ],
)  # fmt: skip
def test_other_recordings_hold_nothing_gross(recordings, name):
    assert told(screen(read_log(recordings / name).frame)) == set()
