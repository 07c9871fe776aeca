"""What the Wind page says, without a browser."""

import dataclasses

import pytest
from passages import day_at_sea, reviewed
from samples import reviewed_sample

from analysis import Estimate, Review
from app.desk import Desk
from app.dress import Dress
from app.pages import wind
from app.report.tree import text_of
from app.view import View


@pytest.fixture(scope="module")
def rigger() -> Review:
    return reviewed_sample("riggers-case")


def said(one: Review) -> str:
    return " ".join(text_of(part) for part in wind.layout(View(Desk([]).open(one), Dress())))


def with_estimate(one: Review, name: str, estimate: Estimate) -> Review:
    return dataclasses.replace(one, calibration={**one.calibration, name: estimate})


def test_the_sentence_says_sense_size_and_interval(rigger: Review) -> None:
    # true = shown + offset: an offset of -4 means that the vane shows 4 degrees too much, to starboard
    vane = with_estimate(rigger, "vane_offset_deg", Estimate(-4.0, 0.5, "deg", True))
    assert "The vane reads 4.0° ± 1.0° too far to starboard" in said(vane)
    right = with_estimate(rigger, "vane_offset_deg", Estimate(0.3, 0.5, "deg", True))
    assert "The vane is right within 1.0°" in said(right)
    # true = 1.25 x shown: it shows 0.8 of the wind, 20 % low
    low = with_estimate(rigger, "wind_speed_factor", Estimate(1.25, 0.02, "1", True))
    assert "the anemometer reads 20 % ± 4 % low" in said(low)


def test_what_is_not_determined_is_said_to_be_so(rigger: Review) -> None:
    unknown = dataclasses.replace(
        rigger, calibration={name: Estimate(None, None, "1", False) for name in wind.CORRECTIONS}
    )
    text = said(unknown)
    assert "The recording does not tell what vane and anemometer are off by." in text
    assert "not determined" in text


def test_how_the_display_works_is_ranked(rigger: Review) -> None:
    found = rigger.case.logged_wind
    assert found is not None
    text = said(rigger)
    assert f"The display works out its true wind {found.best.words}" in text
    assert "How the display works out its true wind" in text


def test_a_passage_without_wind_or_without_logged_wind_says_so() -> None:
    frame = day_at_sea(hours=1.0)
    assert "no apparent wind" in said(reviewed(frame.drop(columns=["awa_deg", "aws_kn"])))
    text = said(reviewed(frame.drop(columns=["logged_twd_deg", "logged_tws_kn"])))
    assert "no true wind of the boat's own display" in text
    assert "No manoeuvre in this recording" in text
