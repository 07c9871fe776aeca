"""Every page of every log: it loads without complaint, asks nobody else, and anyone can read and reach it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import heard, served
from playwright.sync_api import Browser, BrowserContext

from analysis import review
from analysis.errors import SternlogError
from app.addresses import PAGE_TITLES, address
from app.desk import Desk
from app.dress import Dress
from app.figures.palette import THEMES
from app.pages.registry import PAGES
from app.server import create_app, new_desk
from app.view import View

SAMPLES = sorted((Path(__file__).parents[2] / "sample_logs").glob("*.nmea.gz"))
GRAVE = ("serious", "critical")


@dataclass
class Served:
    """A server with passages open on its desk, by the name of their log."""

    root: str
    keys: dict[str, str]


@pytest.fixture(scope="module")
def samples() -> Iterator[Served]:
    desk = new_desk()
    keys = {path.name: desk.open(review(path)).key for path in SAMPLES}
    with served(create_app(desk)) as root:
        yield Served(root, keys)


def complaints_of(context: BrowserContext, url: str, root: str) -> list[str]:
    page = context.new_page()
    said = heard(page, root)
    page.goto(url)
    page.wait_for_selector("main", state="attached")
    page.wait_for_load_state("networkidle")
    page.close()
    return said


def rather(name: str, often: str) -> object:
    """Keep one case in the plain suite and the others for the study."""
    return pytest.param(name, marks=[] if name == often else [pytest.mark.study])


@pytest.mark.browser
@pytest.mark.parametrize("log", [rather(path.name, "riggers-case.nmea.gz") for path in SAMPLES])
def test_every_page_of_a_sample_loads_without_complaint(browser: Browser, samples: Served, log: str) -> None:
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    said = {
        page: complaints_of(context, samples.root + address(samples.keys[log], page), samples.root)
        for page in PAGE_TITLES
    }
    context.close()
    assert not {page: told for page, told in said.items() if told}


@pytest.mark.browser
@pytest.mark.parametrize("theme", [rather(theme, "red") for theme in THEMES])
def test_anyone_can_read_and_reach_every_page(browser: Browser, samples: Served, theme: str) -> None:
    """The rules of axe-core (WCAG 2 A and AA and its own good practice), the grave ones."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.add_cookies([{"name": "theme", "value": theme, "url": samples.root}])
    key = samples.keys["riggers-case.nmea.gz"]
    found = {}
    for url in ("/", *(address(key, page) for page in PAGE_TITLES)):
        page = context.new_page()
        page.goto(samples.root + url)
        page.wait_for_selector("main", state="attached")
        page.wait_for_load_state("networkidle")
        grave = [one for one in Axe().run(page).response["violations"] if one["impact"] in GRAVE]
        if grave:
            found[url] = [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in grave]
        page.close()
    context.close()
    assert not found


@pytest.mark.recording
def test_every_page_of_every_recording_is_laid_out(recordings: Path) -> None:
    laid = 0
    for path in sorted(recordings.iterdir()):
        try:
            view = View(Desk([]).open(review(path)), Dress())
        except SternlogError:
            continue
        for page in PAGES.values():
            assert page.layout(view)
        laid += 1
    assert laid > 10


@pytest.mark.study
@pytest.mark.browser
@pytest.mark.recording
def test_every_page_of_every_recording_loads_without_complaint(browser: Browser, recordings: Path) -> None:
    desk = new_desk()
    keys = {}
    for path in sorted(recordings.iterdir()):
        try:
            keys[path.name] = desk.open(review(path)).key
        except SternlogError as error:
            print(f"{path.name}: {error}")
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    with served(create_app(desk)) as root:
        said = {
            (name, page): told
            for name, key in keys.items()
            for page in PAGE_TITLES
            if (told := complaints_of(context, root + address(key, page), root))
        }
    context.close()
    assert not said
