"""The browser app: the passages on the desk, served to this machine alone."""

import logging
import socket
import sys
import webbrowser
from collections.abc import Callable
from functools import wraps
from threading import Timer
from typing import Any

import waitress
from dash import Dash, html
from flask import Flask, Response, request

from analysis.errors import SternlogError

from .addresses import addressed, place
from .cache import Cache
from .desk import Desk
from .downloads import route_downloads
from .dress import Clock, dress_of
from .figures.coastline import Ring, unpack
from .figures.palette import style_sheet
from .guard import HOST, guard
from .lan import ANY, CAUTION, Lan
from .opening import Opener
from .own_files import assets
from .pages.clocked import by_clock
from .pages.giving import route_giving
from .pages.registry import PAGES
from .pages.sending import route_sending
from .pages.shell import shell
from .pages.start import route_opening, start
from .view import Views, views_of

_PAGE = """<!DOCTYPE html>
<html lang="en" data-theme="DRESSED_THEME" style="--text-size: DRESSED_TEXT">
<head>
{%metas%}
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>sternlog</title>
{%favicon%}
{%css%}
<style>
THEMES
</style>
</head>
<body>
{%app_entry%}
<footer class="dash-scripts">{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>"""


_ROOT = '"requests_pathname_prefix":"\\u002f"'  # as Dash writes it, escaped


class ServeError(SternlogError):
    """The browser app cannot be served: the port is taken or not allowed."""


class _Sternlog(Dash):  # type: ignore[misc]
    """A Dash whose pages each stand under an address of their own and are drawn for their reader."""

    def __init__(self, views: Views, **settings: Any) -> None:
        self._views = views
        super().__init__("sternlog", **settings)

    def interpolate_index(self, **parts: Any) -> str:
        """Write the page that loads the rest: its own root for what it asks, its reader's light and text."""
        dress = dress_of(request.cookies)
        root = f"{request.script_root}/".replace("/", "\\u002f")
        parts["config"] = parts["config"].replace(_ROOT, _ROOT.replace("\\u002f", root))
        page: str = super().interpolate_index(**parts)
        return page.replace("DRESSED_THEME", dress.theme_name).replace("DRESSED_TEXT", str(dress.text))

    def callback(self, *wired: Any, **how: Any) -> Callable[[Callable[..., Any]], Any]:
        """Wire a callback whose texts are written by the reader's clock, as those of the layouts are."""
        wire = super().callback(*wired, **how)

        def wired_by_clock(answer: Callable[..., Any]) -> Any:
            @wraps(answer)
            def answered(*given: Any) -> Any:
                view = self._views()
                return by_clock(answer(*given), view.dress.clock if view else Clock())

            return wire(answered)

        return wired_by_clock


def create_app(desk: Desk, opener: Opener | None = None, lan: Lan | None = None) -> Dash:
    """Build the browser app for a desk; without an opener, one that has no folder and keeps nothing."""
    opener = opener or Opener(desk)
    views = views_of(desk)
    app = _Sternlog(
        views,
        assets_folder=str(assets()),
        title="sternlog",
        update_title=None,
        index_string=_PAGE.replace("THEMES", style_sheet()),
        suppress_callback_exceptions=True,
        enable_mcp=False,
        serve_locally=True,
    )

    def layout() -> html.Div:
        view = views()
        if view is None:
            return start(dress_of(request.cookies), bool(place().key))
        content = by_clock(PAGES[place().page].layout(view), view.dress.clock)
        return shell(view, place().page, content)

    app.layout = layout
    for page in PAGES.values():
        page.register(app, views, desk)
    route_downloads(app.server, views)
    route_opening(app.server, desk, opener)
    route_sending(app.server, views, opener, lan)
    route_giving(app.server, views, desk)
    guard(app, lan)
    _let_assets_be_kept(app.server)
    app.server.wsgi_app = addressed(app.server.wsgi_app)
    return app


def _let_assets_be_kept(server: Flask) -> None:
    """Let a browser keep each asset under the address that tells when it was last changed, and not ask again."""

    @server.after_request
    def kept(response: Response) -> Response:
        if request.path.startswith("/assets/") and "m" in request.args and response.status_code == 200:
            response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return response


def new_desk(cache: Cache | None = None) -> Desk:
    """Make an empty desk with the coastline that comes with the program; what the cache keeps can be found on it."""
    return Desk(_coastline(), cache.load if cache else None)


def serve(
    desk: Desk,
    opener: Opener,
    port: int,
    open_browser: bool,
    path: str = "/",
    lan: Lan | None = None,
) -> None:
    """Serve a desk until interrupted, on 127.0.0.1 or the LAN; port 0 takes any free one, ``path`` is shown first.

    Raises ServeError where there is no such port, or it is taken or not allowed.
    """
    if not 0 <= port <= 65535:
        raise ServeError(f"There is no port {port}; name one from 1 to 65535, or 0 for any free one.")
    app = create_app(desk, opener, lan)
    host = lan.host if lan else HOST
    try:
        listener = socket.create_server((host, port))
    except OSError as error:
        raise ServeError(
            f"Port {port} on {host} cannot be used ({error.strerror or error}); "
            "stop what uses it, or name another with --port N (0 takes any free one)."
        ) from error
    server = waitress.create_server(app.server, sockets=[listener], threads=8, ident=None)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    url = _announced(listener.getsockname()[1], path, lan)
    if open_browser:
        opening = Timer(0.2, webbrowser.open, (url,))
        opening.daemon = True
        opening.start()
    try:
        server.run()
    finally:
        server.close()


def _announced(port: int, path: str, lan: Lan | None) -> str:
    """Say where the pages are; give the address for the browser of this machine."""
    if lan is None:
        url = f"http://{HOST}:{port}{path}"
        sys.stdout.write(f"sternlog is open at {url} on this machine only. Press Ctrl-C to close it.\n")
        sys.stdout.flush()
        return url
    lan.port = port
    url = lan.invitation(lan.addresses[0] if lan.host != ANY else HOST, path)
    sys.stdout.write(f"For the browser of this machine: {url}\n")
    lan.announce()
    sys.stdout.write(f"{CAUTION}\n")
    sys.stdout.flush()
    return url


def _coastline() -> list[Ring]:
    return unpack((assets() / "land-10m.npz").read_bytes())
