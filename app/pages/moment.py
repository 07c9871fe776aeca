"""One moment of the passage: everything the cursor shows."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.channels import CHANNELS
from analysis.passage import Floats
from app.figures.scene import Scene

from .wording import clock_text, position_text, value_text


@dataclass(frozen=True)
class Moment:
    """A second of the passage; the place on the plane [nm] is None where there is no position."""

    time_ms: float
    clock: str
    east_nm: float | None
    north_nm: float | None
    texts: Mapping[str, str]


def moment_at(scene: Scene, time_ms: float) -> Moment:
    """Read the second of the frame nearest to a time."""
    after = int(np.clip(np.searchsorted(scene.time_ms, time_ms), 1, max(len(scene.time_ms) - 1, 1)))
    pair = scene.time_ms[after - 1 : after + 1]
    return _moment(scene, after - 1 + int(np.abs(pair - time_ms).argmin()))


def moment_near(scene: Scene, east_nm: float, north_nm: float) -> Moment | None:
    """Read the second at which the boat was nearest to a place on the plane; None without positions."""
    if scene.east_nm is None or scene.north_nm is None:
        return None
    distance = np.hypot(scene.east_nm - east_nm, scene.north_nm - north_nm)
    return _moment(scene, int(np.nanargmin(distance)))


def _moment(scene: Scene, row: int) -> Moment:
    texts = {
        name: value_text(name, float(scene.columns[name][row]), _sd(scene, name, row))
        for name in scene.channels
        if CHANNELS[name].kind != "position"
    }
    east, north = (_place(places, row) for places in (scene.east_nm, scene.north_nm))
    lat, lon = (
        float(scene.columns[name][row]) if name in scene.columns else np.nan
        for name in ("lat_deg", "lon_deg")
    )
    time_ms = float(scene.time_ms[row])
    return Moment(
        time_ms, f"{clock_text(time_ms)} UTC", east, north, texts | {"position": position_text(lat, lon)}
    )


def _sd(scene: Scene, name: str, row: int) -> float | None:
    deviation = scene.columns.get(f"{name}_sd")
    return None if deviation is None else float(deviation[row])


def _place(places: Floats | None, row: int) -> float | None:
    return None if places is None or not np.isfinite(places[row]) else float(places[row])
