"""The panel that takes a file for a part of the passage, dropped on the page or chosen, and what answers it."""

from typing import Any

from dash import html
from flask import Flask, Response, abort, jsonify, request

from app.desk import Desk
from app.giving import TAKEN, FileRefusedError, received
from app.view import View, Views


def giving_panel(view: View, part: str, title: str, *words: Any) -> html.Section:
    """Offer to give a file to a part; a script sends it and lets the page be drawn anew."""
    taken = TAKEN[part]
    given = taken.told(view.opened.review.settings.asked)
    return html.Section(
        [
            html.H2(title),
            html.P(list(words), className="small"),
            html.Ul([html.Li(name) for name in given]) if given else None,
            html.Div(
                [
                    html.Label(["Choose a file …", html.Span(id="give-file")], className="choose"),
                    html.Button(
                        "Take them away" if len(given) > 1 else "Take it away",
                        id="give-none",
                        type="button",
                        hidden=not given,
                    ),
                ],
                className="ways-to-give",
            ),
            html.P(id="give-told", role="status"),
        ],
        id="give",
        className="panel wide drop screen-only",
        **{
            "data-part": part,
            "data-endings": ",".join(taken.endings),
            "data-most": str(taken.most_bytes),
        },
    )


def route_giving(server: Flask, views: Views, desk: Desk) -> None:
    """``/give/PART?name=`` below a passage's address: a POST's body is the file, a DELETE takes it away."""

    def seen(part: str) -> View:
        view = views()
        if view is None or part not in TAKEN:
            abort(404)
        return view

    @server.post("/give/<part>")
    def give(part: str) -> Response:
        opened = seen(part).opened
        try:
            asked = received(
                TAKEN[part], opened.review.settings.asked, request.args.get("name", ""), request.stream
            )
        except FileRefusedError as error:
            answer = jsonify({"error": str(error)})
            answer.status_code = 409
            return answer
        desk.ask(opened.key, asked)
        return jsonify({})

    @server.delete("/give/<part>")
    def take_away(part: str) -> Response:
        opened = seen(part).opened
        desk.ask(opened.key, TAKEN[part].none(opened.review.settings.asked))
        return jsonify({})
