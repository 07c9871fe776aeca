"""What the reader wants on the passage page: which strips, and the values corrected or as shown. Kept in cookies."""

from dataclasses import dataclass

from flask import has_request_context, request

from app.figures.scene import Scene
from app.view import View

STRIPS, VALUES = "strips", "values"
AS_SHOWN = "shown"


@dataclass(frozen=True)
class Wishes:
    """``strips`` are the keys of the rows to draw, none for the usual ones."""

    strips: tuple[str, ...] = ()
    as_shown: bool = False


def wishes() -> Wishes:
    """Read the wishes from the present request, if there is one."""
    cookies = request.cookies if has_request_context() else {}
    strips = tuple(key for key in cookies.get(STRIPS, "").split(".") if key)
    return Wishes(strips, cookies.get(VALUES) == AS_SHOWN)


def scene_of_view(view: View) -> Scene:
    """Give the scene the reader wants to see: corrected, or as the instruments showed it."""
    opened = view.opened
    return opened.scene_as_shown if wishes().as_shown else opened.scene
