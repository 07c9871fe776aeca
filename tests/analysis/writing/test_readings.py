"""Every reading, one row each."""

import csv
import dataclasses
import subprocess
import sys
import textwrap
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

import analysis.writing.readings as readings
from analysis.channels import CHANNELS, unit_of
from analysis.errors import WriteError
from analysis.passage import Passage, Series, SourceKey
from analysis.writing import write_readings

COLUMNS = ["time_utc", "file", "line", "talker", "formatter", "channel", "value", "unit", "verified"]


def rows_of(target: Path) -> list[list[str]]:
    with target.open(newline="", encoding="utf-8") as stream:
        return list(csv.reader(stream))


def test_rows_follow_file_line_and_the_table_of_channels(tmp_path: Path, small_passage: Passage) -> None:
    target = tmp_path / "out.csv"
    write_readings(small_passage, target)
    header, *rows = rows_of(target)
    assert header == COLUMNS
    assert len(rows) == 30
    assert [",".join(row) for row in rows[:3]] == [
        "2026-06-01T08:00:00.000Z,morning.log,1,GP,RMC,lat_deg,50,deg,false",
        "2026-06-01T08:00:00.000Z,morning.log,1,GP,RMC,sog_kn,0,kn,false",
        "2026-06-01T08:00:00.000Z,morning.log,2,II,VHW,stw_kn,4,kn,false",
    ]
    assert rows[5][8] == "true"


def random_passage(passage: Passage, rng: np.random.Generator, rows: int) -> Passage:
    """Three sources over two files, their readings in time order but not in line order."""
    keys = [SourceKey(name, "II", "XDR", str(n)) for n, name in enumerate(["heel_deg", "stw_kn", "heel_deg"])]
    series = {}
    for key in keys:
        time_s = np.sort(rng.uniform(1.7e9, 1.7e9 + 1e5, rows)).round(3)
        time_s[rng.random(rows) < 0.1] = np.nan
        file = rng.integers(0, 2, rows)
        line = rng.integers(1, rows, rows)
        series[key] = Series.alone(
            key, unit_of(key.channel), time_s, rng.normal(size=rows), rng.random(rows) < 0.5, line, file
        )
    return dataclasses.replace(passage, files=("a.log", "b, the second.log"), series=series)


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_many_chunks_hold_the_same_rows_as_one_plain_sort(
    tmp_path: Path, small_passage: Passage, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    monkeypatch.setattr(readings, "_SAMPLE_ROWS", 16)
    monkeypatch.setattr(readings, "_CHUNK_SAMPLES", 4)
    passage = random_passage(small_passage, np.random.default_rng(7), 1000)
    target = tmp_path / f"out.{ending}"
    write_readings(passage, target)
    got = pd.read_csv(target) if ending == "csv" else pd.read_parquet(target)
    rank = list(CHANNELS)
    plain = pd.concat(
        pd.DataFrame({"file": s.file, "line": s.line, "rank": rank.index(s.key.channel), "value": s.value,
                      "verified": s.verified, "time": s.time_s})
        for s in passage.series.values()
    ).sort_values(["file", "line", "rank"], kind="stable")  # fmt: skip
    assert list(got.columns) == COLUMNS
    assert got["file"].tolist() == [passage.files[n] for n in plain["file"]]
    assert got["line"].tolist() == plain["line"].tolist()
    assert got["channel"].tolist() == [rank[n] for n in plain["rank"]]
    np.testing.assert_array_equal(got["value"], plain["value"])
    assert got["verified"].tolist() == plain["verified"].tolist()
    times = pd.to_datetime(got["time_utc"], utc=True)
    expected = pd.to_datetime((plain["time"] * 1000).round().astype("Int64"), unit="ms", utc=True)
    assert times.isna().tolist() == expected.isna().tolist()
    assert (times.dropna().to_numpy() == expected.dropna().to_numpy()).all()


def test_parquet_names_its_schema(tmp_path: Path, small_passage: Passage) -> None:
    write_readings(small_passage, tmp_path / "out.parquet")
    schema = pq.read_schema(tmp_path / "out.parquet")
    assert schema.metadata[b"sternlog.schema"] == b"sternlog.readings/1"
    assert str(schema.field("time_utc").type) == "timestamp[ms, tz=UTC]"


def test_a_name_with_a_quote_in_it_comes_back_whole(tmp_path: Path, small_passage: Passage) -> None:
    (one, *_) = small_passage.series.values()
    key = SourceKey('xdr:THE "GOOD" ONE', "II", "XDR", "")
    strange = dataclasses.replace(one, key=key, unit="")
    write_readings(dataclasses.replace(small_passage, series={key: strange}), tmp_path / "out.csv")
    assert {row[5] for row in rows_of(tmp_path / "out.csv")[1:]} == {'xdr:THE "GOOD" ONE'}


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_a_log_without_readings_gives_the_columns_alone(
    tmp_path: Path, small_passage: Passage, ending: str
) -> None:
    target = tmp_path / f"out.{ending}"
    write_readings(dataclasses.replace(small_passage, series={}), target)
    got = pd.read_csv(target) if ending == "csv" else pd.read_parquet(target)
    assert list(got.columns) == COLUMNS
    assert got.empty


def test_only_csv_and_parquet_hold_readings(tmp_path: Path, small_passage: Passage) -> None:
    with pytest.raises(WriteError, match=r"ends in \.gpx; .* \.csv or \.parquet\."):
        write_readings(small_passage, tmp_path / "out.gpx")


def test_memory_grows_by_a_chunk_not_by_the_log(tmp_path: Path) -> None:
    """Two million readings: the peak while writing stays within 150 MB of the passage itself."""
    script = f"""
        import dataclasses, resource, sys
        import numpy as np
        from pathlib import Path
        from analysis.passage import Series, SourceKey, Passage, Counts
        import pandas as pd
        from analysis.writing import write_readings
        n = 500_000
        rows = np.arange(n)
        keys = [SourceKey(c, "II", "XXX", "") for c in ("lat_deg", "lon_deg", "sog_kn", "stw_kn")]
        values = (1.7e9 + rows, rows * 0.1, rows > 0, rows + 1, np.zeros(n, int))
        series = {{key: Series.alone(key, "", *values) for key in keys}}
        none = pd.DataFrame()
        counts = Counts(0, 0, 0, 0, {{}}, {{}}, {{}}, {{}}, {{}})
        passage = Passage(("a.log",), counts, (), series, (), "", (), none, none, none, none)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        write_readings(passage, Path({str(tmp_path / "out.csv")!r}))
        print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
    """
    root = Path(__file__).resolve().parents[3]
    command = [sys.executable, "-c", textwrap.dedent(script)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
    assert int(done.stdout) < 150
