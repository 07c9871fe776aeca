"""What is said of stuck, jumping, mirrored and mislabelled sensors, from accounts made by hand."""

import json
from types import SimpleNamespace

import pandas as pd
import pytest

from analysis.findings import SEVERITIES, gnss, heel, stuck, vane_gross
from analysis.screening import Doubt, Mistake, Screened, Unfit

START = pd.Timestamp("2026-06-01T10:15:00Z")
RULES = (
    stuck.stuck, gnss.jumps, gnss.poor_fix, gnss.cog_noise, vane_gross.speed_units, vane_gross.mirrored,
    vane_gross.reversed_vane, vane_gross.wind_unit, vane_gross.drop_outs, heel.signs, heel.zero,
)  # fmt: skip
TACKS = {"starboard_tack": 9.0, "port_tack": -7.0, "measured": 8.0, "minutes": 120.0}
STEADIER = {"wind_changes_shown_kn": 9.0, "wind_changes_undone_kn": 1.6, "hours_with_turns": 4.0}
FACTOR = {"measured_factor": 1.9, "measured_factor_sd": 0.05}


def found(unfit=(), mistakes=(), doubts=()):
    """Findings of all rules here, after what every finding must obey."""
    screened = Screened(pd.DataFrame(), tuple(unfit), tuple(mistakes), tuple(doubts))
    case = SimpleNamespace(screened=screened, passage=SimpleNamespace(facts=()))
    findings = [finding for rule in RULES for finding in rule(case)]
    for one in findings:
        assert one.severity in SEVERITIES
        assert one.title.endswith(".") and one.action and one.verify
        assert "_" not in one.title
        json.dumps(dict(one.evidence), allow_nan=False)
    return findings


def unfit(channel, reason="stuck", minutes=125.0, value=5.3, after_min=0.0):
    start = START + pd.Timedelta(minutes=after_min)
    return Unfit(channel, start, start + pd.Timedelta(minutes=minutes), reason, value)


def test_nothing_is_said_of_nothing():
    assert found() == []


@pytest.mark.parametrize(
    ("channel", "name"),
    [
        ("stw_kn", "log-stuck"),
        ("awa_deg", "vane-stuck"),
        ("aws_kn", "wind-speed-stuck"),
        ("heading_true_deg", "compass-stuck"),
        ("cog_deg", "cog-frozen"),
        ("sog_kn", "cog-frozen"),
        ("lat_deg", "position-frozen"),
        ("heel_deg", "heel-stuck"),
        ("air_pressure_hpa", "barometer-stuck"),
    ],
)
def test_every_stuck_channel_is_a_fault_of_its_own(channel, name):
    (finding,) = found([unfit(channel)])
    assert (finding.id, finding.severity, finding.determined) == (name, "fault", True)
    assert "for 2 h 05 min from 10:15 UTC" in finding.title
    assert (finding.value, finding.unit) == (125.0, "min")


def test_a_log_stuck_more_than_once_is_one_finding():
    (finding,) = found([unfit("stw_kn", minutes=1), unfit("stw_kn", minutes=50, after_min=60, value=0.0)])
    assert finding.title == "The log stands still at 0.0 kn for 50 min from 11:15 UTC, and at 1 other time."
    assert len(finding.evidence["stretches"]) == 2
    assert finding.value == 51.0


def test_a_frozen_receiver_is_told_once():
    assert [one.id for one in found([unfit("cog_deg"), unfit("sog_kn")])] == ["cog-frozen"]


def test_a_sounder_that_holds_its_depth_and_a_coarse_barometer_are_only_noted():
    notes = found([unfit("depth_m", value=120.0), unfit("air_pressure_hpa", value=1013.0)])
    assert {(one.id, one.severity) for one in notes} == {("depth-stuck", "note"), ("barometer-stuck", "note")}


def test_jumps_of_the_position_come_with_the_farthest():
    (finding,) = found([unfit("lat_deg", "jump", 1, 320.0), unfit("lat_deg", "jump", 1, 1852.0)])
    assert (finding.id, finding.severity, finding.value, finding.unit) == ("gnss-jumps", "fault", 1852.0, "m")
    assert "2 times" in finding.title and "1,852 ± 13 m" in finding.title


