"""The server's manners: it answers this machine alone unless told otherwise, does nothing at another site's wish."""

from dash import Dash
from flask import Flask, Response, abort, request

from .lan import Lan, guard_lan

HOST = "127.0.0.1"


def guard(app: Dash, lan: Lan | None = None) -> None:
    """Refuse foreign hosts and origins, and send along what keeps a browser from running or fetching more.

    With a ``lan``, this machine's addresses there are its own too, and nobody is answered without its cookie.
    """
    server: Flask = app.server
    server.config["TRUSTED_HOSTS"] = [HOST, "localhost", *(lan.addresses if lan else ())]
    if lan is not None:
        guard_lan(server, lan)
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
