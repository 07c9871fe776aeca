"""The sections of the check, by their key in the JSON, in the order of the terminal."""

from . import emergencies, steering, traffic
from .section import Section

SECTIONS: dict[str, Section] = {
    "emergencies": emergencies,
    "steering": steering,
    "traffic": traffic,
}
