"""The inventor: its physics against vector identities, its sentences against outside parsers."""

import gzip
import json
import operator
import zipfile
from dataclasses import replace
from functools import cache, reduce
from itertools import pairwise

import numpy as np
import pyais
import pynmea2
import pytest
import zstandard
from geographiclib.geodesic import Geodesic
from samples import SAMPLES

from analysis.errors import SettingError, WriteError
from analysis.invent import SCENARIOS, Boat, Errors, Invention, Leg, Scenario, Sea, Spell, invent, wrap_lines
from analysis.invent.boat import Track, polar_kn
from analysis.invent.motion import true_state
from analysis.invent.noise import damped, delayed, swell, wander
from analysis.invent.sea import Weather, draw_weather, toward
from analysis.invent.sensors import upwash_shape
from analysis.writing.invention import truth_path, write_invention

NAMES = sorted(SCENARIOS)


@cache
def passage(name: str, hours: float | None = None) -> Invention:
    return invent(name, hours=hours)


def readings(log: Invention, start: str, field: int, reference: str = "") -> tuple[np.ndarray, np.ndarray]:
    """Times [s from the start of the track] and values of a field, counted from 1 as the standard does."""
    begun = log.track.index[0].timestamp()
    pairs = [
        (time - begun, float(fields[field]))
        for time, line in zip(log.time_s.tolist(), log.lines, strict=True)
        if line.startswith(start) and (fields := line[:-3].split(",")) and reference in ("", fields[2])
    ]
    times, values = np.array(pairs).T
    return times, values


def truth_at(log: Invention, column: str, times: np.ndarray) -> np.ndarray:
    """The true value at each time, to the nearest second."""
    rows = np.clip(np.rint(times).astype(int), 0, len(log.track) - 1)
    return log.track[column].to_numpy()[rows]


def turn(angle_deg: np.ndarray) -> np.ndarray:
    return (angle_deg + 180) % 360 - 180


def east_north(speed: np.ndarray, direction_deg: np.ndarray) -> np.ndarray:
    angle = np.radians(direction_deg)
    return np.array([speed * np.sin(angle), speed * np.cos(angle)])


# -- the truth obeys the vector identities -----------------------------------------------------------------


def test_ground_velocity_is_water_velocity_plus_current():
    t = passage("open-passage", 2.0).track
    water_kn = t.stw_kn / np.cos(np.radians(t.leeway_deg))
    water = east_north(water_kn, t.heading_true_deg + t.leeway_deg)
    current = east_north(t.drift_kn, t.set_deg)
    np.testing.assert_allclose(water + current, east_north(t.sog_kn, t.cog_deg), atol=1e-9)


def test_true_winds_are_apparent_wind_plus_each_velocity():
    t = passage("open-passage", 2.0).track
    air = -east_north(t.aws_kn, t.heading_true_deg + t.awa_deg)
    over_ground = air + east_north(t.sog_kn, t.cog_deg)
    over_water = over_ground - east_north(t.drift_kn, t.set_deg)
    np.testing.assert_allclose(over_ground, -east_north(t.tws_ground_kn, t.twd_ground_deg), atol=1e-9)
    np.testing.assert_allclose(over_water, -east_north(t.tws_water_kn, t.twd_water_deg), atol=1e-9)
    np.testing.assert_allclose(turn(t.heading_true_deg + t.twa_water_deg - t.twd_water_deg), 0, atol=1e-9)


