"""What every chart shares: paper, type, axes, and the time axis by the reader's clock."""

from typing import Any

from app.dress import Dress

Figure = dict[str, Any]
SHOWN, CORRECTED = "as shown", "corrected"
FAMILY = "Atkinson Hyperlegible Next, sans-serif"


def paper(dress: Dress, **layout: Any) -> dict[str, Any]:
    """Make a layout in the reader's light and size of type; ``layout`` adds to it, axis by axis."""
    theme = dress.theme
    titled = {"font": {"color": theme.muted, "size": dress.px(13)}, "standoff": 8}
    axis: dict[str, Any] = {
        "gridcolor": theme.rule,
        "zerolinecolor": theme.muted,
        "showline": False,
        "ticklabelstandoff": 4,
        "title": titled,
    }
    base: dict[str, Any] = {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": theme.sea,
        "font": {"family": FAMILY, "size": dress.px(12), "color": theme.muted},
        "margin": {"l": 56, "r": 16, "t": 12, "b": 44},
        "showlegend": False,
        "hovermode": "closest",
        "hoverdistance": 20,
        "hoverlabel": {
            "bgcolor": theme.panel,
            "bordercolor": theme.muted,
            "font": {"family": FAMILY, "size": dress.px(13), "color": theme.ink},
        },
        "dragmode": False,
    }
    named = {name for name in layout if name[1:].startswith("axis")} | {"xaxis", "yaxis"}
    for name in named:
        given = layout.pop(name, {})
        title = given.pop("title", None)
        base[name] = axis | given | ({"title": titled | {"text": title}} if title else {})
    return base | layout


def time_axis(dress: Dress, start_ms: float, end_ms: float, dated: bool) -> dict[str, Any]:
    """Make an axis of time by the reader's clock; the x of its traces is UTC [ms] + ``dress.clock.offset_ms``."""
    shift = dress.clock.offset_ms
    return {
        "type": "date",
        "range": [start_ms + shift, end_ms + shift],
        "tickformatstops": [
            {"dtickrange": [None, 500], "value": "%H:%M:%S.%L"},
            {"dtickrange": [1000, 30000], "value": "%H:%M:%S"},
            {"dtickrange": [60000, 43200000], "value": "%H:%M\n%d %b" if dated else "%H:%M"},
            {"dtickrange": [86400000, None], "value": "%d %b\n%Y" if dated else "%H:%M"},
        ],
    }


def named_above(dress: Dress) -> dict[str, Any]:
    """Add to a layout the names of its traces, in a row above the chart."""
    return {
        "showlegend": True,
        "legend": {
            "orientation": "h",
            "x": 1,
            "xanchor": "right",
            "y": 1.01,
            "yanchor": "bottom",
            "font": {"color": dress.theme.ink, "size": dress.px(13)},
        },
        "margin": {"l": round(dress.px(64)), "r": 16, "t": round(dress.px(30)), "b": round(dress.px(46))},
    }
