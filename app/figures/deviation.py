"""The deviation curve: what the compass is off by on each heading, its band, and the points behind it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.calibration.classical import DeviationCard
from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.profiles import Profile
from app.dress import Dress

from .paper import Figure, named_above, paper
from .reduce import packed

_LEAST_DEG = 2.0


@dataclass(frozen=True)
class Seen:
    """What is drawn of one state of the compass: its curve, None where it is not known, and the points."""

    name: str
    card: DeviationCard | None
    points: Profile


def deviation_chart(states: Sequence[Seen], swings: Sequence[DeviationCard], dress: Dress) -> Figure:
    """Draw deviation [deg, east +] by compass heading: points and curves, with a 95 % band where there is but one.

    ``states`` are one, or two where the compass was disturbed; ``swings`` are drawn beside.
    """
    heading = np.arange(0.0, 360.1, 3.0)
    data: list[dict[str, Any]] = []
    reach = [_LEAST_DEG, *(float(np.abs(one.points.mean).max()) for one in states if len(one.points.at))]
    for number, swing in enumerate(swings, 1):
        curve = swing.at(heading)
        reach.append(float(np.abs(curve).max()))
        data.append(_line(f"full turn {number}", heading, curve, "dot", dress.theme.muted, 1.5))
    looks = ((dress.theme.boat, "solid", "circle"), (dress.theme.ground, "dash", "diamond-open"))
    for one, (colour, dash, symbol) in zip(states, looks, strict=False):
        if one.card is not None:
            curve = one.card.at(heading)
            reach.append(float(np.abs(curve).max()))
            if len(states) == 1:
                data += _band(heading, curve, SIGMAS_95 * one.card.sd_at(heading), dress)
            data.append(_line(f"curve{one.name}", heading, curve, dash, colour, 2.5))
        data.append(_points(f"as seen{one.name}", one.points, colour, symbol))
    most = 1.3 * max(reach)
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={
                "title": "compass heading [°]",
                "range": [-5, 365],
                "tickvals": list(range(0, 361, 45)),
                "ticktext": [f"{one % 360:03d}" for one in range(0, 361, 45)],
                "zeroline": False,
            },
            yaxis={"title": "deviation [°], east +", "range": [-most, most], "zeroline": True},
        )
        | named_above(dress),
    }


def _band(x: Floats, middle: Floats, half: Floats, dress: Dress) -> list[dict[str, Any]]:
    edge = {
        "type": "scatter",
        "mode": "lines",
        "x": packed(x),
        "line": {"width": 0},
        "hoverinfo": "skip",
        "showlegend": False,
    }
    return [
        edge | {"y": packed(middle - half)},
        edge
        | {
            "y": packed(middle + half),
            "fill": "tonexty",
            "fillcolor": f"{dress.theme.muted}44",
            "name": "95 % band",
        },
    ]


def _points(name: str, points: Profile, colour: str, symbol: str) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": points.at.tolist(),
        "y": points.mean.round(2).tolist(),
        "error_y": {"array": points.sd.round(2).tolist(), "thickness": 1, "width": 0, "color": colour},
        "marker": {"color": colour, "symbol": symbol, "size": 8, "line": {"width": 1.5, "color": colour}},
        "customdata": points.minutes.tolist(),
        "hovertemplate": f"%{{y:+.1f}}° on %{{x:03.0f}}°, %{{customdata:.0f}} min<extra>{name}</extra>",
    }


def _line(name: str, x: Floats, y: Floats, dash: str, colour: str, width: float) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": packed(x),
        "y": packed(y),
        "line": {"color": colour, "width": width, "dash": dash},
        "hovertemplate": f"%{{y:+.1f}}° on %{{x:03.0f}}°<extra>{name}</extra>",
    }
