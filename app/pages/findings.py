"""The page Findings."""

from typing import Any

from dash import Dash

from app.view import View, Views

from .parts import conclusion

TITLE = "Findings"


def layout(view: View) -> list[Any]:
    """Lay the page out."""
    return [conclusion("")]


def register(app: Dash, views: Views) -> None:
    """Wire the page."""
