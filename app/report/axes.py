"""The axes of a figure on paper: where values lie, and which ticks stand beside them."""

import base64
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from analysis.passage import Floats
from app.figures.scales import round_step, tick_texts

_DATE_STEPS_MS = [1000.0 * s for s in (1, 5, 15, 60, 300, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400)]


@dataclass(frozen=True)
class Axis:
    """One axis: its ends in the data, its place on the paper [points], ticks and title."""

    low: float
    high: float
    start: float
    length: float
    ticks: Floats
    texts: tuple[str, ...]
    title: str
    order: tuple[str, ...] = ()

    def place(self, values: Any) -> Floats:
        """Place values on the paper [points]; names of a category axis by their order."""
        if self.order:
            values = [self.order.index(str(value)) for value in values]
        placed: Floats = self.start + (numbers(values) - self.low) / (self.high - self.low) * self.length
        return placed


def numbers(values: Any) -> Floats:
    """Read what a figure holds as numbers: a list, an array, or the binary form; NaN for what is missing."""
    if isinstance(values, Mapping):
        return np.frombuffer(base64.b64decode(values["bdata"]), dtype=values["dtype"]).astype(np.float64)
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def axis_of(layout: Mapping[str, Any], values: Iterable[Any], room: tuple[float, float], parts: int) -> Axis:
    """Lay an axis out over ``room`` (start and length on the paper) from its layout and the values along it."""
    given = [one for one in values if one is not None]
    domain = layout.get("domain", (0.0, 1.0))
    start, length = room[0] + domain[0] * room[1], (domain[1] - domain[0]) * room[1]
    title = str((layout.get("title") or {}).get("text", ""))
    names = _names(given)
    if names:
        middle = np.arange(len(names), dtype=float)
        ends = (-0.5, len(names) - 0.5)
        low, high = ends[::-1] if layout.get("autorange") == "reversed" else ends
        return Axis(low, high, start, length, middle, names, title, names)
    low, high = _ends(layout, given)
    inside = (min(low, high), max(low, high))
    if "tickvals" in layout:
        ticks, texts = numbers(layout["tickvals"]), tuple(str(text) for text in layout["ticktext"])
    elif layout.get("type") == "date":
        ticks, texts = _date_ticks(*inside, parts)
    else:
        step = float(layout.get("dtick") or round_step(inside[1] - inside[0], parts))
        ticks = np.arange(np.ceil(inside[0] / step), np.floor(inside[1] / step) + 1) * step
        texts = tick_texts(ticks, step)
    kept = (ticks >= inside[0]) & (ticks <= inside[1])
    return Axis(
        low, high, start, length, ticks[kept], tuple(t for t, k in zip(texts, kept, strict=True) if k), title
    )


def _names(given: list[Any]) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            value for one in given if not isinstance(one, Mapping) for value in one if isinstance(value, str)
        )
    )


def _ends(layout: Mapping[str, Any], given: list[Any]) -> tuple[float, float]:
    if "range" in layout:
        low, high = (float(end) for end in layout["range"])
        return low, high if high != low else low + 1
    found = np.concatenate([numbers(one) for one in given]) if given else np.empty(0)
    found = found[np.isfinite(found)]
    if not len(found):
        return 0.0, 1.0
    low, high = float(found.min()), float(found.max())
    if layout.get("rangemode") == "tozero":
        low = min(low, 0.0)
    edge = 0.05 * (high - low) or 0.5
    return (low if layout.get("rangemode") == "tozero" else low - edge), high + edge


def _date_ticks(low: float, high: float, parts: int) -> tuple[Floats, tuple[str, ...]]:
    step = next((one for one in _DATE_STEPS_MS if (high - low) / one <= parts + 1), 7 * 86_400_000.0)
    ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    form = "%d %b" if step >= 86_400_000 else "%H:%M" if step >= 60_000 else "%H:%M:%S"
    return ticks, tuple(datetime.fromtimestamp(tick / 1000, UTC).strftime(form) for tick in ticks)
