"""The sections of the check, by their key in the JSON, in the order of the terminal."""

from . import emergencies, steering
from .section import Section

SECTIONS: dict[str, Section] = {
    "emergencies": emergencies,
    "steering": steering,
}
