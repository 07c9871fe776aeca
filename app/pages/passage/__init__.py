"""The page of one passage: replay, track and strips linked by time, and what the log says of itself."""

from typing import Any

import orjson
import pandas as pd
from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html
from dash.exceptions import PreventUpdate

from analysis.passage import Passage
from app.addresses import address
from app.desk import Desk
from app.figures.paper import Figure
from app.figures.rows import placed_rows
from app.figures.track import Box, graticule, track_stretch
from app.pages.plain import PLAIN, plain, written
from app.pages.sending import sending_panel
from app.view import View, Views

from .chunks import chunk_starts, route
from .columns import drawn_strips, drawn_track, first_channel, first_ms, strips_column, track_column
from .corrected import corrected_line
from .facts import passage_facts
from .missing import missing_texts, nothing_text
from .overlay import arrow_pieces, extreme_pieces, happening_pieces
from .panels import account_panel, log_panel, more_panel, sources_panel
from .replay import replay_bar
from .stretch import statistics_rows, stretch_panel, stretch_words
from .wishes import scene_of_view, wishes

TITLE = "Passage"


def layout(view: View) -> list[Any]:
    """Lay the page out, figures drawn; what the passage has not is left out and said."""
    passage, scene = view.opened.review.passage, scene_of_view(view)
    timed = len(scene.time_ms) > 0
    missing = missing_texts(passage, scene.channels) if timed else []
    more = more_panel(scene) if timed else None
    return [
        html.Div(
            [passage_facts(view), *([corrected_line(view)] if timed else [])],
            className="heads",
        ),
        *([replay_bar(scene.plane is not None)] if timed else []),
        _desk(view),
        html.Footer(
            [
                *([stretch_panel()] if timed else []),
                html.Div(className="contents", **plain([more, *_about_the_log(passage, missing)])),
                *([sending_panel(view)] if timed else []),
            ],
            className="panels",
        ),
        *(dcc.Store(id=name) for name in ("span", "stretch", "goto")),
        *(_track_stores(view) if scene.plane is not None else []),
    ]


def _about_the_log(passage: Passage, missing: list[str]) -> list[html.Section]:
    return [log_panel(passage, missing), account_panel(passage.counts), sources_panel(passage)]


def _track_stores(view: View) -> list[dcc.Store]:
    scene = scene_of_view(view)
    extremes = extreme_pieces(scene, first_channel(scene), view.dress)
    return [dcc.Store(id="view"), dcc.Store(id="arrows"), dcc.Store(id="extremes", data=extremes)]


def _desk(view: View) -> html.Div:
    scene = scene_of_view(view)
    if not len(scene.time_ms):
        return html.Div(
            html.P(nothing_text(view.opened.review.passage), className="notice", id="nothing"),
            className="desk bare",
        )
    kind = "trackless" if scene.plane is None else "" if placed_rows(scene, wishes().strips) else "stripless"
    return html.Div(
        [track_column(view), strips_column(view)],
        className=f"desk {kind}",
        id="desk",
        **{
            "data-first": first_ms(scene),
            "data-end": float(scene.time_ms[-1]),
            "data-offset": view.dress.clock.offset_ms,
            "data-chunks": orjson.dumps(chunk_starts(scene)).decode(),
            "data-knot": orjson.dumps(
                {"factor": view.dress.units.of("kn").factor, "symbol": view.dress.units.of("kn").symbol}
            ).decode(),
            "data-happened": orjson.dumps(happening_pieces(view, scene)).decode(),
        },
    )


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: span, colour of the track, and the figures that follow from them."""
    route(app.server, views)
    _register_strips(app, views)
    _register_stretch(app, views, desk)
    _register_track(app, views)


def _register_strips(app: Dash, views: Views) -> None:
    def draw_strips(span: list[float] | None) -> tuple[Figure, str, list[list[float] | None] | None]:
        view = _seen(views)
        scene = scene_of_view(view)
        stretch = track_stretch(scene, (span[0], span[1])) if span and scene.plane is not None else None
        return *drawn_strips(scene, view.dress, span, wishes().strips), stretch

    app.callback(
        Output("strips", "figure"),
        Output("shown", "children"),
        Output("stretch", "data"),
        Input("span", "data"),
        prevent_initial_call=True,
    )(draw_strips)
    app.clientside_callback(
        ClientsideFunction("passage", "whole"),
        Output("span", "data"),
        Input("whole", "n_clicks"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("passage", "outline"), Input("stretch", "data"), State("span", "data")
    )


def _register_stretch(app: Dash, views: Views, desk: Desk) -> None:
    def sum_up(_: object, span: list[float] | None) -> tuple[str, str, bool, bool, bool]:
        if not span:
            return "[]", "", True, True, True
        view = _seen(views)
        return written(statistics_rows(view, span)), stretch_words(view, span), False, False, False

    def cut(clicks: int | None, span: list[float] | None) -> str:
        if not clicks or not span:
            raise PreventUpdate
        start, end = (pd.Timestamp(edge, unit="ms", tz="UTC") for edge in span)
        return address(desk.cut(_seen(views).opened.key, start, end).key)

    app.callback(
        Output("statistics", PLAIN),
        Output("stretch-words", "children"),
        Output("stretch-panel", "hidden"),
        Output("only", "disabled"),
        Output("whole", "disabled"),
        Input("shown", "children"),
        State("span", "data"),
        prevent_initial_call=True,
    )(sum_up)
    app.callback(
        Output("goto", "data"),
        Input("only", "n_clicks"),
        State("span", "data"),
        running=[(Output("only", "children"), "Opening it…", "Only this stretch")],
        prevent_initial_call=True,
    )(cut)
    app.clientside_callback(ClientsideFunction("passage", "go"), Input("goto", "data"))


def _register_track(app: Dash, views: Views) -> None:
    def draw_track(channel: str | None, box: Box | None) -> tuple[Figure, list[Any]]:
        view = _seen(views)
        scene = scene_of_view(view)
        figure, _ = drawn_track(scene, view.opened.coast, view.dress, channel)
        if scene.plane is not None and box:
            for axis, ticks in graticule(scene.plane, box).items():
                figure["layout"][axis] |= ticks
        return figure, extreme_pieces(scene, channel, view.dress)

    def redraw(box: Box | None) -> tuple[Patch, list[Any]]:
        view = _seen(views)
        scene = scene_of_view(view)
        if box is None or scene.plane is None:
            raise PreventUpdate
        patch = Patch()
        for axis, ticks in graticule(scene.plane, box).items():
            for key, value in ticks.items():
                patch["layout"][axis][key] = value
        return patch, arrow_pieces(scene, box, view.dress)

    app.callback(
        Output("track", "figure"),
        Output("extremes", "data"),
        Input("channel-chosen", "data"),
        State("view", "data"),
        prevent_initial_call=True,
    )(draw_track)
    app.callback(
        Output("track", "figure", allow_duplicate=True),
        Output("arrows", "data"),
        Input("view", "data"),
        prevent_initial_call=True,
    )(redraw)
    app.clientside_callback(
        ClientsideFunction("passage", "overlay"),
        Input("arrows", "data"),
        Input("extremes", "data"),
    )


def _seen(views: Views) -> View:
    view = views()
    if view is None:
        raise PreventUpdate
    return view
