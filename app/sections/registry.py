"""The sections of the check, by their key in the JSON, in the order of the terminal."""

from . import emergencies, polar, readiness, routes, steering, traffic, trip, weather
from .section import Section

SECTIONS: dict[str, Section] = {
    "polar": polar,
    "emergencies": emergencies,
    "routes": routes,
    "steering": steering,
    "traffic": traffic,
    "trip": trip,
    "weather": weather,
    "readiness": readiness,
}
