"""A stretch of a passage: its address opens it again, in another tab and after a restart."""

import pandas as pd
import pytest
from passages import spoken
from samples import reviewed_sample

from analysis import Review
from app.addresses import address, stretch_key, whole_of
from app.desk import Desk, Opened
from app.dress import Dress
from app.guard import HOST
from app.pages.passage.facts import passage_facts
from app.server import create_app
from app.view import View

WHOLE = "a1b2c3"
START, END = pd.Timestamp("2026-06-14T10:30Z"), pd.Timestamp("2026-06-14T11:00Z")


@pytest.fixture(scope="module")
def whole() -> Review:
    return reviewed_sample("swing-day")


@pytest.fixture(scope="module")
def cut(whole: Review) -> Opened:
    desk = Desk([])
    desk.open(whole, WHOLE)
    return desk.cut(WHOLE, START, END)


def after_restart(whole: Review) -> Desk:
    return Desk([], lambda key: whole if key == WHOLE else None)


def test_a_key_names_its_whole_and_its_ends_and_a_stretch_of_a_stretch_the_same_whole() -> None:
    assert stretch_key("ab12", 1000.4, 2000.0) == "ab12-1000-2000"
    assert stretch_key("ab12-1000-2000", 1200.0, 1300.0) == "ab12-1200-1300"
    assert whole_of("ab12-1000-2000") == ("ab12", (1000, 2000))
    assert whole_of("ab12") == ("ab12", None)


def test_its_address_opens_it_after_a_restart(whole: Review, cut: Opened) -> None:
    desk = after_restart(whole)
    path = address(cut.key, "wind")
    reply = create_app(desk).server.test_client().get(f"{path}_dash-layout", headers={"Host": HOST})
    assert reply.status_code == 200
    again = desk.find(cut.key)
    assert again is not None
    pd.testing.assert_frame_equal(again.review.frame, cut.review.frame)
    assert [again.review.frame.index[0], again.review.frame.index[-1]] == [START, END]


@pytest.mark.parametrize("ends", ["2000-1000", "1000-2000", "99999999999999-999999999999999"])
def test_an_address_of_nothing_opens_nothing(whole: Review, ends: str) -> None:
    assert after_restart(whole).find(f"{WHOLE}-{ends}") is None
    assert after_restart(whole).find(f"ffff-{ends}") is None


def test_a_stretch_leads_back_to_its_whole(cut: Opened) -> None:
    facts = passage_facts(View(cut, Dress()))
    assert "A stretch of the whole passage" in spoken(facts)
    assert any(getattr(part, "href", None) == address(WHOLE) for part in facts._traverse())