def test_a_known_triangle():
    # Heading 040, STW 6, leeway -4, current 339.5019/0.8148, ground wind 087.7905/13.6746 give COG 030,
    # SOG 6.5, AWA 30, AWS 18, water wind 084.4909/13.4412: hand vectors and truewinds 0.0.4 agree.
    one, none = np.ones(3), np.zeros(3)
    track = Track(40 * one, 6 * one, -18 * one, -4 * one, none)
    weather = Weather(
        wind=-13.6746 * toward(87.7905 * one),
        current=0.8148 * toward(339.5019 * one),
        **dict.fromkeys(("roll_deg", "pitch_deg", "yaw_deg", "orbital_kn", "depth_m"), none),
        pressure_hpa=none,
        water_temp_c=none,
    )
    state = true_state(track, weather, 50.0, -10.0, 1.0)
    expected = {
        "cog_deg": 30.0, "sog_kn": 6.5, "awa_deg": 30.0, "aws_kn": 18.0,
        "twd_water_deg": 84.4909, "tws_water_kn": 13.4412, "twa_water_deg": 44.4909,
    }  # fmt: skip
    for channel, value in expected.items():
        assert state[channel][0] == pytest.approx(value, abs=1e-3), channel


def test_positions_follow_the_ground_velocity():
    t = passage("open-passage", 2.0).track
    fixes = t[["lat_deg", "lon_deg"]].to_numpy()[::10].tolist()
    legs = [Geodesic.WGS84.Inverse(*a, *b) for a, b in pairwise(fixes)]
    sailed = np.array([leg["s12"] for leg in legs]) / 1852
    course = np.array([leg["azi1"] for leg in legs])
    velocity = east_north(t.sog_kn, t.cog_deg)
    each_second = (velocity[:, :-1] + velocity[:, 1:]) / 2 / 3600
    moved = each_second[:, : len(legs) * 10].reshape(2, -1, 10).sum(axis=2)
    np.testing.assert_allclose(east_north(sailed, course), moved, atol=5e-5)
    assert sailed.sum() == pytest.approx(np.hypot(*moved).sum(), rel=2e-3)


def test_the_boat_leans_and_slips_away_from_the_wind():
    t = passage("open-passage", 2.0).track
    minutes = t.rolling(180, center=True).mean()
    steady = (t.twa_water_deg.rolling(240, center=True).std() < 6) & (minutes.heel_deg.abs() > 6)
    assert steady.sum() > 3000
    assert (np.sign(minutes.heel_deg[steady]) == -np.sign(minutes.awa_deg[steady])).all()
    k = minutes.leeway_deg * minutes.stw_kn**2 / minutes.heel_deg
    np.testing.assert_allclose(k[steady], Boat().leeway_coefficient, rtol=0.15)  # means of a nonlinear law
    assert np.median(k[steady]) == pytest.approx(Boat().leeway_coefficient, rel=0.02)


def test_the_polar_is_a_sailing_boats():
    angles = np.radians([0, 30, 43, 60, 90, 120, 150, 180])
    speeds = [polar_kn(Boat(), a, 14) for a in angles]
    assert speeds[0] == 0
    assert speeds == sorted(speeds[:5]) + sorted(speeds[5:], reverse=True)
    assert max(speeds) < Boat().hull_speed_kn
    assert polar_kn(Boat(), -angles[3], 14) == speeds[3]


def test_tacks_gybes_and_full_turns_are_sailed():
    swing = passage("swing-day", 0.5).track
    turned = np.degrees(np.unwrap(np.radians(swing.heading_true_deg.to_numpy())))
    first = turned[18 * 60] - turned[12 * 60]
    second = turned[27 * 60] - turned[21 * 60]
    assert first == pytest.approx(360, abs=12)
    assert second == pytest.approx(-360, abs=12)

    t = passage("clean").track
    side = np.sign(t.twa_water_deg.rolling(120, center=True).mean())
    changes = t.twa_water_deg[side.diff().abs() == 2].abs()
    assert (changes < 90).sum() == 3  # the plan of the clean passage: four legs of a beat,
    assert (changes > 90).sum() == 4  # then from reach to reach by the stern, and three gybes


def test_the_tide_turns_and_keeps_its_bounds():
    sea = SCENARIOS["tidal-stream"].sea
    hours = np.arange(0, 12.42, 1 / 360)
    current = draw_weather(sea, hours, 10.0, np.random.default_rng(1)).current
    assert abs(np.abs(current).max() - sea.tide_kn) < sea.stream_kn + 4 * sea.stream_wander_kn
    round_the_clock = np.unwrap(np.angle(current))
    assert abs(round_the_clock[-1] - round_the_clock[0]) == pytest.approx(2 * np.pi, abs=0.7)


