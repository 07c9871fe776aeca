"""The Findings page and the correction sheet in a real Chromium: try, keep, go back, print."""

import re

import pytest
from browsing import Tab
from playwright.sync_api import expect
from samples import reviewed_sample

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def key(tab: Tab) -> str:
    return tab.lay_open(reviewed_sample("open-passage"))


def test_a_number_that_is_tried_shows_wind_current_and_findings_and_can_be_kept(tab: Tab, key: str) -> None:
    page = tab.show(key, "findings")
    expect(page.locator(".cards .card")).not_to_have_count(0)
    log = page.locator(".field", has_text="Log factor")
    drift = page.locator("#try-drift").inner_text()
    log.get_by_label("Log factor: more").click()
    expect(page.locator("#try-drift")).not_to_have_text(drift)
    log.locator("input").fill("9")
    expect(page.locator("#try-refused")).to_have_text("Log factor = 9: give a value from 0.3 to 3.")
    log.locator("input").fill("1,08")
    expect(page.locator("#try-findings li", has_text="Gone")).to_contain_text(["The log reads"])
    expect(page.locator("#try-refused")).to_be_empty()
    page.locator("#try-keep").click()
    expect(page.locator("#by-hand")).to_contain_text("1 correction is set by hand: Log factor × 1.080.")
    tab.show(key, "water")
    page.locator("#by-hand-back").click()
    expect(page.locator("#by-hand")).to_have_count(0)
    assert tab.complaints == []


def test_a_correction_is_set_aside_and_applied_again(tab: Tab, key: str) -> None:
    page = tab.show(key, "findings")
    page.get_by_role("button", name="Set it aside").first.click()
    expect(page.locator("#by-hand")).to_contain_text("Log factor set aside")
    page.get_by_role("button", name="Apply it").click()
    expect(page.locator("#by-hand")).to_have_count(0)
    assert tab.complaints == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_correction_sheet_prints_on_one_page(tab: Tab, key: str, paper: str) -> None:
    page = tab.show(key, "sheet")
    expect(page.locator(".correction-sheet")).to_contain_text("Signed")
    pdf = page.pdf(format=paper)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
