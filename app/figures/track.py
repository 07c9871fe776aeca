"""The track on a local plane: coast, graticule, the track in the classes of a chosen channel."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.channels import CHANNELS, Channel
from analysis.passage import Floats
from app.dress import Dress
from app.units import Units

from .coastline import Region, Ring, cut
from .palette import Theme
from .paper import Figure, paper
from .reduce import packed
from .scales import Scale, scale_of
from .scene import Plane, Scene
from .strips import Span

POINTS = 1500
STRETCH_POINTS = 300
APART = 4.0
"""Positions further apart than this many of the track's usual spacing are not joined."""
CASED_PX = 4.8
"""Width of the dark line under the coloured one, so that pale colours stand out from the sea."""
LEAST_NM = 0.05
LEAST_COAST_NM = 3.0
"""A shorter track has no coast: at 1:10m the coastline may lie a mile off."""
_STEPS_MIN = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200)

Box = tuple[float, float, float, float]
"""West, south, east, north [nm] on the plane."""


def track_box(scene: Scene, room: float = 0.09) -> Box:
    """Measure the track's extent on the plane [nm] with ``room`` of its larger side around it."""
    assert scene.east_nm is not None and scene.north_nm is not None
    west, east = float(np.nanmin(scene.east_nm)), float(np.nanmax(scene.east_nm))
    south, north = float(np.nanmin(scene.north_nm)), float(np.nanmax(scene.north_nm))
    edge = max(room * max(east - west, north - south), LEAST_NM)
    return west - edge, south - edge, east + edge, north + edge


def choice_text(channel: Channel, units: Units) -> str:
    """Write a channel's label with the unit it is shown in."""
    symbol = units.of_channel(channel.name).symbol
    return f"{channel.label} [{symbol}]" if symbol else channel.label


def coast_near(scene: Scene, rings: list[Ring]) -> list[Ring]:
    """Cut the coastline to the track's extent on every side of it (8 nm at least), on the plane [nm].

    Empty where there is no land or the track is shorter than LEAST_COAST_NM.
    """
    assert scene.plane is not None
    plane = scene.plane
    west, south, east, north = track_box(scene)
    if max(east - west, north - south) < LEAST_COAST_NM:
        return []
    reach = max(east - west, north - south, 8.0)
    region = Region(
        plane.lon_deg + (west - reach) / plane.nm_per_degree_east,
        plane.lat_deg + (south - reach) / 60,
        plane.lon_deg + (east + reach) / plane.nm_per_degree_east,
        plane.lat_deg + (north + reach) / 60,
    )
    size_nm = np.array([plane.nm_per_degree_east, 60.0])
    return [(ring - (plane.lon_deg, plane.lat_deg)) * size_nm for ring in cut(rings, region)]


def track_figure(scene: Scene, coast: list[Ring], dress: Dress, channel: str | None) -> Figure:
    """Draw the track, coloured by a channel where one is given; a position joined to none is a dot.

    ``layout.meta`` holds ``shown`` and ``total``: how many positions are drawn.
    """
    assert scene.plane is not None and scene.east_nm is not None and scene.north_nm is not None
    theme = dress.theme
    placed = _placed(scene)
    keep, joined = _thinned(scene, placed, POINTS)
    east, north = scene.east_nm[keep], scene.north_nm[keep]
    data = _coast_traces(coast, theme)
    lonely = ~(np.append(joined, False) | np.insert(joined, 0, False))
    if lonely.any():
        data.append(_dots(east[lonely], north[lonely], theme))
    if channel is None:
        data.append(_segments(east, north, joined, theme.boat, 3))
    else:
        shown = dress.units.of_channel(channel)
        column = scene.columns[channel] * shown.factor + shown.offset
        rows = scene.nearest(channel, keep)
        scale = scale_of(CHANNELS[channel], column, theme)
        classes = scale.classes(np.where(rows < 0, np.nan, column[rows]))[:-1]
        data.append(_segments(east, north, joined & (classes < 0), theme.muted, 1.2))
        data.append(_segments(east, north, joined & (classes >= 0), theme.muted, CASED_PX))
        data += [
            _segments(east, north, joined & (classes == number), colour, 3.6)
            for number, colour in enumerate(scale.colours)
            if (classes == number).any()
        ]
        data.append(_legend(CHANNELS[channel], scale, dress))
    data.append(_ends(east, north, dress))
    west, south, east_end, north_end = track_box(scene)
    text = dress.text
    layout = paper(
        dress,
        margin={
            "l": round(62 * text),
            "r": 8,
            "t": 8,
            "b": round((80 if channel else 26) * text),
        },
        hovermode=False,
        dragmode="pan",
        modebar={"bgcolor": "rgba(0,0,0,0)", "color": theme.muted, "activecolor": theme.accent},
        uirevision="track",
        xaxis={"range": [west, east_end], **_plane_axis(theme)},
        yaxis={"range": [south, north_end], "scaleanchor": "x", "scaleratio": 1, **_plane_axis(theme)},
        meta={"shown": len(keep), "total": len(placed)},
    )
    for axis, ticks in graticule(scene.plane, track_box(scene)).items():
        layout[axis] |= ticks
    return {"data": data, "layout": layout}