def test_moored_means_not_moving():
    log = passage("moored", 0.5)
    assert log.track.sog_kn.max() < 1e-9
    _, stw = readings(log, "$VWVHW", 5)
    assert stw.max() < 0.2
    assert log.truth["summary"]["distance_over_ground_nm"] == pytest.approx(0, abs=1e-9)


# -- noise -------------------------------------------------------------------------------------------------


def test_noise_has_the_spread_and_memory_asked_for():
    x = wander(np.random.default_rng(3), 400_000, 0.1, 5.0, 2.0)
    assert x.std() == pytest.approx(2.0, rel=0.05)
    assert np.corrcoef(x[:-50], x[50:])[0, 1] == pytest.approx(np.exp(-1), abs=0.04)  # one memory later

    y = swell(np.random.default_rng(4), 400_000, 0.1, 6.0, 3.0)
    assert y.std() == pytest.approx(3.0, rel=0.05)
    power = np.abs(np.fft.rfft(y)) ** 2
    weighted = (np.fft.rfftfreq(len(y), 0.1) * power).sum() / power.sum()
    assert weighted == pytest.approx(1 / 6, rel=0.15)


def test_damping_and_delay_lag_a_ramp_by_their_time():
    ramp = np.arange(2000) * 0.1
    assert (ramp - damped(ramp, 0.1, 2.5))[-1] == pytest.approx(2.5, abs=1e-9)
    assert (ramp - delayed(ramp, 0.1, 1.3))[-1] == pytest.approx(1.3, abs=1e-9)


# -- the sentences -----------------------------------------------------------------------------------------


def xor(text: str) -> int:
    return reduce(operator.xor, text.encode(), 0)


def test_every_checksum_holds_but_the_damaged_ones():
    log = invent("clean", hours=0.5, errors=Errors(damaged=0.005))
    wrong = {
        number
        for number, line in enumerate(log.lines, start=1)
        if xor(line[1 : line.rindex("*")]) != int(line[-2:], 16)
    }
    assert wrong == set(log.damaged_lines)
    assert len(wrong) == pytest.approx(0.005 * len(log.lines), rel=0.3)
    assert not passage("clean").damaged_lines


def test_outside_parsers_read_every_sentence():
    log = invent("open-passage", hours=0.5, errors=Errors())
    formatters = set()
    for line in log.lines:
        if line.startswith("!"):
            continue
        parsed = pynmea2.parse(line, check=True)
        assert isinstance(parsed, pynmea2.TalkerSentence)
        formatters.add(parsed.sentence_type)
    assert formatters == {"RMC", "GGA", "ZDA", "HDG", "VHW", "MWV", "MWD", "DPT", "MTW", "VLW", "RSA", "XDR"}
    clean = {line[3:6] for line in passage("clean", 0.1).lines}
    assert clean == formatters | {"VTG", "GLL"}


def test_traffic_is_where_the_plan_puts_it():
    log = passage("open-passage", 2.0)
    with pyais.IterMessages([line.encode() for line in log.lines if line.startswith("!AIVDM")]) as stream:
        heard = [message.decode() for message in stream]
    assert {message.mmsi for message in heard} == {200000001, 200000002, 200000003}
    assert {m.shipname for m in heard if m.msg_type in (5, 24)} == {
        "SEVEN TERNS",
        "COBALT REACH",
        "SMALL HOURS",
    }
    first = next(message for message in heard if message.mmsi == 200000003)
    start = log.track.iloc[0]
    leg = Geodesic.WGS84.Inverse(start.lat_deg, start.lon_deg, first.lat, first.lon)
    assert leg["s12"] / 1852 == pytest.approx(9, abs=0.4)  # 9 nm off on 250, met within its first minutes
    assert leg["azi1"] % 360 == pytest.approx(250, abs=2)


