"""The strips: speed, heading, wind, current and what else there is, over one time axis."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.channels import Kind
from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.vectors import mean_direction_deg
from app.dress import Dress

from .palette import Theme
from .paper import Figure, paper, time_axis
from .reduce import (
    BUCKETS,
    MEANS,
    broken_at_jumps,
    bucket_directions,
    bucket_means,
    extremes,
    fold,
    packed,
    unwrap,
)
from .rows import Placed, Trace, placed_rows
from .scales import round_step, tick_texts
from .scene import Scene

Span = tuple[float, float]
"""Start and end of a stretch of time, milliseconds since 1970-01-01 UTC."""

MARGIN_PX = {"l": 46, "r": 216, "t": 22, "b": 40}
TALL = 2.0
"""A row of this height has room for more ticks."""
_FAINT = {"opacity": 0.28}
_SHOWN_DASH = "4px,3px"


def strips_figure(scene: Scene, dress: Dress, span: Span | None = None, chosen: Sequence[str] = ()) -> Figure:
    """Draw the chosen rows over ``span`` (default: the whole passage), reduced to the extremes of each bucket.

    A row whose first line has a one-sigma has a band, ± at 95 % about the means of that line. The time axis is
    the reader's clock.
    ``layout.meta`` holds ``shown`` and ``total``, how many values of the span are drawn; ``mean``, the seconds
    that a bold line averages over (0 where there is none); ``banded``, whether there is a band.
    """
    start, end = span or (float(scene.time_ms[0]), float(scene.time_ms[-1]))
    first = max(int(np.searchsorted(scene.time_ms, start)) - 1, 0)
    last = int(np.searchsorted(scene.time_ms, end, side="right")) + 1
    strip = _Strip(scene, dress, slice(first, last))
    layout = paper(
        dress, margin=_margin(dress), hovermode=False, xaxis=_time(dress, (start, end), scene.dated)
    )
    data: list[dict[str, Any]] = []
    counts = np.zeros(2, dtype=int)
    mean_s, banded = 0.0, False
    for number, place in enumerate(placed_rows(scene, chosen), start=1):
        suffix = str(number) if number > 1 else ""
        seam = _seam_deg(scene, place)
        before = any(trace.part == "shown" for trace in place.traces)
        averaged = place.row.means or (before and place.row.kind != "signed_angle")
        faint = averaged and last - first > 2 * BUCKETS
        lines = []
        if band := strip.band(place.traces[0], seam, f"y{suffix}"):
            data.append(band)
            banded = True
        for trace in place.traces:
            if trace.part == "shown" and place.row.kind == "signed_angle":
                times, values = strip.averaged(trace, seam, BUCKETS // 2)
                data += [strip.line(times, side, "shown", f"y{suffix}") for _, side in _halves(values)]
                continue
            times, values, count = strip.reduced(trace, seam, BUCKETS // (1 + faint))
            counts += count
            lines.append(values)
            drawn = [strip.line(times, shown, part, f"y{suffix}") for part, shown in _sides(trace, values)]
            data += [line | _FAINT for line in drawn] if faint else drawn
        if faint:
            mean_s = (end - start) / 1000 / MEANS
            for trace in place.traces:
                line = strip.line(*strip.averaged(trace, seam), trace.part, f"y{suffix}")
                data.append(line | {"line": line["line"] | {"width": 2}})
        least = place.row.least * dress.units.of_channel(place.traces[0].channel.name).factor
        layout[f"yaxis{suffix}"] = _value_axis(
            place, dress.theme, np.concatenate(lines), seam is not None, least
        )
    layout["meta"] = {
        "shown": int(counts[0]),
        "total": int(counts[1]),
        "mean": round(mean_s),
        "banded": banded,
    }
    return {"data": data, "layout": layout}


def margin_right_px(dress: Dress) -> int:
    """Give the room beside the strips for the readings at the cursor [px]."""
    return round(MARGIN_PX["r"] * dress.text)


def _margin(dress: Dress) -> dict[str, int]:
    return MARGIN_PX | {"l": round(MARGIN_PX["l"] * dress.text), "r": margin_right_px(dress)}


class _Strip:
    """The lines of one window of a scene, as one reader sees them."""

    def __init__(self, scene: Scene, dress: Dress, window: slice) -> None:
        self.scene, self.dress, self.window = scene, dress, window
        self.time_ms = scene.time_ms[window]

    def values(self, trace: Trace) -> Floats:
        """A column within the window, in the reader's unit."""
        shown = self.dress.units.of_channel(trace.channel.name)
        values: Floats = self.scene.columns[trace.column][self.window] * shown.factor + shown.offset
        return values

    def reduced(
        self, trace: Trace, seam: float | None, buckets: int
    ) -> tuple[Floats, Floats, tuple[int, int]]:
        """The extremes of a column, broken at holes; how many values that shows, and of how many."""
        values = self.values(trace)
        total = int(np.isfinite(values).sum())
        if seam is not None:
            values = unwrap(values)
        keep = extremes(values, buckets)
        times, values = self.time_ms[keep], values[keep]
        shown = int(np.isfinite(values).sum())
        side = np.searchsorted(self.scene.holes, keep + self.window.start, side="left")
        times, values = broken_at_jumps(times, values, np.flatnonzero(np.diff(side)) + 1)
        if seam is not None:
            times, values = fold(times, values, seam)
        return times, values, (shown, total)

    def averaged(self, trace: Trace, seam: float | None, buckets: int = MEANS) -> tuple[Floats, Floats]:
        """The means of even runs of a column, broken at holes."""
        times, means = self._means(self.values(trace), seam is not None, buckets)
        return (times, means) if seam is None else fold(times, means, seam)

    def band(self, trace: Trace, seam: float | None, axis: str) -> dict[str, Any] | None:
        """The area of ± 95 % about the means of a column; None without a one-sigma."""
        spread = self.scene.columns.get(f"{trace.column}_sd")
        if spread is None:
            return None
        factor = self.dress.units.of_channel(trace.channel.name).factor
        times, means = self._means(self.values(trace), seam is not None)
        _, half = self._means(spread[self.window] * factor * SIGMAS_95, False)
        turn = np.zeros(len(means)) if seam is None else np.floor((means - seam) / 360.0)
        low, high = (means - 360.0 * turn + side * half for side in (-1, 1))
        if trace.channel.kind == "scalar" and trace.channel.low >= 0:
            low = np.maximum(low, 0.0)
        known = np.isfinite(low)
        part = np.cumsum(np.append(0, (np.diff(turn) != 0) | ~known[1:] | ~known[:-1]))
        pieces = [np.flatnonzero(known & (part == number)) for number in np.unique(part[known])]
        if not pieces:
            return None
        x = np.concatenate([np.r_[times[at], times[at][::-1], np.nan] for at in pieces])
        y = np.concatenate([np.r_[low[at], high[at][::-1], np.nan] for at in pieces])
        colour = _colour(trace.part, self.dress.theme)
        return {
            "type": "scatter",
            "mode": "lines",
            "x": packed(x + self.dress.clock.offset_ms),
            "y": packed(y.astype(np.float32)),
            "xaxis": "x",
            "yaxis": axis,
            "fill": "toself",
            "fillcolor": colour,
            "opacity": 0.15,
            "line": {"width": 0},
            "hoverinfo": "skip",
        }

    def line(self, times: Floats, values: Floats, part: str, axis: str) -> dict[str, Any]:
        """A line, or dots where most values stand alone."""
        finite = np.isfinite(values)
        lonely = finite & ~np.append(finite[1:], False) & ~np.insert(finite[:-1], 0, False)
        colour = _colour(part, self.dress.theme)
        dash = _SHOWN_DASH if part == "shown" else self.dress.theme.dashes.get(part, "solid")
        return {
            "type": "scatter",
            "mode": "markers" if lonely.sum() > 0.2 * finite.sum() else "lines",
            "x": packed(times + self.dress.clock.offset_ms),
            "y": packed(values.astype(np.float32)),
            "xaxis": "x",
            "yaxis": axis,
            "line": {
                "color": colour,
                "width": 1 if part == "shown" else 1.3,
                "dash": dash,
                "simplify": False,
            },
            "marker": {"color": colour, "size": 3},
            "hoverinfo": "skip",
        }

    def _means(self, values: Floats, angular: bool, buckets: int = MEANS) -> tuple[Floats, Floats]:
        times, means = (bucket_directions if angular else bucket_means)(self.time_ms, values, buckets)
        start = self.window.start + np.arange(len(times)) * -(-len(values) // buckets)
        means[:-1][np.diff(np.searchsorted(self.scene.holes, start)) > 0] = np.nan
        return times, means


def _colour(part: str, theme: Theme) -> str:
    return str(getattr(theme, "ink" if part == "shown" else part))


def _seam_deg(scene: Scene, place: Placed) -> float | None:
    """Where the row's circle is cut open: opposite the mean direction, so that the line seldom meets it."""
    if place.row.kind == "scalar":
        return None
    if place.row.kind == "signed_angle":
        return -180.0
    directions = np.concatenate([scene.columns[trace.column][::20] for trace in place.traces])
    directions = directions[np.isfinite(directions)]
    mean = float(mean_direction_deg(directions)) if len(directions) else np.nan
    return float(np.round(mean / 10) * 10 - 180) if np.isfinite(mean) else 0.0


def _sides(trace: Trace, values: Floats) -> list[tuple[str, Floats]]:
    return _halves(values) if trace.part == "starboard" else [(trace.part, values)]


def _halves(values: Floats) -> list[tuple[str, Floats]]:
    return [
        ("starboard", np.where(values >= 0, values, np.nan)),
        ("port", np.where(values < 0, values, np.nan)),
    ]


def _time(dress: Dress, span: Span, dated: bool) -> dict[str, Any]:
    return time_axis(dress, *span, dated) | {
        "anchor": "free",
        "position": 0,
        "ticks": "outside",
        "tickcolor": dress.theme.rule,
        "ticklen": 4,
        "ticklabelstandoff": 0,
    }


def _value_axis(place: Placed, theme: Theme, values: Floats, angular: bool, least: float) -> dict[str, Any]:
    low, high = _limits(values, least)
    axis: dict[str, Any] = {
        "domain": [place.bottom, place.top],
        "range": [high, low] if place.row.downward else [low, high],
        "fixedrange": True,
        "anchor": "x",
        "gridcolor": theme.rule,
        "zeroline": False,
        "showline": False,
        "ticklabeloverflow": "allow",  # every tick lies inside; looking for overflow costs a sixth of a zoom
    }
    tall = place.row.height >= TALL
    steps = _angle_steps(high - low, 4.5 if tall else 3.2) if angular else _steps(high - low)
    ticks, step = _ticks(low, high, steps)
    texts = [_angle_text(place.row.kind, tick) for tick in ticks] if angular else tick_texts(ticks, step)
    return axis | {"tickvals": ticks.tolist(), "ticktext": list(texts)}


def _ticks(low: float, high: float, steps: tuple[float, float]) -> tuple[Floats, float]:
    """Set ticks by the first step, or by the second where that leaves fewer than two, which give no scale."""
    coarse, fine = (np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step + 0.0 for step in steps)
    return (coarse, steps[0]) if len(coarse) >= 2 else (fine, steps[1])


def _steps(span: float) -> tuple[float, float]:
    return round_step(span, 3), round_step(span, 5)


def _angle_steps(span_deg: float, parts: float) -> tuple[float, float]:
    choice = (2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0, 180.0)
    at = next((at for at, step in enumerate(choice) if span_deg / step <= parts), len(choice) - 1)
    return choice[at], choice[max(at - 1, 0)]


def _limits(values: Floats, least: float) -> Span:
    finite = values[np.isfinite(values)]
    if not len(finite):
        return 0.0, least
    low, high = float(finite.min()), float(finite.max())
    span = max(1.12 * (high - low), least)
    bottom = (low + high - span) / 2
    if low >= 0:
        bottom = max(bottom, -0.06 * span)
    return bottom, bottom + span


def _angle_text(kind: Kind, tick: float) -> str:
    if kind == "direction":
        return f"{tick % 360:03.0f}°"
    return f"{'S' if tick > 0 else 'P' if tick < 0 else ''}{abs(tick):g}°"
