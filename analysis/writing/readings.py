"""Every decoded reading as it came, one row each: CSV and Parquet."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from analysis.channels import CHANNELS
from analysis.passage import Ints, Passage, Series
from analysis.writing.atomic import replacing
from analysis.writing.formats import suffix_among
from analysis.writing.tables import about
from analysis.writing.times import UTC_MS, arrow_ms, iso_utc

SCHEMA = "sternlog.readings/1"
_TEXT = pa.dictionary(pa.int32(), pa.string())
_FIELDS = pa.schema(
    [
        ("time_utc", UTC_MS),
        ("file", _TEXT),
        ("line", pa.int64()),
        ("talker", _TEXT),
        ("formatter", _TEXT),
        ("channel", _TEXT),
        ("value", pa.float64()),
        ("unit", _TEXT),
        ("verified", pa.bool_()),
    ]
)
_SAMPLE_ROWS = 2048
_CHUNK_SAMPLES = 128  # a chunk holds about 128 x 2048 rows: some 30 MB while it is being written
_LINE_BITS = 40


def write_readings(passage: Passage, path: Path) -> None:
    """Write one row for each reading, in the order of file, line and the table of channels.

    Columns: time_utc (blank where the log has none), file, line, talker, formatter, channel, value, unit,
    verified. Memory stays bounded whatever the number of readings. Raises WriteError when the name ends
    in neither .csv nor .parquet or the file cannot be written.
    """
    writer = READINGS_WRITERS[suffix_among(path, READINGS_WRITERS)]
    with replacing(path) as stream:
        writer(passage, stream)


def _write_csv(passage: Passage, stream: BinaryIO) -> None:
    words = [*passage.files, *(word for one in passage.series.values() for word in (*one.key, one.unit))]
    quoted = any(set(word) & set(',"\r\n') for word in words)
    options = pa.csv.WriteOptions(include_header=False, quoting_style="needed" if quoted else "none")
    stream.write((",".join(_FIELDS.names) + "\n").encode())
    for table in _chunks(passage):
        plain = [iso_utc(table["time_utc"]), *(_plain(column) for column in table.columns[1:])]
        pa.csv.write_csv(pa.table(plain, names=_FIELDS.names), stream, options)


def _write_parquet(passage: Passage, stream: BinaryIO) -> None:
    schema = _FIELDS.with_metadata(about(SCHEMA, passage))
    with pa.parquet.ParquetWriter(stream, schema, compression="zstd") as writer:
        for table in _chunks(passage):
            writer.write_table(table.cast(schema))


READINGS_WRITERS: Mapping[str, Callable[[Passage, BinaryIO], None]] = {
    ".csv": _write_csv,
    ".parquet": _write_parquet,
}


def _plain(column: Any) -> Any:
    return column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column


@dataclass(frozen=True)
class _Ordered:
    """A series with its place keys (file and line in one number) ascending, and the rows in that order."""

    series: Series
    key: Ints
    rows: Ints | None  # None where the series is in that order already

    def between(self, low: int, high: int) -> "slice | Ints":
        start, stop = np.searchsorted(self.key, [low, high])
        return slice(start, stop) if self.rows is None else self.rows[start:stop]


def _ordered(series: Series) -> _Ordered:
    key = (series.file.astype(np.int64) << _LINE_BITS) | series.line
    if np.all(key[1:] >= key[:-1]):
        return _Ordered(series, key, None)
    rows = np.argsort(key, kind="stable")
    return _Ordered(series, key[rows], rows)


def _chunks(passage: Passage) -> Iterator[Any]:
    """Yield tables of rows in order; the edges come from a sample of every series' place keys."""
    rank = {name: place for place, name in enumerate(CHANNELS)}
    by_channel = sorted(passage.series.values(), key=lambda series: rank.get(series.key.channel, len(rank)))
    ordered = [_ordered(series) for series in by_channel if len(series.line)]
    if not ordered:
        return
    samples = np.sort(np.concatenate([one.key[::_SAMPLE_ROWS] for one in ordered]))
    edges = np.unique(np.append(samples[::_CHUNK_SAMPLES], np.iinfo(np.int64).max))
    labels = _Labels(passage, [one.series for one in ordered])
    for low, high in pairwise(edges):
        picked = [(place, one, one.between(low, high)) for place, one in enumerate(ordered)]
        yield _chunk(labels, picked)


class _Labels:
    """The words that repeat, as dictionaries: one entry for each series, and one for each file."""

    def __init__(self, passage: Passage, series: list[Series]) -> None:
        keys = [one.key for one in series]
        self.files = pa.array(passage.files, pa.string())
        self.words = {
            "talker": pa.array([key.talker for key in keys], pa.string()),
            "formatter": pa.array([key.formatter for key in keys], pa.string()),
            "channel": pa.array([key.channel for key in keys], pa.string()),
            "unit": pa.array([one.unit for one in series], pa.string()),
        }


def _chunk(labels: _Labels, picked: list[tuple[int, _Ordered, "slice | Ints"]]) -> Any:
    def gathered(name: str) -> Any:
        return np.concatenate([getattr(one.series, name)[rows] for _, one, rows in picked])

    file, line = gathered("file"), gathered("line")
    sizes = [len(one.series.line[rows]) for _, one, rows in picked]
    place = np.repeat(np.array([place for place, _, _ in picked], np.int32), sizes)
    order = np.lexsort((place, line, file))
    columns = {
        "time_utc": arrow_ms(gathered("time_s")[order]),
        "file": pa.DictionaryArray.from_arrays(file[order].astype(np.int32), labels.files),
        "line": line[order].astype(np.int64),
        "value": gathered("value")[order],
        "verified": gathered("verified")[order],
    }
    codes = place[order]
    for name, words in labels.words.items():
        columns[name] = pa.DictionaryArray.from_arrays(codes, words)
    return pa.table([columns[name] for name in _FIELDS.names], schema=_FIELDS)
