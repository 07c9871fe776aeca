"""What is said of clock, line, barometer, sounder and water temperature, from logs written here.

All sizes are put in by the test; limits are those of the rules, whose sources stand beside them.
"""

import json
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from analysis import Estimate, read_log, review
from analysis.calibration.barometer import BarometerCheck, check_barometer
from analysis.findings import SEVERITIES, barometer, clock, depth, reading, temperature
from analysis.phrasing import with_checksums
from analysis.reading.pressure import PressureReference

NOON_S = 43200
RULES = (*clock.RULES, *reading.RULES, *barometer.RULES, *depth.RULES, *temperature.RULES)


def rmc(second, told_s=None, sog_kn=6.0, date="010626"):
    """A boat that goes north at ``sog_kn`` from 50 N; ``told_s`` is the time the receiver tells."""
    told_s = NOON_S + second if told_s is None else told_s
    minutes = sog_kn * second / 3600
    return (
        f"GPRMC,{told_s // 3600 % 24:02d}{told_s // 60 % 60:02d}{told_s % 60:02d}.00,A,"
        f"{5000 + minutes:.4f},N,00100.0000,W,{sog_kn:.1f},000.0,{date},,"
    )


def log_of(folder, seconds=1200, more=lambda second: (), fix=rmc):
    """Read a log of a fix a second, and after each what ``more`` tells at that second."""
    bodies = [body for second in range(seconds) for body in (fix(second), *more(second))]
    return read(folder, with_checksums(bodies))


def read(folder, lines):
    path = folder / "a.log"
    path.write_text("".join(f"{line}\r\n" for line in lines))
    return read_log(path)


def found(passage, offset=None, check=None):
    """Findings of all rules here, after what every finding must obey."""
    estimates = {} if offset is None else {"barometer_offset_hpa": offset}
    case = SimpleNamespace(passage=passage, calibration=SimpleNamespace(estimates=estimates), barometer=check)
    findings = [finding for rule in RULES for finding in rule(case)]
    for one in findings:
        assert one.severity in SEVERITIES
        assert one.title.endswith(".") and one.title.count("\n") == 0 and one.action and one.verify
        assert "_" not in one.title
        assert (one.value is None) or isinstance(one.value, float)
        json.dumps(dict(one.evidence), allow_nan=False)
    return findings


def only(findings):
    (finding,) = findings
    return finding


# --- a sound log -------------------------------------------------------------------------------------------------


def sound(second):
    wave = np.sin(second / 3)
    return (
        f"IIVHW,,,,,{6 + 0.1 * wave:.2f},N,,",
        f"SDDPT,{20 + wave:.1f},-1.6",
        f"SDMTW,{16 + 0.0002 * second:.1f},C",
        f"WIXDR,P,{1.0131 - 1e-6 * second:.4f},B,Baro",
    )


def test_nothing_is_said_of_a_sound_log(tmp_path):
    assert found(log_of(tmp_path, more=sound)) == []


# --- clock -------------------------------------------------------------------------------------------------------


def test_a_clock_that_leaps_forward_under_way(tmp_path):
    passage = log_of(tmp_path, fix=lambda s: rmc(s, NOON_S + s + (900 if s >= 600 else 0)), more=sound)
    finding = only(found(passage))
    assert (finding.id, finding.severity, finding.evidence["fact"]) == ("clock", "fault", "clock-leapt")
    assert finding.evidence["leap_s"] == pytest.approx(900, abs=3)


def test_a_recorder_switched_off_for_a_while_is_no_leap(tmp_path):
    def fix(second):
        later = second + (900 if second >= 600 else 0)
        return rmc(later)

    assert found(log_of(tmp_path, fix=fix)) == []


def test_a_boat_at_rest_may_be_where_she_was(tmp_path):
    fix = lambda s: rmc(s, NOON_S + s + (900 if s >= 600 else 0), sog_kn=0.0)  # noqa: E731
    assert found(log_of(tmp_path, fix=fix)) == []


@pytest.mark.parametrize("back_s", [300, 3000])
def test_a_clock_that_is_set_back(tmp_path, back_s):
    passage = log_of(tmp_path, 6000, fix=lambda s: rmc(s, NOON_S + s - (back_s if s >= 4000 else 0)))
    finding = found(passage)[0]
    assert (finding.id, finding.severity) == ("clock", "fault")
    assert finding.evidence["fact"] in ("clock-stepped-back", "clock-backward")


