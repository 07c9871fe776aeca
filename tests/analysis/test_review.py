"""The whole road on the sample passage, whose truth was written beside it when it was invented."""

import json

import numpy as np
import pandas as pd
import pytest
from samples import SAMPLES, reviewed_sample

from analysis import Estimate, Review, SettingError, Settings, review
from analysis.reading.pressure import PressureReference
from analysis.review import reassessed, reconsidered

LOG = SAMPLES / "open-passage.nmea.gz"
TRUTH = json.loads((SAMPLES / "open-passage.truth.json").read_text("utf-8"))["calibration"]


def reviewed() -> Review:
    return reviewed_sample("open-passage")


@pytest.mark.parametrize(
    "name", ["log_factor", "compass_constant_deg", "deviation_B_deg", "vane_offset_deg", "wind_speed_factor"]
)
def test_what_is_determined_holds_the_truth(name: str) -> None:
    one = reviewed().calibration[name]
    assert one.determined
    assert one.value is not None
    assert one.sd is not None
    assert abs(one.value - TRUTH[name]) < 3 * one.sd


def test_the_corrections_are_those_of_the_frame() -> None:
    frame, calibration = reviewed().frame, reviewed().calibration
    factor = calibration["log_factor"].value
    moving = frame["stw_kn_shown"] > 0
    np.testing.assert_allclose(frame["stw_kn"][moving], factor * frame["stw_kn_shown"][moving])
    assert (frame["heading_true_deg"] != frame["heading_true_deg_shown"]).any()


def test_the_faults_put_in_are_found_and_no_others() -> None:
    told = {one.id: one.severity for one in reviewed().findings if one.severity != "note"}
    assert set(told) == {"log-under-reading", "compass-constant", "vane-offset"}


def test_findings_are_plain_data() -> None:
    for one in reviewed().findings:
        json.dumps(dict(one.evidence), allow_nan=False)
        assert one.title.endswith(".")
        assert "_" not in one.title + one.action + one.verify + one.caution


def test_as_shown_corrects_nothing() -> None:
    shown = review(LOG, Settings(as_shown=True)).frame
    assert not [name for name in shown if name.endswith("_shown")]
    pd.testing.assert_series_equal(shown["stw_kn"], reviewed().frame["stw_kn_shown"], check_names=False)
    assert (shown["drift_kn_sd"] > reviewed().frame["drift_kn_sd"]).mean() > 0.99
    pd.testing.assert_series_equal(shown["drift_kn_sd"], reviewed().frame_as_shown["drift_kn_sd"])


def test_a_correction_set_by_hand_is_the_one_applied_and_stated() -> None:
    got = review(LOG, Settings(corrections={"log_factor": 1.5}))
    assert got.calibration["log_factor"].value == 1.5
    moving = got.frame["stw_kn_shown"] > 0
    np.testing.assert_allclose(got.frame["stw_kn"][moving], 1.5 * got.frame["stw_kn_shown"][moving])
    leeway = "leeway_coefficient"  # read from how far the boat goes sideways at her speed
    assert got.calibration[leeway].value != reviewed().calibration[leeway].value


def test_a_setting_without_meaning_is_refused_before_the_log_is_read() -> None:
    with pytest.raises(SettingError, match="log_factor"):
        review(SAMPLES / "no-such-log", Settings(corrections={"log_faktor": 1.5}))


def test_a_reference_pressure_determines_the_barometer() -> None:
    true_hpa = float(reviewed().frame["air_pressure_hpa"].mean()) + TRUTH["barometer_offset_hpa"]
    got = review(LOG, Settings(pressure=PressureReference(None, np.array([true_hpa]))))
    one = got.calibration["barometer_offset_hpa"]
    assert one.determined
    assert one.value == pytest.approx(
        TRUTH["barometer_offset_hpa"], abs=0.3
    )  # the pressure falls 2.4 hPa on the way
    assert "air_pressure_hpa_shown" in got.frame


def test_another_correction_is_applied_without_estimating_again() -> None:
    other = reconsidered(reviewed(), {"log_factor": 1.2})
    moving = other.frame["stw_kn_shown"] > 0
    np.testing.assert_allclose(other.frame["stw_kn"][moving], 1.2 * other.frame["stw_kn_shown"][moving])
    assert other.calibration["log_factor"] == Estimate(1.2, 0.0, "1", True)
    assert other.calibration["vane_offset_deg"] == reviewed().calibration["vane_offset_deg"]
    assert other.current["mean_drift_kn"] != reviewed().current["mean_drift_kn"]


def test_taking_the_corrections_back_gives_the_first_review() -> None:
    back = reconsidered(reconsidered(reviewed(), {"log_factor": 1.2}), {})
    pd.testing.assert_frame_equal(back.frame, reviewed().frame)
    assert back.findings == reviewed().findings


def test_a_stretch_is_a_passage_of_its_own() -> None:
    index = reviewed().frame.index
    start, end = index[len(index) // 4], index[len(index) // 2]
    stretch = reassessed(reviewed(), span=(start, end))
    assert stretch.frame.index[0] >= start
    assert stretch.frame.index[-1] <= end
    whole = reviewed().passage.frame["stw_kn"][start:end]
    shown = stretch.passage.frame["stw_kn"].reindex(whole.index)
    inner = np.array(shown.notna() & whole.notna())
    inner[[0, -1]] = False  # the readings beyond the edge are not there to be averaged
    assert inner.mean() > 0.98
    np.testing.assert_allclose(shown[inner], whole[inner])
    assert stretch.calibration["log_factor"].sd > reviewed().calibration["log_factor"].sd


def test_another_source_changes_what_is_derived() -> None:
    with pytest.raises(SettingError):
        reassessed(reviewed(), sources={"stw_kn": ("XX", "VHW", "")})
    same = reassessed(reviewed(), sources={"stw_kn": ("VW", "VHW", "")})
    pd.testing.assert_frame_equal(same.frame, reviewed().frame)
