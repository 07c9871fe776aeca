"""The strips: speed, heading, apparent wind, true wind and current over one time axis."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.channels import CHANNELS, Kind
from analysis.passage import Floats
from analysis.vectors import mean_direction_deg

from .palette import Theme
from .reduce import BUCKETS, broken_at_jumps, extremes, fold, packed, unwrap
from .scales import round_step
from .scene import Scene

Figure = dict[str, Any]
Span = tuple[float, float]
"""Start and end of a stretch of time, milliseconds since 1970-01-01 UTC."""

MARGIN_PX = {"l": 46, "r": 216, "t": 22, "b": 40}
GAP = 0.022


@dataclass(frozen=True)
class Trace:
    """One line of a row: its channel, the part it plays (a colour of the theme) and its name in the row."""

    channel: str
    part: str
    name: str


@dataclass(frozen=True)
class Row:
    """One strip of paper: title, lines, relative height, and the smallest spread its axis shows."""

    title: str
    traces: tuple[Trace, ...]
    height: float
    least: float

    @property
    def kind(self) -> Kind:
        """Kind of the row's quantity."""
        return CHANNELS[self.traces[0].channel].kind


ROWS = (
    Row("Speed", (Trace("stw_kn", "boat", "water"), Trace("sog_kn", "ground", "ground")), 2.2, 1.0),
    Row(
        "Heading and course",
        (Trace("heading_true_deg", "boat", "heading"), Trace("cog_deg", "ground", "COG")),
        2.2,
        20.0,
    ),
    Row("Apparent wind angle", (Trace("awa_deg", "starboard", "AWA"),), 1.9, 20.0),
    Row("Apparent wind speed", (Trace("aws_kn", "boat", "AWS"),), 1.6, 2.0),
    Row(
        "True wind direction",
        (
            Trace("twd_water_deg", "boat", "over water"),
            Trace("twd_ground_deg", "ground", "over ground"),
            Trace("logged_twd_deg", "logged", "as logged"),
        ),
        2.7,
        20.0,
    ),
    Row(
        "True wind speed",
        (
            Trace("tws_water_kn", "boat", "over water"),
            Trace("tws_ground_kn", "ground", "over ground"),
            Trace("logged_tws_kn", "logged", "as logged"),
        ),
        2.7,
        2.0,
    ),
    Row("Current sets toward", (Trace("set_deg", "boat", "set"),), 1.6, 30.0),
    Row("Current drift", (Trace("drift_kn", "boat", "drift"),), 1.6, 0.5),
)


@dataclass(frozen=True)
class Placed:
    """A row with those of its lines that the passage has, and its place between bottom (0) and top (1)."""

    row: Row
    traces: tuple[Trace, ...]
    bottom: float
    top: float


def placed_rows(scene: Scene) -> list[Placed]:
    """Stack the rows that have anything to show, the first on top."""
    present = [(row, tuple(t for t in row.traces if t.channel in scene.columns)) for row in ROWS]
    present = [(row, traces) for row, traces in present if traces]
    if not present:
        return []
    paper = (1.0 - GAP * (len(present) - 1)) / sum(row.height for row, _ in present)
    placed, top = [], 1.0
    for row, traces in present:
        bottom = top - row.height * paper
        placed.append(Placed(row, traces, max(bottom, 0.0), top))
        top = bottom - GAP
    return placed


def strips_figure(scene: Scene, theme: Theme, span: Span | None = None) -> Figure:
    """Draw every row over ``span`` (default: the whole passage), reduced to the extremes of each bucket.

    ``layout.meta`` holds ``shown`` and ``total``: how many values of the span are drawn.
    """
    start, end = span or (float(scene.time_ms[0]), float(scene.time_ms[-1]))
    first = max(int(np.searchsorted(scene.time_ms, start)) - 1, 0)
    last = int(np.searchsorted(scene.time_ms, end, side="right")) + 1
    layout = _frame_of_strips(theme, (start, end))
    data: list[dict[str, Any]] = []
    counts = np.zeros(2, dtype=int)
    for number, place in enumerate(placed_rows(scene), start=1):
        axis = f"y{number if number > 1 else ''}"
        seam = _seam_deg(scene, place)
        lines, drawn = [], []
        for trace in place.traces:
            times, values, count = _reduced(scene, trace.channel, slice(first, last), seam)
            counts += count
            lines.append(values)
            drawn += [_line(times, shown, theme, part, axis) for part, shown in _sides(trace, values)]
        data += drawn
        layout[f"yaxis{number if number > 1 else ''}"] = _value_axis(
            place, theme, np.concatenate(lines), seam is not None
        )
    layout["meta"] = {"shown": int(counts[0]), "total": int(counts[1])}
    return {"data": data, "layout": layout}


