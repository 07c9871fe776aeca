"""One moment of the passage: everything the cursor shows."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.channels import CHANNELS
from analysis.positions import position_text
from app.dress import Dress
from app.figures.scene import Scene
from app.pages.wording import NOTHING, time_of_day_text, time_text, value_text

_PLAIN = Dress()


@dataclass(frozen=True)
class Moment:
    """A second of the passage; the place on the plane [nm] is None where there is no position.

    ``clock`` is the time in full, ``time_of_day`` the short form; ``texts`` has the nearest reading of each channel.
    """

    time_ms: float
    clock: str
    time_of_day: str
    east_nm: float | None
    north_nm: float | None
    texts: Mapping[str, str]


@dataclass(frozen=True)
class Mark:
    """A place that the reader marked, in words too; the time is when the boat was nearest to it."""

    lat_deg: float
    lon_deg: float
    east_nm: float
    north_nm: float
    position: str
    time_ms: float
    time_of_day: str


def moment_at(scene: Scene, time_ms: float, dress: Dress = _PLAIN) -> Moment:
    """Read the second of the frame nearest to a time."""
    after = int(np.clip(np.searchsorted(scene.time_ms, time_ms), 1, max(len(scene.time_ms) - 1, 1)))
    pair = scene.time_ms[after - 1 : after + 1]
    return _moment(scene, after - 1 + int(np.abs(pair - time_ms).argmin()), dress)


def moment_near(scene: Scene, east_nm: float, north_nm: float, dress: Dress = _PLAIN) -> Moment | None:
    """Read the second at which the boat was nearest to a place on the plane; None without positions."""
    if scene.east_nm is None or scene.north_nm is None:
        return None
    distance = np.hypot(scene.east_nm - east_nm, scene.north_nm - north_nm)
    return _moment(scene, int(np.nanargmin(distance)), dress)


def mark_at(scene: Scene, lat_deg: float, lon_deg: float, dress: Dress = _PLAIN) -> Mark | None:
    """Describe a mark at a position; None without positions."""
    if scene.plane is None:
        return None
    east, north = (
        float(axis(np.array([degrees]))[0])
        for axis, degrees in ((scene.plane.east_nm, lon_deg), (scene.plane.north_nm, lat_deg))
    )
    near = moment_near(scene, east, north, dress)
    if near is None:
        return None
    return Mark(
        lat_deg, lon_deg, east, north, position_text(lat_deg, lon_deg), near.time_ms, near.time_of_day
    )


def _moment(scene: Scene, row: int, dress: Dress) -> Moment:
    texts = {
        name: _text(scene, name, row, dress)
        for name in scene.columns
        if not name.endswith("_sd") and CHANNELS[name.removesuffix("_shown")].kind != "position"
    }
    fix = -1 if scene.plane is None else _nearest(scene, "lat_deg", row)
    if fix >= 0 and np.isfinite(scene.columns["lon_deg"][fix]):
        east, north = (float(places[fix]) for places in (scene.east_nm, scene.north_nm) if places is not None)
        position = position_text(*(float(scene.columns[name][fix]) for name in ("lat_deg", "lon_deg")))
    else:
        east, north, position = None, None, NOTHING
    time_ms = float(scene.time_ms[row])
    clock = time_text(time_ms, float(scene.time_ms[0]), scene.dated, dress.clock)
    return Moment(
        time_ms, clock, time_of_day_text(time_ms, dress.clock), east, north, texts | {"position": position}
    )


def _nearest(scene: Scene, name: str, row: int) -> int:
    return int(scene.nearest(name, np.array([row]))[0])


def _text(scene: Scene, name: str, row: int, dress: Dress) -> str:
    at = _nearest(scene, name, row)
    if at < 0:
        return NOTHING
    deviation = scene.columns.get(f"{name}_sd")
    return value_text(
        name, float(scene.columns[name][at]), None if deviation is None else float(deviation[at]), dress.units
    )
