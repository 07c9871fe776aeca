"""The Water and Sources pages in a real Chromium: they draw, work out, print, and take another source."""

import re
from collections.abc import Callable, Iterator

import pytest
from browsing import heard, served
from passages import desk_with
from playwright.sync_api import Browser, Page, expect
from samples import reviewed_sample

from app.addresses import address
from app.server import create_app

pytestmark = pytest.mark.browser


Open = Callable[[str], Page]


@pytest.fixture(scope="module")
def visit(browser: Browser) -> Iterator[tuple[Open, list[str]]]:
    """Open a page of one passage by its name; what it complains of or asks of others is gathered."""
    desk = desk_with(reviewed_sample("swing-day"))
    key = desk.all()[0].key

    def opened(name: str) -> Page:
        page.goto(root + address(key, name))
        expect(page.locator("#caution")).to_be_visible()
        return page

    with (
        served(create_app(desk)) as root,
        browser.new_context(viewport={"width": 1440, "height": 900}) as context,
    ):
        page = context.new_page()
        yield opened, heard(page, root)


@pytest.fixture(scope="module")
def show(visit: tuple[Open, list[str]]) -> Open:
    return visit[0]


@pytest.fixture(scope="module")
def complaints(visit: tuple[Open, list[str]]) -> list[str]:
    return visit[1]


@pytest.fixture(scope="module")
def water(show: Open) -> Page:
    return show("water")


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


def test_another_source_is_taken_and_given_back(show: Open) -> None:
    page = show("sources")
    page.get_by_text("Heading: HCHDG (magnetic compass), in use").click()
    page.get_by_role("button", name="Use VWVHW instead").last.click()
    expect(page.locator("#told")).to_contain_text("Heading is now taken from VWVHW: mean TWD")
    expect(page.get_by_text("Chosen by hand: Heading from VWVHW.")).to_be_visible()
    page.click("#use-own")
    expect(page.locator("#told")).to_contain_text("Back to the program's own choice")
    expect(page.locator("#use-own")).to_be_hidden()


def test_neither_page_complained_or_asked_anything_of_others(complaints: list[str]) -> None:
    assert complaints == []
