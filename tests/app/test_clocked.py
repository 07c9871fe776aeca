"""Times in sentences follow the reader's clock, whatever page they stand on."""

import json

import pytest
from dash import Input, Output, html
from passages import spoken

from analysis.findings import Finding
from analysis.review import Review
from app.addresses import address
from app.desk import Desk
from app.dress import Clock
from app.guard import HOST
from app.pages.clocked import by_clock, clocked_text
from app.pages.plain import plain
from app.server import create_app

SHIP = Clock(120, "ship's time (UTC+2)")


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("falls silent at 10:15 UTC, 2.0 h before", "falls silent at 12:15 UTC+2, 2.0 h before"),
        ("from 23:30 UTC to 23:59:58 UTC.", "from 01:30 UTC+2 to 01:59:58 UTC+2."),
        ("22:30 to 23:00 UTC", "00:30 to 01:00 UTC+2"),
        ("2026-12-31 23:30:00 UTC", "2027-01-01 01:30:00 UTC+2"),
        ("The log runs over midnight UTC once.", "The log runs over midnight UTC once."),
        ("12:15 ship's time (UTC+2)", "12:15 ship's time (UTC+2)"),
        ("12:15 UTC+2", "12:15 UTC+2"),
        ("99:99 UTC", "99:99 UTC"),
    ],
)
def test_a_time_in_utc_is_read_by_the_clock(said: str, read: str) -> None:
    assert clocked_text(said, SHIP) == read
    assert clocked_text(said, Clock()) == said


def test_clocks_behind_utc_and_of_half_hours() -> None:
    assert clocked_text("at 00:10 UTC", Clock(-210, "")) == "at 20:40 UTC−3:30"


def test_all_texts_of_a_page_are_read_children_titles_and_what_a_script_lays() -> None:
    page = [html.P(["a", html.B("10:15 UTC", title="at 10:15 UTC")]), html.Div(**plain(html.I("10:15 UTC")))]
    read = by_clock(page, SHIP)
    assert spoken(read) == "a 12:15 UTC+2 12:15 UTC+2"
    assert read[0].children[1].title == "at 12:15 UTC+2"


def test_titles_of_findings_follow_the_clock_chosen(small_review: Review, finding: Finding) -> None:
    object.__setattr__(finding, "title", "The log fell silent at 10:15 UTC.")
    desk = Desk([])
    path = address(desk.open(small_review).key, "findings")
    client = create_app(desk).server.test_client()
    client.set_cookie("clock", "ship+120", domain=HOST)
    said = json.dumps(client.get(f"{path}_dash-layout", headers={"Host": HOST}).json)
    assert "silent at 12:15 UTC+2." in said and "10:15 UTC" not in said


def test_what_a_callback_writes_follows_the_clock_chosen(small_review: Review) -> None:
    desk = Desk([])
    path = address(desk.open(small_review).key, "findings")
    app = create_app(desk)
    app.callback(Output("said", "children"), Input("asked", "value"))(lambda _: [html.B("at 10:15 UTC")])
    client = app.server.test_client()
    client.set_cookie("clock", "ship+120", domain=HOST)
    asked = {
        "output": "said.children",
        "outputs": {"id": "said", "property": "children"},
        "inputs": [{"id": "asked", "property": "value", "value": 1}],
        "changedPropIds": ["asked.value"],
    }
    reply = client.post(f"{path}_dash-update-component", json=asked, headers={"Host": HOST})
    assert "at 12:15 UTC+2" in reply.text
