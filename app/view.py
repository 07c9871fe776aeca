"""What a page is made from: an open passage, and how its reader wants to see it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from dash import Dash
from flask import has_request_context, request

from .addresses import place
from .desk import Desk, Opened
from .dress import Dress, dress_of


@dataclass(frozen=True)
class View:
    """An open passage as one reader sees it."""

    opened: Opened
    dress: Dress


Views = Callable[[], View | None]
"""Gives the view the present request is about; None where no passage is open under its address."""


class Page(Protocol):
    """A module of ``app.pages`` that stands under an address: what it shows, and how it answers."""

    TITLE: str

    def layout(self, view: View) -> list[Any]:
        """Lay out the page's own part, figures drawn."""

    def register(self, app: Dash, views: Views, desk: Desk) -> None:
        """Wire the page's callbacks; those that change a passage do it on the desk."""


def views_of(desk: Desk) -> Views:
    """Make the look-up of the view for a desk."""

    def view() -> View | None:
        opened = desk.find(place().key)
        if opened is None:
            return None
        start = float(opened.scene.time_ms[0]) if len(opened.scene.time_ms) else None
        cookies = request.cookies if has_request_context() else {}
        return View(opened, dress_of(cookies, start))

    return view
