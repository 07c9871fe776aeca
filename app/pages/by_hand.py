"""The line above every page that says what is set by hand, with a way back."""

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from app.desk import Desk, Opened
from app.view import Views

from .corrections import by_hand_text

OTHERS_STAY = "The others stay as estimated without it; --set when sternlog is started estimates them anew."
STORES = ("by-hand-told", "by-hand-findings", "try-kept", "marks-changed", "overboard-changed")
"""Stores that callbacks fill once they changed corrections or marks: the page is then drawn anew."""


def by_hand_line(opened: Opened) -> list[Any]:
    """Say which corrections are set by hand; nothing where none is."""
    by_hand = opened.review.settings.corrections
    text = by_hand_text(by_hand)
    if not text:
        return []
    if by_hand != opened.found.settings.corrections:
        text = f"{text} {OTHERS_STAY}"
    return [
        html.P(
            [
                html.Span(text),
                html.Button("Back to what the recording says", id="by-hand-back", type="button"),
                dcc.Store(id="by-hand-told"),
            ],
            className="by-hand-line",
            id="by-hand",
        )
    ]


def register_by_hand(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the way back, and the drawing anew of a page after what it rests on was changed."""

    def back(clicks: int | None) -> bool:
        view = views()
        if view is None or not clicks:
            raise PreventUpdate
        desk.correct(view.opened.key, {})
        return True

    app.callback(
        Output("by-hand-told", "data"), Input("by-hand-back", "n_clicks"), prevent_initial_call=True
    )(back)
    for store in STORES:
        app.clientside_callback(
            ClientsideFunction("findings", "again"),
            Output(store, "clear_data"),
            Input(store, "data"),
            prevent_initial_call=True,
        )
