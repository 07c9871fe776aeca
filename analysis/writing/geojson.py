"""The track as GeoJSON (RFC 7946)."""

from pathlib import Path
from typing import Any

import numpy as np
import orjson
import pandas as pd
from numpy.typing import NDArray

from analysis.passage import Passage
from analysis.writing.atomic import replacing
from analysis.writing.times import iso_ms, iso_stamp
from analysis.writing.track import DECIMALS, Stretch, stretches, wrapped_lon

Positions = NDArray[np.float64]  # n x 2: longitude, latitude [deg]


def write_geojson(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write a feature for each stretch without a gap and one for each of the log's marks.

    A stretch that crosses the 180th meridian becomes a MultiLineString cut there (section 3.1.9), a lone
    position a Point, and a mark without a position has no geometry (section 3.2).
    Raises WriteError when there is no position or the file cannot be written.
    """
    parts = stretches(frame)
    collection = {
        "type": "FeatureCollection",
        "bbox": _bbox(parts),
        "features": [*map(_track, parts), *_marks(passage.events)],
    }
    with replacing(path) as stream:
        stream.write(orjson.dumps(collection, option=orjson.OPT_SERIALIZE_NUMPY))


def _track(part: Stretch) -> dict[str, Any]:
    start, end = iso_ms(part.time[[0, -1]]).tolist()
    properties = {"kind": "track", "start_utc": start, "end_utc": end, "positions": len(part.time)}
    return {"type": "Feature", "bbox": _bbox([part]), "geometry": _geometry(part), "properties": properties}


def _geometry(part: Stretch) -> dict[str, Any]:
    positions = np.column_stack([part.lon_deg, part.lat_deg])
    if len(positions) == 1:
        return {"type": "Point", "coordinates": positions[0]}
    pieces = _cut(positions)
    if len(pieces) == 1:
        return {"type": "LineString", "coordinates": pieces[0]}
    return {"type": "MultiLineString", "coordinates": pieces}


def _cut(positions: Positions) -> list[Positions]:
    """Cut a line where it crosses the 180th meridian, each piece reaching it at the interpolated latitude."""
    crossings = np.flatnonzero(np.abs(np.diff(positions[:, 0])) > 180.0)
    pieces, start = [], np.empty((0, 2))
    first = 0
    for last in crossings.tolist():
        (lon, lat), (next_lon, next_lat) = positions[last], positions[last + 1]
        edge = np.copysign(180.0, lon)
        share = (edge - lon) / (next_lon + 2.0 * edge - lon)
        edge_lat = round(lat + share * (next_lat - lat), DECIMALS)
        pieces.append(np.vstack([start, positions[first : last + 1], [[edge, edge_lat]]]))
        start, first = np.array([[-edge, edge_lat]]), last + 1
    return [*pieces, np.vstack([start, positions[first:]])]


def _bbox(parts: list[Stretch]) -> list[float]:
    """Return west, south, east, north; west > east when the box spans the 180th meridian (section 5.2)."""
    lat = np.concatenate([part.lat_deg for part in parts])
    lon = np.unique(np.concatenate([part.lon_deg for part in parts]))
    empty = np.diff(lon, append=lon[0] + 360.0)
    east = int(np.argmax(empty))
    west = (east + 1) % len(lon)
    return [float(lon[west]), float(lat.min()), float(lon[east]), float(lat.max())]


def _marks(events: pd.DataFrame) -> list[dict[str, Any]]:
    if events.empty:
        return []
    lon = wrapped_lon(events["lon_deg"].to_numpy(np.float64))
    lat = np.round(events["lat_deg"].to_numpy(np.float64), DECIMALS)
    return [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": position} if np.isfinite(position).all() else None,
            "properties": {
                "kind": str(event.kind),
                "text": str(event.text),
                "time_utc": iso_stamp(event.time_utc),
            },
        }
        for event, position in zip(events.itertuples(), np.column_stack([lon, lat]), strict=True)
    ]
