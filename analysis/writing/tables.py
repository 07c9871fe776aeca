"""The aligned frame as a table: CSV and Parquet."""

import json
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from analysis.channels import unit_of
from analysis.errors import WriteError
from analysis.passage import Passage
from analysis.writing.atomic import replacing
from analysis.writing.times import UTC_MS, index_ms, iso_utc

SCHEMA = "sternlog.frame/1"
CONVENTIONS = {
    "directions": "degrees true, 0 <= x < 360, unless the name ends _mag_deg; wind is from, set is toward",
    "signed angles": "-180 < x <= 180; wind + from starboard, leeway + to the right, heel + starboard down, "
    "rudder + starboard, variation and deviation + east",
    "corrections": "true = factor x shown for speeds, true = shown + offset for angles and pressure",
    "suffixes": "_sd is one standard deviation, _shown is the value before correction",
    "true wind": "_water_ is over the water, _ground_ is over the ground",
}


def write_csv(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write the frame as CSV: time_utc first, a column each, blank where there is no value.

    Raises WriteError when the frame is empty or the file cannot be written.
    """
    table = _table(frame)
    table = table.set_column(0, "time_utc", iso_utc(table["time_utc"]))
    with replacing(path) as stream:
        stream.write((",".join(table.column_names) + "\n").encode())
        pa.csv.write_csv(table, stream, pa.csv.WriteOptions(include_header=False, quoting_style="none"))


def write_parquet(frame: pd.DataFrame, passage: Passage, path: Path) -> None:
    """Write the frame as Parquet, each column with its unit, the schema with conventions and origin.

    Raises WriteError when the frame is empty or the file cannot be written.
    """
    table = _table(frame)
    fields = [with_unit(field, unit_of(field.name)) for field in table.schema]
    schema = pa.schema(fields, metadata=about(SCHEMA, passage))
    with replacing(path) as stream:
        pa.parquet.write_table(table.cast(schema), stream, compression="zstd")


def with_unit(field: Any, unit: str) -> Any:
    """Return the Arrow field with its unit in the metadata, unchanged where it has none."""
    return field.with_metadata({"unit": unit}) if unit else field


def about(schema_name: str, passage: Passage) -> dict[str, str]:
    """Return the schema metadata of a Parquet file: its schema, conventions, logs and time basis."""
    return {
        "sternlog.schema": schema_name,
        "sternlog.conventions": json.dumps(CONVENTIONS),
        "sternlog.files": json.dumps(list(passage.files)),
        "sternlog.time_basis": passage.time_basis,
    }


def _table(frame: pd.DataFrame) -> Any:
    if frame.empty:
        raise WriteError(
            "The recording has no time to line the instruments up by, so there is no table to write; "
            "give its date with --date, or write the readings as they came with --readings."
        )
    columns = pa.Table.from_pandas(frame, preserve_index=False).replace_schema_metadata(None)
    return columns.add_column(0, pa.field("time_utc", UTC_MS), pa.array(index_ms(frame)).cast(UTC_MS))