def test_the_own_transponder_prints_where_the_boat_is():
    """Class B with carrier sense: every 30 s above 2 kn, every 3 min below (ITU-R M.1371)."""
    log = passage("open-passage", 2.0)
    said = [
        (time, pyais.decode(line).asdict())
        for time, line in zip(log.time_s, log.lines, strict=True)
        if line.startswith("!AIVDO")
    ]
    assert {one["mmsi"] for _, one in said} == {200000010}
    assert {one["shipname"] for _, one in said if one.get("shipname")} == {"TARNWHISTLE"}
    times, reports = zip(*((time, one) for time, one in said if one["msg_type"] == 18), strict=True)
    rows = np.floor(np.array(times) - log.track.index[0].timestamp()).astype(int)
    step, speed = np.diff(times), np.array([one["speed"] for one in reports[:-1]])
    due = np.where(speed > 2.0, 30.0, 180.0)
    assert np.abs(step - due).max() < 4  # each up to 1.5 s aside, then cut to whole seconds
    assert due.mean() < 40
    true = log.track.iloc[rows]
    north = (np.array([one["lat"] for one in reports]) - true["lat_deg"].to_numpy()) * 60 * 1852
    assert 0.5 < north.std() < 5  # drawn with 2 m
    assert [one["second"] for one in reports] == [int(time) % 60 for time in times]


def test_the_own_transponder_changes_no_other_line():
    bare = replace(SCENARIOS["open-passage"], own_mmsi=None)
    log, without = invent("open-passage", hours=0.1), invent(bare, hours=0.1)
    assert [line for line in log.lines if "VDO" not in line] == without.lines
    assert len(log.lines) > len(without.lines)


def test_lines_come_in_time_order_with_the_position_first():
    log = passage("clean", 0.1)
    assert (np.diff(log.time_s) >= 0).all()
    assert len(log.time_s) == len(log.lines)
    burst = [line[3:6] for line in log.lines[:5]]
    assert burst == ["RMC", "VTG", "GGA", "GLL", "ZDA"]
    for time, line in zip(log.time_s, log.lines, strict=True):
        if line[3:6] == "RMC":
            stamp = pynmea2.parse(line)
            assert stamp.datetime.timestamp() == np.floor(time)


def test_positions_are_printed_where_the_boat_is():
    log = passage("clean", 0.1)
    fixes = [pynmea2.parse(line) for line in log.lines if line[3:6] == "RMC"]
    lat, lon = np.array([(fix.latitude, fix.longitude) for fix in fixes]).T
    times = np.arange(len(fixes))
    ten_metres = 10 / 111_000
    np.testing.assert_allclose(lat, truth_at(log, "lat_deg", times), atol=ten_metres)
    np.testing.assert_allclose(lon, truth_at(log, "lon_deg", times), atol=ten_metres)


def test_midnight_turns_the_date():
    plan = Scenario(
        "Across midnight.", "2026-12-31T23:59:30", 10.0, 179.9999, 5.0, (Leg(2, "heading", 90, 6),)
    )
    log = invent(plan)
    stamps = [pynmea2.parse(line).datetime for line in log.lines if line[3:6] == "RMC"]
    steps = {(b - a).total_seconds() for a, b in pairwise(stamps)}
    assert steps == {1.0}
    assert stamps[-1].year == 2027


# -- the injected errors -----------------------------------------------------------------------------------

WIND = Errors(vane_offset_deg=5.0, wind_speed_factor=1.15, upwash_deg=-3.0)


