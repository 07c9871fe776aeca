"""The track as GPX 1.1 (schema http://www.topografix.com/GPX/1/1)."""

import re
from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pandas as pd

from analysis.passage import Passage
from analysis.writing.atomic import replacing
from analysis.writing.times import iso_ms, iso_stamp
from analysis.writing.track import Stretch, stretches, wrapped_lon

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="sternlog">
"""
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_gpx(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write one track, a segment for each stretch without a gap, and the log's marks as waypoints.

    Raises WriteError when there is no position or the file cannot be written.
    """
    parts = stretches(frame)
    name = _text(", ".join(Path(file).name for file in passage.files))
    with replacing(path) as stream:
        stream.write(f"{_HEAD}<metadata><name>{name}</name></metadata>\n".encode())
        stream.writelines(line.encode() for line in _waypoints(passage.events))
        stream.write(f"<trk><name>{name}</name>\n".encode())
        for part in parts:
            stream.write(b"<trkseg>\n")
            stream.writelines(line.encode() for line in _points(part))
            stream.write(b"</trkseg>\n")
        stream.write(b"</trk>\n</gpx>\n")


def _points(part: Stretch) -> Iterator[str]:
    for time, lat, lon in zip(iso_ms(part.time), part.lat_deg.tolist(), part.lon_deg.tolist(), strict=True):
        yield f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><time>{time}</time></trkpt>\n'


def _waypoints(events: pd.DataFrame) -> Iterator[str]:
    if events.empty:
        return
    placed = events.dropna(subset=["lat_deg", "lon_deg"])
    lons = wrapped_lon(placed["lon_deg"].to_numpy(np.float64))
    for event, lon in zip(placed.itertuples(), lons, strict=True):
        stamp = iso_stamp(event.time_utc)
        time = f"<time>{stamp}</time>" if stamp else ""
        yield (
            f'<wpt lat="{event.lat_deg:.7f}" lon="{lon:.7f}">{time}'
            f"<name>{_text(event.text)}</name><type>{_text(event.kind)}</type></wpt>\n"
        )


def _text(value: object) -> str:
    return escape(_NOT_XML.sub("?", str(value)))
