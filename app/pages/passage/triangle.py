"""The wind and water triangle at the cursor: the drawing's place, and every side's numbers beside it."""

from typing import Any

from dash import html

from app.figures.scene import Scene
from app.pages.plain import plain
from app.pages.wording import NOTHING

SIDES = {
    "air": ("Apparent wind", ("awa_deg", "aws_kn")),
    "water": ("Through water", ("heading_true_deg", "stw_kn")),
    "leeway": ("Leeway", ("leeway_deg",)),
    "ground": ("Over ground", ("cog_deg", "sog_kn")),
    "current": ("Current", ("set_deg", "drift_kn")),
    "wind-water": ("Wind over water", ("twd_water_deg", "tws_water_kn")),
    "wind-ground": ("Wind over ground", ("twd_ground_deg", "tws_ground_kn")),
}

TRIANGLE_CHANNELS = {channel for _, channels in SIDES.values() for channel in channels}


def triangle_panel(scene: Scene) -> list[Any]:
    """Make the drawing and the numbers of the sides that the passage has; nothing where it has none."""
    sides = {
        name: (label, [channel for channel in channels if channel in scene.columns])
        for name, (label, channels) in SIDES.items()
    }
    sides = {name: (label, channels) for name, (label, channels) in sides.items() if channels}
    if not sides:
        return []
    return [
        html.Div(
            [
                html.Div(
                    [
                        html.Div(
                            id="triangle",
                            role="img",
                            **{
                                "aria-label": "Wind and water triangle at the cursor, to scale; numbers beside it."
                            },
                        ),
                        html.Button("North up", id="triangle-up", title="Turn the triangle (T)"),
                    ],
                    className="triangle-paper",
                ),
                html.Dl(className="sides", **plain([_side(name, *side) for name, side in sides.items()])),
            ],
            className="triangle",
        )
    ]


def _side(name: str, label: str, channels: list[str]) -> html.Div:
    return html.Div(
        [
            html.Dt([html.Span(className=f"side {name}"), label]),
            html.Dd([html.Span(NOTHING, **{"data-channel": channel}) for channel in channels]),
        ]
    )