def test_without_errors_the_sensors_tell_the_truth():
    log = passage("clean")
    for start, field, reference, column, tolerance in [
        ("$VWVHW", 5, "", "stw_kn", 0.02),
        ("$VWVHW", 1, "", "heading_true_deg", 0.05),
        ("$WIMWV", 3, "R", "aws_kn", 0.25),  # the mast's sway adds to the mean speed
        ("$WIMWV", 1, "R", "awa_deg", 0.3),
        ("$WIMWV", 1, "T", "twa_water_deg", 0.4),
        ("$WIMWV", 3, "T", "tws_water_kn", 0.3),
        ("$GPRMC", 7, "", "sog_kn", 0.01),
    ]:
        times, values = readings(log, start, field, reference)
        off = turn(values - truth_at(log, column, times))
        assert abs(np.mean(off)) < tolerance, (start, field)


def test_the_log_errs_by_its_factor_and_offset():
    errors = Errors(log_factor=1.08, log_zero_offset_kn=0.2)
    log = invent("clean", hours=0.5, errors=errors)
    times, shown = readings(log, "$VWVHW", 5)
    true = truth_at(log, "stw_kn", times)
    assert np.mean(1.08 * shown + 0.2) == pytest.approx(true.mean(), abs=0.02)
    assert true.mean() - shown.mean() > 0.5


def test_the_log_fouls():
    log = invent("clean", hours=1.5, errors=Errors(log_factor=1.02, log_fouling_per_h=0.06))
    times, shown = readings(log, "$VWVHW", 5)
    true = truth_at(log, "stw_kn", times)
    early, late = times < 900, times > times[-1] - 900
    growth = (true[late].mean() / shown[late].mean()) / (true[early].mean() / shown[early].mean())
    assert growth == pytest.approx((1 + 0.06 * 1.375) / (1 + 0.06 * 0.125), abs=0.005)  # middles of the spans
    assert log.truth["calibration"]["log_factor"] == pytest.approx(true.sum() / shown.sum(), abs=0.005)


def test_the_compass_errs_by_constant_and_deviation():
    b, c, d, e = 3.0, -2.0, 1.0, 0.5
    log = invent("swing-day", hours=0.5, errors=Errors(compass_constant_deg=4.0, deviation_deg=(b, c, d, e)))
    times, compass = readings(log, "$HCHDG", 1)
    true = truth_at(log, "heading_true_deg", times)
    h = np.radians(compass)
    correction = 4 + b * np.sin(h) + c * np.cos(h) + d * np.sin(2 * h) + e * np.cos(2 * h)
    left = turn(compass + correction - 4.1 - true)
    uncorrected = turn(compass - 4.1 - true)
    assert uncorrected.std() > 1.5
    for sector in range(8):
        inside = compass // 45 == sector
        assert inside.sum() > 100
        assert abs(np.median(left[inside])) < 0.25, sector


def test_the_wind_sensor_errs_by_offset_upwash_and_factor():
    log = invent("clean", hours=2.2, errors=WIND)
    times, shown = readings(log, "$WIMWV", 1, "R")
    _, speed = readings(log, "$WIMWV", 3, "R")
    true = truth_at(log, "awa_deg", times)
    airflow = turn(shown + 5.0)
    left = turn(airflow - 3.0 * upwash_shape(airflow) - true)
    for side in (airflow > 20) & (airflow < 50), (airflow < -20) & (airflow > -50), abs(airflow) > 100:
        assert side.sum() > 1000
        assert abs(np.median(left[side])) < 0.35
        assert abs(np.median(turn(shown - true)[side])) > 1.0
    assert np.mean(1.15 * speed) == pytest.approx(truth_at(log, "aws_kn", times).mean(), abs=0.3)


def test_upwash_is_stated_at_thirty_degrees_and_alike_on_both_tacks():
    angles = np.array([-150.0, -30.0, 0.0, 30.0, 90.0, 150.0])
    shape = upwash_shape(angles)
    np.testing.assert_allclose(shape[[1, 2, 3]], [-1, 0, 1], atol=1e-12)
    np.testing.assert_allclose(shape[0], -shape[-1])
    assert 0 < shape[-1] < 0.05 < shape[-2] < 1


