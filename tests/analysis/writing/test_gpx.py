"""GPX 1.1 by the rules of its schema, topografix.com/GPX/1/1/gpx.xsd (rules from memory).

gpxType: attributes version="1.1" and creator; children in the order metadata, wpt*, rte*, trk*, extensions.
wptType: attributes lat (-90..90) and lon (-180 <= x < 180), xsd:decimal, so no exponent; children in the
order ele, time, magvar, geoidheight, name, cmt, desc, src, link, sym, type, ...; time is xsd:dateTime in UTC.
trkType: name first, then trkseg*; trkseg holds trkpt* only. No attribute or element outside the namespace.
"""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.errors import WriteError
from analysis.passage import Passage
from analysis.writing import write_gpx

NS = "{http://www.topografix.com/GPX/1/1}"
ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": ["name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"],
    "trk": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"],
    "trkseg": ["trkpt", "extensions"],
    "wpt": ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"],
}
ORDER["trkpt"] = ORDER["wpt"]
ATTRIBUTES = {"gpx": {"version", "creator"}, "wpt": {"lat", "lon"}, "trkpt": {"lat", "lon"}}


def assert_valid(element: ET.Element) -> None:
    assert element.tag.startswith(NS)
    name = element.tag.removeprefix(NS)
    assert set(element.attrib) == ATTRIBUTES.get(name, set())
    if "lat" in element.attrib:
        assert all(re.fullmatch(r"-?\d+(\.\d+)?", text) for text in element.attrib.values())
        assert -90 <= float(element.attrib["lat"]) <= 90
        assert -180 <= float(element.attrib["lon"]) < 180
    if name == "time":
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", element.text or "")
    places = [ORDER[name].index(child.tag.removeprefix(NS)) for child in element]
    assert places == sorted(places)
    for child in element:
        assert_valid(child)


def written(passage: Passage, target: Path, frame: pd.DataFrame | None = None) -> ET.Element:
    write_gpx(passage.frame if frame is None else frame, passage, target)
    root = ET.parse(target).getroot()
    assert root.tag == f"{NS}gpx"
    assert root.attrib["version"] == "1.1"
    assert_valid(root)
    return root


def test_the_track_is_split_at_the_gap_and_has_no_height(tmp_path: Path, small_passage: Passage) -> None:
    root = written(small_passage, tmp_path / "out.gpx")
    segments = root.findall(f"{NS}trk/{NS}trkseg")
    assert [len(segment) for segment in segments] == [4, 4]  # ten seconds less the two of the gap
    assert root.find(f".//{NS}ele") is None
    first = segments[0][0]
    assert first.attrib == {"lat": "50.0000000", "lon": "-1.0000000"}
    assert first.findtext(f"{NS}time") == "2026-06-01T08:00:00.000Z"


def test_marks_with_a_position_become_waypoints_with_safe_names(
    tmp_path: Path, small_passage: Passage
) -> None:
    waypoints = written(small_passage, tmp_path / "out.gpx").findall(f"{NS}wpt")
    assert [point.findtext(f"{NS}name") for point in waypoints] == ["Bell & <Whistle>?"]
    assert waypoints[0].findtext(f"{NS}time") == "2026-06-01T08:00:03.000Z"
    assert waypoints[0].findtext(f"{NS}type") == "mark"


def test_the_180th_meridian_and_tiny_numbers_are_written_as_the_schema_wants(
    tmp_path: Path, small_passage: Passage
) -> None:
    frame = small_passage.frame.iloc[:3].assign(
        lat_deg=[1e-7, -1e-7, 0.0], lon_deg=[180.0, 179.99999999, -180.0]
    )
    points = written(small_passage, tmp_path / "out.gpx", frame).findall(f".//{NS}trkpt")
    assert [point.attrib["lon"] for point in points] == ["-180.0000000"] * 3
    assert points[0].attrib["lat"] == "0.0000001"


def test_rows_left_out_of_the_frame_split_too(tmp_path: Path, small_passage: Passage) -> None:
    frame = small_passage.frame.dropna(subset=["lat_deg"])
    assert len(written(small_passage, tmp_path / "out.gpx", frame).findall(f".//{NS}trkseg")) == 2


def test_a_log_without_positions_has_no_track(tmp_path: Path, small_passage: Passage) -> None:
    blank = small_passage.frame.assign(lat_deg=np.nan)
    for frame in (blank, small_passage.frame[["stw_kn"]], small_passage.frame.iloc[:0]):
        with pytest.raises(WriteError, match="no position"):
            write_gpx(frame, small_passage, tmp_path / "out.gpx")
    assert list(tmp_path.iterdir()) == []
