"""The Emergencies page in a real Chromium: another mark is shown, and the drift at another moment."""

import pandas as pd
import pytest
from browsing import Tab
from playwright.sync_api import expect
from samples import reviewed_sample

from analysis.asked import Asked
from analysis.emergencies import Overboard, UserMark
from analysis.review import asked_again

pytestmark = pytest.mark.browser

FALL = pd.Timestamp("2026-05-12T10:00:00Z").timestamp()
PLACE = f"""() => localStorage.setItem("marks " + location.pathname.split("/")[2], JSON.stringify(
  [{{number: 1, lat_deg: 38.48, lon_deg: -29.27, position: "here", t: {1000 * FALL + 7_200_000}}}]))"""


def test_a_mark_and_a_moment_are_chosen(tab: Tab) -> None:
    asked = Asked(overboard=Overboard((UserMark(FALL), UserMark(FALL + 3600))))
    key = tab.lay_open(asked_again(reviewed_sample("open-passage"), asked))
    page = tab.show(key, "emergencies")
    expect(page.locator("#emergency-chart .scatterlayer .trace").first).to_be_attached()
    expect(page.locator("#emergency-head")).to_contain_text("10:00:00 UTC")
    page.get_by_role("button", name="Show row 2").click()
    expect(page.locator("#emergency-head")).to_contain_text("11:00:00 UTC")
    page.locator("#emergency-moment").focus()
    page.keyboard.press("Home")
    expect(page.locator("#emergency-words")).to_contain_text("0 min 00 s after (11:00:00 UTC)")
    page.evaluate(PLACE)
    page.reload()
    page.locator("#overboard-marks button").click()
    expect(page.get_by_role("button", name="Show row 3")).to_be_visible()
    assert tab.complaints == []
