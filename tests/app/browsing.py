"""What every test in a browser needs: the app served, and a tab whose complaints are kept."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count

from dash import Dash
from playwright.sync_api import CDPSession, Page, expect
from werkzeug.serving import make_server

from analysis import Review
from app.addresses import address
from app.desk import Desk
from app.guard import HOST


@contextmanager
def served(app: Dash) -> Iterator[str]:
    """Serve the app on a port of its own; give the root of its addresses."""
    server = make_server(HOST, 0, app.server, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://{HOST}:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def heard(page: Page, root: str = "") -> list[str]:
    """Gather every error and warning of a page, and where its root is given all it asks of others."""
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None
    )
    if root:
        inside = (root, "data:", "blob:")
        page.on(
            "request",
            lambda asked: None if asked.url.startswith(inside) else complaints.append(asked.url),
        )
    return complaints


def leave(page: Page, root: str) -> None:
    """Leave a page for a picture of the same server, so that what that breaks off is over before the next page."""
    page.goto(f"{root}/assets/north.svg")


@dataclass
class Tab:
    """The one tab in which a process of tests reads a desk: scripts that a tab knows are not compiled again."""

    page: Page
    root: str
    desk: Desk
    complaints: list[str] = field(init=False)
    devtools: CDPSession = field(init=False)
    numbers: Iterator[int] = field(init=False, default_factory=count)

    def __post_init__(self) -> None:
        self.complaints = heard(self.page, self.root)
        self.devtools = self.page.context.new_cdp_session(self.page)

    def lay_open(self, review: Review) -> str:
        """Lay a review on the desk for a reader who comes for the first time; give its key, of its own."""
        stored = {"origin": self.root, "storageTypes": "cookies,local_storage"}
        self.devtools.send("Storage.clearDataForOrigin", stored)
        leave(self.page, self.root)
        self.complaints.clear()
        return self.desk.open(review, f"{next(self.numbers):010x}").key

    def show(self, key: str, name: str = "") -> Page:
        """Go to a page of a passage."""
        self.page.emulate_media(media="screen")
        self.page.goto(self.root + address(key, name))
        expect(self.page.locator("#caution")).to_be_visible()
        return self.page
