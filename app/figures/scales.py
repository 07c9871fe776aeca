"""Scales for a track: classes between round bounds, a ring for directions, two sides for signed angles."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.channels import Channel
from analysis.passage import Floats

from .palette import Theme

SAME = 1e-5
"""Values this close, as a share of the largest, are one value."""


@dataclass(frozen=True)
class Scale:
    """Classes of one channel: ``bounds`` (n + 1), a colour for each class (n), and what the legend says."""

    bounds: Floats
    colours: tuple[str, ...]
    ticks: tuple[float, ...]
    tick_texts: tuple[str, ...]

    def classes(self, values: Floats) -> NDArray[np.int64]:
        """Give the number of the class of each value, beyond the bounds the outermost; -1 where missing."""
        inner = np.searchsorted(self.bounds[1:-1], values, side="right")
        return np.where(np.isfinite(values), inner, -1)


def scale_of(channel: Channel, values: Floats, theme: Theme) -> Scale:
    """Choose a channel's scale: a ring for directions, two sides for signed angles, else a ramp."""
    if channel.kind == "direction":
        return _ring(theme)
    if channel.kind == "signed_angle":
        return _sides(values, theme)
    return _ramp(values, theme)


def blend(anchors: tuple[str, ...], count: int) -> tuple[str, ...]:
    """Blend colours at ``count`` even steps from the first anchor to the last, linearly in sRGB."""
    rgb = np.array([[int(anchor[at : at + 2], 16) for at in (1, 3, 5)] for anchor in anchors], dtype=float)
    place = np.linspace(0, len(anchors) - 1, count)
    mixed = np.stack([np.interp(place, np.arange(len(anchors)), rgb[:, part]) for part in range(3)], axis=1)
    return tuple("#" + "".join(f"{round(part):02x}" for part in colour) for colour in mixed)


def round_step(span: float, parts: int) -> float:
    """Find the smallest of 1, 2 or 5 times a power of ten that divides ``span`` into at most ``parts``."""
    rough = span / parts
    power = 10.0 ** np.floor(np.log10(rough))
    return float(next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= rough * (1 - 1e-9)))


def tick_texts(ticks: Floats, step: float) -> tuple[str, ...]:
    """Write ticks ``step`` apart with as many decimals as tell them apart."""
    decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    return tuple(f"{tick + 0.0:.{decimals}f}" for tick in np.round(ticks, decimals))


def _ramp(values: Floats, theme: Theme) -> Scale:
    low, high = np.nanpercentile(values, (1, 99)).tolist()
    if high - low <= SAME * max(abs(low), abs(high), 1.0):
        low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if high - low <= SAME * max(abs(low), abs(high), 1.0):
        return Scale(
            np.array([low - 1, low + 1]), blend(theme.ramp, 3)[1:2], (low,), (f"{low:.6g} throughout",)
        )
    step = round_step(high - low, 8)
    bounds: Floats = np.arange(np.floor(low / step), np.floor(high / step) + 1.5) * step
    every = -(-len(bounds) // 6)
    colours = blend(theme.ramp, len(bounds) - 1)
    return Scale(bounds, colours, tuple(bounds[::every]), tick_texts(bounds[::every], step * every))


def _sides(values: Floats, theme: Theme) -> Scale:
    reach = float(np.nanpercentile(np.abs(values), 99))
    step = round_step(max(reach, 1.0), 4)
    count = int(np.ceil(reach / step)) or 1
    bounds = np.linspace(-count * step, count * step, 2 * count + 1)
    port, starboard = (blend((side, theme.rule), count + 1)[:count] for side in (theme.port, theme.starboard))
    ticks = (bounds[0], 0.0, bounds[-1])
    texts = (f"{-bounds[0]:g} −", "0", f"+ {bounds[-1]:g}")
    return Scale(bounds, port + starboard[::-1], ticks, texts)


def _ring(theme: Theme) -> Scale:
    bounds = np.concatenate(([0.0], np.arange(7.5, 360.0, 15.0), [360.0]))
    ring = blend(theme.ring, 25)
    return Scale(bounds, ring, (0.0, 90.0, 180.0, 270.0, 360.0), ("N", "E", "S", "W", "N"))
