"""GeoJSON by RFC 7946; the section is named beside each rule."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.passage import Passage
from analysis.writing import write_geojson


def written(passage: Passage, target: Path, frame: pd.DataFrame | None = None) -> dict[str, Any]:
    write_geojson(passage.frame if frame is None else frame, passage, target)
    collection: dict[str, Any] = json.loads(target.read_text("utf-8"))
    assert collection["type"] == "FeatureCollection"  # 3.3
    assert "crs" not in collection  # 4
    for feature in collection["features"]:
        assert {"type", "geometry", "properties"} <= set(feature)  # 3.2
        assert feature["type"] == "Feature"
        for line in lines(feature):
            assert len(line) >= 2  # 3.1.4
            assert np.abs(np.diff(np.array(line)[:, 0])).max() <= 180  # 3.1.9
    return collection


def lines(feature: dict[str, Any]) -> list[Any]:
    geometry = feature["geometry"] or {"type": "none"}
    if geometry["type"] == "LineString":
        return [geometry["coordinates"]]
    return geometry["coordinates"] if geometry["type"] == "MultiLineString" else []


def test_a_line_for_each_stretch_longitude_first(tmp_path: Path, small_passage: Passage) -> None:
    collection = written(small_passage, tmp_path / "out.geojson")
    tracks = [one for one in collection["features"] if one["properties"]["kind"] == "track"]
    assert [one["geometry"]["type"] for one in tracks] == ["LineString", "LineString"]
    assert tracks[0]["geometry"]["coordinates"][1] == [-0.998, 50.001]  # 3.1.1: longitude, latitude
    assert tracks[1]["properties"]["start_utc"] == "2026-06-01T08:00:06.000Z"
    assert tracks[1]["properties"]["end_utc"] == "2026-06-01T08:00:09.000Z"
    assert collection["bbox"] == [-1.0, 50.0, -0.982, 50.009]  # 5: west, south, east, north


def test_marks_are_points_and_unplaced_ones_have_null_geometry(
    tmp_path: Path, small_passage: Passage
) -> None:
    features = written(small_passage, tmp_path / "out.geojson")["features"]
    mark, call = (one for one in features if one["properties"]["kind"] != "track")
    assert mark["geometry"] == {"type": "Point", "coordinates": [-0.9941, 50.0031]}
    assert mark["properties"]["time_utc"] == "2026-06-01T08:00:03.000Z"
    assert call["geometry"] is None  # 3.2: an unlocated feature
    assert call["properties"]["time_utc"] is None


@pytest.mark.parametrize("direction", [1, -1])
def test_the_line_is_cut_at_the_180th_meridian(
    tmp_path: Path, small_passage: Passage, direction: int
) -> None:
    east = np.array([179.97, 179.99, -179.99, -179.97])[::direction]
    frame = small_passage.frame.iloc[:4].assign(lat_deg=[10.0, 10.2, 10.4, 10.6], lon_deg=east)
    collection = written(small_passage, tmp_path / "out.geojson", frame)
    geometry = collection["features"][0]["geometry"]
    edge = 180.0 * direction
    assert geometry["type"] == "MultiLineString"
    # hand calculation: the crossing lies midway between the second and third position, latitude 10.3
    assert geometry["coordinates"] == [
        [[east[0], 10.0], [east[1], 10.2], [edge, 10.3]],
        [[-edge, 10.3], [east[2], 10.4], [east[3], 10.6]],
    ]
    assert collection["bbox"] == [179.97, 10.0, -179.97, 10.6]  # 5.2: west > east over the meridian


def test_a_lone_position_is_a_point(tmp_path: Path, small_passage: Passage) -> None:
    frame = small_passage.frame.iloc[[0, 4, 6, 7]]
    features = written(small_passage, tmp_path / "out.geojson", frame)["features"]
    assert [one["geometry"]["type"] for one in features[:2]] == ["Point", "LineString"]
    assert features[0]["geometry"]["coordinates"] == [-1.0, 50.0]
