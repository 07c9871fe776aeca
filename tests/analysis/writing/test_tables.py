"""CSV and Parquet of the aligned frame."""

import csv
import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from analysis.channels import unit_of
from analysis.errors import WriteError
from analysis.passage import Passage
from analysis.writing import write_csv, write_frame, write_parquet


def test_csv_has_iso_times_blanks_and_the_values_back_exactly(tmp_path: Path, small_passage: Passage) -> None:
    target = tmp_path / "out.csv"
    write_csv(small_passage.frame, small_passage, target)
    with target.open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows[0] == ["time_utc", "lat_deg", "lon_deg", "sog_kn", "stw_kn"]
    assert rows[1][0] == "2026-06-01T08:00:00.000Z"
    assert rows[1][4] == ""
    assert rows[5][1:3] == ["", ""]
    back = np.array([[float(cell or "nan") for cell in row[1:]] for row in rows[1:]])
    np.testing.assert_array_equal(back, small_passage.frame.to_numpy())


def test_times_are_rounded_to_the_millisecond_not_cut(tmp_path: Path, small_passage: Passage) -> None:
    frame = small_passage.frame.set_axis(
        small_passage.frame.index.as_unit("ns") + pd.Timedelta(99_999_999, "ns")
    )
    write_csv(frame, small_passage, tmp_path / "out.csv")
    assert "\n2026-06-01T08:00:00.100Z," in (tmp_path / "out.csv").read_text()


def test_parquet_carries_units_schema_and_conventions(tmp_path: Path, small_passage: Passage) -> None:
    frame = small_passage.frame.assign(stw_kn_shown=1.0, stw_kn_sd=0.1)
    target = tmp_path / "out.parquet"
    write_parquet(frame, small_passage, target)
    schema = pq.read_schema(target)
    about = {key.decode(): value.decode() for key, value in schema.metadata.items() if b"sternlog" in key}
    assert about["sternlog.schema"] == "sternlog.frame/1"
    assert "true = factor x shown" in json.loads(about["sternlog.conventions"])["corrections"]
    assert json.loads(about["sternlog.files"]) == ["morning.log"]
    assert about["sternlog.time_basis"] == "GNSS time in RMC"
    assert str(schema.field("time_utc").type) == "timestamp[ms, tz=UTC]"
    for name in frame.columns:
        assert schema.field(name).metadata[b"unit"].decode() == unit_of(name) != ""
    back = pd.read_parquet(target).set_index("time_utc")
    pd.testing.assert_frame_equal(back, frame, check_freq=False, check_index_type=False)


def test_a_log_without_time_is_sent_to_the_readings(tmp_path: Path, small_passage: Passage) -> None:
    empty = dataclasses.replace(small_passage, frame=small_passage.frame.iloc[:0])
    for ending in ("csv", "parquet"):
        with pytest.raises(WriteError, match="--readings"):
            write_frame(empty.frame, empty, tmp_path / f"out.{ending}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "said"), [("out.xlsx", "ends in .xlsx"), ("out", "has no ending")])
def test_an_unknown_ending_lists_the_known_ones(
    tmp_path: Path, small_passage: Passage, name: str, said: str
) -> None:
    with pytest.raises(WriteError, match=rf"{said}; .* \.csv or \.parquet or \.gpx or \.geojson"):
        write_frame(small_passage.frame, small_passage, tmp_path / name)


def test_the_ending_may_be_in_capitals(tmp_path: Path, small_passage: Passage) -> None:
    write_frame(small_passage.frame, small_passage, tmp_path / "OUT.CSV")
    assert (tmp_path / "OUT.CSV").stat().st_size > 0
