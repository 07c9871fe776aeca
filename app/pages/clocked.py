"""Times in sentences by the reader's clock: the analysis speaks in UTC and says so each time."""

import re
from datetime import datetime, timedelta
from typing import Any

from dash.development.base_component import Component

from app.dress import Clock, offset_text

_TIME = r"(?:\d{4}-\d\d-\d\d )?(?:[01]\d|2[0-3]):[0-5]\d(?::[0-5]\d)?"
_SAID = re.compile(rf"\b{_TIME}(?: (?:to|and|–) {_TIME})? UTC\b(?![+−-]\d)")
_PART = re.compile(r"(\d{4}-\d\d-\d\d )?(\d\d:\d\d)(:\d\d)?")


def clocked_text(text: str, clock: Clock) -> str:
    """Write every time that a text gives in UTC ("10:15 UTC", with or without date) by a clock."""
    if not clock.offset_min or "UTC" not in text:
        return text
    zone = offset_text(clock.offset_min)

    def moved(found: re.Match[str]) -> str:
        return _PART.sub(lambda part: _moved(part[0], clock), found[0].removesuffix("UTC")) + zone

    return _SAID.sub(moved, text)


def by_clock(parts: Any, clock: Clock) -> Any:
    """Write the times in all texts of a page's parts by a clock, in place where they are components."""
    if not clock.offset_min:
        return parts
    if isinstance(parts, str):
        return clocked_text(parts, clock)
    if isinstance(parts, list | tuple):
        return [by_clock(part, clock) for part in parts]
    if isinstance(parts, Component):
        for name, value in parts.to_plotly_json()["props"].items():
            if name == "children" or isinstance(value, str):
                setattr(parts, name, by_clock(value, clock))
    return parts


def _moved(text: str, clock: Clock) -> str:
    form = f"{'%Y-%m-%d ' if '-' in text else ''}%H:%M{':%S' if text.count(':') == 2 else ''}"
    try:
        return f"{datetime.strptime(text, form) + timedelta(minutes=clock.offset_min):{form}}"
    except ValueError:
        return text  # no such day