def test_errors_leave_wind_and_sea_as_they_were():
    one, other = invent("clean", hours=0.5), invent("clean", hours=0.5, errors=WIND)
    np.testing.assert_array_equal(one.track.to_numpy(), other.track.to_numpy())
    assert one.lines != other.lines


def test_a_pilot_steering_by_the_display_makes_the_shown_angles_equal():
    plan = Scenario(
        "Two tacks by the display.", "2026-06-01T10:00:00", 33.0, -20.0, -4.7,
        (Leg(30, "awa", 35), Leg(30, "awa", -35)),
        sea=Sea(shift_deg=2), errors=Errors(vane_offset_deg=6.0),
    )  # fmt: skip
    log = invent(plan)
    times, shown = readings(log, "$WIMWV", 1, "R")
    settled = (times % 1800) > 300
    starboard, port = settled & (times < 1800), settled & (times > 1800)
    assert np.median(turn(shown[starboard])) == pytest.approx(35, abs=1.0)
    assert np.median(turn(shown[port])) == pytest.approx(-35, abs=1.0)
    true = truth_at(log, "awa_deg", times)
    assert np.median(true[starboard]) + np.median(true[port]) == pytest.approx(12, abs=1.5)


def test_barometer_offset():
    log = invent("clean", hours=0.3, errors=Errors(barometer_offset_hpa=-3.0))
    lines = [line for line in log.lines if line.startswith("$IIXDR,P")]
    shown = np.array([float(line.split(",")[2]) * 1000 for line in lines])
    assert shown.mean() - 3.0 == pytest.approx(log.track.air_pressure_hpa.mean(), abs=0.05)


def test_a_late_sensor_is_late():
    late = Errors(heading_delay_s=2.0, wind_delay_s=3.0, stw_delay_s=4.0)
    log = invent("swing-day", hours=0.5, errors=late)
    lags = {name: log.truth["calibration"][name] for name in ("heading_lag_s", "awa_lag_s", "stw_lag_s")}
    assert lags == pytest.approx({"heading_lag_s": 2.3, "awa_lag_s": 3.8, "stw_lag_s": 5.5})
    times, shown = readings(log, "$HCHDG", 1)
    true = np.degrees(np.unwrap(np.radians(log.track.heading_true_deg.to_numpy())))
    grid = np.arange(len(true))

    def misfit(lag: float) -> float:
        return float(np.mean(turn(shown - 4.1 - np.interp(times - lag, grid, true)) ** 2))

    lag = min(np.arange(0, 5, 0.1), key=misfit)
    assert lag == pytest.approx(2.3, abs=0.15)


def test_stuck_and_lost_sensors():
    errors = Errors(
        stuck=(Spell("log", 0.2, 0.3),), lost=(Spell("wind", 0.05, 0.1), Spell("gnss", 0.35, 0.4))
    )
    log = invent("clean", hours=0.5, errors=errors)
    hours = (log.time_s - log.time_s[0]) / 3600

    def spoken(formatter: str, start: float, end: float) -> list[str]:
        heard = zip(hours.tolist(), log.lines, strict=True)
        return [line for hour, line in heard if start < hour < end and line[3:6] == formatter]

    assert len({line.split(",")[5] for line in spoken("VHW", 0.201, 0.299)}) == 1
    assert len({line.split(",")[5] for line in spoken("VHW", 0.1, 0.199)}) > 20
    assert not spoken("MWV", 0.0501, 0.0999)
    assert not spoken("RMC", 0.3501, 0.3999)
    assert spoken("HDG", 0.3501, 0.3999)
    assert [(event["kind"], event["sensor"]) for event in log.truth["events"]] == [
        ("lost", "wind"), ("stuck", "log"), ("lost", "gnss"),
    ]  # fmt: skip


def test_a_compass_step_turns_the_heading():
    log = invent("one-course", hours=0.5, errors=Errors(compass_step_deg=-6.0, compass_step_at_h=0.25))
    times, shown = readings(log, "$HCHDG", 1)
    off = turn(shown - 4.7 - truth_at(log, "heading_true_deg", times))
    assert np.median(off[times < 890]) == pytest.approx(0, abs=0.2)
    assert np.median(off[times > 910]) == pytest.approx(6, abs=0.2)  # true = shown - 6
    assert log.truth["calibration"]["compass_constant_deg"] == pytest.approx(-3, abs=0.01)


