"""Every instrument at a glance."""

from dataclasses import replace

import pytest

from analysis import Estimate, Finding
from analysis.verdicts import verdicts

FAULT = Finding("x", "log", "fault", "It is off.", None, None, "", True, {}, "", "", "")
LOGGED = ("stw_kn", "awa_deg", "aws_kn", "depth_m")


def words(*findings: Finding, **estimates: Estimate) -> dict[str, str]:
    return {one.instrument: one.word for one in verdicts(findings, estimates, LOGGED)}


def test_findings_come_before_estimates_and_the_worst_first() -> None:
    advice = replace(FAULT, subject="wind vane", severity="advice")
    note = replace(FAULT, subject="anemometer", severity="note")
    told = verdicts((advice, FAULT, note), {"log_factor": Estimate(1.0, 0.001, "1", True)}, LOGGED)
    assert [(one.instrument, one.word, one.findings) for one in told[:2]] == [
        ("log", "wrong", (1,)),
        ("wind vane", "off", (0,)),
    ]


def test_without_an_alarm_the_correction_judges() -> None:
    told = words(
        log_factor=Estimate(1.01, 0.002, "1", True), vane_offset_deg=Estimate(None, None, "deg", False)
    )
    assert told["log"] == "in order"
    assert told["wind vane"] == "not told"
    assert told["anemometer"] == "nothing found"
    assert told["barometer"] == "not recorded"


def test_what_is_probably_off_is_not_in_order() -> None:
    likely = replace(FAULT, id="wind-speed-factor", subject="anemometer", severity="note")
    told = verdicts((likely,), {"wind_speed_factor": Estimate(1.19, 0.065, "1", True)}, LOGGED)
    [anemometer] = [one for one in told if one.instrument == "anemometer"]
    assert (anemometer.word, anemometer.findings) == ("not told", (0,))


def test_the_rudder_is_judged_by_its_offset() -> None:
    estimates = {"rudder_offset_deg": Estimate(0.2, 0.1, "deg", True)}
    told = {one.instrument: one for one in verdicts((), estimates, ("rudder_deg",))}
    assert told["rudder sensor"].word == "in order"
    assert told["rudder sensor"].within == pytest.approx(0.396)  # by hand: 0.2 + 1.96 x 0.1


def test_in_order_says_within_what() -> None:
    estimates = {"log_factor": Estimate(0.99, 0.002, "1", True)}
    log = next(one for one in verdicts((), estimates, LOGGED) if one.instrument == "log")
    # by hand: 0.01 off and 1.96 x 0.002
    assert log.within == pytest.approx(0.01392)


def test_other_subjects_come_in_only_when_off() -> None:
    assert "clock" not in words(replace(FAULT, subject="clock", severity="note"))
    assert words(replace(FAULT, subject="clock"))["clock"] == "wrong"
    assert words(replace(FAULT, subject="wind speed"))["anemometer"] == "wrong"


def test_among_equals_the_first_finding_leads() -> None:
    told = verdicts((replace(FAULT, subject="clock"), FAULT), {}, LOGGED)
    assert [one.instrument for one in told[:2]] == ["clock", "log"]
