"""The page of one passage: header, track and strips linked by time, and what the log says of itself."""

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html
from dash.exceptions import PreventUpdate

from app.desk import Desk
from app.figures.strips import Figure, placed_rows
from app.figures.track import Box, graticule, track_stretch
from app.view import View, Views

from .columns import drawn_strips, drawn_track, strips_column, track_column
from .facts import passage_facts
from .missing import missing_texts, nothing_text
from .panels import account_panel, log_panel, more_panel, sources_panel

TITLE = "Passage"


def layout(view: View) -> list[Any]:
    """Lay the page out, figures drawn; what the passage has not is left out and said."""
    passage, scene = view.opened.review.passage, view.opened.scene
    timed = len(scene.time_ms) > 0
    missing = missing_texts(passage, scene.channels) if timed else []
    more = more_panel(scene) if timed else None
    return [
        passage_facts(view),
        _desk(view),
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
    ]


def _desk(view: View) -> html.Main:
    opened = view.opened
    scene = opened.scene
    if not len(scene.time_ms):
        return html.Main(
            html.P(nothing_text(opened.review.passage), className="notice", id="nothing"),
            className="desk bare",
        )
    kind = "trackless" if scene.plane is None else "" if placed_rows(scene) else "stripless"
    return html.Main([track_column(view), strips_column(view)], className=f"desk {kind}")


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: span, colour of the track, and the figures that follow from them."""
    _register_strips(app, views)
    _register_track(app, views)


def _register_strips(app: Dash, views: Views) -> None:
    def draw_strips(span: list[float] | None) -> tuple[Figure, str, list[list[float] | None] | None]:
        view = _seen(views)
        scene = view.opened.scene
        stretch = track_stretch(scene, (span[0], span[1])) if span and scene.plane is not None else None
        return *drawn_strips(scene, view.dress, span), stretch

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
        Input("span", "data"),
        prevent_initial_call=True,
    )(draw_strips)


def _register_track(app: Dash, views: Views) -> None:
    def draw_track(channel: str | None, moved: dict[str, Any] | None) -> Figure:
        view = _seen(views)
        scene = view.opened.scene
        figure, _ = drawn_track(scene, view.opened.coast, view.dress, channel)
        if scene.plane is not None and (box := _box(moved)):
            for axis, ticks in graticule(scene.plane, box).items():
                figure["layout"][axis] |= ticks
        return figure

    def redraw_graticule(moved: dict[str, Any] | None) -> Patch:
        plane = _seen(views).opened.scene.plane
        box = _box(moved)
        if box is None or plane is None:
            raise PreventUpdate
        patch = Patch()
        for axis, ticks in graticule(plane, box).items():
            for key, value in ticks.items():
                patch["layout"][axis][key] = value
        return patch

    app.callback(
        Output("track", "figure"),
        Input("channel", "value"),
        State("track", "relayoutData"),
        prevent_initial_call=True,
    )(draw_track)
    app.callback(
        Output("track", "figure", allow_duplicate=True),
        Input("track", "relayoutData"),
        prevent_initial_call=True,
    )(redraw_graticule)


def _seen(views: Views) -> View:
    view = views()
    if view is None:
        raise PreventUpdate
    return view


def _box(moved: dict[str, Any] | None) -> Box | None:
    keys = ("xaxis.range[0]", "yaxis.range[0]", "xaxis.range[1]", "yaxis.range[1]")
    if not moved or not all(key in moved for key in keys):
        return None
    west, south, east, north = (float(moved[key]) for key in keys)
    return west, south, east, north
