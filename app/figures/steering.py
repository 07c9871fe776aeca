"""The charts of the Steering page: rudder by heel, the answer turn by turn, which wind swings more, the mean gust."""

from collections.abc import Sequence

import numpy as np

from analysis.steering import ByAngle, GustResponse, Rudder
from app.dress import Dress

from .paper import Figure, named_above, paper

_STARBOARD, _PORT, _NO_SIDE = "wind from starboard", "wind from port", "wind ahead or not known"
MOST_PIECES = 600


def rudder_by_heel(rudder: Rudder, dress: Dress) -> Figure:
    """Draw the rudder shown on straight stretches against heel [deg], with what was fitted; amidships is 0."""
    theme = dress.theme
    heel = np.where(np.isfinite(rudder.piece_heel_deg), rudder.piece_heel_deg, 0.0)
    every = slice(None, None, 1 + len(heel) // MOST_PIECES)
    styles = (
        (1, _STARBOARD, theme.starboard, "circle"),
        (-1, _PORT, theme.port, "diamond-open"),
        (0, _NO_SIDE, theme.muted, "cross-thin-open"),
    )
    data = []
    for side, name, colour, symbol in styles:
        on = rudder.piece_side[every] == side
        if not on.any():
            continue
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": heel[every][on].round(2).tolist(),
                "y": rudder.piece_rudder_deg[every][on].round(2).tolist(),
                "marker": {
                    "color": colour,
                    "symbol": symbol,
                    "size": 8,
                    "line": {"width": 1.5, "color": colour},
                },
                "hovertemplate": f"heel %{{x:.0f}}°, rudder %{{y:+.1f}}°<extra>{name}</extra>",
            }
        )
    offset, helm = rudder.offset, rudder.helm
    if offset.value is not None and len(heel):
        reach = np.array([min(float(heel.min()), -5.0), max(float(heel.max()), 5.0)])
        slope = helm.value if helm is not None and helm.value is not None else 0.0
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": "fitted",
                "x": reach.tolist(),
                "y": (slope * reach - offset.value).tolist(),
                "line": {"color": theme.ink, "width": 2, "dash": "dash"},
                "hoverinfo": "skip",
            }
        )
    layout = paper(
        dress,
        xaxis={"title": "heel [°], starboard side down positive", "zeroline": True},
        yaxis={"title": "rudder shown [°], starboard +", "zeroline": True},
    )
    return {"data": data, "layout": layout | named_above(dress)}


def answer_by_turn(rudder: Rudder, dress: Dress) -> Figure:
    """Draw degrees a second for a degree of rudder [deg/s per deg] of every turn, by how far it went [deg]."""
    response, theme = rudder.response, dress.theme
    times = [f"{dress.clock.at(1000 * at):%H:%M}" for at in response.turn_times_s.tolist()]
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "x": response.turn_changes_deg.round(0).tolist(),
            "y": response.turn_gains.round(3).tolist(),
            "text": [
                f"{time}, {late:+.1f} s"
                for time, late in zip(times, response.turn_delays_s.tolist(), strict=True)
            ],
            "marker": {"color": theme.boat, "symbol": "circle", "size": 9},
            "hovertemplate": "%{text}: %{y:.2f}°/s per degree<extra></extra>",
        }
    ]
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={"title": "turn [°], to port negative", "zeroline": True},
            yaxis={"title": "°/s for each degree of rudder", "zeroline": True, "rangemode": "tozero"},
        ),
    }


def swings_by_angle(classes: Sequence[ByAngle], dress: Dress) -> Figure:
    """Draw how far the direction of the apparent and of the true wind swing [deg] by point of sail."""
    theme = dress.theme
    series = (
        ("apparent wind", theme.ground, "diamond-open", [one.awd_deg for one in classes]),
        ("true wind", theme.boat, "circle", [one.twd_deg for one in classes]),
    )
    names = [one.name for one in classes]
    data = [
        {
            "type": "scatter",
            "mode": "lines+markers",
            "name": name,
            "x": names,
            "y": [round(value, 2) for value in values],
            "line": {"color": colour, "width": 2, "dash": "dot" if symbol.endswith("open") else "solid"},
            "marker": {"color": colour, "symbol": symbol, "size": 10, "line": {"width": 2, "color": colour}},
            "hovertemplate": f"%{{x}}: %{{y:.1f}}°<extra>{name}</extra>",
        }
        for name, colour, symbol, values in series
    ]
    layout = paper(
        dress,
        xaxis={"type": "category", "showgrid": False},
        yaxis={"title": "swing in five minutes [°]", "rangemode": "tozero"},
    )
    return {"data": data, "layout": layout | named_above(dress)}


def mean_gust(one: GustResponse, dress: Dress) -> Figure:
    """Draw the mean gust by the second from its peak: heel, bow toward the wind, AWA [deg], and TWS above."""
    theme, kn = dress.theme, dress.units.of("kn")
    lines = (
        (f"wind [{kn.symbol}]", one.curves[0] * kn.factor, theme.logged, "dash"),
        ("bow to the wind [°]", one.curves[1], theme.boat, "solid"),
        ("AWA [°]", one.curves[2], theme.ground, "dot"),
        ("heel [°]", one.curves[3], theme.accent, "dashdot"),
    )
    data = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": name,
            "x": one.curve_s.tolist(),
            "y": values.round(2).tolist(),
            "line": {"color": colour, "width": 2, "dash": dash},
            "hovertemplate": f"%{{y:+.1f}} at %{{x:+.0f}} s<extra>{name}</extra>",
        }
        for name, values, colour, dash in lines
        if np.isfinite(values).any()
    ]
    layout = paper(
        dress,
        xaxis={"title": "seconds from the peak", "zeroline": True},
        yaxis={"title": "change [kn or °]", "zeroline": True},
    )
    return {"data": data, "layout": layout | named_above(dress)}
