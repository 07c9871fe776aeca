"""The addresses of the pages: ``/`` to open a log, ``/passage/KEY/`` and ``/passage/KEY/PAGE/`` for each page of it.

The key of a stretch of a passage is ``WHOLE-START-END``, so that its address opens it again at any time.

What lies below a page's address (its layout, its callbacks, ``/at``) is answered as if it lay below ``/``, so that
whoever answers knows from ``request.script_root`` which passage and page were asked for.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from flask import has_request_context, redirect, request
from werkzeug.wrappers import Request

PAGE_GROUPS: dict[str, dict[str, str]] = {
    "Instruments": {
        "": "Passage",
        "findings": "Findings",
        "water": "Water",
        "wind": "Wind",
        "sources": "Sources",
        "sheet": "Correction sheet",
        "readiness": "Readiness",
    },
    "Boat and sea": {
        "weather": "Weather",
        "polar": "Polar",
        "routes": "Routes",
        "steering": "Steering",
        "traffic": "Traffic",
        "emergencies": "Emergencies",
        "trip": "Trip",
    },
}
"""The pages of a passage by the group they stand in on the screen: name in the address -> title."""
PAGE_TITLES = {name: title for pages in PAGE_GROUPS.values() for name, title in pages.items()}
POLAR_FILE = "polar.csv"
"""The table of the polar, below the address of a passage."""
_NAMED = "|".join(name for name in PAGE_TITLES if name)
_STRETCH = re.compile(r"([0-9a-f]+)-(\d{1,15})-(\d{1,15})")
_ADDRESS = re.compile(rf"/passage/([0-9a-f]+(?:-\d{{1,15}}-\d{{1,15}})?)(?:/({_NAMED}))?(/.*)?")

WsgiApp = Callable[[dict[str, Any], Any], Iterable[bytes]]


@dataclass(frozen=True)
class Place:
    """Which passage and which page of it; both empty on the page that opens logs."""

    key: str = ""
    page: str = ""


def address(key: str, page: str = "") -> str:
    """Write the address of a page of a passage."""
    return f"/passage/{key}/" + (f"{page}/" if page else "")


def stretch_key(key: str, start_ms: float, end_ms: float) -> str:
    """Name a stretch of a passage or of a stretch of it: by the whole, and its own ends [ms since 1970]."""
    return f"{whole_of(key)[0]}-{max(round(start_ms), 0)}-{max(round(end_ms), 0)}"


def whole_of(key: str) -> tuple[str, tuple[int, int] | None]:
    """Tell the key of the whole passage, and the stretch of it [ms since 1970] that a key names; None for all."""
    found = _STRETCH.fullmatch(key)
    return (found[1], (int(found[2]), int(found[3]))) if found else (key, None)


def place() -> Place:
    """Tell for which page the present request was made."""
    found = _ADDRESS.fullmatch(request.script_root) if has_request_context() else None
    return Place(found[1], found[2] or "") if found else Place()


def addressed(app: WsgiApp) -> WsgiApp:
    """Wrap a WSGI app so that a page's address comes to it as the root it is mounted at."""

    def answer(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        path = environ.get("PATH_INFO", "")
        found = _ADDRESS.fullmatch(path)
        if found is None:
            return app(environ, start_response)
        if not found[3]:
            query = Request(environ).query_string.decode("latin-1")
            target = redirect(f"{path}/" + (f"?{query}" if query else ""), 308)
            return target(environ, start_response)
        root = path.removesuffix(found[3])
        return app({**environ, "SCRIPT_NAME": root, "PATH_INFO": found[3]}, start_response)

    return answer
