"""The Traffic page in a real Chromium: another encounter and another moment are shown when asked for."""

from pathlib import Path

import pytest
from browsing import Tab
from playwright.sync_api import expect
from simulator.traffic import Vessel, sailed

from analysis import review

pytestmark = pytest.mark.browser

HOUR = 3600.0


def test_an_encounter_and_a_moment_are_chosen(tab: Tab, tmp_path: Path) -> None:
    own = Vessel(legs=((HOUR, 0.0, 6.0),))
    near = Vessel(name="GREY HERON", east_nm=4.0, north_nm=3.5, legs=((HOUR, 270.0, 8.0),))
    far = Vessel(mmsi=200000002, name="PALE MORNING", east_nm=2.0, north_nm=9.0, legs=((HOUR, 180.0, 9.0),))
    log = tmp_path / "two.nmea"
    log.write_text("\r\n".join(sailed(own, [near, far], 3).lines) + "\r\n")
    key = tab.lay_open(review(log))
    page = tab.show(key, "traffic")
    words, moment = page.locator("#encounter-words"), page.locator("#moment-words")
    expect(words).to_contain_text("GREY HERON")
    page.get_by_role("button", name="Show PALE MORNING").click()
    expect(words).to_contain_text("PALE MORNING")
    before = moment.inner_text()
    page.locator("#traffic-moment").fill("-10")
    expect(moment).not_to_have_text(before)
    expect(page.locator("#from-boat .main-svg").first).to_be_visible()
    assert tab.complaints == []
