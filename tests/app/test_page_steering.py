"""What the Steering page says, without a browser."""

from dataclasses import replace

import pytest
from passages import day_at_sea, reviewed, spoken
from samples import reviewed_sample

from analysis import Estimate, Review
from app.desk import Desk
from app.dress import Dress
from app.pages import steering
from app.sections import steering as section
from app.units import UNITS
from app.view import View


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


def said(one: Review, dress: Dress | None = None) -> str:
    return spoken(steering.layout(View(Desk([]).open(one), dress or Dress())))


def test_the_sentence_says_sensor_and_wind(passage: Review) -> None:
    # the invented rudder sensor is true; the boat of that log swings less by AWA upwind, by TWA downwind
    assert "The rudder sensor is right within" in said(passage)
    assert "Steer upwind by AWA and downwind by TWA" in said(passage)
    assert "pilot or hand: the recording does not tell" in said(passage)


def test_an_offset_is_said_only_where_the_turns_tell_the_side(passage: Review) -> None:
    rudder = passage.case.rudder
    assert rudder is not None
    unsure = replace(rudder, response=replace(rudder.response, gain=Estimate(None, None, "deg/s/deg", False)))
    assert "not determined (" in section.offset_text(unsure)
    assert "does not tell what the rudder sensor" in steering.conclusion_text(unsure, passage.case.steadiness)


def test_steering_data_of_a_plotter_are_no_pilot(passage: Review) -> None:
    steady = passage.case.steadiness
    plotter = section.steered_text(replace(steady, plotter=("APB", "XTE")))
    assert "does not tell; a plotter sent steering data (APB, XTE)" in plotter
    assert "a pilot was on the line" in section.steered_text(
        replace(steady, pilot=("HTD",), plotter=("APB",))
    )


def test_units_are_the_readers(passage: Review) -> None:
    knots, metric = said(passage), said(passage, Dress(units=UNITS["metric"]))
    assert "kn above the mean" in knots
    assert "m/s above the mean" in metric


def test_a_log_without_a_rudder_says_so() -> None:
    text = said(reviewed(day_at_sea(3.0)))
    assert "The recording has no rudder angle" in text


def test_a_log_without_anything_says_so_in_one_panel() -> None:
    frame = day_at_sea(0.1)[["lat_deg", "lon_deg"]]
    text = said(reviewed(frame))
    assert "The recording tells nothing of the steering." in text


def test_the_section_is_plain_and_short(passage: Review) -> None:
    told = section.as_json(passage)
    assert told["rudder"]["offset"]["determined"]
    assert told["rudder"]["response"]["reversed"] is False
    assert told["steadiness"]["downwind"]["steadier"] == "TWA"
    assert told["gusts"]["count"] > 0
    assert len(section.as_rows(passage)) <= 8
    assert section.as_json(reviewed(day_at_sea(1.0)))["rudder"]["missing"]
