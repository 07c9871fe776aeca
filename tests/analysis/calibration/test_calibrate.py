"""The whole calibration on sailed passages: what is found, what is left out, what is said to be missing."""

from functools import cache

import numpy as np
import pytest
from simulator import Errors, sail

from analysis.calibration import calibrate
from analysis.calibration.needs import PLANS, needs
from analysis.calibration.water import BELIEFS, DEVIATION
from analysis.calibration.wind import WIND_BELIEFS
from analysis.estimate import Estimate
from analysis.screening import screen

NAMES = {
    "log_factor",
    "compass_constant_deg",
    "deviation_B_deg",
    "deviation_C_deg",
    "deviation_D_deg",
    "deviation_E_deg",
    "vane_offset_deg",
    "wind_speed_factor",
    "leeway_coefficient",
    "upwash_deg",
    "barometer_offset_hpa",
}
ERRORS = Errors(1.06, 0.0, (2.0, -3.0, 1.5, 0.8, -0.4), 4.0, 0.95, -2.0, 8.5)


@cache
def passage():
    return sail("mixed", seed=11, hours=5, errors=ERRORS, tide_kn=1.2)


@cache
def found():
    return calibrate(passage().frame)


def test_a_mixed_passage_tells_log_compass_and_wind():
    estimates = found().estimates
    truth = {
        "log_factor": 1.06,
        "compass_constant_deg": 2.0,
        "deviation_B_deg": -3.0,
        "deviation_C_deg": 1.5,
        "deviation_D_deg": 0.8,
        "deviation_E_deg": -0.4,
        "leeway_coefficient": 8.5,
        "vane_offset_deg": 4.0,
        "wind_speed_factor": 0.95,
        "upwash_deg": -2.0,
    }
    assert set(estimates) == NAMES
    for name, true in truth.items():
        assert abs(estimates[name].value - true) < 3 * estimates[name].sd, name
    for name in ("log_factor", "compass_constant_deg", "vane_offset_deg", "wind_speed_factor"):
        assert estimates[name].determined and estimates[name].needs is None
    assert found().converged


def test_the_current_follows_the_tide():
    current, truth, frame = found().current, passage().truth, passage().frame
    at = np.clip((current.time_utc - frame.index[0]).total_seconds().astype(int), 0, len(frame) - 1)
    off = np.concatenate(
        (current.north_kn - truth.current_north_kn[at], current.east_kn - truth.current_east_kn[at])
    )
    assert current.determined
    assert np.sqrt(np.mean(off**2)) < 0.08
    assert np.mean(np.abs(off) < 3 * np.tile(current.component_kn_sd, 2)) > 0.95
    np.testing.assert_allclose(
        current.drift_kn * np.cos(np.radians(current.set_deg)), current.north_kn, atol=1e-9
    )


@pytest.mark.parametrize(
    ("reason", "change"),
    [
        (
            "log missing",
            lambda frame: frame.assign(stw_kn=frame.stw_kn.where(frame.index < frame.index[9000], 5.3)),
        ),
        (
            "log missing",
            lambda frame: frame.assign(stw_kn=frame.stw_kn.where(frame.index < frame.index[9000], 0.0)),
        ),
        (
            "at rest",
            lambda frame: frame.assign(sog_kn=frame.sog_kn.where(frame.index < frame.index[9000], 0.1)),
        ),
        (
            "does not fit the rest",
            lambda frame: frame.assign(
                stw_kn=frame.stw_kn * np.where(np.abs(np.arange(len(frame)) - 11000) < 1500, 0.5, 1.0)
            ),
        ),
    ],
)
def test_stretches_where_the_model_fails_are_left_out_and_told(reason, change):
    result = calibrate(screen(change(passage().frame)).frame)
    assert reason in {span.reason for span in result.excluded} & set(result.rejected)
    log = result.estimates["log_factor"]
    assert log.value is None or abs(log.value - 1.06) < 4 * log.sd


def test_a_boat_at_rest_is_not_calibrated():
    frame = passage().frame.assign(sog_kn=0.1, stw_kn=0.0)
    result = calibrate(frame)
    assert not any(estimate.determined for estimate in result.estimates.values())
    assert result.current is None and result.used == 0


@pytest.mark.parametrize("rows", [0, 1, 10, 146, 600])
def test_a_short_log_determines_nothing_and_needs_much(rows):
    result = calibrate(passage().frame.iloc[:rows])
    assert set(result.estimates) == NAMES
    for name, estimate in result.estimates.items():
        assert not estimate.determined, name
        assert estimate.needs, name


