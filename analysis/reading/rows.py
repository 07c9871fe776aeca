"""The rows of a small delimited file with a header: line numbers, columns by name, numbers, times."""

import csv
import datetime
import re
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from analysis.errors import LogError

TIME_NAMES = ("time", "date", "datetime", "timestamp", "utc", "valid")


def rows_of(path: Path, remedy: str) -> list[tuple[int, list[str]]]:
    """Line numbers and fields of a file's rows; blank lines and those that begin with # left out.

    Fields part at comma, semicolon or tab. ``remedy`` tells what the file should hold. Raises LogError.
    """
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise LogError(f"{path}: cannot be read ({error.strerror}); {remedy}.") from error
    except UnicodeDecodeError as error:
        raise LogError(f"{path}: is not a text file; {remedy}.") from error
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise LogError(f"{path}: is empty; {remedy}.")
    separator = max(";\t,", key=lambda sign: (lines[0][1].count(sign) > 0, sign != ","))
    return [(number, next(csv.reader([line], delimiter=separator))) for number, line in lines]


def words_of(name: str) -> list[str]:
    """The words of a column's name in small letters."""
    return [word for word in re.split(r"[^a-z]+", name.lower()) if word]


def column_of(header: Sequence[Sequence[str]], names: Sequence[str]) -> int | None:
    """Place of the first column that has one of the names among its words."""
    return next((k for k, words in enumerate(header) if any(word in names for word in words)), None)


def number_of(field: str) -> float | None:
    """A number with a point or a comma, None where it is none."""
    try:
        return float(field.strip().replace(",", "."))
    except ValueError:
        return None


def utc_of(field: str) -> pd.Timestamp | None:
    """A time after ISO 8601, in UTC where it names no zone; None where it is none."""
    try:
        time = datetime.datetime.fromisoformat(field.strip().removesuffix("UTC").strip())
    except ValueError:
        return None
    stamp = pd.Timestamp(time)
    return stamp.tz_localize("UTC") if stamp.tzinfo is None else stamp.tz_convert("UTC")
