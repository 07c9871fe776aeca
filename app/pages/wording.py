"""How numbers are written for a person: values with unit and side, times, durations, positions."""

import re

import numpy as np

from analysis.channels import CHANNELS, unit_of
from analysis.estimate import SIGMAS_95
from app.dress import Clock
from app.figures.scene import Scene
from app.units import UNITS, Units

NOTHING = "–"

_KNOTS = UNITS["knots"]
_UTC = Clock()
_EAST_WEST = ("variation_deg", "deviation_deg")
_PLAIN_SIGN = ("pitch_deg",)


def value_text(channel: str, value: float, sd: float | None = None, units: Units = _KNOTS) -> str:
    """Write one value with its unit, side or sign, and ± at 95 % where its one-sigma is given; a dash where missing.

    ``channel`` may be a column of what a channel was before correction.
    """
    channel = channel.removesuffix("_shown")
    if not np.isfinite(value):
        return NOTHING
    shown = units.of_channel(channel)
    if unit_of(channel) == "1":
        return f"{round(value, 1):g}"
    decimals = shown.decimals
    suffix = (
        shown.symbol if shown.symbol.startswith("°") and unit_of(channel) != "degC" else f" {shown.symbol}"
    )
    spread = f" ±{SIGMAS_95 * sd * shown.factor:.{decimals}f}" if sd is not None and np.isfinite(sd) else ""
    kind = CHANNELS[channel].kind
    if kind == "direction":
        return f"{round(value) % 360:03d}{spread}{suffix}"
    if kind == "signed_angle" and channel not in _PLAIN_SIGN:
        plus, minus = ("E", "W") if channel in _EAST_WEST else ("stbd", "port")
        fine = 1 if channel in _EAST_WEST or abs(value) < 10 else 0
        side = "" if round(value, fine) == 0 else f" {plus if value > 0 else minus}"
        return f"{abs(value):.{fine}f}{spread}{suffix}{side}"
    converted = value * shown.factor + shown.offset
    return f"{round(converted, decimals) + 0.0:.{decimals}f}{spread}{suffix}"


def time_of_day_text(time_ms: float, clock: Clock = _UTC) -> str:
    """Write the time of day of a moment by a clock."""
    return f"{clock.at(time_ms):%H:%M:%S}"


def passage_time_text(time_ms: float, scene: Scene, clock: Clock = _UTC, form: str = "%H:%M:%S") -> str:
    """Write a time of day by a clock, after its day where the passage has more than one."""
    moments = (*scene.time_ms[:1], *scene.time_ms[-1:], time_ms)
    days = [clock.at(float(one)).date() for one in moments]
    at = clock.at(time_ms)
    if len(set(days)) == 1:
        return f"{at:{form}}"
    day = f"{at:%d %b}" if scene.dated else f"day {(days[-1] - days[0]).days + 1}"
    return f"{day} {at:{form}}"


def time_text(time_ms: float, start_ms: float, dated: bool, clock: Clock = _UTC) -> str:
    """Write a moment with its date and clock; without a date, with the number of the day from the second one on."""
    if dated:
        return f"{clock.at(time_ms):%Y-%m-%d %H:%M:%S} {clock.name}"
    day = int((time_ms + clock.offset_ms) // 86_400_000 - (start_ms + clock.offset_ms) // 86_400_000) + 1
    return f"{time_of_day_text(time_ms, clock)} {clock.name}{f', day {day}' if day > 1 else ''}"


def duration_text(seconds: float) -> str:
    """Write a duration in days, hours and minutes, below an hour in minutes and seconds."""
    whole = round(seconds)
    days, rest = divmod(whole, 86400)
    hours, rest = divmod(rest, 3600)
    minutes, rest = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h {minutes:02d} min"
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"


def whole_minutes_text(seconds: float) -> str:
    """Write a duration in hours and whole minutes, at least one."""
    hours, minutes = divmod(max(round(seconds / 60), 1), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def fact_text(text: str) -> str:
    """Write a fact for the screen: labels where it has the names of channels."""
    return re.sub(r"\b[a-z]+(?:_[a-z]+)+\b", lambda name: label_text(name[0]), text)


def label_text(channel: str) -> str:
    """Write a channel's label, or the name as it is where the table does not know it."""
    return CHANNELS[channel].label if channel in CHANNELS else channel


def count_text(count: int) -> str:
    """Write a count with thousands set apart."""
    return f"{count:,}".replace(",", "\u202f")