def test_a_clock_set_back_makes_no_two_instruments_of_one(tmp_path):
    """Two parts of the log tell the same times: what one log and one compass said in each is no disagreement."""

    def instruments(second):
        first = second < 4000
        return (f"IIVHW,,,,,{6.0 if first else 8.0:.2f},N,,", f"IIHDT,{0 if first else 40:.1f},T")

    log_of(tmp_path, 6000, instruments, lambda s: rmc(s, NOON_S + s - (3000 if s >= 4000 else 0)))
    told = review(tmp_path / "a.log")
    assert {"stw_kn", "heading_true_deg"} <= {one.channel for one in told.case.agreement if one.disagrees}
    ids = {one.id for one in told.findings if one.severity != "note"}
    assert "clock" in ids and not ids & {"sources-disagree", "gnss-jumps"}


def test_a_day_told_twice(tmp_path):
    evening_s = 86400 - 600
    passage = log_of(tmp_path, fix=lambda s: rmc(s, (evening_s + s) % 86400))
    finding = found(passage)[0]
    assert (finding.id, finding.severity, finding.evidence["fact"]) == (
        "clock",
        "fault",
        "clock-stepped-back",
    )


def test_stamps_in_local_time_are_noted(tmp_path):
    lines = with_checksums([rmc(s) for s in range(300)])
    stamped = [f"2026-06-01 14:{s // 60:02d}:{s % 60:02d}.100 {line}" for s, line in enumerate(lines)]
    finding = only(found(read(tmp_path, stamped)))
    assert (finding.id, finding.severity, finding.evidence["fact"]) == ("clock", "note", "stamps-local")
    assert finding.evidence["zone_h"] == 2.0


def test_two_clocks_apart(tmp_path):
    passage = log_of(tmp_path, more=lambda s: (rmc(s, NOON_S + s - 25).replace("GPRMC", "IIRMC"),))
    clocks = [one for one in found(passage) if one.id == "clock"]
    assert [one.severity for one in clocks] == ["advice"]
    assert clocks[0].evidence["lag_s"] == pytest.approx(-25, abs=1.5)


# --- line --------------------------------------------------------------------------------------------------------


def damaged(lines, share):
    rng = np.random.default_rng(2)
    return [line.replace("A", "B", 1) if rng.random() < share else line for line in lines]


@pytest.mark.parametrize(("share", "severity"), [(0.02, "advice"), (0.09, "fault")])
def test_damaged_sentences(tmp_path, share, severity):
    lines = damaged(with_checksums([rmc(s) for s in range(3000)]), share)
    finding = only(found(read(tmp_path, lines)))
    assert (finding.id, finding.severity) == ("checksum-errors", severity)
    assert finding.value == pytest.approx(100 * share, rel=0.3)
    assert abs(finding.value - 100 * share) < 3 * finding.sd


def test_a_few_damaged_sentences_are_nothing(tmp_path):
    assert found(read(tmp_path, damaged(with_checksums([rmc(s) for s in range(3000)]), 0.002))) == []


def test_sentences_that_do_not_all_come(tmp_path):
    came = np.random.default_rng(3).random(1200) > 0.25
    passage = log_of(tmp_path, more=lambda s: sound(s)[0 if came[s] else 1 :])
    finding = only(found(passage))
    assert (finding.id, finding.severity) == ("sentences-missing", "advice")
    assert finding.value == pytest.approx(100 * (~came).mean(), abs=1)
    assert "IIVHW" in finding.title


def test_a_sounder_without_a_bottom_loses_no_sentences(tmp_path):
    came = np.random.default_rng(3).random(1200) > 0.25
    assert (
        found(log_of(tmp_path, more=lambda s: (f"SDDPT,{20.0 + s % 7 / 10 if came[s] else ''},-1.6",))) == []
    )


def test_a_port_that_is_full(tmp_path):
    came = np.random.default_rng(3).random(1200) > 0.25
    filling = [f"GPTXT,01,01,02,{'x' * 60}"] * 5
    passage = log_of(tmp_path, more=lambda s: (*filling, *(["GPHDT,90.0,T"] if came[s] else [])))
    finding = only([one for one in found(passage) if one.subject == "line"])
    assert finding.id == "port-overloaded"
    assert finding.value >= 90


def test_a_port_that_talkers_fill_together(tmp_path):
    came = np.random.default_rng(3).random(1200) > 0.25
    filling = [f"{talker}TXT,01,01,02,{'x' * 60}" for talker in ("GP", "II", "SD", "HC", "WI")]
    passage = log_of(tmp_path, more=lambda s: (*filling, *(["HCHDT,0.0,T"] if came[s] else [])))
    finding = only([one for one in found(passage) if one.subject == "line"])
    assert finding.id == "port-overloaded"
    assert "all talkers" in finding.title


