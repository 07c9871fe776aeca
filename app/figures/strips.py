"""The strips: speed, heading, wind, current and what else there is, over one time axis."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.channels import CHANNELS, Kind
from analysis.passage import Floats
from analysis.vectors import mean_direction_deg

from .palette import Theme
from .reduce import BUCKETS, MEANS, broken_at_jumps, bucket_means, extremes, fold, packed, unwrap
from .scales import round_step, tick_texts
from .scene import Scene

Figure = dict[str, Any]
Span = tuple[float, float]
"""Start and end of a stretch of time, milliseconds since 1970-01-01 UTC."""

MARGIN_PX = {"l": 46, "r": 216, "t": 22, "b": 40}
GAP = 0.022
TALL = 2.0
"""A row of this height has room for more ticks."""
AT_MOST = 6
"""The rows of EXTRA are added up to this many strips."""


@dataclass(frozen=True)
class Trace:
    """One line of a row: its channel, the part it plays (a colour of the theme) and its name in the row."""

    channel: str
    part: str
    name: str


@dataclass(frozen=True)
class Row:
    """One strip of paper: title, lines, relative height, and the smallest spread its axis shows.

    With ``means`` the lines lie over one another: each is drawn as the mean of a run, its extremes faint
    beneath. A ``downward`` axis has zero on top.
    """

    title: str
    traces: tuple[Trace, ...]
    height: float
    least: float
    means: bool = False
    downward: bool = False

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
        means=True,
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
        means=True,
    ),
    Row("Current set", (Trace("set_deg", "boat", "set"),), 1.6, 30.0),
    Row("Current drift", (Trace("drift_kn", "boat", "drift"),), 1.6, 0.5),
)
EXTRA = (
    Row(
        "Depth",
        (
            Trace("depth_m", "boat", "transducer"),
            Trace("depth_surface_m", "ground", "surface"),
            Trace("depth_keel_m", "logged", "keel"),
        ),
        2.2,
        1.0,
        downward=True,
    ),
    Row("Heel", (Trace("heel_deg", "starboard", "heel"),), 1.9, 10.0),
    Row("Air pressure", (Trace("air_pressure_hpa", "boat", "pressure"),), 1.6, 2.0),
    Row("Water temperature", (Trace("water_temp_c", "boat", "water"),), 1.6, 1.0),
)
"""What is drawn where the passage has not much else."""


@dataclass(frozen=True)
class Placed:
    """A row with those of its lines that the passage has, and its place between bottom (0) and top (1)."""

    row: Row
    traces: tuple[Trace, ...]
    bottom: float
    top: float


def placed_rows(scene: Scene) -> list[Placed]:
    """Stack the rows that have anything to show, the first on top."""
    found = [(row, tuple(t for t in row.traces if t.channel in scene.columns)) for row in (*ROWS, *EXTRA)]
    present = [(row, traces) for row, traces in found if traces and row in ROWS]
    extra = [(row, traces) for row, traces in found if traces and row in EXTRA]
    present += extra[: max(AT_MOST - len(present), 0)]
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

    ``layout.meta`` holds ``shown`` and ``total``, how many values of the span are drawn, and ``mean``, the
    seconds that a bold line averages over (0 where there is none).
    """
    start, end = span or (float(scene.time_ms[0]), float(scene.time_ms[-1]))
    first = max(int(np.searchsorted(scene.time_ms, start)) - 1, 0)
    last = int(np.searchsorted(scene.time_ms, end, side="right")) + 1
    window = slice(first, last)
    layout = _frame_of_strips(theme, (start, end), scene.dated)
    data: list[dict[str, Any]] = []
    counts = np.zeros(2, dtype=int)
    mean_s = 0.0
    for number, place in enumerate(placed_rows(scene), start=1):
        axis = f"y{number if number > 1 else ''}"
        seam = _seam_deg(scene, place)
        faint = place.row.means and len(place.traces) > 1 and len(scene.time_ms[window]) > 2 * BUCKETS
        lines = []
        for trace in place.traces:
            times, values, count = _reduced(scene, trace.channel, window, seam, BUCKETS // (1 + faint))
            counts += count
            lines.append(values)
            drawn = [_line(times, shown, theme, part, axis) for part, shown in _sides(trace, values)]
            data += [line | _FAINT for line in drawn] if faint else drawn
        if faint:
            mean_s = (end - start) / 1000 / MEANS
            for trace in place.traces:
                line = _line(*_averaged(scene, trace.channel, window, seam), theme, trace.part, axis)
                data.append(line | {"line": line["line"] | {"width": 2}})
        layout[f"yaxis{number if number > 1 else ''}"] = _value_axis(
            place, theme, np.concatenate(lines), seam is not None
        )
    layout["meta"] = {"shown": int(counts[0]), "total": int(counts[1]), "mean": round(mean_s)}
    return {"data": data, "layout": layout}


_FAINT = {"opacity": 0.28}


def _reduced(
    scene: Scene, channel: str, window: slice, seam: float | None, buckets: int
) -> tuple[Floats, Floats, tuple[int, int]]:
    values = scene.columns[channel][window]
    total = int(np.isfinite(values).sum())
    if seam is not None:
        values = unwrap(values)
    keep = extremes(values, buckets)
    times, values = scene.time_ms[window][keep], values[keep]
    shown = int(np.isfinite(values).sum())
    side = np.searchsorted(scene.holes, keep + window.start, side="left")
    times, values = broken_at_jumps(times, values, np.flatnonzero(np.diff(side)) + 1)
    if seam is not None:
        times, values = fold(times, values, seam)
    return times, values, (shown, total)


def _averaged(scene: Scene, channel: str, window: slice, seam: float | None) -> tuple[Floats, Floats]:
    values = scene.columns[channel][window]
    times, means = bucket_means(scene.time_ms[window], values if seam is None else unwrap(values))
    start = window.start + np.arange(len(times)) * -(-len(values) // MEANS)
    means[:-1][np.diff(np.searchsorted(scene.holes, start)) > 0] = np.nan
    return (times, means) if seam is None else fold(times, means, seam)


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


def _frame_of_strips(theme: Theme, span: Span, dated: bool) -> dict[str, Any]:
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": theme.sea,
        "font": {"family": "Atkinson Hyperlegible Next, sans-serif", "size": 12, "color": theme.muted},
        "margin": MARGIN_PX,
        "showlegend": False,
        "hovermode": False,
        "dragmode": False,
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
                {"dtickrange": [60000, 43200000], "value": "%H:%M\n%d %b" if dated else "%H:%M"},
                {"dtickrange": [86400000, None], "value": "%d %b\n%Y" if dated else "%H:%M"},
            ],
        },
    }


def _value_axis(place: Placed, theme: Theme, values: Floats, angular: bool) -> dict[str, Any]:
    low, high = _limits(values, place.row.least)
    axis: dict[str, Any] = {
        "domain": [place.bottom, place.top],
        "range": [high, low] if place.row.downward else [low, high],
        "fixedrange": True,
        "anchor": "x",
        "gridcolor": theme.rule,
        "zeroline": False,
        "showline": False,
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
