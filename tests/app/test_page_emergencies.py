"""What the Emergencies and Trip pages say, without a browser."""

import dataclasses
from typing import Any

import pandas as pd
import pytest
from passages import day_at_sea, reviewed, spoken
from samples import SAMPLES

from analysis import Review, Settings, review
from analysis.asked import Asked
from analysis.emergencies import Drill, Overboard, UserMark
from app.check import check_object
from app.check_text import check_text
from app.desk import Desk
from app.dress import Clock, Dress
from app.pages import emergencies, trip
from app.report.content import report_content
from app.sections.emergencies import drill_text
from app.units import UNITS
from app.view import View

SAMPLE = SAMPLES / "open-passage.nmea.gz"
FALL = pd.Timestamp("2026-05-12T10:00:00Z").timestamp()


@pytest.fixture(scope="module")
def marked() -> Review:
    asked = Asked(overboard=Overboard((UserMark(FALL), UserMark(FALL + 1800, 20.0, -20.0))))
    return review(SAMPLE, Settings(asked=asked))


def view_of(one: Review, **dress: Any) -> View:
    return View(Desk([]).open(one), Dress(**dress))


def no_time() -> Review:
    return reviewed(day_at_sea(0.01).iloc[:0])


def test_a_log_without_marks_says_how_to_set_one() -> None:
    said = spoken(emergencies.layout(view_of(reviewed(day_at_sea(2.0)))))
    assert "no person-overboard mark" in said
    assert "--overboard 12:00:30" in said


def test_an_empty_log_has_no_chart() -> None:
    said = spoken(emergencies.layout(view_of(no_time())))
    assert "no person-overboard mark" in said
    assert "never for use in an emergency" in said
    assert "no trip to record" in spoken(trip.layout(view_of(no_time())))


def test_the_caution_goes_with_every_alert(marked: Review) -> None:
    for said in (
        spoken(emergencies.layout(view_of(marked))),
        spoken(emergencies.on_paper(view_of(marked))),
        " ".join(check_text(marked).split()),
        check_object(marked)["emergencies"]["caution"],
    ):
        assert "never for use in an emergency" in said


def test_the_page_tells_drift_and_way_back_by_the_reader_s_clock(marked: Review) -> None:
    said = spoken(emergencies.layout(view_of(marked)))
    assert "Mark set by hand, person overboard, 2026-05-12 10:00:00 UTC" in said
    assert "mark set by hand, person" not in said
    assert "it is not a search area" in said
    assert "The boat did not" in said
    ship = spoken(emergencies.layout(view_of(marked, clock=Clock(-120, "ship's time (UTC−2)"))))
    assert "2026-05-12 08:00:00 ship's time" in ship


@pytest.mark.parametrize(("watched_s", "within"), [(120.0, "the 2 min 00 s recorded"), (3599.0, "the hour")])
def test_a_boat_is_said_not_to_turn_only_while_she_is_watched(watched_s: float, within: str) -> None:
    drill = Drill(False, watched_s, None, None, 0.2, None, None)
    assert drill_text(drill) == f"the boat did not turn back within {within}"


def test_a_mark_far_from_the_boat_is_not_drifted(marked: Review) -> None:
    near, far = marked.case.emergencies.all
    assert near.datum is not None
    assert far.datum is None and far.why is not None and "10 nm off" in far.why


def test_the_json_holds_marks_places_and_reasons(marked: Review) -> None:
    near, far = check_object(marked)["emergencies"]["marks"]
    assert near["datum"]["places"][0]["radius_nm"] < near["datum"]["places"][-1]["radius_nm"]
    assert far["datum"] is None and "10 nm" in far["datum_needs"]


def test_lengths_are_in_the_reader_s_units(marked: Review) -> None:
    assert "Radius [km]" in spoken(emergencies.layout(view_of(marked, units=UNITS["metric"])))
    assert "Ground [km]" in spoken(trip.layout(view_of(marked, units=UNITS["metric"])))


def test_the_trip_is_told_with_times_and_places(marked: Review) -> None:
    said = spoken(trip.layout(view_of(marked)))
    assert "39.4 nm over the ground and 40.7 nm through the water in 6 h 00 min" in said
    assert "Gust over the water, mean of 3 s" in said
    assert "no engine speed (RPM)" in said
    trip_told = check_object(marked)["trip"]
    assert trip_told["whole"]["over_ground_nm"] == marked.summary["distance_over_ground_nm"]
    assert [one["day"] for one in trip_told["days"]] == ["2026-05-12"]


def test_days_follow_the_reader_s_clock() -> None:
    one = view_of(reviewed(day_at_sea(12.0)), clock=Clock(-300, "ship's time (UTC−5)"))
    assert len(trip.trip_of(one).days) == 2
    assert len(trip.trip_of(view_of(reviewed(day_at_sea(5.0)))).days) == 1


def test_both_stand_in_the_report(marked: Review) -> None:
    said = spoken(report_content(view_of(marked).opened, Dress()))
    assert "Emergencies" in said and "Hours by point of sail" in said


def test_a_review_without_marks_stays_quiet(marked: Review) -> None:
    assert not [one for one in marked.findings if one.id in ("person-overboard", "distress-call")]
    quiet = dataclasses.replace(marked.case, asked=Asked())
    assert quiet.emergencies.all == ()
