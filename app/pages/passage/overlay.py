"""What lies over the track: arrows, extremes, and what happened, each with its place on the plane and its words."""

from dataclasses import asdict
from typing import Any

import numpy as np

from analysis.channels import CHANNELS
from app.dress import Dress
from app.figures.arrows import arrows_of, wind_of
from app.figures.scene import Scene
from app.figures.track import Box, extreme_rows, track_stretch
from app.pages.wording import time_of_day_text, value_text
from app.view import View

from .happenings import Happening, happenings

MOST_STRETCHES, STRETCH_POINTS = 60, 40
Piece = dict[str, Any]


def arrow_pieces(scene: Scene, view: Box, dress: Dress) -> list[Piece]:
    """Arrows for a view: place [nm], directions [deg] from for wind and toward for current, speeds [kn], words."""
    arrows = arrows_of(scene, view)
    wind = wind_of(scene) or ("twd_ground_deg", "tws_ground_kn")
    return [
        {
            "x": round(x, 5),
            "y": round(y, 5),
            "wind": _arrow(wind, from_deg, wind_kn, dress),
            "current": _arrow(("set_deg", "drift_kn"), set_deg, drift_kn, dress),
        }
        for x, y, from_deg, wind_kn, set_deg, drift_kn in zip(
            *(values.tolist() for values in asdict(arrows).values()), strict=True
        )
    ]


def extreme_pieces(scene: Scene, channel: str | None, dress: Dress) -> list[Piece]:
    """The lowest and highest value of the track's channel, with their places and times."""
    rows = extreme_rows(scene, channel) if channel in scene.channels and channel else None
    if rows is None or channel is None or scene.east_nm is None or scene.north_nm is None:
        return []
    found = []
    for row, name in zip(rows, ("lowest", "highest"), strict=True):
        at = int(scene.nearest(channel, np.array([row]))[0])
        text = value_text(channel, float(scene.columns[channel][at]), units=dress.units)
        when = time_of_day_text(float(scene.time_ms[row]), dress.clock)
        found.append(
            {
                "x": float(scene.east_nm[row]),
                "y": float(scene.north_nm[row]),
                "t": float(scene.time_ms[row]),
                "text": text,
                "words": f"{CHANNELS[channel].label}, {name}: {text}, at {when}",
            }
        )
    return found


def happening_pieces(view: View, scene: Scene) -> list[Piece]:
    """What happened, with the boat's place at its start; a finding's span also as its stretch of the track."""
    pieces = [_happening(one, scene) for one in happenings(view.opened.review, view.dress)]
    spans = sorted(
        (piece for piece in pieces if piece["kind"] == "finding" and piece["end"] > piece["t"]),
        key=lambda piece: float(piece["t"] - piece["end"]),
    )
    if scene.plane is not None:
        for piece in spans[:MOST_STRETCHES]:
            piece["path"] = track_stretch(scene, (piece["t"], piece["end"]), STRETCH_POINTS)
    return pieces


def _happening(one: Happening, scene: Scene) -> Piece:
    place: tuple[float | None, float | None] = (None, None)
    if scene.plane is not None and one.place is not None:
        lat, lon = np.array([one.place[0]]), np.array([one.place[1]])
        place = float(scene.plane.east_nm(lon)[0]), float(scene.plane.north_nm(lat)[0])
    elif scene.east_nm is not None and scene.north_nm is not None:
        row = int(np.searchsorted(scene.time_ms, one.start_ms).clip(0, len(scene.time_ms) - 1))
        at = int(scene.nearest("lat_deg", np.array([row]))[0])
        if at >= 0 and np.isfinite(scene.east_nm[at]):
            place = float(scene.east_nm[at]), float(scene.north_nm[at])
    return {
        "kind": one.kind,
        "words": one.words,
        "t": one.start_ms,
        "end": one.end_ms,
        "x": place[0],
        "y": place[1],
    }


def _arrow(pair: tuple[str, str], direction_deg: float, speed_kn: float, dress: Dress) -> Piece | None:
    if not np.isfinite(direction_deg):
        return None
    direction, speed = (
        value_text(name, value, units=dress.units)
        for name, value in zip(pair, (direction_deg, speed_kn), strict=True)
    )
    label = CHANNELS[pair[0]].label if pair[0] != "set_deg" else "Current sets"
    return {
        "deg": round(direction_deg, 1),
        "kn": round(speed_kn, 2),
        "words": f"{label} {direction}, {speed}",
    }
