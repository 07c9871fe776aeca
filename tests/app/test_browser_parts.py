"""Weather, Polar, Steering, Readiness and Trip in a real browser: drawn, and following what one can do there."""

from collections.abc import Callable, Iterator

import pytest
from browsing import Tab
from playwright.sync_api import Page, expect
from samples import SAMPLES, reviewed_sample

pytestmark = pytest.mark.browser

TABLE = "TWA/TWS;10;14;18\n45;4.5;5.0;5.2\n90;6.0;6.6;6.9\n150;4.8;5.6;6.2\n"
Opening = Callable[[str], Page]


@pytest.fixture(scope="module")
def opened(tab: Tab) -> Iterator[Opening]:
    """Open a page of the sample; at the end nothing may have complained."""
    key = tab.lay_open(reviewed_sample("open-passage"))
    yield lambda name: tab.show(key, name)
    assert tab.complaints == []


def drawn(page: Page, *charts: str) -> None:
    """Wait until charts stand with something in them."""
    for chart in charts:
        page.locator(f"#{chart} :is(path.js-line, path.point, .points path)").first.wait_for(state="attached")


def test_the_weather_is_held_against_a_forecast_that_is_given(opened: Opening) -> None:
    page = opened("weather")
    drawn(page, "weather-pressure", "weather-wind", "weather-forces")
    expect(page.locator(".conclusion")).to_contain_text("The pressure fell fastest by")
    page.set_input_files("#give input", SAMPLES / "open-passage.forecast.csv")
    expect(page.locator(".conclusion")).to_contain_text("of the next forecast")
    drawn(page, "weather-errors")
    page.locator("#give-none").click()
    expect(page.locator(".conclusion")).to_contain_text("The strongest ten minutes")


def test_the_polar_is_held_against_a_table_that_is_given(opened: Opening) -> None:
    page = opened("polar")
    drawn(page, "polar-diagram", "polar-percent")
    expect(page.locator(".conclusion")).not_to_contain_text("table")
    page.set_input_files(
        "#give input", {"name": "built.csv", "mimeType": "text/csv", "buffer": TABLE.encode()}
    )
    expect(page.locator(".conclusion")).to_contain_text("Against the table")


def test_steering_is_drawn(opened: Opening) -> None:
    page = opened("steering")
    drawn(page, "rudder-heel", "answer", "swings", "gust-upwind")
    expect(page.locator(".conclusion")).to_contain_text("The rudder sensor is right within")


@pytest.mark.parametrize(("name", "button"), [("readiness", "print-readiness"), ("trip", "print-trip")])
def test_a_page_to_hang_up_is_printed_without_its_button(opened: Opening, name: str, button: str) -> None:
    page = opened(name)
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    page.locator(f"#{button}").click()
    expect(page).to_have_title("printed")
    page.emulate_media(media="print")
    expect(page.locator(f"#{button}")).to_be_hidden()
    expect(page.locator(".panel").first).to_be_visible()