@pytest.mark.parametrize("column", ["sog_kn", "stw_kn", "heading_true_deg", "awa_deg", "heel_deg", "lat_deg"])
def test_an_absent_column_is_no_error(column):
    result = calibrate(passage().frame.drop(columns=column))
    assert set(result.estimates) == NAMES
    if column == "heel_deg":
        assert result.estimates["leeway_coefficient"].value is None
        assert "heel" in result.estimates["leeway_coefficient"].needs


def test_one_course_leaves_log_compass_and_current_open():
    voyage = sail("one_course", seed=2, hours=3)
    result = calibrate(voyage.frame)
    for name in ("log_factor", "compass_constant_deg", "vane_offset_deg", "wind_speed_factor"):
        assert not result.estimates[name].determined, name
        assert "±" in result.estimates[name].needs
    assert not result.current.determined


def test_needs_are_computed_from_what_is_known():
    names = [name for name in PLANS if name in BELIEFS or name in WIND_BELIEFS]
    said = needs(names, None, None)
    assert set(said) == set(names)
    # What remains after the manoeuvre shrinks once a passage has already told something.
    short = calibrate(passage().frame.iloc[:1200]).estimates["log_factor"]
    assert not short.determined
    assert "4 runs" in said["log_factor"].manoeuvre and said["log_factor"].minutes >= 12


def test_the_expected_deviation_after_runs_is_about_right():
    # Sail the four runs the sentence asks for, ten times, and compare the scatter with the promise.
    promised = needs(["log_factor"], None, None)["log_factor"].expected_sd
    orders = [("heading", 40 + 180 * (i % 2), 4.5) for i in range(4)]
    off = []
    for seed in range(10):
        voyage = sail(
            orders=orders, hours=0.3, seed=seed, errors=Errors(log_factor=1.04), tide_kn=0.8, gaps=False
        )
        off.append(calibrate(voyage.frame).estimates["log_factor"].value - 1.04)
    assert np.sqrt(np.mean(np.square(off))) < 2 * promised


def test_what_is_given_holds_and_sharpens_the_rest():
    # A beat of two hours tells neither log nor compass alone; the true factor, B and C tell the rest of the compass.
    voyage = sail("beating", seed=5, hours=2, errors=ERRORS, tide_kn=1.2)
    known = {"log_factor": 1.06, "deviation_B_deg": -3.0, "deviation_C_deg": 1.5}
    alone, helped = calibrate(voyage.frame), calibrate(voyage.frame, given=known)
    for name, value in known.items():
        assert helped.estimates[name] == Estimate(value, 0.0, BELIEFS[name].unit, True)
    compass = helped.estimates["compass_constant_deg"]
    assert not alone.estimates["compass_constant_deg"].determined and compass.determined
    assert abs(compass.value - 2.0) < 3 * compass.sd < 2.0
    assert not alone.current.determined and helped.current.determined
    assert current_rms_kn(helped.current, voyage) < 0.08


def test_a_given_wind_correction_holds_and_the_other_follows():
    known = {"vane_offset_deg": 4.0, "upwash_deg": -2.0, "leeway_coefficient": 8.5}
    estimates = calibrate(passage().frame, given=known).estimates
    assert all((estimates[name].value, estimates[name].sd) == (value, 0.0) for name, value in known.items())
    speed = estimates["wind_speed_factor"]
    assert abs(speed.value - 0.95) < 3 * speed.sd


def test_what_is_given_is_no_evidence():
    result = calibrate(passage().frame, given={"log_factor": 1.06})
    assert "joint estimate" not in {one.name for one in result.evidence if one.subject == "log_factor"}
    assert abs(result.estimates["compass_constant_deg"].value - 2.0) < 0.6


def test_on_one_course_a_known_log_and_compass_tell_the_current():
    voyage = sail("one_course", seed=2, hours=3, errors=Errors(), tide_kn=1.0)
    nothing_off = dict.fromkeys(DEVIATION, 0.0) | {"log_factor": 1.0, "leeway_coefficient": 8.0}
    current = calibrate(voyage.frame, given=nothing_off).current
    assert current.determined and not calibrate(voyage.frame).current.determined
    assert current_rms_kn(current, voyage) < 0.1


def test_without_heel_a_given_leeway_is_no_obstacle():
    result = calibrate(passage().frame.drop(columns="heel_deg"), given={"leeway_coefficient": 8.5})
    assert result.estimates["leeway_coefficient"].determined
    assert abs(result.estimates["log_factor"].value - 1.06) < 4 * result.estimates["log_factor"].sd


def current_rms_kn(current, voyage):
    at = np.clip(
        (current.time_utc - voyage.frame.index[0]).total_seconds().astype(int), 0, len(voyage.frame) - 1
    )
    north = current.north_kn - voyage.truth.current_north_kn[at]
    east = current.east_kn - voyage.truth.current_east_kn[at]
    return np.sqrt(np.mean(north**2 + east**2) / 2)
