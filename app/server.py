"""The browser app: one reviewed passage, served to this machine alone."""

import logging
import math
import socket
import sys
import webbrowser
from dataclasses import asdict
from pathlib import Path
from threading import Timer

import waitress
from dash import Dash, html
from flask import Flask, Response, abort, has_request_context, jsonify, request

from analysis.errors import SternlogError
from analysis.review import Review

from .figures.coastline import Ring, unpack
from .figures.palette import THEMES, style_sheet
from .figures.scene import Scene, scene_of
from .figures.track import coast_near
from .pages import passage as passage_page
from .pages.moment import moment_at, moment_near

HOST = "127.0.0.1"

_PAGE = """<!DOCTYPE html>
<html lang="en">
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


class ServeError(SternlogError):
    """The browser app cannot be served: the port is taken or not allowed."""


def create_app(review: Review) -> Dash:
    """Build the browser app for one review."""
    dated = all(fact.id != "no-date" for fact in review.passage.facts)
    scene = scene_of(review.frame, dated)
    app = Dash(
        "sternlog",
        assets_folder=str(_assets()),
        title="sternlog",
        update_title=None,
        index_string=_PAGE.replace("THEMES", style_sheet()),
        enable_mcp=False,
        serve_locally=True,
    )
    coast = coast_near(scene, _coastline()) if scene.plane is not None else []

    def layout() -> html.Div:
        theme = request.cookies.get("theme", "") if has_request_context() else ""
        known = theme if theme in THEMES else next(iter(THEMES))
        return passage_page.layout(review.passage, review.summary, scene, coast, known)

    app.layout = layout
    passage_page.register(app, scene, coast)
    _route_moments(app.server, scene)
    _guard(app)
    return app


def serve(review: Review, port: int, open_browser: bool) -> None:
    """Serve one review on 127.0.0.1 until interrupted; port 0 takes any free one.

    Raises ServeError where there is no such port, or it is taken or not allowed.
    """
    if not 0 <= port <= 65535:
        raise ServeError(f"There is no port {port}; name one from 1 to 65535, or 0 for any free one.")
    app = create_app(review)
    try:
        listener = socket.create_server((HOST, port))
    except OSError as error:
        raise ServeError(
            f"Port {port} on {HOST} cannot be used ({error.strerror or error}); "
            "stop what uses it, or name another with --port N (0 takes any free one)."
        ) from error
    server = waitress.create_server(app.server, sockets=[listener], threads=8, ident=None)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    address = f"http://{HOST}:{listener.getsockname()[1]}/"
    sys.stdout.write(f"The passage is open at {address} on this machine only. Press Ctrl-C to close it.\n")
    sys.stdout.flush()
    if open_browser:
        opener = Timer(0.2, webbrowser.open, (address,))
        opener.daemon = True
        opener.start()
    try:
        server.run()
    finally:
        server.close()


def _assets() -> Path:
    """Find the folder of the page's own files: in the package once installed, beside it in the sources."""
    inside = Path(__file__).parent / "assets"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "assets"


def _coastline() -> list[Ring]:
    return unpack((_assets() / "land-10m.npz").read_bytes())


def _route_moments(server: Flask, scene: Scene) -> None:
    """``/at?time_ms=`` or ``/at?east_nm=&north_nm=``: what the cursor shows there."""

    @server.get("/at")
    def at() -> Response:
        place = [request.args.get(name, math.nan, float) for name in ("time_ms", "east_nm", "north_nm")]
        time_ms, east_nm, north_nm = place
        if not len(scene.time_ms):
            abort(404)
        if math.isfinite(time_ms):
            moment = moment_at(scene, time_ms)
        elif math.isfinite(east_nm) and math.isfinite(north_nm):
            found = moment_near(scene, east_nm, north_nm)
            moment = found if found is not None else abort(404)
        else:
            abort(400)
        return jsonify(asdict(moment))


def _guard(app: Dash) -> None:
    """Answer only this machine, change nothing at another site's wish, and fetch nothing from elsewhere."""
    server: Flask = app.server
    server.config["TRUSTED_HOSTS"] = [HOST, "localhost"]
    policy = "; ".join(
        (
            "default-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            f"script-src 'self' {' '.join(app.csp_hashes())}",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "connect-src 'self'",
            "worker-src blob:",
        )
    )

    @server.before_request
    def refuse_other_sites() -> None:
        if request.method in ("GET", "HEAD", "OPTIONS"):
            return
        site = request.headers.get("Sec-Fetch-Site")
        origin = request.headers.get("Origin")
        if site is not None:
            allowed = site in ("same-origin", "none")
        else:
            allowed = origin is None or origin == f"{request.scheme}://{request.host}"
        if not allowed:
            abort(403)

    @server.after_request
    def harden(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = policy
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "no-referrer"
        return response
