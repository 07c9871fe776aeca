"""The charts of the Polar page: the diagram with the wind on top, and the passage in per cent of a table."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.performance import Against, BestAngle, Minutes, PolarTable, Smooth
from app.dress import Dress
from app.sections.polar import wind_text

from .paper import Figure, named_above, paper, time_axis
from .reduce import packed
from .scales import blend, round_step

MOST_POINTS = 1200
MOST_CURVES = 6
DASHES = ("solid", "8px,3px", "2px,3px", "10px,3px,2px,3px")
MARKS = ("circle", "diamond", "square", "cross")
SPOKES_DEG = range(0, 181, 30)
LONGEST_HOLE_MS = 600_000.0


def polar_diagram(
    minutes: Minutes,
    smooth: Smooth,
    best: Sequence[BestAngle],
    table: PolarTable | None,
    dress: Dress,
) -> Figure:
    """Draw speed by true wind angle, the wind from above, starboard tack to the right and port to the left.

    One curve for every other wind speed where there are many; the minutes faint in the colour of the nearest.
    """
    kn = dress.units.of("kn")
    winds = np.flatnonzero(np.isfinite(smooth.speed_kn).any(axis=0))
    winds = winds[:: -(-len(winds) // MOST_CURVES) or 1]
    fastest = float(np.nanmax(np.concatenate((minutes.speed_kn, smooth.speed_kn.ravel())))) * kn.factor
    step = round_step(fastest, 4)
    reach = step * np.ceil(fastest / step)
    lowest = float((minutes.speed_kn * np.cos(np.radians(minutes.twa_deg))).min()) * kn.factor
    below = float(np.clip(lowest - step, -reach, -0.2 * reach))
    colours = blend(dress.theme.ramp, max(len(winds), 2))
    data = _frame(reach, step, below, dress)
    data += _points(minutes, smooth.grid.tws_kn[winds], colours, dress)
    for number, at in enumerate(winds):
        name = wind_text(float(smooth.grid.tws_kn[at]), dress.units)
        style = {"color": colours[number], "dash": DASHES[number % len(DASHES)], "width": 2.5}
        data.append(_curve(smooth.grid.twa_deg, smooth.speed_kn[:, at], name, style, dress))
        if table is not None:
            angles = np.arange(table.twa_deg[0], table.twa_deg[-1] + 1, 2.0)
            given = table.speed_at(np.full(len(angles), smooth.grid.tws_kn[at]), angles)
            thin = {"color": colours[number], "dash": "1px,2px", "width": 1.2}
            data.append(_curve(angles, given, f"table, {name}", thin, dress) | {"showlegend": False})
    data += _best_marks(best, dress)
    data += _labels(reach, step, below, kn.symbol, dress)
    bare = {"tickvals": [], "ticktext": [], "zeroline": False, "showgrid": False, "constrain": "domain"}
    layout = paper(
        dress,
        xaxis=bare | {"range": [-1.16 * reach, 1.16 * reach]},
        yaxis=bare | {"range": [1.12 * below, 1.14 * reach], "scaleanchor": "x"},
    )
    layout |= named_above(dress)
    layout["margin"] = {"l": 8, "r": 8, "t": round(dress.px(34)), "b": 8}
    return {"data": data, "layout": layout}


def percent_through_time(
    minutes: Minutes, against: Against, dress: Dress, dated: bool, span_ms: tuple[float, float]
) -> Figure:
    """Draw the passage in per cent of the table or of its own polar, each minute, with the ± of the instruments."""
    known = np.isfinite(against.percent)
    percent, percent_sd = against.percent[known], against.percent_sd[known]
    times = minutes.time_s[known] * 1000 + dress.clock.offset_ms
    holes = np.flatnonzero(np.diff(times) > LONGEST_HOLE_MS) + 1
    mean = _running(percent, holes)
    spread = SIGMAS_95 * _running(percent_sd, holes)
    at = np.insert(times, holes, times[holes])
    lines = [np.insert(one, holes, np.nan) for one in (mean - spread, mean + spread, mean)]
    theme = dress.theme
    band = {"type": "scatter", "mode": "lines", "hoverinfo": "skip", "x": packed(at)}
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "one minute",
            "x": packed(times),
            "y": packed(percent.round(1)),
            "marker": {"color": theme.ground, "size": 4},
            "opacity": 0.45,
            "hovertemplate": "%{y:.0f} % at %{x|%H:%M}<extra></extra>",
        },
        band
        | {
            "name": "± of the instruments",
            "y": packed(lines[0]),
            "line": {"color": theme.muted, "width": 1, "dash": "2px,3px"},
        },
        band
        | {
            "y": packed(lines[1]),
            "line": {"color": theme.muted, "width": 1, "dash": "2px,3px"},
            "showlegend": False,
        },
        {
            "type": "scatter",
            "mode": "lines",
            "name": "mean of a quarter of an hour",
            "x": packed(at),
            "y": packed(lines[2]),
            "line": {"color": theme.boat, "width": 2.2},
            "hovertemplate": "%{y:.0f} % at %{x|%H:%M}<extra>mean</extra>",
        },
    ]
    low, high = np.quantile(percent, (0.01, 0.99)) if len(percent) else (80.0, 120.0)
    layout = paper(
        dress,
        xaxis=time_axis(dress, *span_ms, dated),
        yaxis={
            "title": "of the table [%]" if against.imported else "of her own polar [%]",
            "range": [min(float(low), 90.0) - 5, max(float(high), 110.0) + 5],
        },
        shapes=[
            {
                "type": "line",
                "xref": "paper",
                "x0": 0,
                "x1": 1,
                "y0": 100,
                "y1": 100,
                "line": {"color": theme.ink, "width": 1},
            }
        ],
    )
    return {"data": data, "layout": layout | named_above(dress)}


def _frame(reach: float, step: float, below: float, dress: Dress) -> list[dict[str, Any]]:
    """Rings of speed and spokes of angle."""
    turn = np.radians(np.arange(0, 361, 3.0))
    rings = [
        _line(radius * np.sin(turn), radius * np.cos(turn), below, dress)
        for radius in np.arange(step, reach + step / 2, step)
    ]
    spokes = [
        _line(
            np.linspace(0, side * reach * np.sin(np.radians(angle)), 60),
            np.linspace(0, reach * np.cos(np.radians(angle)), 60),
            below,
            dress,
        )
        for angle in SPOKES_DEG
        for side in (-1, 1)
        if angle not in (0, 180) or side == 1
    ]
    return rings + spokes


def _line(x: Floats, y: Floats, below: float, dress: Dress) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": packed(np.where(y < below, np.nan, x)),
        "y": packed(np.where(y < below, np.nan, y)),
        "line": {"color": dress.theme.rule, "width": 1},
        "hoverinfo": "skip",
        "showlegend": False,
    }


def _labels(reach: float, step: float, below: float, symbol: str, dress: Dress) -> list[dict[str, Any]]:
    """What each spoke, each ring and each half stands for, as text in its place."""
    places = [
        (side * 1.08 * reach * np.sin(turn), 1.06 * reach * np.cos(turn), f"{angle}°")
        for angle in SPOKES_DEG
        for turn in [np.radians(angle)]
        for side in (-1, 1)
        if (angle not in (0, 180) or side == 1) and reach * np.cos(turn) >= below
    ]
    places += [(0.0, radius, f"{radius:g} {symbol}") for radius in np.arange(step, reach, step)]
    places += [
        (side * 0.98 * reach, 1.03 * reach, f"{tack} tack") for side, tack in ((-1, "port"), (1, "starboard"))
    ]
    return [
        {
            "type": "scatter",
            "mode": "text",
            "x": [float(x) for x, _, _ in places],
            "y": [float(y) for _, y, _ in places],
            "text": [text for _, _, text in places],
            "textfont": {"color": dress.theme.muted, "size": dress.px(12)},
            "hoverinfo": "skip",
            "showlegend": False,
        }
    ]


def _points(minutes: Minutes, winds: Floats, colours: Sequence[str], dress: Dress) -> list[dict[str, Any]]:
    """The minutes, faint, one trace for each curve they are nearest to."""
    every = -(-len(minutes.time_s) // MOST_POINTS) or 1
    kept = np.arange(0, len(minutes.time_s), every)
    nearest = (
        np.abs(minutes.tws_kn[kept][:, None] - winds).argmin(axis=1) if len(winds) else np.zeros(len(kept))
    )
    kn = dress.units.of("kn")
    data = []
    for number in np.unique(nearest).astype(int):
        rows = kept[nearest == number]
        speed, angle = minutes.speed_kn[rows] * kn.factor, minutes.twa_deg[rows]
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "x": packed(speed * np.sin(np.radians(angle))),
                "y": packed(speed * np.cos(np.radians(angle))),
                "text": [
                    f"{abs(a):.0f}° {'stbd' if a > 0 else 'port'}, {w * kn.factor:.1f} {kn.symbol} of wind: "
                    f"{v:.1f} {kn.symbol}"
                    for a, w, v in zip(angle, minutes.tws_kn[rows], speed, strict=True)
                ],
                "hovertemplate": "%{text}<extra></extra>",
                "marker": {
                    "color": colours[number],
                    "symbol": MARKS[number % len(MARKS)],
                    "size": 4,
                },
                "opacity": 0.35,
                "showlegend": False,
            }
        )
    return data


def _curve(
    angles: Floats, speeds_kn: Floats, name: str, style: dict[str, Any], dress: Dress
) -> dict[str, Any]:
    """A curve on either side, port first, broken in the middle."""
    kn = dress.units.of("kn")
    speed = np.concatenate((speeds_kn[::-1], [np.nan], speeds_kn)) * kn.factor
    angle = np.concatenate((-angles[::-1], [0.0], angles))
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": packed(speed * np.sin(np.radians(angle))),
        "y": packed(speed * np.cos(np.radians(angle))),
        "line": style,
        "text": [
            "" if np.isnan(v) else f"{abs(a):.0f}°: {v:.1f} {kn.symbol}"
            for a, v in zip(angle, speed, strict=True)
        ],
        "hovertemplate": f"%{{text}}<extra>{name}</extra>",
    }


def _best_marks(best: Sequence[BestAngle], dress: Dress) -> list[dict[str, Any]]:
    """The best angles that are determined, on either side."""
    kn = dress.units.of("kn")
    x, y, texts = [], [], []
    for one in best:
        if one.twa_deg is None or one.vmg_kn is None:
            continue
        turn = np.radians(one.twa_deg)
        speed = abs(one.vmg_kn / np.cos(turn)) * kn.factor
        spread = max(SIGMAS_95 * (one.twa_deg_sd or 0.0), 1.0)
        for side in (-1, 1):
            x.append(float(side * speed * np.sin(turn)))
            y.append(float(speed * np.cos(turn)))
            texts.append(
                f"best {'up' if one.upwind else 'down'}wind in {wind_text(one.tws_kn, dress.units)}: "
                f"{one.twa_deg:.0f} ± {spread:.0f}°"
            )
    if not x:
        return []
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "best angle",
            "x": x,
            "y": y,
            "text": texts,
            "hovertemplate": "%{text}<extra></extra>",
            "marker": {
                "symbol": "star-diamond",
                "size": 12,
                "color": dress.theme.accent,
                "line": {"color": dress.theme.panel, "width": 1},
            },
        }
    ]


def _running(value: Floats, holes: np.ndarray) -> Floats:
    """Means of fifteen neighbours within each stretch without a hole."""
    found = []
    for part in np.split(value, holes):
        known = np.isfinite(part)
        window = np.ones(min(15, len(part)))
        count = np.convolve(known, window, "same")
        total = np.convolve(np.where(known, part, 0.0), window, "same")
        found.append(np.where(count > 0, total / np.maximum(count, 1), np.nan))
    return np.concatenate(found) if found else np.empty(0)