def extreme_rows(scene: Scene, channel: str) -> tuple[int, int] | None:
    """Find the rows of a channel's lowest and highest value that have a place; None for a direction."""
    if scene.plane is None or CHANNELS[channel].kind == "direction":
        return None
    placed = _placed(scene)
    rows = scene.nearest(channel, placed)
    values = np.where(rows < 0, np.nan, scene.columns[channel][rows])
    if not np.isfinite(values).any() or np.nanmin(values) == np.nanmax(values):
        return None
    return int(placed[np.nanargmin(values)]), int(placed[np.nanargmax(values)])


def track_stretch(scene: Scene, span: Span, points: int = STRETCH_POINTS) -> list[list[float] | None]:
    """List the places [east nm, north nm] of the track within a span, None where it breaks."""
    assert scene.east_nm is not None and scene.north_nm is not None
    placed = _placed(scene)
    times = scene.time_ms[placed]
    inside = placed[(times >= span[0]) & (times <= span[1])]
    if not len(inside):
        return []
    keep, joined = _thinned(scene, inside, points)
    places = np.column_stack((scene.east_nm[keep], scene.north_nm[keep])).round(5).tolist()
    broken = [
        [place] if whole else [place, None] for place, whole in zip(places, [*joined, True], strict=True)
    ]
    return [place for piece in broken for place in piece]


def graticule(plane: Plane, view: Box) -> dict[str, dict[str, Any]]:
    """Meridians and parallels for a view: tick places [nm] and texts for ``xaxis`` and ``yaxis``.

    The lines run on for one view beyond its edges, so that a small move finds them there.
    """
    west, south, east, north = view
    steps = max(east - west, north - south) / 60
    return {
        "xaxis": _meridians(plane.lon_deg, plane.nm_per_degree_east, (west, east), steps, ("E", "W")),
        "yaxis": _meridians(plane.lat_deg, 60.0, (south, north), steps, ("N", "S")),
    }


def _meridians(
    reference: float,
    nm_per_degree: float,
    view: tuple[float, float],
    span_deg: float,
    letters: tuple[str, str],
) -> dict[str, Any]:
    wide = span_deg * 60 / nm_per_degree
    step = next((minutes / 60 for minutes in _STEPS_MIN if wide * 60 / minutes <= 5), 45.0)
    room = view[1] - view[0]
    low, high = (reference + edge / nm_per_degree for edge in (view[0] - room, view[1] + room))
    degrees = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    if letters[0] == "N":
        degrees = degrees[np.abs(degrees) <= 90]
    texts = [_degrees_text((d + 180) % 360 - 180 if letters[0] == "E" else d, step, letters) for d in degrees]
    return {"tickvals": ((degrees - reference) * nm_per_degree).tolist(), "ticktext": texts}


def _degrees_text(degrees: float, step: float, letters: tuple[str, str]) -> str:
    letter = letters[0] if degrees >= 0 else letters[1]
    if step >= 1:
        return f"{abs(degrees):.0f}°{letter}"
    decimals = 0 if step * 60 >= 1 - 1e-9 else 1 if step * 60 >= 0.1 - 1e-9 else 2
    minutes = round(abs(degrees) * 60, decimals)
    return f"{int(minutes // 60)}°{minutes % 60:0{3 + decimals if decimals else 2}.{decimals}f}′{letter}"


