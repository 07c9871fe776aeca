"""The chart of the Trip page: hours by point of sail, either side."""

from typing import Any

from analysis.trip import Point
from app.dress import Dress

from .paper import Figure, named_above, paper


def hours_by_point(points: tuple[Point, ...], dress: Dress) -> Figure:
    """Draw the hours on each point of sail as bars, wind from port and from starboard beside each other."""
    theme = dress.theme
    names = [one.name for one in points]
    sides = (
        ("wind from port", [one.port_h for one in points], theme.port, "/"),
        ("wind from starboard", [one.starboard_h for one in points], theme.starboard, ""),
    )
    data: list[dict[str, Any]] = [
        {
            "type": "bar",
            "orientation": "h",
            "name": name,
            "y": names,
            "x": [round(hours, 3) for hours in each],
            "text": [f"{hours:.1f}" if hours >= 0.05 else "" for hours in each],
            "textposition": "outside",
            "cliponaxis": False,
            "marker": {
                "color": colour,
                "pattern": {"shape": shape, "fillmode": "overlay", "fgcolor": theme.panel, "size": 6},
            },
            "textfont": {"color": theme.ink, "size": dress.px(12)},
            "hovertemplate": f"%{{x:.2f}} h %{{y}}<extra>{name}</extra>",
        }
        for name, each, colour, shape in sides
    ]
    most = max([*sides[0][1], *sides[1][1], 0.1])
    layout = paper(
        dress,
        xaxis={"title": "hours", "range": [0, 1.12 * most], "zeroline": False},
        yaxis={"autorange": "reversed", "automargin": True, "showgrid": False},
        barmode="group",
        bargap=0.25,
    )
    return {"data": data, "layout": layout | named_above(dress) | {"hovermode": "closest"}}
