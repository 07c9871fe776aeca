"""The page that opens logs: those of a folder, those dropped on it, and the passages that are open already."""

from dataclasses import asdict
from typing import Any, NoReturn

from dash import html
from flask import Flask, Response, abort, jsonify, request

from analysis.errors import LogError
from app import cautions
from app.addresses import address
from app.desk import Desk
from app.dress import Dress, dress_of
from app.figures.scene import Scene
from app.opening import Job, Opener

from .shell import wishes_menu
from .wording import duration_text, time_text

TRY = "sternlog invent --scenario open-passage --to try.nmea"
SLICE_BYTES = 8 << 20
_GONE = (
    "The passage of this address is not open, and what was worked out of it is no longer kept. "
    "Open its recording again: the address stays the same."
)


def start(dress: Dress, gone: bool) -> html.Div:
    """Lay the page out; ``gone`` says that it stands in for a passage that is not open. A script fills the lists."""
    return html.Div(
        [
            html.Header(
                [
                    html.A("sternlog", href="/", className="mark"),
                    html.H1("Open a recording"),
                    html.P(cautions.SHORT, className="caution", id="caution"),
                    wishes_menu(dress),
                ]
            ),
            html.Main(
                [
                    html.P(_GONE if gone else None, className="conclusion", id="gone", hidden=not gone),
                    html.P(id="trouble", role="alert", hidden=True),
                    html.Div(
                        [
                            _folder(),
                            html.Div([_under_way(), _drop(), _open()], className="beside"),
                        ],
                        className="opening",
                    ),
                ],
                id="opening",
                **{"data-slice": SLICE_BYTES},
            ),
        ],
        className="page page-start",
    )


def _folder() -> html.Section:
    columns = {"Pick": "picks", "Recording": "", "Size": "number", "Changed": ""}
    head = html.Tr([html.Th(title, className=kind) for title, kind in columns.items()])
    return html.Section(
        [
            html.H2("Recordings in this folder"),
            html.P(id="folder-path", className="small"),
            html.Ul(id="folders"),
            html.Table([html.Thead(head), html.Tbody(id="logs")], id="logs-table", hidden=True),
            html.P(id="no-logs", className="small", hidden=True),
            html.Button("Open as one passage", id="open-picked", type="button", hidden=True),
        ],
        className="panel",
        id="folder",
        hidden=True,
    )


def _drop() -> html.Section:
    return html.Section(
        [
            html.H2("Recordings from elsewhere"),
            html.P("Drop recordings here: plain, .gz, .zip or .zst. Several at once become one passage."),
            html.Label(
                ["Choose files …", html.Span(id="file-button")],
                className="choose",
                htmlFor="files",
            ),
            html.P(
                ["No recording at hand? ", html.Code(TRY), " writes an invented one to try."],
                className="small",
            ),
        ],
        className="panel drop",
        id="drop-logs",
    )


def _under_way() -> html.Section:
    return html.Section(
        [html.H2("Being opened"), html.Ul(id="jobs")],
        className="panel",
        id="under-way",
        hidden=True,
        **{"aria-live": "polite"},
    )


def _open() -> html.Section:
    return html.Section(
        [
            html.H2("Open passages"),
            html.Ul(id="passages"),
            html.P("None yet.", id="no-passages", className="small"),
        ],
        className="panel",
        id="open-passages",
    )


def route_opening(server: Flask, desk: Desk, opener: Opener) -> None:
    """``/open/…``: what may be opened, what is being opened, what is open; to open, to send, to stop, to close."""

    @server.get("/open/logs")
    def logs() -> Response:
        if opener.folder is None:
            abort(404)
        try:
            listing = opener.folder.listing(request.args.get("in", ""))
        except LogError as error:
            _refuse(error)
        return jsonify({"root": opener.folder.name, **asdict(listing)})

    @server.get("/open/state")
    def state() -> Response:
        dress = dress_of(request.cookies)
        passages = [
            {"key": one.key, "name": one.name, "when": _when(one.scene, dress), "address": address(one.key)}
            for one in desk.all()
        ]
        return jsonify({"jobs": [_told(job) for job in opener.jobs()], "passages": passages})

    @server.post("/open/paths")
    def paths() -> Response:
        given = _asked("paths", str)
        try:
            return jsonify(_told(opener.open_paths(given)))
        except LogError as error:
            _refuse(error)

    @server.post("/open/sent")
    def expect() -> Response:
        files = _asked("files", dict)
        try:
            job = opener.expect([(str(file.get("name")), int(file.get("bytes", -1))) for file in files])
        except LogError as error:
            _refuse(error)
        except (TypeError, ValueError):
            abort(400)
        return jsonify(_told(job))

    @server.post("/open/sent/<job>/<int:number>")
    def receive(job: str, number: int) -> Response:
        try:
            end = opener.receive(job, number, request.args.get("from", -1, int), request.stream)
        except LogError as error:
            _refuse(error)
        return jsonify({"bytes": end})

    @server.post("/open/stop/<job>")
    def stop(job: str) -> Response:
        opener.break_off(job)
        return jsonify({})

    @server.post("/open/close/<key>")
    def close(key: str) -> Response:
        desk.close(key)
        return jsonify({})


def _asked(name: str, kind: type) -> list[Any]:
    """The list that a request brings under a name, each of a kind."""
    asked = request.get_json(silent=True)
    given = asked.get(name) if isinstance(asked, dict) else None
    if not isinstance(given, list) or not all(isinstance(one, kind) for one in given):
        abort(400)
    return given


def _when(scene: Scene, dress: Dress) -> str:
    if not len(scene.time_ms):
        return "without time"
    start, end = float(scene.time_ms[0]), float(scene.time_ms[-1])
    length = duration_text((end - start) / 1000)
    return f"{time_text(start, start, scene.dated, dress.clock)}, {length}" if scene.dated else length


def _refuse(error: LogError) -> NoReturn:
    answer = jsonify({"error": str(error)})
    answer.status_code = 409
    abort(answer)


def _told(job: Job) -> dict[str, Any]:
    """Tell the page of a job; ``share`` is None where it cannot be known."""
    total = job.total_bytes
    return {
        "id": job.id,
        "name": job.name,
        "stage": job.stage,
        "bytes": job.done_bytes,
        "total": total,
        "share": min(job.done_bytes / total, 1.0) if total else None,
        "error": job.error,
        "address": address(job.key) if job.key else "",
        "over": job.over,
    }
