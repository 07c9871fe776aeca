"""Marks of the reader's own, placed on the track in a real browser, and measured between on the Water page."""

import re

import pytest
from browsing import Tab
from playwright.sync_api import Page, expect
from samples import reviewed_sample

pytestmark = pytest.mark.browser


def middle_of_track(page: Page) -> tuple[float, float]:
    box = page.locator("#track .nsewdrag").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_marks_are_placed_by_click_and_key_kept_and_measured_between(tab: Tab) -> None:
    key = tab.lay_open(reviewed_sample("swing-day"))
    page = tab.show(key)
    expect(page.locator("#clock")).to_contain_text("UTC")
    page.locator("#track path.js-line").first.wait_for(state="attached")
    x, y = middle_of_track(page)
    page.locator("#place-mark").click()
    expect(page.locator("#place-hint")).to_contain_text("Click on the chart")
    page.mouse.click(x, y)
    expect(page.locator("#place-hint")).to_be_empty()
    own = page.locator(".happening.mark")
    expect(own).to_have_count(1)
    expect(own).to_have_attribute("data-words", re.compile(r"Mark 1, \d\d°.*N  .*W; nearest at \d\d:"))
    middle = own.bounding_box()
    assert middle is not None
    assert (
        abs(middle["x"] + middle["width"] / 2 - x) < 12 and abs(middle["y"] + middle["height"] / 2 - y) < 20
    )
    page.locator("#strips-paper").focus()
    page.keyboard.press("Home")
    page.keyboard.press("p")
    expect(page.locator("#own-marks")).to_contain_text("Mark 2")
    page.reload()
    expect(page.locator("#own-marks")).to_contain_text("Mark 2")
    tab.show(key, "water")
    expect(page.locator("#marks-placed button")).to_have_count(2)
    expect(page.locator("#first-mark")).to_have_value(re.compile(r"°"))
    page.locator("#run-marks").click()
    expect(page.locator("#marks-told")).to_contain_text("both marks")
    tab.show(key)
    page.get_by_role("button", name="Take mark 1 away").click()
    expect(page.locator("#own-marks")).not_to_contain_text("Mark 1")
    assert tab.complaints == []
