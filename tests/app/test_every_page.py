"""Every page of every log: it loads without complaint, asks nobody else, and anyone can read and reach it."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import heard, served
from playwright.sync_api import Browser, Page
from samples import SAMPLES, reviewed_sample

from analysis import Settings, review
from analysis.errors import SternlogError
from app.addresses import PAGE_TITLES, address
from app.desk import Desk
from app.figures.palette import THEMES
from app.folder import Folder
from app.opening import Opener
from app.server import create_app, new_desk

NAMES = sorted(path.name.removesuffix(".nmea.gz") for path in SAMPLES.glob("*.nmea.gz"))
GRAVE = ("serious", "critical")


@dataclass
class Served:
    """A server of the samples, each read when it is first asked for."""

    root: str
    desk: Desk
    keys: dict[str, str] = field(default_factory=dict)

    def key(self, name: str) -> str:
        """The key of a sample's passage."""
        if name not in self.keys:
            self.keys[name] = self.desk.open(reviewed_sample(name)).key
        return self.keys[name]


@pytest.fixture(scope="module")
def samples() -> Iterator[Served]:
    desk = new_desk()
    with (
        closing(Opener(desk, Settings(), Folder(SAMPLES), None)) as opener,
        served(create_app(desk, opener)) as root,
    ):
        yield Served(root, desk)


@dataclass
class Tab:
    """One tab that goes from page to page, and what the pages complain of or ask of others."""

    page: Page
    root: str
    said: list[str] = field(init=False)

    def __post_init__(self) -> None:
        self.said = heard(self.page, self.root)

    def visit(self, path: str) -> list[str]:
        """Load a page to its end; tell what it complained of or asked of others."""
        self.said.clear()
        self.page.goto(self.root + path)
        self.page.wait_for_selector("main", state="attached")
        self.page.wait_for_load_state("networkidle")
        return self.said.copy()

    def broken(self) -> list[object]:
        """The grave ones of what the page breaks of the rules of axe-core."""
        return [
            (one["id"], [node["html"][:120] for node in one["nodes"]])
            for one in Axe().run(self.page).response["violations"]
            if one["impact"] in GRAVE
        ]


def rather(log: str, theme: str) -> object:
    """Keep one sample in one light in the plain suite and the others for the study."""
    often = (log, theme) == ("riggers-case", "red")
    return pytest.param(log, theme, marks=[] if often else [pytest.mark.study])


@pytest.mark.browser
@pytest.mark.parametrize(("log", "theme"), [rather(name, theme) for name in NAMES for theme in THEMES])
def test_every_page_loads_without_complaint_and_anyone_can_read_and_reach_it(
    browser: Browser, samples: Served, log: str, theme: str
) -> None:
    """The rules of axe-core (WCAG 2 A and AA and its own good practice), the grave ones."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.add_cookies([{"name": "theme", "value": theme, "url": samples.root}])
    tab = Tab(context.new_page(), samples.root)
    paths = ("/", *(address(samples.key(log), page) for page in PAGE_TITLES))
    found = {path: (tab.visit(path), tab.broken()) for path in paths}
    context.close()
    assert not {path: said for path, (said, _) in found.items() if said}
    assert not {path: broken for path, (_, broken) in found.items() if broken}


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
        tab = Tab(context.new_page(), root)
        said = {
            (name, page): told
            for name, key in keys.items()
            for page in PAGE_TITLES
            if (told := tab.visit(address(key, page)))
        }
    context.close()
    assert not said