def test_spikes_of_sog_alone_are_jumps_too():
    (finding,) = found([unfit("sog_kn", "jump", 0, 44.0)])
    assert (finding.id, finding.value, finding.unit) == ("gnss-jumps", 44.0, "kn")


@pytest.mark.parametrize(
    ("share", "duration_s", "severity"),
    [(0.02, 120.0, "note"), (0.02, 900.0, "advice"), (0.2, 300.0, "advice")],
)
def test_a_poor_fix_is_advice_where_it_lasts(share, duration_s, severity):
    evidence = {"share": share, "hdop_most": 11.2, "satellites_least": 3.0}
    (finding,) = found(doubts=[Doubt("lat_deg", "poor fix", share, duration_s, evidence)])
    assert (finding.id, finding.severity) == ("poor-fix", severity)
    assert "HDOP up to 11.2, down to 3 satellites" in finding.title


def test_scatter_of_the_course_at_low_speed_is_a_note():
    (finding,) = found(doubts=[Doubt("cog_deg", "noise", 20.0, 1800.0, {"above_2_kn_deg": 2.0})])
    assert (finding.id, finding.severity) == ("cog-noise", "note")
    assert "39°" in finding.title  # 1.96 x 20


@pytest.mark.parametrize(("kind", "name"), [("mirrored", "vane-mirrored"), ("reversed", "vane-reversed")])
def test_a_vane_of_the_wrong_side_is_a_fault(kind, name):
    (finding,) = found(mistakes=[Mistake("awa_deg", kind, evidence=STEADIER)])
    assert (finding.id, finding.severity) == (name, "fault")
    assert "from 9.0 to 1.6 kn" in finding.title


@pytest.mark.parametrize(
    ("channel", "factor", "name", "words"),
    [
        ("aws_kn", 3600 / 1852, "wind-speed-unit", "in m/s but called knots"),
        ("aws_kn", 1 / 1.852, "wind-speed-unit", "in km/h but called knots"),
        ("aws_kn", 1.852, "wind-speed-unit", "in knots but taken for km/h"),
        ("stw_kn", 1852 / 3600, "log-unit", "in knots but taken for m/s"),
        ("sog_kn", 3600 / 1852, "sog-unit", "in m/s but called knots"),
    ],
)
def test_a_wrong_unit_is_named(channel, factor, name, words):
    (finding,) = found(mistakes=[Mistake(channel, "unit", factor, evidence=FACTOR)])
    assert (finding.id, finding.severity, finding.value) == (name, "fault", factor)
    assert words in finding.title and f"{factor:.3f} × shown" in finding.action


def test_drop_outs_are_counted():
    (one,) = found([unfit("aws_kn", "drop-out", 0.2)])
    assert (one.id, one.severity, one.value) == ("wind-drop-outs", "advice", 1.0)
    (many,) = found([unfit("aws_kn", "drop-out", 0.2)] * 4)
    assert (many.severity, many.value) == ("fault", 4.0)


def test_signs_of_heel_and_leeway_are_told_once_each():
    findings = found(
        mistakes=[
            Mistake("heel_deg", "sign", -1.0, sd=0.3, evidence=TACKS),
            Mistake("leeway_deg", "sign", -1.0, sd=0.2, evidence=TACKS | {"measured": 2.0}),
            Mistake("stw_across_kn", "sign", -1.0, sd=0.02, evidence=TACKS | {"measured": 0.2}),
        ]
    )
    assert [one.id for one in findings] == ["heel-sign", "leeway-sign"]
    assert "8.0 ± 0.6° to windward" in findings[0].title  # 1.96 x 0.3


@pytest.mark.parametrize(
    ("offset_deg", "side", "severity"), [(-3.5, "starboard", "advice"), (6.0, "port", "fault")]
)
def test_the_zero_of_the_heel_is_what_to_enter(offset_deg, side, severity):
    (finding,) = found(mistakes=[Mistake("heel_deg", "zero", 1.0, offset_deg, sd=0.5, evidence=TACKS)])
    assert (finding.id, finding.severity, finding.value) == ("heel-zero", severity, offset_deg)
    assert side in finding.title and f"{offset_deg:+.1f}°" in finding.action