def _reduced(
    scene: Scene, channel: str, window: slice, seam: float | None
) -> tuple[Floats, Floats, tuple[int, int]]:
    values = scene.columns[channel][window]
    total = int(np.isfinite(values).sum())
    if seam is not None:
        values = unwrap(values)
    keep = extremes(values, BUCKETS)
    times, values = scene.time_ms[window][keep], values[keep]
    shown = int(np.isfinite(values).sum())
    side = np.searchsorted(scene.holes, keep + window.start, side="left")
    times, values = broken_at_jumps(times, values, np.flatnonzero(np.diff(side)) + 1)
    if seam is not None:
        times, values = fold(times, values, seam)
    return times, values, (shown, total)


def _seam_deg(scene: Scene, place: Placed) -> float | None:
    """Where the row's circle is cut open: opposite the mean direction, so that the line seldom meets it."""
    if place.row.kind == "scalar":
        return None
    if place.row.kind == "signed_angle":
        return -180.0
    directions = np.concatenate([scene.columns[trace.channel][::20] for trace in place.traces])
    directions = directions[np.isfinite(directions)]
    mean = float(mean_direction_deg(directions)) if len(directions) else np.nan
    return float(np.round(mean / 10) * 10 - 180) if np.isfinite(mean) else 0.0


def _sides(trace: Trace, values: Floats) -> list[tuple[str, Floats]]:
    if trace.part != "starboard":
        return [(trace.part, values)]
    return [
        ("starboard", np.where(values >= 0, values, np.nan)),
        ("port", np.where(values < 0, values, np.nan)),
    ]


def _line(times: Floats, values: Floats, theme: Theme, part: str, axis: str) -> dict[str, Any]:
    finite = np.isfinite(values)
    lonely = finite & ~np.append(finite[1:], False) & ~np.insert(finite[:-1], 0, False)
    colour = getattr(theme, part)
    return {
        "type": "scatter",
        "mode": "markers" if lonely.sum() > 0.2 * finite.sum() else "lines",
        "x": packed(times),
        "y": packed(values.astype(np.float32)),
        "xaxis": "x",
        "yaxis": axis,
        "line": {"color": colour, "width": 1.3, "dash": theme.dashes.get(part, "solid"), "simplify": False},
        "marker": {"color": colour, "size": 3},
        "hoverinfo": "skip",
    }


def _frame_of_strips(theme: Theme, span: Span) -> dict[str, Any]:
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": theme.sea,
        "font": {"family": "Atkinson Hyperlegible Next, sans-serif", "size": 12, "color": theme.muted},
        "margin": MARGIN_PX,
        "showlegend": False,
        "hovermode": False,
        "dragmode": "zoom",
        "xaxis": {
            "type": "date",
            "range": list(span),
            "anchor": "free",
            "position": 0,
            "gridcolor": theme.rule,
            "showline": False,
            "ticks": "outside",
            "tickcolor": theme.rule,
            "ticklen": 4,
            "tickformatstops": [
                {"dtickrange": [None, 500], "value": "%H:%M:%S.%L"},
                {"dtickrange": [1000, 30000], "value": "%H:%M:%S"},
                {"dtickrange": [60000, 86400000], "value": "%H:%M\n%d %b"},
                {"dtickrange": [86400000, None], "value": "%d %b\n%Y"},
            ],
        },
    }


def _value_axis(place: Placed, theme: Theme, values: Floats, angular: bool) -> dict[str, Any]:
    low, high = _limits(values, place.row.least)
    axis: dict[str, Any] = {
        "domain": [place.bottom, place.top],
        "range": [low, high],
        "fixedrange": True,
        "anchor": "x",
        "gridcolor": theme.rule,
        "zeroline": False,
        "showline": False,
    }
    step = _angle_step(high - low) if angular else round_step(high - low, 3)
    ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step + 0.0
    return axis | {
        "tickvals": ticks.tolist(),
        "ticktext": [_tick_text(place.row.kind, tick) for tick in ticks],
    }


def _limits(values: Floats, least: float) -> Span:
    finite = values[np.isfinite(values)]
    if not len(finite):
        return 0.0, least
    low, high = float(finite.min()), float(finite.max())
    room = max(0.06 * (high - low), (least - (high - low)) / 2)
    return low - room, high + room


def _angle_step(span_deg: float) -> float:
    return next((step for step in (5.0, 10.0, 15.0, 30.0, 45.0, 90.0) if span_deg / step <= 4.5), 180.0)


def _tick_text(kind: Kind, tick: float) -> str:
    if kind == "direction":
        return f"{tick % 360:03.0f}°"
    if kind == "signed_angle":
        return f"{'S' if tick > 0 else 'P' if tick < 0 else ''}{abs(tick):g}°"
    return f"{tick:.6g}"
