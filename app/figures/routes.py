"""The chart of a route: track, marks, legs by both lines, and the laylines at one moment with their fans."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from analysis.earth import Position, geodesic_end
from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.routes import Laylines, Mark, RouteLeg
from analysis.routes.lines import composite_points, geodesic_points, rhumb_points
from app.dress import Dress

from .coastline import Ring
from .paper import Figure
from .scene import Plane, Scene
from .track import Box, graticule, track_box, track_figure

APART_NM = 0.1
"""Lines of a leg nearer than this are drawn as one."""
ROOM = 0.12
FARTHEST = 4.0
"""Marks farther off than this many times the extent of the track leave it the chart."""


def route_figure(
    scene: Scene,
    coast: list[Ring],
    dress: Dress,
    legs: Sequence[RouteLeg],
    marks: Sequence[Mark],
    now: Laylines | None,
    heading_deg: float | None,
) -> Figure:
    """Draw everything on the plane of the track; ``heading_deg`` turns the boat."""
    assert scene.plane is not None
    figure = track_figure(scene, coast, dress, None)
    plane, theme = scene.plane, dress.theme
    data = figure["data"]
    for leg in legs:
        data += _leg(leg, plane, dress)
    if now is not None:
        data += _laylines(now, plane, dress)
    data.append(_marks(marks, plane, dress, None if now is None else now.mark))
    if now is not None:
        east, north = _on(plane, np.array([now.boat]))
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "x": east.tolist(),
                "y": north.tolist(),
                "marker": {
                    "symbol": "circle" if heading_deg is None else "arrow",
                    "angle": 0.0 if heading_deg is None else round(heading_deg, 1),
                    "size": dress.px(18),
                    "color": theme.accent,
                    "line": {"width": 1.5, "color": theme.panel},
                },
                "hovertemplate": "boat<extra></extra>",
            }
        )
    box = _box(scene, plane, marks, now)
    layout = figure["layout"]
    layout["hovermode"] = "closest"
    layout["uirevision"] = "routes"
    layout["margin"] |= {"b": round(26 * dress.text)}
    layout["xaxis"] |= {"range": [box[0], box[2]]} | graticule(plane, box)["xaxis"]
    layout["yaxis"] |= {"range": [box[1], box[3]]} | graticule(plane, box)["yaxis"]
    return figure


def _on(plane: Plane, points: Floats) -> tuple[Floats, Floats]:
    """Put points (n, 2) of latitude and longitude on the plane."""
    return plane.east_nm(points[:, 1]), plane.north_nm(points[:, 0])


def _box(scene: Scene, plane: Plane, marks: Sequence[Mark], now: Laylines | None) -> Box:
    """Span the track, and the mark that counts unless it lies too far off to see both; without one, all marks."""
    west, south, east, north = track_box(scene)
    wanted = [now.mark] if now is not None else list(marks)
    if wanted:
        x, y = _on(plane, np.array([(one.lat_deg, one.lon_deg) for one in wanted]))
        size = max(east - west, north - south)
        near = np.hypot(x - (west + east) / 2, y - (south + north) / 2) < FARTHEST * size
        x, y = x[near], y[near]
        west, east = min(west, *x, east), max(east, *x, west)
        south, north = min(south, *y, north), max(north, *y, south)
        edge = ROOM * max(east - west, north - south)
        west, south, east, north = west - edge, south - edge, east + edge, north + edge
    return float(west), float(south), float(east), float(north)


def _leg(leg: RouteLeg, plane: Plane, dress: Dress) -> Iterator[dict[str, Any]]:
    if leg.geodesic.distance_nm == 0.0:
        return
    name = f"{leg.origin.name} to {leg.mark.name}"
    yield _line(geodesic_points(leg), plane, dress.theme.ink, "solid", 1.2, f"{name}: geodesic")
    if leg.apart_nm >= APART_NM:
        yield _line(rhumb_points(leg), plane, dress.theme.ink, "dash", 1.2, f"{name}: rhumb line")
    if leg.composite is not None:
        yield _line(composite_points(leg), plane, dress.theme.ink, "dot", 2.0, f"{name}: below the latitude")


def _line(points: Floats, plane: Plane, colour: str, dash: str, width: float, name: str) -> dict[str, Any]:
    east, north = _on(plane, points)
    breaks = np.flatnonzero(np.abs(np.diff(east)) > 180.0 * plane.nm_per_degree_east)
    return {
        "type": "scatter",
        "mode": "lines",
        "x": np.insert(east, breaks + 1, np.nan).round(4).tolist(),
        "y": np.insert(north, breaks + 1, np.nan).round(4).tolist(),
        "line": {"color": colour, "width": width, "dash": dash},
        "hovertemplate": f"{_safe(name)}<extra></extra>",
        "name": _safe(name),
    }


def _marks(marks: Sequence[Mark], plane: Plane, dress: Dress, chosen: Mark | None) -> dict[str, Any]:
    points = np.array([(one.lat_deg, one.lon_deg) for one in marks]).reshape(-1, 2)
    east, north = _on(plane, points)
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": east.tolist(),
        "y": north.tolist(),
        "text": [_safe(one.name) for one in marks],
        "textposition": "top right",
        "textfont": {"color": dress.theme.ink, "size": dress.px(13)},
        "marker": {
            "symbol": ["diamond" if one == chosen else "diamond-open" for one in marks],
            "size": 11,
            "color": dress.theme.accent,
            "line": {"width": 2, "color": dress.theme.accent},
        },
        "hovertemplate": "%{text}<extra></extra>",
        "cliponaxis": True,
    }


def _laylines(now: Laylines, plane: Plane, dress: Dress) -> Iterator[dict[str, Any]]:
    """Each layline leads to the mark, with the fan of its ±; where both tacks are needed the way is drawn too."""
    theme = dress.theme
    for line in now.laylines:
        port = line.sailing.tack == "port"
        colour = theme.port if port else theme.starboard
        length = (
            now.distance_nm
            if np.isnan(line.distance_nm)
            else max(1.15 * line.distance_nm, 0.4 * now.distance_nm)
        )
        fan = [
            _back(now.mark, line.bearing_deg + off, length)
            for off in np.linspace(-1, 1, 9) * SIGMAS_95 * line.bearing_sd_deg
        ]
        start = (now.mark.lat_deg, now.mark.lon_deg)
        east, north = _on(plane, np.array([start, *fan, start]))
        words = f"layline on {line.sailing.tack} tack: {round(line.bearing_deg) % 360:03d}°"
        yield {
            "type": "scatter",
            "mode": "lines",
            "x": east.tolist(),
            "y": north.tolist(),
            "fill": "toself",
            "fillcolor": _pale(colour),
            "line": {"width": 0, "color": colour},
            "hoverinfo": "skip",
        }
        ends = np.array([start, _back(now.mark, line.bearing_deg, length)])
        yield _line(ends, plane, colour, "dash" if port else "solid", 2.2, words)
    if (first := now.to_layline) is not None:
        turn = geodesic_end(*now.boat, first.bearing_deg, first.distance_nm)
        way = np.array([now.boat, turn, (now.mark.lat_deg, now.mark.lon_deg)])
        words = "the way by the present tack and the other"
        yield _line(way, plane, theme.accent, "dot", 2.6, words)


def _back(mark: Mark, bearing_deg: float, length_nm: float) -> Position:
    return geodesic_end(mark.lat_deg, mark.lon_deg, bearing_deg + 180.0, length_nm)


def _pale(colour: str) -> str:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.16)"


def _safe(text: str) -> str:
    """A name from a log as plain text, where the chart would read tags."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("%{", "% {")
