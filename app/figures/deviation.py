"""The deviation curve: what the compass is off by on each heading, its band, and the points behind it."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.calibration.classical import DeviationCard
from analysis.passage import Floats
from analysis.profiles import Profile
from app.dress import Dress

from .paper import Figure, named_above, paper
from .reduce import packed

SIGMAS = 1.96
_LEAST_DEG = 2.0


def deviation_chart(
    card: DeviationCard | None, points: Profile, swings: Sequence[DeviationCard], dress: Dress
) -> Figure:
    """Draw deviation [deg, east +] by compass heading: points of the passage, curve with 95 % band, swings beside."""
    heading = np.arange(0.0, 360.1, 3.0)
    data: list[dict[str, Any]] = []
    seen = [points.mean]
    if card is not None:
        curve, reach = card.at(heading), SIGMAS * card.sd_at(heading)
        seen.append(curve)
        edge = {
            "type": "scatter",
            "mode": "lines",
            "x": packed(heading),
            "line": {"width": 0},
            "hoverinfo": "skip",
            "showlegend": False,
        }
        data += [
            edge | {"y": packed(curve - reach)},
            edge | {"y": packed(curve + reach), "fill": "tonexty", "fillcolor": f"{dress.theme.muted}44"},
            _line("curve, with 95 % band", heading, curve, "solid", dress.theme.boat, 2.5),
        ]
    for number, swing in enumerate(swings, 1):
        curve = swing.at(heading)
        seen.append(curve)
        data.append(_line(f"full turn {number}", heading, curve, "dash", dress.theme.muted, 1.5))
    data.append(
        {
            "type": "scatter",
            "mode": "markers",
            "name": "as seen",
            "x": points.at.tolist(),
            "y": points.mean.round(2).tolist(),
            "error_y": {
                "array": points.sd.round(2).tolist(),
                "thickness": 1,
                "width": 0,
                "color": dress.theme.ground,
            },
            "marker": {
                "color": dress.theme.ground,
                "symbol": "diamond-open",
                "size": 8,
                "line": {"width": 1.5, "color": dress.theme.ground},
            },
            "customdata": points.minutes.tolist(),
            "hovertemplate": "%{y:+.1f}° on %{x:03.0f}°, %{customdata:.0f} min<extra>as seen</extra>",
        }
    )
    most = 1.4 * max(_LEAST_DEG, *(float(np.abs(one).max()) for one in seen if len(one)))
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
