"""What every test in a browser needs: the app served, and a page whose complaints are kept."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from dash import Dash
from playwright.sync_api import Page
from werkzeug.serving import make_server

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
