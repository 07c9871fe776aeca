"""Corrections tried by hand: the same wind and current as the whole road gives, and findings of what remains."""

import math

import numpy as np
import pytest
from samples import reviewed_sample

from analysis import Review, SettingError
from analysis.correction import neutral, remaining
from analysis.estimate import Estimate
from analysis.review import reconsidered
from analysis.trial import Trial, outcome_of, tried


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


def ids(one: Review | Trial) -> set[str]:
    return {finding.id for finding in one.findings}


def test_a_trial_gives_what_the_whole_road_gives(passage: Review) -> None:
    by_hand = {"log_factor": 1.03, "vane_offset_deg": 2.0}
    trial, whole = tried(passage.case, by_hand), reconsidered(passage, by_hand)
    for name in ("twd_water_deg", "tws_water_kn", "set_deg", "drift_kn"):
        np.testing.assert_array_equal(trial.frame[name], whole.frame[name])
    assert trial.findings == whole.findings
    assert trial.outcome == outcome_of(whole.frame, passage.case)


def test_a_correction_that_is_entered_has_nothing_left_to_find(passage: Review) -> None:
    assert "log-under-reading" in ids(passage)
    known = passage.calibration["log_factor"].value
    assert known is not None
    assert "log-under-reading" not in ids(tried(passage.case, {"log_factor": known}))
    # set aside, the log reads as it always did
    aside = tried(passage.case, {"log_factor": neutral("log_factor")})
    assert [one for one in aside.findings if one.subject == "log"] == [
        one for one in passage.findings if one.subject == "log"
    ]


def test_a_wrong_correction_is_found(passage: Review) -> None:
    # the log needs 1.07 (its truth file); entered as 1.20 it reads 1.20 / 1.07 - 1 = 12 % too high
    over = next(one for one in tried(passage.case, {"log_factor": 1.20}).findings if one.subject == "log")
    assert (over.id, over.severity) == ("log-over-reading", "fault")
    assert over.value == pytest.approx(1.07 / 1.20, abs=0.004)


def test_what_remains_is_a_ratio_of_factors_and_a_difference_of_offsets() -> None:
    estimates = {
        "log_factor": Estimate(1.05, 0.01, "1", True),
        "vane_offset_deg": Estimate(-3.0, 0.5, "deg", True),
        "upwash_deg": Estimate(None, None, "deg", False),
    }
    left = remaining(estimates, {"log_factor": 2.1, "vane_offset_deg": -5.0, "upwash_deg": 1.0})
    # by hand: 1.05 / 2.1 and -3 - -5
    assert left["log_factor"].value == pytest.approx(0.5)
    assert left["log_factor"].sd == pytest.approx(0.01 / 2.1)
    assert left["vane_offset_deg"].value == pytest.approx(2.0)
    assert left["upwash_deg"].value is None


def test_corrections_steady_what_they_should(passage: Review) -> None:
    shown, right = outcome_of(passage.frame_as_shown, passage.case), outcome_of(passage.frame, passage.case)
    # a log and a compass that are off make a current that turns with the boat; corrected, it does not
    assert abs(shown.along_kn) > 0.3 and abs(right.along_kn) < 0.02
    assert abs(shown.across_kn) > 0.3 and abs(right.across_kn) < 0.02
    assert right.turns == shown.turns > 5
    assert right.twd_change_deg < shown.twd_change_deg
    assert tried(passage.case, {"barometer_offset_hpa": 2.0}).outcome.air_pressure_hpa == pytest.approx(
        shown.air_pressure_hpa + 2.0
    )


def test_what_cannot_be_set_is_refused_in_a_sentence(passage: Review) -> None:
    with pytest.raises(SettingError, match=r"log_factor = 9: give a value from 0\.3 to 3"):
        tried(passage.case, {"log_factor": 9.0})


def test_without_a_log_the_wind_is_over_the_ground(passage: Review) -> None:
    frame = passage.frame_as_shown.drop(
        columns=["twd_water_deg", "tws_water_kn", "twa_water_deg", "set_deg", "drift_kn"]
    )
    outcome = outcome_of(frame, passage.case)
    assert outcome.over == "ground" and math.isfinite(outcome.twd_deg)
    assert math.isnan(outcome.drift_kn) and math.isnan(outcome.along_kn)
