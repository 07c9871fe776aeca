"""A person overboard marked by hand: at a time, at a position, or where a mark was placed on the track."""

from dataclasses import replace
from typing import Any

import numpy as np
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from analysis.emergencies import Overboard, UserMark
from analysis.errors import SettingError
from analysis.positions import parse_position, position_text
from app.asking.moments import DAY_S, typed_moment
from app.desk import Desk
from app.view import View, Views

from .parts import panel, typed_field
from .wording import time_text

MOST_MARKS = 60


def overboard_panel(view: View) -> html.Section:
    """Offer a time and a position to type, and the marks placed on the track."""
    marks = view.opened.review.settings.asked.overboard.marks
    clock = view.dress.clock.name
    section = panel(
        "Mark a person overboard",
        html.P(
            "For a drill, or for what nobody marked at the time. Without a position it is where the boat then was. A "
            "mark placed on the track of the Passage page counts from when the boat was nearest to it.",
            className="small",
        ),
        html.Ol([html.Li(_said(one, view)) for one in marks]) if marks else None,
        html.Div(id="overboard-marks", className="marks-placed"),
        html.Div(
            [
                typed_field("overboard-time", f"Time by {clock}", _example(view)),
                typed_field("overboard-place", "Position, if not the boat's", "50°06.30′N 001°15.00′W"),
                html.Button("Mark it", id="overboard-set", type="button"),
                html.Button("Take the last away", id="overboard-clear", type="button", disabled=not marks),
            ],
            className="given",
        ),
        html.P("", id="overboard-refused", role="status", className="refused"),
        dcc.Store(id="overboard-placed"),
        dcc.Store(id="overboard-changed"),
        wide=True,
    )
    section.className += " screen-only"
    return section


def register_overboard(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the panel."""

    def give(
        _set: int | None, _clear: int | None, placed: Any, time: str | None, place: str | None
    ) -> tuple[Any, str]:
        view = views()
        if view is None or ctx.triggered_id is None:
            raise PreventUpdate
        asked = view.opened.review.settings.asked
        before = asked.overboard.marks
        try:
            if ctx.triggered_id == "overboard-clear":
                after = before[:-1]
            elif ctx.triggered_id == "overboard-placed":
                after = added(before, placed_mark(placed), view)
            else:
                after = added(before, typed_mark(time or "", place or "", view), view)
        except SettingError as error:
            return no_update, str(error)
        desk.ask(view.opened.key, replace(asked, overboard=Overboard(after)))
        return True, ""

    app.callback(
        Output("overboard-changed", "data"),
        Output("overboard-refused", "children"),
        Input("overboard-set", "n_clicks"),
        Input("overboard-clear", "n_clicks"),
        Input("overboard-placed", "data"),
        State("overboard-time", "value"),
        State("overboard-place", "value"),
        prevent_initial_call=True,
    )(give)
    app.clientside_callback(
        ClientsideFunction("emergencies", "offer"),
        Output("overboard-marks", "title"),
        Input("overboard-marks", "id"),
    )


def typed_mark(time: str, place: str, view: View) -> UserMark:
    """Read a mark as typed, its time by the reader's clock. Raises SettingError."""
    time_s = typed_moment(time, view.dress.clock.offset_min)
    return UserMark(time_s, *parse_position(place)) if place.strip() else UserMark(time_s)


def placed_mark(placed: Any) -> UserMark:
    """Read a mark as the browser keeps those placed on the track. Raises SettingError where it is none."""
    try:
        time_s, lat, lon = float(placed["t"]) / 1000, float(placed["lat_deg"]), float(placed["lon_deg"])
    except (TypeError, KeyError, ValueError):
        time_s = lat = lon = np.nan
    if not (np.isfinite(time_s) and abs(lat) <= 90 and abs(lon) <= 180):
        raise SettingError("The mark has no place and time; place it again on the Passage page.")
    return UserMark(time_s, lat, lon)


def added(marks: tuple[UserMark, ...], one: UserMark, view: View) -> tuple[UserMark, ...]:
    """Add a mark. Raises SettingError where it lies outside the passage or there are too many."""
    times = view.opened.scene.time_ms
    if len(marks) >= MOST_MARKS:
        raise SettingError(f"{MOST_MARKS} marks are set already; take one away first.")
    if one.time_s >= DAY_S and not (len(times) and times[0] <= 1000 * one.time_s <= times[-1]):
        raise SettingError("The passage does not have this moment; give a time within it.")
    return (*marks, one)


def _said(one: UserMark, view: View) -> str:
    time_ms, scene = 1000 * one.time_s, view.opened.scene
    dated = scene.dated and one.time_s >= DAY_S
    when = time_text(time_ms, time_ms, dated, view.dress.clock)
    if one.lat_deg is None or one.lon_deg is None:
        return f"{when}, where the boat then was"
    return f"{when}, {position_text(one.lat_deg, one.lon_deg)}"


def _example(view: View) -> str:
    times, clock = view.opened.scene.time_ms, view.dress.clock
    middle = float(times[len(times) // 2]) if len(times) else 43_200_000.0
    return f"{clock.at(middle):{'%Y-%m-%d ' if view.opened.scene.dated else ''}%H:%M:%S}"
