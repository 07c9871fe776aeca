"""The browser app: one reviewed passage, served to this machine alone."""

import math
import sys
import webbrowser
from dataclasses import asdict
from pathlib import Path
from threading import Timer
from typing import Any

import waitress
import zstandard
from dash import Dash
from flask import Flask, Response, abort, jsonify, request

from analysis.errors import SternlogError

from .figures.coastline import Ring, decode
from .figures.palette import style_sheet
from .figures.scene import Scene, scene_of
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


def create_app(review: Any) -> Dash:
    """Build the browser app for one review."""
    scene = scene_of(review.frame)
    app = Dash(
        "sternlog",
        assets_folder=str(_assets()),
        title="sternlog",
        update_title=None,
        index_string=_PAGE.replace("THEMES", style_sheet()),
        enable_mcp=False,
        serve_locally=True,
    )
    app.layout = passage_page.layout(review.passage, review.summary or {}, scene)
    passage_page.register(app, scene, _coastline() if scene.plane is not None else [])
    _route_moments(app.server, scene)
    _guard(app)
    return app


def serve(review: Any, port: int, open_browser: bool) -> None:
    """Serve one review on 127.0.0.1 until interrupted; port 0 takes any free one.

    Raises ServeError where the port is taken or not allowed.
    """
    app = create_app(review)
    try:
        server = waitress.create_server(app.server, host=HOST, port=port, threads=4, ident=None)
    except OSError as error:
        raise ServeError(
            f"Port {port} on {HOST} cannot be used ({error.strerror or error}); "
            "stop what uses it, or name another with --port N (0 takes any free one)."
        ) from error
    address = f"http://{HOST}:{server.effective_port}/"
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
    """The folder of the page's own files: inside the package once installed, beside it in the sources."""
    inside = Path(__file__).parent / "assets"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "assets"


def _coastline() -> list[Ring]:
    packed = (_assets() / "land-10m.json.zst").read_bytes()
    return decode(zstandard.ZstdDecompressor().decompress(packed))


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
