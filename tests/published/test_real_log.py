"""A real log with an instrument's own true wind: 146 s under sail, recorded in 2018 in the gpsd project's test data.

The log's MWV,T and MWD are the instrument's own; they are damped while the apparent wind is not, so single readings
scatter and only means are compared. Bounds are those of an earlier trial on the same file: recomputed minus logged
was -0.07 deg and -0.06 kn over 149 rows with STW, -4.24 deg with SOG in its place; heading + variation + TWA - MWD
was -0.04 deg.
"""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis import review
from analysis.calibration import Calibration
from analysis.logged_wind import explain_logged_wind
from analysis.review import Review
from analysis.vectors import true_wind_water, wrap_signed_deg

pytestmark = pytest.mark.recording


@pytest.fixture(scope="module")
def sailed(recordings: Path) -> Review:
    return review(recordings / "yacht_sailing_2018.log")


def column(reviewed: Review, name: str) -> NDArray[np.float64]:
    return np.asarray(reviewed.frame[name], dtype=np.float64)


def mean_turn_deg(angle_deg: NDArray[np.float64]) -> float:
    assert np.isfinite(angle_deg).sum() > 130
    return float(np.nanmean(wrap_signed_deg(angle_deg)))


def test_the_recomputed_true_wind_over_the_water_is_the_logged_one(sailed: Review) -> None:
    angle = mean_turn_deg(column(sailed, "twa_water_deg") - column(sailed, "logged_twa_deg"))
    assert abs(angle) < 1
    assert abs(np.nanmean(column(sailed, "tws_water_kn") - column(sailed, "logged_tws_kn"))) < 0.2


def test_speed_over_the_ground_in_place_of_speed_through_the_water_is_found_out(sailed: Review) -> None:
    wrong = true_wind_water(
        column(sailed, "awa_deg"),
        column(sailed, "aws_kn"),
        column(sailed, "sog_kn"),
        column(sailed, "heading_true_deg"),
    )
    assert mean_turn_deg(wrong.twa_water_deg - column(sailed, "logged_twa_deg")) < -3


def test_logged_direction_is_heading_plus_logged_angle(sailed: Review) -> None:
    direction = column(sailed, "heading_true_deg") + column(sailed, "logged_twa_deg")
    assert abs(mean_turn_deg(direction - column(sailed, "logged_twd_deg"))) < 0.3


def test_the_logged_true_wind_is_told_to_be_over_the_water_and_damped(sailed: Review) -> None:
    wind = explain_logged_wind(sailed.passage.frame, Calibration({}, None, (), (), 0))
    assert wind is not None
    assert wind.best.id == "water"
    assert wind.best.left_kn < 0.3  # 1.25 kn undamped, in the same trial
    assert wind.lag_s is not None
    assert (
        2 < wind.lag_s < 15
    )  # single readings scatter by 7.5 deg against an undamped wind, in the same trial
    margins = {one.id: one.margin for one in wind.hypotheses}
    assert margins["ground"] > 3


def test_the_means_of_the_passage(sailed: Review) -> None:
    """Mean STW 6.53 kn, SOG 5.70 kn, COG 233.9, heading 233.8 magnetic, in the same trial."""
    assert np.nanmean(column(sailed, "stw_kn")) == pytest.approx(6.53, abs=0.05)
    assert np.nanmean(column(sailed, "sog_kn")) == pytest.approx(5.70, abs=0.05)
    assert np.nanmean(column(sailed, "cog_deg")) == pytest.approx(233.9, abs=0.3)
    assert np.nanmean(column(sailed, "heading_mag_deg")) == pytest.approx(233.8, abs=0.3)
