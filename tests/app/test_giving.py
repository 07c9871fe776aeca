"""What a crew gives from the browser: files to the parts that take them, a person overboard by hand."""

import argparse
from io import BytesIO

import pandas as pd
import pytest
from flask.testing import FlaskClient
from passages import START, day_at_sea, desk_with, reviewed, spoken

from analysis.asked import Asked
from analysis.emergencies import Overboard, UserMark
from analysis.errors import SettingError
from app.addresses import address
from app.asking.moments import moment, typed_moment
from app.desk import Desk, Opened
from app.dress import Clock, Dress
from app.giving import TAKEN, FileRefusedError, Taken, received
from app.guard import HOST
from app.pages import emergencies, routes, weather
from app.pages.overboard import added, placed_mark, typed_mark
from app.server import create_app
from app.view import View

FORECAST = b"time,twd,tws\n2031-05-03T18:00Z,240,15\n2031-05-04T06:00Z,250,18\n"
ROUTE = (
    b'<gpx><rte><name>Out &lt;b&gt;</name><rtept lat="50" lon="-3"/><rtept lat="50.5" lon="-4"/></rte></gpx>'
)
SPEEDS = b"TWA;8;12;16\n45;5;6;6.5\n90;6;7;7.5\n150;5;6.5;7\n"
GIVEN = {
    "forecast": ("f.csv", FORECAST, "weather", "f.csv"),
    "routes": ("r.gpx", ROUTE, "routes", "Out <b>"),
    "speeds": ("p.txt", SPEEDS, "polar", "3 angles by 3 wind speeds"),
}


@pytest.fixture(scope="module")
def desk() -> Desk:
    return desk_with(reviewed(day_at_sea(1.0)))


@pytest.fixture
def opened(desk: Desk) -> Opened:
    (one,) = desk.all()
    return desk.ask(one.key, Asked())


@pytest.fixture(scope="module")
def client(desk: Desk) -> FlaskClient:
    return create_app(desk).server.test_client()


def view(one: Opened, **dress: object) -> View:
    return View(one, Dress(**dress))


@pytest.mark.parametrize("part", TAKEN)
def test_a_file_is_taken_told_and_taken_away(
    part: str, client: FlaskClient, desk: Desk, opened: Opened
) -> None:
    name, data, page, told = GIVEN[part]
    place = f"{address(opened.key, page)}give/{part}"
    answer = client.post(f"{place}?name={name}", data=data, headers={"Host": HOST})
    assert (answer.status_code, answer.get_json()) == (200, {})
    after = desk.find(opened.key)
    assert after is not None and TAKEN[part].told(after.review.settings.asked) == (told,)
    assert client.delete(place, headers={"Host": HOST}).status_code == 200
    after = desk.find(opened.key)
    assert after is not None and after.review.settings.asked == Asked()


@pytest.mark.parametrize("part", TAKEN)
def test_what_cannot_be_used_is_one_sentence_without_folders(
    part: str, client: FlaskClient, opened: Opened
) -> None:
    place = f"{address(opened.key, 'weather')}give/{part}?name=../../<b>.csv"
    answer = client.post(place, data=b"<script>\n", headers={"Host": HOST})
    error = answer.get_json()["error"]
    assert answer.status_code == 409
    assert error.startswith("_b_.csv") and error.endswith(".") and "/tmp" not in error and "\n" not in error


def test_it_is_guarded_as_all_else(client: FlaskClient, opened: Opened) -> None:
    place = f"{address(opened.key, 'weather')}give/forecast?name=f.csv"
    for headers, refused in (
        ({"Host": "elsewhere.example"}, 400),
        ({"Host": HOST, "Sec-Fetch-Site": "cross-site"}, 403),
        ({"Host": HOST, "Origin": "http://elsewhere.example"}, 403),
    ):
        assert client.post(place, data=FORECAST, headers=headers).status_code == refused
        assert client.delete(place, headers=headers).status_code == refused
    for wrong in (place.replace("/forecast", "/sails"), "/give/forecast?name=f.csv"):
        assert client.post(wrong, data=FORECAST, headers={"Host": HOST}).status_code == 404


def test_too_large_a_file_is_not_read() -> None:
    small = Taken((".csv",), 10, TAKEN["forecast"].put, TAKEN["forecast"].none, TAKEN["forecast"].told)
    with pytest.raises(FileRefusedError, match="larger than 0 MB"):
        received(small, Asked(), "f.csv", BytesIO(FORECAST))


def test_the_pages_say_what_they_take(opened: Opened) -> None:
    for page, part in ((weather, "forecast"), (routes, "routes")):
        laid = str(page.layout(view(opened)))
        assert f"data-part='{part}'" in laid and "Choose a file" in laid


def test_a_mark_is_read_by_the_readers_clock(opened: Opened) -> None:
    at = pd.Timestamp(START, tz="UTC").timestamp() + 600
    for clock, text in (
        (Clock(), "2031-05-03 18:10:00"),
        (Clock(120, "ship's time (UTC+2)"), "2031-05-03 20:10"),
        (Clock(120, "ship's time (UTC+2)"), "2031-05-03T18:10Z"),
    ):
        assert typed_mark(text, "", view(opened, clock=clock)) == UserMark(at)
    night = Clock(-660, "ship's time (UTC−11)")  # 20:00 there is 7:00 UTC of the next day
    assert typed_mark("20:00", "50N,3W", view(opened, clock=night)) == UserMark(7 * 3600.0, 50.0, -3.0)
    for time, place in (("noon", ""), ("12:00", "there")):
        with pytest.raises(SettingError):
            typed_mark(time, place, view(opened))


def test_an_option_reads_the_same_in_utc() -> None:
    assert moment("12:00") == typed_moment("12:00") == 12 * 3600.0
    with pytest.raises(argparse.ArgumentTypeError, match=r"'noon' is no time; .* or 12:00, in UTC"):
        moment("noon")


def test_a_mark_placed_on_the_track_counts_when_the_boat_was_there(opened: Opened) -> None:
    at = float(opened.scene.time_ms[60])
    one = placed_mark({"t": at, "lat_deg": 49.9, "lon_deg": -2.7, "number": 1})
    assert one == UserMark(at / 1000, 49.9, -2.7)
    assert added((), one, view(opened)) == (one,)
    for wrong in (None, {}, {"t": "x", "lat_deg": 1, "lon_deg": 1}, {"t": at, "lat_deg": 91, "lon_deg": 0}):
        with pytest.raises(SettingError, match="place it again"):
            placed_mark(wrong)


def test_a_mark_lies_within_the_passage_and_is_shown(desk: Desk, opened: Opened) -> None:
    with pytest.raises(SettingError, match="does not have this moment"):
        added((), UserMark(1e9), view(opened))
    with pytest.raises(SettingError, match="60 marks"):
        added((UserMark(1.0),) * 60, UserMark(2.0), view(opened))
    marks = added((), typed_mark("18:10", "", view(opened)), view(opened))
    assert "One can be set by hand below" in spoken(emergencies.layout(view(opened)))
    marked = desk.ask(opened.key, Asked(overboard=Overboard(marks)))
    said = str(emergencies.layout(view(marked)))
    assert "18:10:00 UTC, where the boat then was" in said
    assert "2031-05-03 18:10:00 UTC" in said