def test_a_faster_port_is_not_full(tmp_path):
    came = np.random.default_rng(3).random(1200) > 0.25
    filling = [f"GPTXT,01,01,02,{'x' * 60}"] * 8
    passage = log_of(tmp_path, more=lambda s: (*filling, *(["GPHDT,0.0,T"] if came[s] else [])))
    assert [one.id for one in found(passage) if one.subject == "line"] == ["sentences-missing"]


def test_an_instrument_that_falls_silent_under_way(tmp_path):
    passage = log_of(tmp_path, 2400, more=lambda s: sound(s) if s < 900 else sound(s)[1:])
    finding = only(found(passage))
    assert (finding.id, finding.subject, finding.severity) == ("instrument-silent", "log", "fault")
    assert finding.value == pytest.approx(1500 / 3600, abs=0.01)


def test_instruments_switched_off_in_harbour_are_no_fault(tmp_path):
    passage = log_of(
        tmp_path,
        2400,
        more=lambda s: sound(s) if s < 900 else (),
        fix=lambda s: rmc(s, sog_kn=6.0 * (s < 900)),
    )
    assert found(passage) == []


# --- barometer ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sentence", "then_hpa"),
    [
        ("WIXDR,P,29.92,B,Baro", 1013.2),
        ("WIXDR,P,1013.2,B,Baro", 1013.2),
        ("WIXDR,P,1013.2,P,Baro", 1013.2),
        ("WIXDR,P,29.92,P,Baro", 1013.2),
        ("WIXDR,P,29.92,H,Baro", 1013.2),
        ("WIXDR,P,760,H,Baro", 1013.25),
        ("WIMDA,1013.2,I,,B,,,,,,,,,,,,,,,,", 1013.2),
    ],
)
def test_a_pressure_in_another_unit(tmp_path, sentence, then_hpa):
    finding = only(found(log_of(tmp_path, 200, more=lambda s: (sentence,))))
    assert (finding.id, finding.severity) == ("barometer-unit", "fault")
    assert finding.evidence["then_hpa"] == pytest.approx(then_hpa, abs=0.1)


def test_a_pressure_beyond_every_record(tmp_path):
    finding = only(found(log_of(tmp_path, 200, more=lambda s: ("WIXDR,P,1.0923,B,Baro",))))
    assert (finding.id, finding.severity, finding.determined) == ("barometer-offset", "fault", False)


def test_a_pressure_that_jumps(tmp_path):
    rng = np.random.default_rng(8)
    shown = 1013 + 0.05 * rng.standard_normal(1200) - 4.0 * (np.arange(1200) >= 700)
    passage = log_of(tmp_path, more=lambda s: (f"WIXDR,P,{shown[s] / 1000:.5f},B,Baro",))
    finding = only(found(passage))
    assert (finding.id, finding.severity) == ("barometer-jump", "advice")
    assert abs(finding.value + 4.0) < 3 * finding.sd < 0.2
    assert finding.evidence["jumps"][0]["time_utc"].startswith("2026-06-01T12:11:")


def test_a_squall_and_coarse_steps_are_weather(tmp_path):
    shown = 1013 + 4.0 / (1 + np.exp(-(np.arange(1200) - 600) / 60))
    assert found(log_of(tmp_path, more=lambda s: (f"WIXDR,P,{shown[s] / 1000:.3f},B,Baro",))) == []


@pytest.mark.parametrize(("offset_hpa", "severity"), [(1.0, None), (2.5, "advice"), (-7.0, "fault")])
def test_an_offset_against_a_reference(tmp_path, offset_hpa, severity):
    passage = log_of(tmp_path, more=sound)
    check = check_barometer(passage.frame, PressureReference(None, np.array([1012.5 + offset_hpa])))
    findings = found(passage, check.offset, check)
    assert [(one.id, one.severity) for one in findings] == (
        [("barometer-offset", severity)] if severity else []
    )
    for one in findings:
        assert abs(one.value - offset_hpa) < 1.96 * one.sd
        assert f"{one.value:+.1f} hPa" in one.action


def test_a_barometer_that_shows_half_the_change(tmp_path):
    check = BarometerCheck(Estimate(0.2, 0.5, "hPa", True), 0.5, 0.03, hours=24.0)
    finding = only(found(log_of(tmp_path, 100), check.offset, check))
    assert (finding.id, finding.severity, finding.value) == ("barometer-scale", "advice", 0.5)


# --- sounder -----------------------------------------------------------------------------------------------------


