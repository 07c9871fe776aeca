"""The sample passages: what is told of each instrument agrees with the truth that stands beside the log."""

import json

import pytest
from samples import SAMPLES, reviewed_sample

ACCUSED = {
    "open-passage": {"log", "compass", "wind vane"},
    "swing-day": set(),
    "riggers-case": {"log", "anemometer"},
}
CORRECTIONS = ("vane-offset", "wind-speed-factor", "compass-constant", "log-under-reading", "log-fouling")


@pytest.mark.parametrize("name", ACCUSED)
def test_what_is_determined_agrees_with_the_truth(name):
    truth = json.loads((SAMPLES / f"{name}.truth.json").read_text("utf-8"))["calibration"]
    estimates = reviewed_sample(name).calibration
    told = {one: estimates[one] for one in truth if one in estimates and estimates[one].determined}
    assert {"log_factor", "compass_constant_deg", "vane_offset_deg"} <= told.keys()
    # One in 370 lies beyond three of its one-sigmas by chance.
    assert {one: found.value for one, found in told.items()} == {
        one: pytest.approx(truth[one], abs=3 * found.sd) for one, found in told.items()
    }


@pytest.mark.parametrize(("name", "accused"), ACCUSED.items())
def test_the_instruments_that_are_wrong_are_accused_and_no_others(name, accused):
    found = reviewed_sample(name).findings
    assert {one.subject for one in found if one.severity != "note" or one.id in CORRECTIONS} == accused


def test_a_log_that_fouls_by_4_percent_in_a_short_passage_is_seen():
    # README of the samples: its factor grows by 1.2 % an hour for 3 h 20 min, so that it reads 1 / 1.04 at the end.
    [fouling] = [one for one in reviewed_sample("riggers-case").findings if one.id == "log-fouling"]
    assert fouling.value == pytest.approx(100 * (1 / 1.04 - 1), abs=3 * fouling.sd)
