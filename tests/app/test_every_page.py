"""Every page of every log: it loads without complaint, asks nobody else, and anyone can read and reach it."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import Tab
from playwright.sync_api import Page
from samples import SAMPLES, reviewed_sample

from analysis import review
from analysis.errors import SternlogError
from app.addresses import PAGE_TITLES, address
from app.figures.palette import THEMES

NAMES = sorted(path.name.removesuffix(".nmea.gz") for path in SAMPLES.glob("*.nmea.gz"))
GRAVE = ("serious", "critical")


def complaints_of(tab: Tab, path: str) -> list[str]:
    """Load a page to its end; tell what it complained of or asked of others."""
    tab.complaints.clear()
    tab.page.goto(tab.root + path)
    tab.page.wait_for_selector("main", state="attached")
    tab.page.wait_for_load_state("networkidle")
    return tab.complaints.copy()


def broken_rules(page: Page) -> list[object]:
    """The grave ones of what a page breaks of the rules of axe-core."""
    return [
        (one["id"], [node["html"][:120] for node in one["nodes"]])
        for one in Axe().run(page).response["violations"]
        if one["impact"] in GRAVE
    ]


def rather(log: str, theme: str) -> object:
    """Keep one sample in one light in the plain suite and the others for the study."""
    often = (log, theme) == ("riggers-case", "red")
    return pytest.param(log, theme, marks=[] if often else [pytest.mark.study])


@pytest.mark.browser
@pytest.mark.parametrize(("log", "theme"), [rather(name, theme) for name in NAMES for theme in THEMES])
def test_every_page_loads_without_complaint_and_anyone_can_read_and_reach_it(
    tab: Tab, log: str, theme: str
) -> None:
    """The rules of axe-core (WCAG 2 A and AA and its own good practice), the grave ones."""
    key = tab.lay_open(reviewed_sample(log))
    tab.page.context.add_cookies([{"name": "theme", "value": theme, "url": tab.root}])
    paths = ("/", *(address(key, page) for page in PAGE_TITLES))
    found = {path: (complaints_of(tab, path), broken_rules(tab.page)) for path in paths}
    assert not {path: said for path, (said, _) in found.items() if said}
    assert not {path: broken for path, (_, broken) in found.items() if broken}


@pytest.mark.study
@pytest.mark.browser
@pytest.mark.recording
def test_every_page_of_every_recording_loads_without_complaint(tab: Tab, recordings: Path) -> None:
    keys = {}
    for path in sorted(recordings.iterdir()):
        try:
            keys[path.name] = tab.lay_open(review(path))
        except SternlogError as error:
            print(f"{path.name}: {error}")
    said = {
        (name, page): told
        for name, key in keys.items()
        for page in PAGE_TITLES
        if (told := complaints_of(tab, address(key, page)))
    }
    assert not said
