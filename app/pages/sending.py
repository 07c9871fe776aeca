"""The panel that sends the log again to programs of this machine, and what it asks of the server."""

import ipaddress
import math
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from dash import dcc, html
from flask import Flask, Response, abort, jsonify, request

from analysis.errors import SettingError, SternlogError
from app.addresses import whole_of
from app.dress import Dress
from app.lan import Lan
from app.opening import Opener
from app.resend import CAUTION
from app.resending import Resender, Wish, loopback_port
from app.view import View, Views

from .clocked import clocked_text
from .parts import panel
from .wording import time_of_day_text

PACES = {"1": "as it was", "2": "2 ×", "5": "5 ×", "20": "20 ×", "60": "60 ×", "0": "as fast as it goes"}
WAYS = {"udp": "UDP, to", "tcp": "TCP, for all who connect to"}
PORT = "127.0.0.1:10110"
ELSEWHERE = "Only the machine that sternlog runs on can start this."
_FORM = "%Y-%m-%d %H:%M:%S"


def sending_panel(view: View) -> html.Section:
    """Offer to send the log again; a script starts, stops and watches it."""
    start, end = _ends(view)
    made = panel(
        "Send it again",
        html.P("As NMEA 0183 at its own pace, to other programs on this machine.", className="small"),
        html.P(CAUTION, className="caution"),
        html.Div(
            [
                _field("How", _select("way", WAYS)),
                _field("Host and port", _typed("port", PORT)),
                _field("What", _select("corrected", {"": "as recorded", "yes": "corrected"})),
                _field("Pace", _select("pace", PACES)),
                *(
                    [
                        _field(f"From ({view.dress.clock.name})", _typed("from", start)),
                        _field("Until", _typed("until", end)),
                    ]
                    if start
                    else []
                ),
                _field("At the end", _select("loop", {"": "stop", "yes": "begin anew"})),
                html.Div(
                    [
                        html.Button("Send", id="send-start", type="button"),
                        html.Button("Stop", id="send-stop", type="button", disabled=True),
                    ],
                    className="pair",
                ),
            ],
            className="send",
        ),
        html.P("", id="send-told", role="status"),
        wide=True,
    )
    made.id = "send"
    return made


def route_sending(
    server: Flask, views: Views, opener: Opener, lan: Lan | None, resender: Resender | None = None
) -> None:
    """``/send/state``, ``/send/start`` and ``/send/stop`` below a passage's address; to start is for this machine."""
    sender = resender or Resender()

    def seen() -> View:
        return views() or abort(404)

    @server.get("/send/state")
    def sending() -> Response:
        return jsonify(_told(sender, seen().dress))

    @server.post("/send/start")
    def start_sending() -> Response:
        _refuse_others(lan)
        view = seen()
        try:
            wish = wish_of(request.get_json(silent=True), view)
            sender.start(
                view.opened.name, view.opened.review, opener.files(whole_of(view.opened.key)[0]), wish
            )
        except SternlogError as error:
            answer = jsonify({"words": clocked_text(str(error), view.dress.clock), "running": False})
            answer.status_code = 409
            return answer
        return jsonify(_told(sender, view.dress))

    @server.post("/send/stop")
    def stop_sending() -> Response:
        _refuse_others(lan)
        sender.stop()
        return jsonify(_told(sender, seen().dress))


def wish_of(asked: Any, view: View) -> Wish:
    """Read what a page asks to be sent. Raises SettingError for what makes no sense."""
    if not isinstance(asked, dict) or asked.get("way") not in WAYS or str(asked.get("pace")) not in PACES:
        raise SettingError("The page asked for something that is not offered; load it again.")
    port = loopback_port(str(asked.get("port", "")))
    start, end = _ends(view)
    limits = _moment(asked, "from", start, view), _moment(asked, "until", end, view)
    return Wish(
        udp_port=port if asked["way"] == "udp" else None,
        tcp_port=port if asked["way"] == "tcp" else None,
        pace=float(asked["pace"]),
        loop=bool(asked.get("loop")),
        start_s=limits[0],
        end_s=limits[1],
        corrected=bool(asked.get("corrected")),
    )


def _moment(asked: Mapping[str, Any], name: str, end: str, view: View) -> float | None:
    """A moment by the reader's clock as seconds UTC; None where it was left at the ``end`` of a whole passage."""
    text = str(asked.get(name, "")).strip()
    if not text or not end or (text == end and whole_of(view.opened.key)[1] is None):
        return None
    try:
        at = datetime.strptime(text, _FORM).replace(tzinfo=UTC) - timedelta(
            minutes=view.dress.clock.offset_min
        )
    except ValueError as error:
        raise SettingError(f"{text!r} is no date and time; write it as {end}.") from error
    return at.timestamp()


def _ends(view: View) -> tuple[str, str]:
    """The ends of the passage by the reader's clock, to the second around it; empty without a date."""
    scene, clock = view.opened.scene, view.dress.clock
    if not scene.dated or not len(scene.time_ms):
        return "", ""
    first, last = (float(scene.time_ms[at]) for at in (0, -1))
    return f"{clock.at(first):{_FORM}}", f"{clock.at(1000 * math.ceil(last / 1000)):{_FORM}}"


def _told(sender: Resender, dress: Dress) -> dict[str, Any]:
    state = sender.state()
    parts = [clocked_text(state.words, dress.clock)]
    if state.at_s is not None:
        parts.append(f"Now at {time_of_day_text(1000 * state.at_s, dress.clock)} of {state.name}.")
    elif state.running and state.name:
        parts.append(f"{state.name}.")
    if state.clients is not None:
        parts.append(f"{state.clients} connected.")
    return {"words": " ".join(part for part in parts if part), "running": state.running}


def _refuse_others(lan: Lan | None) -> None:
    """Let nobody start or stop it but the machine itself."""
    origin = request.remote_addr or ""
    own = lan.addresses if lan else []
    if not (origin in own or _loopback(origin)):
        answer = jsonify({"words": ELSEWHERE, "running": False})
        answer.status_code = 403
        abort(answer)


def _loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _field(label: str, control: Any) -> html.Label:
    return html.Label([html.Span(label), control])


def _typed(name: str, value: str) -> dcc.Input:
    return dcc.Input(id=f"send-{name}", type="text", value=value, autoComplete="off", spellCheck=False)


def _select(name: str, options: Mapping[str, str]) -> html.Select:
    return html.Select([html.Option(text, value=value) for value, text in options.items()], id=f"send-{name}")
