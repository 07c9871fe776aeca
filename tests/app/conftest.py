"""A browser with a tab, and a small review to show, made by hand."""

from collections.abc import Iterator
from contextlib import closing

import pytest
from browsing import Tab, served
from passages import review_of
from playwright.sync_api import Browser, expect, sync_playwright
from samples import SAMPLES

from analysis import Estimate, Finding, Review
from analysis.estimate import Need
from analysis.passage import Passage
from app.folder import Folder
from app.opening import Opener
from app.server import create_app, new_desk


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox", "--disable-background-networking"]
        running = playwright.chromium.launch(executable_path=chromium, args=arguments)
        expect.set_options(timeout=20_000)  # a busy machine draws late
        yield running
        running.close()


@pytest.fixture(scope="session")
def tab(browser: Browser) -> Iterator[Tab]:
    """The tab that all tests of a process share, each with passages of its own."""
    desk = new_desk()
    with (
        closing(Opener(desk, folder=Folder(SAMPLES))) as opener,
        served(create_app(desk, opener)) as root,
        browser.new_context(viewport={"width": 1440, "height": 900}) as context,
    ):
        yield Tab(context.new_page(), root, desk)


@pytest.fixture
def finding() -> Finding:
    return Finding(
        id="log-reads-low",
        subject="log",
        severity="fault",
        title="The log reads 5.2 % low.",
        value=1.052,
        sd=float("nan"),
        unit="1",
        determined=True,
        evidence={"runs": 6, "spans": (("2026-06-01T08:00:00Z", "2026-06-01T08:20:00Z"),)},
        action="Enter 1.05 as the log's factor.",
        verify="Sail a reciprocal run.",
        caution="Current biases a single run.",
    )


@pytest.fixture
def small_review(small_passage: Passage, finding: Finding) -> Review:
    return review_of(
        small_passage,
        small_passage.frame,
        (finding,),
        summary={"max_sog_kn": 4.5, "max_sog_utc": "2026-06-01T08:00:09Z", "max_tws_kn": float("nan")},
        calibration={
            "log_factor": Estimate(1.052, 0.004, "1", True, None),
            "vane_offset_deg": Estimate(None, None, "deg", False, Need("Gybe twice")),
            "upwash_deg": Estimate(None, None, "deg", False, Need("Gybe twice")),
        },
        current={"mean_set_deg": 61.4, "mean_drift_kn": 0.83},
    )
