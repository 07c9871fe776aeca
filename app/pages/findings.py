"""The page Findings."""

from typing import Any

from dash import Dash

from app.desk import Desk
from app.view import View, Views

from .parts import conclusion

TITLE = "Findings"


def layout(view: View) -> list[Any]:
    """Lay the page out."""
    return [conclusion("")]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page."""
