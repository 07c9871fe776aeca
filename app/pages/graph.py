"""The one way a figure comes onto a page."""

from typing import Any

from dash import dcc

Figure = dict[str, Any]


def graph(name: str, figure: Figure, config: dict[str, Any] | None = None) -> dcc.Graph:
    """Make a graph; nothing in it can send anything anywhere."""
    return dcc.Graph(
        id=name,
        figure=figure,
        responsive=True,
        config={
            "showSendToCloud": False,
            "plotlyServerURL": "",
            "displaylogo": False,
            "showTips": False,
            "displayModeBar": False,
            **(config or {}),
        },
        className="graph",
    )
