"""The pages of a passage, by the name in their address."""

from app.view import Page

from . import findings, passage, routes, sheet, sources, traffic, water, wind

PAGES: dict[str, Page] = {
    "": passage,
    "findings": findings,
    "water": water,
    "wind": wind,
    "sources": sources,
    "sheet": sheet,
    "routes": routes,
    "traffic": traffic,
}
