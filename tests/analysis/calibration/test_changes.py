"""Changes put into a sailed passage are found with their time and size; a passage without any has none."""

from functools import cache

import numpy as np
import pytest
from simulator import Errors, sail

from analysis.calibration import calibrate
from analysis.calibration.changes import level_frame

ERRORS = Errors(1.04, 0.0, (1.0, -2.0, 1.5, 0.5, 0.0), 2.0, 1.0, -1.0, 8.0)


@cache
def passage():
    return sail("mixed", seed=21, hours=6, errors=ERRORS, tide_kn=1.5)


def share():
    return np.linspace(0, 1, len(passage().frame))


@cache
def spoilt(how):
    frame = passage().frame
    if how == "fouling":
        return frame.assign(stw_kn=frame.stw_kn * (1 - 0.1 * share()))
    if how == "log step":
        return frame.assign(stw_kn=frame.stw_kn * np.where(share() > 0.4, 0.85, 1.0))
    return frame.assign(heading_true_deg=(frame.heading_true_deg - 9.0 * (share() > 0.6)) % 360)


@cache
def found(how):
    return calibrate(spoilt(how))


def test_a_passage_in_order_has_no_changes():
    assert calibrate(passage().frame).changes == ()


def test_a_log_that_fouls_drifts():
    (change,) = found("fouling").changes
    assert (change.name, change.kind, change.at) == ("log_factor", "drift", None)
    # 1.04 at the start, 1.04 / 0.9 at the end
    assert change.before == pytest.approx(1.04, abs=0.02)
    assert change.after == pytest.approx(1.04 / 0.9, abs=0.02)
    assert abs(change.after - change.before - 1.04 * (1 / 0.9 - 1)) < 3 * change.sd


def test_a_log_that_steps_tells_when():
    (change,) = found("log step").changes
    assert change.kind == "step"
    assert abs((change.at - passage().frame.index[int(0.4 * len(share()))]).total_seconds()) < 300
    assert change.after / change.before == pytest.approx(1 / 0.85, abs=0.02)
    assert change.before < found("log step").estimates["log_factor"].value < change.after


def test_a_disturbed_compass_tells_when_and_by_how_much():
    changes = {change.name: change for change in found("compass step").changes}
    constant = changes["compass_constant_deg"]
    assert abs((constant.at - passage().frame.index[int(0.6 * len(share()))]).total_seconds()) < 300
    assert abs(constant.after - constant.before - 9.0) < 3 * constant.sd
    assert abs(changes["deviation_B_deg"].after - changes["deviation_B_deg"].before) < 2.0


@pytest.mark.parametrize("how", ["fouling", "log step", "compass step"])
def test_a_frame_freed_of_its_changes_has_one_error_throughout(how):
    means = {name: one.value for name, one in found(how).estimates.items()}
    freed, frame = level_frame(spoilt(how), found(how).changes, means), passage().frame
    if how == "compass step":
        off = (freed.heading_true_deg - frame.heading_true_deg + 180) % 360 - 180
        assert np.nanmax(np.abs(off.rolling(600).median() - off.median())) < 1.0
    else:
        ratio = freed.stw_kn / frame.stw_kn.where(frame.stw_kn > 1)
        assert np.nanmax(np.abs(ratio.rolling(600).median() / ratio.median() - 1)) < 0.02


def test_nothing_to_free_leaves_the_frame():
    assert level_frame(passage().frame, (), {}) is passage().frame
