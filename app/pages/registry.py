"""The pages of a passage, by the name in their address."""

from app.view import Page

from . import (
    emergencies,
    findings,
    passage,
    polar,
    readiness,
    routes,
    sheet,
    sources,
    steering,
    traffic,
    trip,
    water,
    weather,
    wind,
)

PAGES: dict[str, Page] = {
    "": passage,
    "findings": findings,
    "water": water,
    "wind": wind,
    "sources": sources,
    "sheet": sheet,
    "readiness": readiness,
    "weather": weather,
    "polar": polar,
    "routes": routes,
    "steering": steering,
    "traffic": traffic,
    "emergencies": emergencies,
    "trip": trip,
}
