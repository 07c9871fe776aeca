"""The Routes page: the laylines to a mark at any moment, the legs by both lines, and marks typed."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from analysis.errors import SettingError
from analysis.positions import parse_position, position_text
from analysis.routes import Laylines, Mark, Routes, tack_times
from app import cautions
from app.desk import Desk
from app.figures.routes import route_figure
from app.view import View, Views

from .giving import giving_panel
from .graph import graph
from .parts import conclusion, panel, term, typed_field
from .route_words import conclusion_text, laylines_table, legs_panel, state_text
from .wording import time_text

TITLE = "Routes"
STEP_S = 60
MOST_MARKS = 60
NO_MARK = (
    "No mark is known: the recording has no waypoint sentence (RMB, BWC, BWR, WPL with RTE) and none was given. Type "
    "one or drop a GPX file below."
)
GIVE = (
    "Drop a GPX file anywhere on this page: its routes, or where it has none its waypoints in their order. Each file "
    "adds to those before."
)


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the chart with its moment, the legs, and the marks given."""
    routes = view.opened.review.case.routes
    return [
        conclusion(
            conclusion_text(routes, _at(view, routes, _last(view)), view.dress) if routes.routes else NO_MARK
        ),
        html.Div(
            [
                *([_laylines_panel(view, routes)] if routes.marks else []),
                *([legs_panel(routes, view.dress)] if routes.routes else []),
                _given_panel(view, routes),
                giving_panel(view, "routes", "Give a route", GIVE),
            ],
            className="panels",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """The legs, and what it takes to the mark at the end of the passage."""
    routes = view.opened.review.case.routes
    if not routes.routes:
        return [html.P("No mark is known, so there is no leg and no layline.", className="notice")]
    now = _at(view, routes, _last(view))
    return [
        conclusion(conclusion_text(routes, now, view.dress)),
        *(
            [
                panel(
                    "Laylines at the end of the passage",
                    html.Div(graph("route-chart", _figure(view, routes, now)), className="chart route"),
                    html.Div(laylines_table(now, view.dress)),
                    html.P(cautions.ROUTES, className="beware"),
                    wide=True,
                )
            ]
            if now is not None and view.opened.scene.plane is not None
            else []
        ),
        legs_panel(routes, view.dress),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the moment, the mark, and the marks typed."""

    def show(value: Any, chosen: str | None, *_: Any) -> tuple[Any, ...]:
        view = views()
        if view is None or not len(view.opened.scene.time_ms):
            raise PreventUpdate
        routes = view.opened.review.case.routes
        time_s = _moved(view, _number(value, _last(view)), str(ctx.triggered_id))
        now = _at(view, routes, time_s, chosen)
        return (
            time_s,
            _clock(view, time_s),
            state_text(now, view.dress),
            _figure(view, routes, now),
            laylines_table(now, view.dress),
        )

    app.callback(
        Output("route-time", "value"),
        Output("route-clock", "children"),
        Output("route-state", "children"),
        Output("route-chart", "figure"),
        Output("route-told", "children"),
        Input("route-time", "value"),
        Input("route-mark", "value"),
        *(Input(f"route-{name}", "n_clicks") for name in _STEPS),
        prevent_initial_call=True,
    )(show)

    def give(
        _add: int | None,
        _clear: int | None,
        _limit: int | None,
        name: str | None,
        place: str | None,
        limit: str | None,
    ) -> tuple[Any, str]:
        view = views()
        if view is None or ctx.triggered_id is None:
            raise PreventUpdate
        asked = view.opened.review.settings.asked
        before = asked.routes
        try:
            if ctx.triggered_id == "mark-clear":
                after = replace(before, marks=before.marks[:-1])
            elif ctx.triggered_id == "mark-limit":
                after = replace(before, latitude_limit_deg=_limit_deg(limit or ""))
            else:
                after = replace(before, marks=_added(before.marks, name or "", place or ""))
        except SettingError as error:
            return no_update, str(error)
        desk.ask(view.opened.key, replace(asked, routes=after))
        return True, ""

    app.callback(
        Output("marks-changed", "data"),
        Output("marks-refused", "children"),
        Input("mark-add", "n_clicks"),
        Input("mark-clear", "n_clicks"),
        Input("mark-limit", "n_clicks"),
        State("mark-name", "value"),
        State("mark-place", "value"),
        State("mark-latitude", "value"),
        prevent_initial_call=True,
    )(give)


_STEPS = {
    "turn-before": "|◂ turn",
    "less": "◂ 1 min",
    "more": "1 min ▸",
    "turn-after": "turn ▸|",
}


def _laylines_panel(view: View, routes: Routes) -> html.Section:
    scene = view.opened.scene
    if scene.plane is None:
        return panel(
            "Laylines", html.P("The recording has no position, so no layline.", className="notice"), wide=True
        )
    first, last = float(scene.time_ms[0]) / 1000, _last(view)
    now = _at(view, routes, last)
    chosen = None if now is None else _number_of(routes, now.mark)
    return panel(
        "Laylines over the ground at a moment",
        html.P(
            [
                "From the true wind over the water of the five minutes before, the angles given, else those sailed "
                "on either tack, else those of the boat's own polar (",
                term("leeway"),
                " is in them) and the ",
                term("current"),
                ". The fans are ± at 95 %: how far wind and current of this passage wandered over as long a way, and "
                "how one leg differed from the next.",
            ],
            className="small",
        ),
        html.P(cautions.ROUTES, className="beware"),
        html.Div(
            [
                html.Label(
                    [
                        html.Span("Mark"),
                        dcc.Dropdown(
                            id="route-mark",
                            options=[
                                {"label": mark.name, "value": str(k)} for k, mark in enumerate(routes.marks)
                            ],
                            value=chosen,
                            clearable=False,
                            searchable=len(routes.marks) > 12,
                        ),
                    ],
                    className="which",
                ),
                html.Label(
                    [
                        html.Span("Moment"),
                        dcc.Input(
                            id="route-time",
                            type="range",
                            min=first,
                            max=last,
                            step=1,
                            value=last,
                            debounce=False,
                        ),
                    ],
                    className="when",
                ),
                html.Div(
                    [html.Button(text, id=f"route-{name}", type="button") for name, text in _STEPS.items()],
                    className="steps",
                ),
                html.Span(_clock(view, last), id="route-clock"),
            ],
            className="moment screen-only",
        ),
        html.P(state_text(now, view.dress), id="route-state", className="state", role="status"),
        html.Div(
            [
                html.Div(graph("route-chart", _figure(view, routes, now)), className="chart route"),
                html.Div(laylines_table(now, view.dress), id="route-told"),
            ],
            className="route-body",
        ),
        wide=True,
    )


def _given_panel(view: View, routes: Routes) -> html.Section:
    asked = view.opened.review.settings.asked.routes
    limit = asked.latitude_limit_deg
    section = panel(
        "Give marks",
        html.P(
            "In the order in which they are to be reached; a single one is reached from the start of the passage. "
            "They are kept while the passage is open.",
            className="small",
        ),
        html.Ol([html.Li(f"{one.name}: {position_text(one.lat_deg, one.lon_deg)}") for one in asked.marks]),
        html.Div(
            [
                typed_field("mark-name", "Name", "Bell"),
                typed_field("mark-place", "Position", "50°06.30′N 001°15.00′W"),
                html.Button("Add this mark", id="mark-add", type="button"),
                html.Button("Take the last away", id="mark-clear", type="button", disabled=not asked.marks),
            ],
            className="given",
        ),
        html.Div(
            [
                typed_field(
                    "mark-latitude", "Keep below latitude [°]", "none" if limit is None else f"{limit:g}"
                ),
                html.Button("Keep below", id="mark-limit", type="button"),
            ],
            className="given",
        ),
        html.P("", id="marks-refused", role="status", className="refused"),
        dcc.Store(id="marks-changed"),
        wide=True,
    )
    section.className += " screen-only"
    return section


def _figure(view: View, routes: Routes, now: Laylines | None) -> dict[str, Any]:
    opened = view.opened
    heading = None
    if now is not None and "heading_true_deg" in opened.scene.columns:
        row = int(np.searchsorted(opened.scene.time_ms, now.time_s * 1000, side="right")) - 1
        value = float(opened.scene.columns["heading_true_deg"][max(row, 0)])
        heading = value if np.isfinite(value) else None
    legs = [leg for one in routes.routes for leg in one.legs]
    return route_figure(opened.scene, opened.coast, view.dress, legs, routes.marks, now, heading)


def _at(view: View, routes: Routes, time_s: float, chosen: str | None = None) -> Laylines | None:
    mark = routes.mark_at(time_s)
    if chosen is not None and chosen.isdecimal() and int(chosen) < len(routes.marks):
        mark = routes.marks[int(chosen)]
    return routes.laylines(mark, time_s) if mark is not None else None


def _number_of(routes: Routes, mark: Mark) -> str:
    return str(next((k for k, one in enumerate(routes.marks) if one == mark), 0))


def _last(view: View) -> float:
    times = view.opened.scene.time_ms
    return float(times[-1]) / 1000 if len(times) else float("nan")


def _clock(view: View, time_s: float) -> str:
    scene = view.opened.scene
    return time_text(time_s * 1000, float(scene.time_ms[0]), scene.dated, view.dress.clock)


def _moved(view: View, time_s: float, pressed: str) -> float:
    """Step the moment by a minute, or to the tack or gybe before or after it; held within the passage."""
    turns = [turn.start.timestamp() for turn in tack_times(view.opened.review.case.manoeuvres)]
    if pressed == "route-less":
        time_s -= STEP_S
    elif pressed == "route-more":
        time_s += STEP_S
    elif pressed == "route-turn-before":
        time_s = max((one for one in turns if one < time_s - 1), default=time_s)
    elif pressed == "route-turn-after":
        time_s = min((one for one in turns if one > time_s + 1), default=time_s)
    return float(np.clip(time_s, view.opened.scene.time_ms[0] / 1000, _last(view)))


def _number(value: Any, otherwise: float) -> float:
    found = pd.to_numeric(value, errors="coerce")
    return float(found) if np.isfinite(found) else otherwise


def _added(marks: tuple[Mark, ...], name: str, place: str) -> tuple[Mark, ...]:
    if len(marks) >= MOST_MARKS:
        raise SettingError(f"{MOST_MARKS} marks are given already; a longer route comes from a GPX file.")
    return (*marks, Mark(name.strip()[:24] or f"Mark {len(marks) + 1}", *parse_position(place)))


def _limit_deg(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        value = abs(float(text.strip().rstrip("°").replace(",", ".")))
    except ValueError:
        value = float("nan")
    if not 1 <= value <= 89:
        raise SettingError(f"{text!r}: give a latitude from 1 to 89 degrees, or nothing for no limit.")
    return value
