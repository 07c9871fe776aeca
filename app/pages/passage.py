"""The page of one passage: header, track and strips linked by time, and what the log says of itself."""

from collections.abc import Mapping
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html
from dash.exceptions import PreventUpdate

from analysis.passage import Passage
from app.figures.coastline import Ring
from app.figures.scene import Scene
from app.figures.strips import Figure, placed_rows
from app.figures.track import Box, graticule, track_stretch

from .columns import drawn_strips, drawn_track, strips_column, track_column
from .header import header
from .missing import missing_texts, nothing_text
from .panels import account_panel, log_panel, more_panel, sources_panel


def layout(
    passage: Passage, summary: Mapping[str, Any], scene: Scene, coast: list[Ring], theme: str
) -> html.Div:
    """Lay the page out in a theme, figures drawn; what the passage has not is left out and said."""
    timed = len(scene.time_ms) > 0
    missing = missing_texts(passage, scene.channels) if timed else []
    more = more_panel(scene) if timed else None
    return html.Div(
        [
            header(passage, summary, scene, theme),
            _desk(passage, scene, coast, theme),
            html.Footer(
                [
                    *([more] if more else []),
                    log_panel(passage, missing),
                    account_panel(passage.counts),
                    sources_panel(passage),
                ],
                className="panels",
            ),
            dcc.Store(id="span"),
            dcc.Store(id="stretch"),
        ],
        className="page",
    )


def _desk(passage: Passage, scene: Scene, coast: list[Ring], theme: str) -> html.Main:
    if not len(scene.time_ms):
        return html.Main(
            html.P(nothing_text(passage), className="notice", id="nothing"), className="desk bare"
        )
    kind = "trackless" if scene.plane is None else "" if placed_rows(scene) else "stripless"
    return html.Main(
        [track_column(passage, scene, coast, theme), strips_column(scene, theme)], className=f"desk {kind}"
    )


def register(app: Dash, scene: Scene, coast: list[Ring]) -> None:
    """Wire the page: theme, span, colour of the track, and the figures that follow from them."""
    app.clientside_callback(
        ClientsideFunction("passage", "dress"), Output("theme", "className"), Input("theme", "value")
    )
    if placed_rows(scene):
        _register_strips(app, scene)
    if scene.plane is not None:
        _register_track(app, scene, coast)


def _register_strips(app: Dash, scene: Scene) -> None:
    def draw_strips(
        theme: str, span: list[float] | None
    ) -> tuple[Figure, str, list[list[float] | None] | None]:
        stretch = track_stretch(scene, (span[0], span[1])) if span and scene.plane is not None else None
        return *drawn_strips(scene, theme, span), stretch

    app.clientside_callback(
        ClientsideFunction("passage", "whole"),
        Output("span", "data"),
        Input("whole", "n_clicks"),
        prevent_initial_call=True,
    )
    app.clientside_callback(ClientsideFunction("passage", "outline"), Input("stretch", "data"))
    app.callback(
        Output("strips", "figure"),
        Output("shown", "children"),
        Output("stretch", "data"),
        Input("theme", "value"),
        Input("span", "data"),
        prevent_initial_call=True,
    )(draw_strips)


def _register_track(app: Dash, scene: Scene, coast: list[Ring]) -> None:
    plane = scene.plane
    assert plane is not None

    def draw_track(theme: str, channel: str | None, moved: dict[str, Any] | None) -> Figure:
        figure, _ = drawn_track(scene, coast, theme, channel)
        if view := _view(moved):
            for axis, ticks in graticule(plane, view).items():
                figure["layout"][axis] |= ticks
        return figure

    def redraw_graticule(moved: dict[str, Any] | None) -> Patch:
        view = _view(moved)
        if view is None:
            raise PreventUpdate
        patch = Patch()
        for axis, ticks in graticule(plane, view).items():
            for key, value in ticks.items():
                patch["layout"][axis][key] = value
        return patch

    app.callback(
        Output("track", "figure"),
        Input("theme", "value"),
        Input("channel", "value"),
        State("track", "relayoutData"),
        prevent_initial_call=True,
    )(draw_track)
    app.callback(
        Output("track", "figure", allow_duplicate=True),
        Input("track", "relayoutData"),
        prevent_initial_call=True,
    )(redraw_graticule)


def _view(moved: dict[str, Any] | None) -> Box | None:
    keys = ("xaxis.range[0]", "yaxis.range[0]", "xaxis.range[1]", "yaxis.range[1]")
    if not moved or not all(key in moved for key in keys):
        return None
    west, south, east, north = (float(moved[key]) for key in keys)
    return west, south, east, north
