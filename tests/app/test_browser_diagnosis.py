"""The Water and Sources pages in a real Chromium: they draw, work out, print, and take another source."""

import re

import pytest
from browsing import Tab
from playwright.sync_api import Page, expect
from samples import reviewed_sample

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def key(tab: Tab) -> str:
    return tab.lay_open(reviewed_sample("swing-day"))


@pytest.fixture(scope="module")
def water(tab: Tab, key: str) -> Page:
    return tab.show(key, "water")


def test_every_chart_of_the_water_page_is_drawn(water: Page) -> None:
    for name in ("evidence-log_factor", "current", "left-heading", "left-time", "deviation"):
        expect(water.locator(f"#{name} .scatterlayer .trace").first).to_be_attached()


def test_a_measured_distance_answers_on_the_page(water: Page) -> None:
    water.fill("#first-mark", "50 N 1 W")
    water.fill("#second-mark", "nowhere")
    water.click("#run-marks")
    expect(water.locator("#marks-told")).to_contain_text("'nowhere' is not a position")


def test_only_the_card_goes_to_the_printer(water: Page) -> None:
    water.evaluate("window.print = () => { document.title = 'printed'; }")
    water.click("#print-card")
    expect(water).to_have_title("printed")
    water.emulate_media(media="print")
    expect(water.locator(".card table").first).to_be_visible()
    expect(water.locator(".conclusion")).to_be_hidden()
    expect(water.locator("#current")).to_be_hidden()
    assert len(re.findall(rb"/Type\s*/Page\b", water.pdf(format="A5"))) == 1
    water.emulate_media(media="screen")


def test_another_source_is_taken_and_given_back(tab: Tab, key: str) -> None:
    page = tab.show(key, "sources")
    page.get_by_text("Heading: HCHDG (magnetic compass), in use").click()
    page.get_by_role("button", name="Use VWVHW instead").last.click()
    expect(page.locator("#told")).to_contain_text(
        "Heading is now taken from VWVHW (paddle-wheel log): mean TWD"
    )
    expect(page.get_by_text("Chosen by hand: Heading from VWVHW (paddle-wheel log).")).to_be_visible()
    page.click("#use-own")
    expect(page.locator("#told")).to_contain_text("Back to the program's own choice")
    expect(page.locator("#use-own")).to_be_hidden()


def test_neither_page_complained_or_asked_anything_of_others(tab: Tab) -> None:
    assert tab.complaints == []
