"""The corrections in words: what each is called, how it is written, and by which step it is tried."""

import math
from collections.abc import Mapping
from typing import NamedTuple

from analysis.calibration.water import DEVIATION
from analysis.correction import neutral
from analysis.estimate import SIGMAS_95, Estimate


class Way(NamedTuple):
    """How a correction is spoken of: ``finest`` decimals, and the step of a trial; ``signed`` where it is added."""

    label: str
    instrument: str
    unit: str
    finest: int
    step: float
    channel: str
    signed: bool = True


WAYS: dict[str, Way] = {
    "log_factor": Way("Log factor", "Log", "", 3, 0.005, "stw_kn", False),
    "log_zero_offset_kn": Way("Log zero offset", "Log", " kn", 2, 0.05, "stw_kn"),
    "compass_constant_deg": Way("Compass constant (A)", "Compass", "°", 1, 0.5, "heading_true_deg"),
    **{
        name: Way(f"Deviation {name.split('_')[1]}", "Compass", "°", 1, 0.5, "heading_true_deg")
        for name in DEVIATION[1:]
    },
    "vane_offset_deg": Way("Vane offset", "Wind vane", "°", 1, 0.5, "awa_deg"),
    "wind_speed_factor": Way("Wind-speed factor", "Anemometer", "", 3, 0.01, "aws_kn", False),
    "upwash_deg": Way("Upwash at 30° AWA", "Wind vane", "°", 1, 0.5, "awa_deg"),
    "leeway_coefficient": Way("Leeway coefficient", "Leeway", " kn²", 1, 0.5, "heel_deg", False),
    "barometer_offset_hpa": Way("Barometer offset", "Barometer", " hPa", 1, 0.1, "air_pressure_hpa"),
}

CORRECTIONS: dict[str, tuple[str, ...]] = {
    "log-under-reading": ("log_factor",),
    "log-over-reading": ("log_factor",),
    "log-zero-offset": ("log_zero_offset_kn",),
    "compass-constant": ("compass_constant_deg",),
    "compass-deviation": DEVIATION[1:],
    "vane-offset": ("vane_offset_deg",),
    "wind-speed-factor": ("wind_speed_factor",),
    "upwash": ("upwash_deg",),
    "barometer-offset": ("barometer_offset_hpa",),
}
"""The corrections that a finding, by its id, says to enter."""


def number_text(name: str, value: float, spread: float = 0.0) -> str:
    """Write a correction with its sign and unit, as finely as its ± allows; factors as "× 1.070"."""
    way = WAYS[name]
    decimals = way.finest
    if spread > 0:
        decimals = min(way.finest, max(0, 1 - math.floor(math.log10(spread))))
    shown = round(value, decimals) + 0.0
    if way.signed:
        sign = "+" if shown > 0 else "−" if shown < 0 else ""
        return f"{sign}{abs(shown):.{decimals}f}{way.unit}"
    return f"{'× ' if not way.unit else ''}{shown:.{decimals}f}{way.unit}"


def within_text(name: str, spread: float) -> str:
    """Write the ± of a correction, half its 95 % interval, never finer than its last decimal."""
    way = WAYS[name]
    decimals = min(way.finest, max(0, 1 - math.floor(math.log10(spread)))) if spread > 0 else way.finest
    return f"± {max(spread, 10.0**-decimals):.{decimals}f}{way.unit}"


def estimate_text(name: str, one: Estimate) -> str:
    """Write an estimate with its ± at 95 %; what was set by hand has none."""
    if one.value is None:
        return "not known"
    spread = SIGMAS_95 * (one.sd or 0.0)
    text = number_text(name, one.value, spread)
    return f"{text} {within_text(name, spread)}" if spread > 0 else f"{text}, set by hand"


def by_hand_text(set_by_hand: Mapping[str, float]) -> str:
    """Say which corrections are set by hand and to what; "" where none is."""
    told = [
        f"{WAYS[name].label} set aside"
        if value == neutral(name)
        else f"{WAYS[name].label} {number_text(name, value)}"
        for name, value in set_by_hand.items()
    ]
    if not told:
        return ""
    count = f"{len(told)} corrections are" if len(told) > 1 else "1 correction is"
    return f"{count} set by hand: {', '.join(told)}."