def test_the_display_mixes_up_true_and_magnetic():
    log = passage("mixed-up-wind", 1.0)
    times, shown = readings(log, "$WIMWD", 1)
    off = np.median(turn(shown - truth_at(log, "twd_ground_deg", times)))
    assert off == pytest.approx(4.7, abs=0.6)  # variation 4.7 W left out


def test_a_mirrored_vane_swaps_port_and_starboard():
    log = invent("clean", hours=0.3, errors=Errors(vane_mirrored=True))
    times, shown = readings(log, "$WIMWV", 1, "R")
    assert np.median(turn(shown + truth_at(log, "awa_deg", times))) == pytest.approx(0, abs=1)


# -- the table, the settings, the files --------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_scenario_is_told_and_can_be_sailed(name):
    scenario = SCENARIOS[name]
    assert scenario.summary.endswith(".")
    assert scenario.hours <= 6
    log = invent(name, hours=0.1)
    assert len(log.track) == 360
    assert log.track.notna().all(axis=None)
    assert log.truth["scenario"] == name
    json.dumps(log.truth)


def test_missing_sensors_are_missing():
    assert not any(line[3:6] in ("MWV", "MWD") for line in passage("no-wind", 0.1).lines)
    heard = {line[3:6] for line in passage("no-gnss", 0.1).lines}
    assert not heard & {"RMC", "GGA", "GLL", "VTG"}
    assert "ZDA" in heard


def test_truth_names_and_summary():
    log = passage("open-passage", 2.0)
    truth, errors = log.truth, SCENARIOS["open-passage"].errors
    assert truth["calibration"]["log_factor"] == pytest.approx(errors.log_factor)
    assert truth["calibration"]["vane_offset_deg"] == errors.vane_offset_deg
    assert truth["calibration"]["deviation_B_deg"] == errors.deviation_deg[0]
    assert set(truth["calibration"]) >= {
        "compass_constant_deg", "deviation_C_deg", "deviation_D_deg", "deviation_E_deg", "wind_speed_factor",
        "leeway_coefficient", "upwash_deg", "barometer_offset_hpa",
    }  # fmt: skip
    east, north = east_north(log.track.drift_kn, log.track.set_deg).mean(axis=1)
    assert truth["current"]["mean_drift_kn"] == pytest.approx(np.hypot(east, north))
    assert truth["current"]["mean_set_deg"] == pytest.approx(np.degrees(np.arctan2(east, north)) % 360)
    assert truth["summary"]["distance_over_ground_nm"] == pytest.approx(2 * log.track.sog_kn.mean())


def test_one_seed_one_log():
    assert invent("clean", 5, 0.05).log_bytes() == invent("clean", 5, 0.05).log_bytes()
    assert invent("clean", 5, 0.05).log_bytes() != invent("clean", 6, 0.05).log_bytes()


def test_a_longer_passage_sails_the_plan_again():
    plan = Scenario("Back and forth.", "2026-06-01T10:00:00", 33.0, -20.0, 0.0, (
        Leg(1, "heading", 90, 5), Leg(1, "heading", 270, 5),
    ))  # fmt: skip
    track = invent(plan, hours=0.1).track
    assert len(track) == 360
    headings = track.heading_true_deg.to_numpy()[50::60]
    np.testing.assert_allclose(headings, [90, 270] * 3, atol=12)


def test_a_shorter_passage_is_the_start_of_a_longer_one():
    short, long = invent("open-passage", hours=0.05), passage("open-passage", 2.0)
    assert short.lines[:-20] == long.lines[: len(short.lines) - 20]


