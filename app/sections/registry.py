"""The sections of the check, by their key in the JSON, in the order of the terminal."""

from . import emergencies, routes, steering, traffic
from .section import Section

SECTIONS: dict[str, Section] = {
    "emergencies": emergencies,
    "routes": routes,
    "steering": steering,
    "traffic": traffic,
}
