"""The passage second by second, in chunks that a browser plays from: times, places, heading and motions."""

import math
from dataclasses import asdict
from typing import Any

import numpy as np
from flask import Flask, Response, abort, jsonify, request

from analysis.motions import motions
from analysis.passage import Floats
from app.figures.scene import Scene
from app.view import Views

from .moment import mark_at, moment_at, moment_near
from .wishes import scene_of_view

ROWS = 4096
NEEDED = ("heading_true_deg", "stw_kn", "leeway_deg", "sog_kn", "cog_deg", "awa_deg", "aws_kn")


def chunk(scene: Scene, number: int) -> bytes:
    """Pack a chunk: the times [ms] as float64, then as float32 east and north [nm], heading [deg], and the motions
    through the water, over the ground and of the air, each east and north [kn]; NaN where missing.
    """
    rows = np.arange(number * ROWS, min((number + 1) * ROWS, len(scene.time_ms)))
    columns = {name: _nearest(scene, name, rows) for name in NEEDED if name in scene.columns}
    unknown = np.full(len(rows), np.nan)
    place = [unknown, unknown]
    if scene.east_nm is not None and scene.north_nm is not None:
        at = scene.nearest("lat_deg", rows)
        place = [np.where(at < 0, np.nan, nm[at]) for nm in (scene.east_nm, scene.north_nm)]
    heading = columns.get("heading_true_deg", unknown)
    moving = [part for motion in motions(columns, len(rows)) for part in motion]
    fields = np.stack([*place, heading, *moving]).astype(np.float32)
    return scene.time_ms[rows].tobytes() + fields.tobytes()


def chunk_starts(scene: Scene) -> list[float]:
    """Give the time [ms] of the first row of each chunk."""
    starts: list[float] = scene.time_ms[::ROWS].tolist()
    return starts


def route(server: Flask, views: Views) -> None:
    """Answer the cursor, the player and marks.

    ``/at?time_ms=`` or ``/at?east_nm=&north_nm=``: what the cursor shows there; ``/chunk?number=``: a chunk;
    ``/mark?lat_deg=&lon_deg=`` or ``/mark?east_nm=&north_nm=``: a mark there.
    """

    def seen() -> tuple[Scene, Any]:
        view = views()
        if view is None or not len(view.opened.scene.time_ms):
            abort(404)
        return scene_of_view(view), view.dress

    @server.get("/at")
    def at() -> Response:
        places = [request.args.get(name, math.nan, float) for name in ("time_ms", "east_nm", "north_nm")]
        time_ms, east_nm, north_nm = places
        scene, dress = seen()
        if math.isfinite(time_ms):
            moment = moment_at(scene, time_ms, dress)
        elif math.isfinite(east_nm) and math.isfinite(north_nm):
            found = moment_near(scene, east_nm, north_nm, dress)
            moment = found if found is not None else abort(404)
        else:
            abort(400)
        return jsonify(asdict(moment))

    @server.get("/mark")
    def mark() -> Response:
        scene, dress = seen()
        if scene.plane is None:
            abort(404)
        lat, lon, east, north = (
            request.args.get(name, math.nan, float) for name in ("lat_deg", "lon_deg", "east_nm", "north_nm")
        )
        if math.isfinite(east) and math.isfinite(north):
            lat, lon = scene.plane.position(east, north)
        if not (abs(lat) <= 90 and abs(lon) <= 180):
            abort(400)
        found = mark_at(scene, lat, lon, dress)
        return jsonify(asdict(found) if found is not None else abort(404))

    @server.get("/chunk")
    def numbered() -> Response:
        scene, _ = seen()
        number = request.args.get("number", -1, int)
        if not 0 <= number < len(chunk_starts(scene)):
            abort(404)
        return Response(
            chunk(scene, number), mimetype="application/octet-stream", headers={"Cache-Control": "no-store"}
        )


def _nearest(scene: Scene, name: str, rows: np.ndarray) -> Floats:
    at = scene.nearest(name, rows)
    return np.where(at < 0, np.nan, scene.columns[name][at])