def test_an_offset_that_changes_on_the_way(tmp_path):
    passage = log_of(tmp_path, more=lambda s: (f"SDDPT,20.{s % 7},{0.5 if s < 700 else -1.6}",))
    finding = only(found(passage))
    assert (finding.id, finding.severity) == ("depth-offset", "advice")
    assert finding.value == pytest.approx(-2.1)
    assert finding.evidence["time_utc"] == "2026-06-01T12:11:40Z"


def test_an_offset_no_yacht_has(tmp_path):
    finding = only(found(log_of(tmp_path, more=lambda s: (f"SDDPT,20.{s % 7},-16.0",))))
    assert (finding.id, finding.value) == ("depth-offset", -16.0)


@pytest.mark.parametrize(
    ("formatter", "offset_m", "apart_m", "value_m"),
    [
        ("DBS", 0.5, 0.5, None),
        ("DBS", 0.5, 1.9, 1.4),
        ("DBS", -1.6, 0.5, None),
        ("DBS", 0.5, -1.6, -1.6),
        ("DBK", -1.6, -1.6, None),
        ("DBK", -1.6, -2.8, -1.2),
        ("DBK", -1.6, 1.6, 1.6),
    ],
)
def test_depths_below_surface_and_keel(tmp_path, formatter, offset_m, apart_m, value_m):
    def more(second):
        metres = 15 + 3 * np.sin(second / 200)
        return f"SDDPT,{metres:.1f},{offset_m}", f"SD{formatter},,f,{metres + apart_m:.1f},M,,F"

    findings = found(log_of(tmp_path, more=more))
    if value_m is None:
        assert findings == []
    else:
        finding = only(findings)
        assert (finding.id, finding.severity) == ("depth-offset", "advice")
        assert abs(finding.value - value_m) < 3 * finding.sd


def test_a_lost_bottom_is_noted(tmp_path):
    lost = np.random.default_rng(1).random(1200) < 0.05
    passage = log_of(tmp_path, more=lambda s: (f"SDDPT,{0.0 if lost[s] else 30 + s % 5 / 10:.1f},",))
    finding = only(found(passage))
    assert (finding.id, finding.severity) == ("depth-spikes", "note")
    assert finding.value == pytest.approx(100 * lost.mean(), rel=0.2)


# --- water temperature -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shown_c", "words"),
    [
        (lambda s: 0.0, "exactly 0 °C throughout"),
        (lambda s: 0.0 if s % 3 else 15.0, "in 67 % of its readings"),
        (lambda s: 61.0, "as °F it would be 16.1 °C"),
        (lambda s: 289.2, "as kelvin it would be 16.1 °C"),
        (lambda s: 41.0, "in no sea anywhere; as °F it would be 5.0 °C"),
        (lambda s: 33.0, "in no sea at this latitude; as °F it would be 0.6 °C"),
        (lambda s: 99.9, "is impossible."),
        (lambda s: 16.0 if s < 700 else 24.0, "jumps by +8.0"),
    ],
)
def test_temperatures_no_sea_has(tmp_path, shown_c, words):
    finding = only(found(log_of(tmp_path, more=lambda s: (f"SDMTW,{shown_c(s):.1f},C",))))
    assert (finding.id, finding.severity) == ("water-temperature", "advice")
    assert words in finding.title


@pytest.mark.parametrize("shown_c", [-1.5, 0.4, 16.0, 28.0])
def test_temperatures_some_sea_has(tmp_path, shown_c):
    assert found(log_of(tmp_path, more=lambda s: (f"SDMTW,{shown_c:.1f},C",))) == []


def test_a_number_for_no_reading_now_and_then_is_noted(tmp_path):
    finding = only(found(log_of(tmp_path, more=lambda s: (f"SDMTW,{16.0 if s % 20 else 999.9},C",))))
    assert (finding.id, finding.severity) == ("water-temperature", "note")


def test_a_front_crossed_in_a_minute_is_no_jump(tmp_path):
    shown_c = 16 + 6 / (1 + np.exp(-(np.arange(1200) - 600) / 20))
    assert found(log_of(tmp_path, more=lambda s: (f"SDMTW,{shown_c[s]:.1f},C",))) == []


@pytest.mark.recording
def test_the_real_recordings_meet_no_false_alarm(recordings):
    for name in ("moored_2020.nmea", "berth_2021_a.nmea", "berth_windy_2021.nmea", "yacht_sailing_2018.log"):
        assert [one for one in found(read_log(recordings / name)) if one.severity != "note"] == []


def test_frames_are_left_as_they_are(tmp_path):
    passage = log_of(tmp_path, 300, more=sound)
    before = passage.frame.copy()
    found(passage)
    pd.testing.assert_frame_equal(passage.frame, before)
