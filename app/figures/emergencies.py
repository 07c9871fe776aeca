"""The chart of the Emergencies page: the boat's way and the drift, with its radius at a moment."""

from typing import Any

import numpy as np

from analysis.emergencies import Emergency, Picture
from analysis.passage import Floats
from app.dress import Dress

from .paper import Figure, named_above, paper
from .reduce import packed

LEAST_NM = 0.05
_ROOM = 0.12
_CIRCLE = np.exp(1j * np.linspace(0, 2 * np.pi, 73))


def drift_chart(one: Emergency, picture: Picture, at: int, dress: Dress) -> Figure:
    """Draw the drift and the boat's way over the ground, north up; ``at`` is the row of the datum shown."""
    theme, nm = dress.theme, dress.units.of("nm")
    factor = nm.factor
    data: list[dict[str, Any]] = [
        _way(
            picture.boat_east_nm * factor,
            picture.boat_north_nm * factor,
            "the boat",
            theme.boat,
            "solid",
            2.0,
        )
        | {
            "customdata": [
                None if np.isnan(time) else f"{dress.clock.at(1000 * time):%H:%M:%S}"
                for time in picture.boat_s
            ],
            "hovertemplate": "the boat at %{customdata}<extra></extra>",
        }
    ]
    if one.datum is not None:
        east, north = picture.drift_east_nm * factor, picture.drift_north_nm * factor
        radius = float(one.datum.radius_nm[at]) * factor
        circle = east[at] + 1j * north[at] + radius * _CIRCLE
        data += [
            _way(circle.real, circle.imag, "radius at 95 %", theme.accent, "dot", 1.4)
            | {"fill": "toself", "fillcolor": f"{theme.accent}22", "hoverinfo": "skip"},
            _way(east, north, "drift", theme.accent, "dash", 2.0) | {"hoverinfo": "skip"},
            _point(east[at], north[at], "drifted place", theme.accent, "diamond", 11),
        ]
        row = _boat_row(picture.boat_s, float(one.datum.time_s[at]))
        if row is not None:
            boat = picture.boat_east_nm[row] * factor, picture.boat_north_nm[row] * factor
            data += [
                _way(
                    np.array([boat[0], east[at]]), np.array([boat[1], north[at]]), "", theme.muted, "dot", 1.2
                )
                | {"showlegend": False, "hoverinfo": "skip"},
                _point(*boat, "the boat then", theme.boat, "circle", 10),
            ]
    data.append(_given(picture, factor, dress))
    west, south, east_end, north_end = (edge * factor for edge in picture.reach)
    edge = max(_ROOM * max(east_end - west, north_end - south), LEAST_NM * factor)
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={
                "title": f"east [{nm.symbol}]",
                "range": [west - edge, east_end + edge],
                "zeroline": False,
            },
            yaxis={
                "title": f"north [{nm.symbol}]",
                "range": [south - edge, north_end + edge],
                "scaleanchor": "x",
                "scaleratio": 1,
                "zeroline": False,
            },
            dragmode="pan",
            uirevision=f"{one.mark.start_s}",
        )
        | named_above(dress),
    }


def _given(picture: Picture, factor: float, dress: Dress) -> dict[str, Any]:
    """The positions that were given: a cross each."""
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "position given",
        "x": (picture.given_east_nm * factor).round(5).tolist(),
        "y": (picture.given_north_nm * factor).round(5).tolist(),
        "marker": {"symbol": "x-thin", "size": 12, "line": {"width": 2.5, "color": dress.theme.ink}},
        "hoverinfo": "skip",
    }


def _way(x: Floats, y: Floats, name: str, colour: str, dash: str, width: float) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": packed(np.asarray(x, dtype=np.float64)),
        "y": packed(np.asarray(y, dtype=np.float64)),
        "line": {"color": colour, "width": width, "dash": dash},
    }


def _point(x: float, y: float, name: str, colour: str, symbol: str, size: int) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": [round(float(x), 5)],
        "y": [round(float(y), 5)],
        "marker": {"color": colour, "symbol": symbol, "size": size},
        "hoverinfo": "skip",
    }


def _boat_row(boat_s: Floats, time_s: float) -> int | None:
    """Row of the boat's way nearest in time, within a minute."""
    off = np.abs(boat_s - time_s)
    if not np.isfinite(off).any():
        return None
    row = int(np.nanargmin(off))
    return row if off[row] <= 60.0 else None