@pytest.mark.parametrize("hours", [0, -1, 1e6, float("nan")])
def test_senseless_hours_are_refused(hours):
    with pytest.raises(SettingError, match="hours"):
        invent("clean", hours=hours)


def test_an_unknown_scenario_lists_the_known_ones():
    with pytest.raises(SettingError, match="riggers-case"):
        invent("atlantis")


def test_wrappings():
    lines, times = ["$HCHDG,1.0,,,,*5C", "!X,1*2A"], np.array([1777636800.123, 1767225600.0])
    assert wrap_lines(lines, times) == lines
    assert wrap_lines(lines, times, "iso")[0] == "2026-05-01T12:00:00.123Z $HCHDG,1.0,,,,*5C"
    assert wrap_lines(lines, times, "csv") == [
        "timestamp,sentence",
        '1777636800123,"$HCHDG,1.0,,,,*5C"',
        '1767225600000,"!X,1*2A"',
    ]
    tagged = wrap_lines(lines, times, "tag")[1]
    assert tagged == f"\\s:DEV,c:1767225600*{xor('s:DEV,c:1767225600'):02X}\\!X,1*2A"
    with pytest.raises(SettingError, match="bare, iso, tag or csv"):
        wrap_lines(lines, times, "xml")


def test_files_hold_the_log_and_its_truth(tmp_path):
    log = invent("clean", hours=0.02)
    plain = log.log_bytes()
    assert plain.endswith(b"\r\n")
    assert plain.count(b"\r\n") == len(log.lines)
    for name in ("a.nmea", "b.nmea.gz", "c.log.zip", "d.nmea.zst"):
        path, truth = write_invention(log, tmp_path / name)
        assert truth.name == f"{name[0]}.truth.json"
        assert json.loads(truth.read_text()) == log.truth
        packed = path.read_bytes()
        write_invention(log, path)
        assert path.read_bytes() == packed
    assert (tmp_path / "a.nmea").read_bytes() == plain
    assert gzip.decompress((tmp_path / "b.nmea.gz").read_bytes()) == plain
    assert zipfile.ZipFile(tmp_path / "c.log.zip").read("c.log") == plain
    assert zstandard.ZstdDecompressor().decompress((tmp_path / "d.nmea.zst").read_bytes()) == plain


def test_a_file_may_be_wrapped(tmp_path):
    log = invent("clean", hours=0.02)
    path, _ = write_invention(log, tmp_path / "a.csv", wrap="csv")
    header, first, *_ = path.read_text().splitlines()
    assert header == "timestamp,sentence"
    assert first == f'{round(log.time_s[0] * 1000)},"{log.lines[0]}"'
    with pytest.raises(SettingError, match="xml"):
        write_invention(log, tmp_path / "b.xml", wrap="xml")
    assert not (tmp_path / "b.xml").exists()


def test_a_missing_folder_is_told(tmp_path):
    with pytest.raises(WriteError, match="no folder"):
        write_invention(invent("clean", hours=0.02), tmp_path / "nowhere" / "a.nmea")


@pytest.mark.parametrize("name", ["open-passage", "swing-day", "riggers-case"])
def test_samples_are_small_and_told(name):
    path = SAMPLES / f"{name}.nmea.gz"
    assert path.stat().st_size < 3_000_000
    assert name in (SAMPLES / "README.md").read_text()
    lines = gzip.decompress(path.read_bytes()).split(b"\r\n")
    truth = json.loads(truth_path(path).read_text())
    log = invent(name, seed=truth["seed"], hours=0.1)
    head = [line.encode() for line in log.lines[:2000]]
    assert lines[: len(head)] == head
    assert truth["about"] == SCENARIOS[name].summary


def test_a_spell_is_hours_from_the_start():
    errors = Errors(lost=(Spell("compass", 0.01, 0.02),))
    log = invent("clean", hours=0.03, errors=errors)
    times, _ = readings(log, "$HCHDG", 1)
    assert not ((times > 36.2) & (times < 72)).any()
    assert (times < 36).any()
    assert (times > 72).any()