def _placed(scene: Scene) -> NDArray[np.int64]:
    assert scene.east_nm is not None and scene.north_nm is not None
    return np.flatnonzero(np.isfinite(scene.east_nm) & np.isfinite(scene.north_nm))


def _thinned(
    scene: Scene, placed: NDArray[np.int64], points: int
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Take every so many-th position, the last too, and say which neighbours (n - 1) have no gap between them."""
    step = np.diff(scene.time_ms[placed])
    usual = float(np.median(step)) if len(step) else 0.0
    gaps = np.append(0, np.cumsum(step > APART * usual))
    every = -(-len(placed) // points)
    at = np.union1d(np.arange(0, len(placed), every), len(placed) - 1)
    return placed[at], np.diff(gaps[at]) == 0


def _segments(
    east: Floats, north: Floats, chosen: NDArray[np.bool_], colour: str, width: float
) -> dict[str, Any]:
    at = np.flatnonzero(chosen)
    ends = np.flatnonzero(np.diff(at, append=-1) != 1)
    after = np.stack((at[ends] + 1, np.full(len(ends), -1)), axis=1).ravel()
    points = np.insert(at, np.repeat(ends + 1, 2), after)
    x, y = (np.where(points < 0, np.nan, places[points]).astype(np.float32) for places in (east, north))
    return {
        "type": "scatter",
        "mode": "lines",
        "x": packed(x),
        "y": packed(y),
        "line": {"color": colour, "width": width, "simplify": False},
        "hoverinfo": "skip",
    }


def _dots(east: Floats, north: Floats, theme: Theme) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": packed(east.astype(np.float32)),
        "y": packed(north.astype(np.float32)),
        "marker": {"color": theme.boat, "size": 4},
        "hoverinfo": "skip",
    }


def _coast_traces(coast: list[Ring], theme: Theme) -> list[dict[str, Any]]:
    if not coast:
        return []
    outline = np.concatenate([np.vstack((ring, [[np.nan, np.nan]])) for ring in coast]).astype(np.float32)
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "x": packed(outline[:, 0]),
            "y": packed(outline[:, 1]),
            "fill": "toself",
            "fillcolor": theme.land,
            "line": {"color": theme.coast, "width": 1},
            "hoverinfo": "skip",
        }
    ]


def _ends(east: Floats, north: Floats, dress: Dress) -> dict[str, Any]:
    theme = dress.theme
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [float(east[0]), float(east[-1])],
        "y": [float(north[0]), float(north[-1])],
        "text": ["start", "end"],
        "textposition": ["top center", "bottom center"],
        "textfont": {"color": theme.ink, "size": dress.px(13)},
        "marker": {
            "symbol": ["circle-open", "square"],
            "size": 10,
            "color": theme.ink,
            "line": {"width": 2, "color": theme.ink},
        },
        "hoverinfo": "skip",
    }


def _legend(channel: Channel, scale: Scale, dress: Dress) -> dict[str, Any]:
    """Hang a colour bar on a trace without points."""
    low, high = float(scale.bounds[0]), float(scale.bounds[-1])
    places = (scale.bounds - low) / (high - low)
    steps = [
        [float(edge), colour]
        for number, colour in enumerate(scale.colours)
        for edge in places[number : number + 2]
    ]
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [None],
        "y": [None],
        "marker": {
            "color": [low],
            "cmin": low,
            "cmax": high,
            "colorscale": steps,
            "showscale": True,
            "colorbar": {
                "orientation": "h",
                "thickness": 10,
                "outlinewidth": 0,
                "x": 0.5,
                "len": 0.94,
                "lenmode": "fraction",
                "y": 0,
                "yref": "container",
                "yanchor": "bottom",
                "ypad": 4,
                "title": {
                    "text": choice_text(channel, dress.units),
                    "side": "top",
                    "font": {"color": dress.theme.ink, "size": dress.px(13)},
                },
                "tickvals": list(scale.ticks),
                "ticktext": list(scale.tick_texts),
            },
        },
        "hoverinfo": "skip",
    }


def _plane_axis(theme: Theme) -> dict[str, Any]:
    return {
        "gridcolor": theme.rule,
        "zeroline": False,
        "showline": False,
        "ticks": "",
        "layer": "below traces",
    }
