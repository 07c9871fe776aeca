"""The Routes page in a real browser: a mark typed, a moment chosen, the laylines drawn anew, a route given."""

import pytest
from browsing import Tab
from playwright.sync_api import expect
from samples import reviewed_sample

pytestmark = pytest.mark.browser

ROUTE = b"<gpx><rte><name>Out &lt;b&gt;</name><rtept lat='38.75' lon='-28.75'><name>BELL</name></rtept></rte></gpx>"


def test_a_mark_is_typed_and_the_moment_moved(tab: Tab) -> None:
    key = tab.lay_open(reviewed_sample("open-passage"))
    page = tab.show(key, "routes")
    expect(page.locator(".conclusion")).to_contain_text("No mark is known")
    page.locator("#mark-name").fill("Bell")
    page.locator("#mark-place").fill("somewhere")
    page.locator("#mark-add").click()
    expect(page.locator("#marks-refused")).to_contain_text("is not a position")
    page.locator("#mark-place").fill("38°45.00′N 028°45.00′W")
    page.locator("#mark-add").click()
    expect(page.locator("#route-state")).to_contain_text("Bell bears")
    page.locator("#route-chart path.js-line").first.wait_for(state="attached")
    said, clock = page.locator("#route-state").inner_text(), page.locator("#route-clock").inner_text()
    page.locator("#route-turn-before").click()
    expect(page.locator("#route-clock")).not_to_have_text(clock)
    expect(page.locator("#route-state")).not_to_have_text(said)
    turned = page.locator("#route-clock").inner_text()
    page.locator("#route-time").focus()
    page.keyboard.press("Home")
    expect(page.locator("#route-clock")).not_to_have_text(turned)
    page.reload()
    expect(page.locator("#route-state")).to_contain_text("Bell bears")
    page.locator("#mark-clear").click()
    expect(page.locator(".conclusion")).to_contain_text("No mark is known")
    page.locator("#give input").set_input_files({"name": "out.gpx", "mimeType": "", "buffer": ROUTE})
    expect(page.locator("#give li")).to_have_text("Out <b>")
    expect(page.locator("#route-state")).to_contain_text("BELL bears")
    assert tab.complaints == []
