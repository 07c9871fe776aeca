"""The findings on the wind sensor: what is told, in which words, and what is kept quiet."""

from types import SimpleNamespace

import pytest

from analysis.calibration.results import Evidence
from analysis.estimate import Estimate
from analysis.findings.wind import RULES


def told(vane=(0.0, 0.5), factor=(1.0, 0.03), upwash=(0.0, 1.0), determined=True):
    """Findings on estimates given as value and one-sigma."""
    estimates = {
        "vane_offset_deg": Estimate(*vane, "deg", determined),
        "wind_speed_factor": Estimate(*factor, "1", determined),
        "upwash_deg": Estimate(*upwash, "deg", determined),
    }
    evidence = (Evidence("symmetric sailing", "vane_offset_deg", vane[0], vane[1], 30),)
    case = SimpleNamespace(
        calibration=SimpleNamespace(estimates=estimates, evidence=evidence),
        manoeuvres=SimpleNamespace(turns=(1, 2, 3)),
        agreement=(),
    )
    return [finding for rule in RULES for finding in rule(case)]


def test_a_turned_vane_is_told_with_what_to_enter():
    # Shown 6.2 deg less than true: the vane points too far to port.
    [one] = told(vane=(6.2, 0.6))
    assert (one.id, one.severity, one.value) == ("vane-offset", "fault", 6.2)
    assert one.title == "The wind vane reads 6.2° too far to port (± 1.2°)."
    assert "+6.2°" in one.action
    assert one.evidence["methods"][0]["name"] == "symmetric sailing"


def test_a_wind_speed_too_low_warns_of_more_wind():
    # true = 1.25 x shown: shown is 1 / 1.25 = 80 % of the true wind.
    [one] = told(factor=(1.25, 0.04))
    assert (one.id, one.severity) == ("wind-speed-factor", "fault")
    assert "20 % too low" in one.title
    assert one.caution


@pytest.mark.parametrize(
    "quiet",
    [
        {},
        {"vane": (2.4, 0.2)},  # within half of what WMO-No. 8 asks
        {"vane": (6.0, 3.2)},  # less than two sigmas
        {"factor": (1.12, 0.07)},
        {"factor": (0.97, 0.005)},
        {"upwash": (-2.0, 0.1)},
        {"upwash": (-6, 0.5), "determined": False},
    ],
)
def test_what_is_small_or_unsure_is_kept_quiet(quiet):
    assert told(**quiet) == []


def test_a_factor_counts_by_its_share_of_the_wind():
    # ln 1.2 = 0.182 is 3.6 one-sigmas of 0.06 / 1.2; ln 0.8 = -0.223 is 3.0 of 0.06 / 0.8.
    assert [one.severity for one in told(factor=(1.20, 0.06))] == ["fault"]
    assert [one.severity for one in told(factor=(0.80, 0.06))] == ["note"]


@pytest.mark.parametrize(
    "unsure",
    [
        {"vane": (6.0, 2.0)},  # three sigmas: by chance once in 370 passages
        {"vane": (9.0, 0.5), "determined": False},
        {"factor": (1.19, 0.065)},
        {"vane": (9.0, 4.0), "factor": (1.3, 0.03), "determined": False},  # the surer of the two alone
    ],
)
def test_what_is_likely_but_not_sure_is_a_note_that_asks_for_turns(unsure):
    [one] = told(**unsure)
    assert one.severity == "note"
    assert "probably reads" in one.title
    assert "Enter nothing yet" in one.action
    assert "turn a full circle" in one.verify


def test_the_lesser_of_two_must_be_surer():
    assert [one.id for one in told(vane=(7.0, 0.6), factor=(1.15, 0.035))] == ["vane-offset"]
    assert [one.id for one in told(vane=(7.0, 0.6), factor=(1.3, 0.035))] == [
        "vane-offset",
        "wind-speed-factor",
    ]


def test_upwash_is_a_note_on_both_tacks():
    [one] = told(upwash=(-4.0, 0.8))
    assert (one.id, one.severity) == ("upwash", "note")
    assert "further ahead than shown on both tacks" in one.title
