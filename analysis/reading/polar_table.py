"""Read a plain table of boat speeds: a row for every true wind angle, a column for every true wind speed."""

import csv
import re
from pathlib import Path

import numpy as np

from analysis.errors import LogError
from analysis.passage import Floats
from analysis.polar_table import PolarTable

LARGEST_BYTES = 1_000_000
FASTEST_KN, STRONGEST_KN = 60.0, 100.0
_REMEDY = "write a header such as TWA;6;8;10 with the wind speeds in kn, and rows such as 52;5.1;6.0;6.6"
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+)\s*(?:°|deg|kn|kt|kts)?", re.IGNORECASE)
_NONE = ("", "-", "–", "--", "nan", "na", "n/a", "null", "none")


def read_polar_table(path: Path) -> PolarTable:
    """Read a table of speeds through the water [kn] by TWA [deg] and TWS [kn].

    Fields part at tab, semicolon, comma or blanks; decimals have a point or, where fields do not part at it, a
    comma. Angles run 0 to 180 for both sides alike, or also below 0 or above 180 for the wind from port; rows and
    columns come in any order, fields may be empty. A table with its angles across is turned. Lines that begin with
    # are left out. Raises LogError with the line that cannot be used.
    """
    rows = _fields(path, _text(path))
    header, body = rows[0][1], rows[1:]
    if not body:
        raise LogError(f"{path}: no row below the header; {_REMEDY}.")
    width = max(len(fields) for _, fields in body)
    cornered = len(header) >= width or not re.search(r"\d", header[0])
    label, across = (header[0], header[1:]) if cornered else ("", header)
    columns = np.array([_heading(path, rows[0][0], field) for field in across])
    angles = np.array([_heading(path, line, fields[0]) for line, fields in body])
    speeds = np.array([_speeds(path, line, fields[1:], len(columns)) for line, fields in body])
    if _is_turned(label, columns, angles):
        columns, angles, speeds = angles, columns, speeds.T
    return _arranged(path, angles, columns, speeds)


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise LogError(
            f"{path}: cannot be read ({error.strerror}); give the file of a polar table."
        ) from error
    if len(raw) > LARGEST_BYTES:
        raise LogError(f"{path}: is larger than any polar table; {_REMEDY}.")
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _fields(path: Path, text: str) -> list[tuple[int, list[str]]]:
    """Line numbers and fields; blank lines and those that begin with # left out."""
    lines = [
        (number, line.rstrip())
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise LogError(f"{path}: is empty; {_REMEDY}.")
    separator = _separator([line for _, line in lines])
    if separator is None:
        return [(number, line.split()) for number, line in lines]
    parted = [
        (number, [field.strip() for field in next(csv.reader([line], delimiter=separator))])
        for number, line in lines
    ]
    if all(len(fields) > 1 and not fields[-1] for _, fields in parted):  # every line ends in a separator
        return [(number, fields[:-1]) for number, fields in parted]
    return parted


def _separator(lines: list[str]) -> str | None:
    """The sign between fields; None for blanks, also where commas stand within the numbers only."""
    for sign in "\t;":
        if sum(sign in line for line in lines) > len(lines) / 2:
            return sign
    if not any("," in line for line in lines):
        return None
    blanks = [line.split() for line in lines[1:]]
    if all(len(fields) > 1 and all(_is_field(field) for field in fields) for fields in blanks):
        return None
    return ","


def _is_field(field: str) -> bool:
    return field.lower() in _NONE or _NUMBER.fullmatch(field) is not None


def _number(field: str) -> float | None:
    found = _NUMBER.fullmatch(field.strip())
    return None if found is None else float(found[1].replace(",", "."))


def _heading(path: Path, line: int, field: str) -> float:
    """An angle or a wind speed; a word before it, as in TWS 8, does no harm."""
    value = _number(re.sub(r"^[a-z]+\s*", "", field.strip(), flags=re.IGNORECASE))
    if value is None:
        raise LogError(f"{path}, line {line}: {field!r} is neither an angle nor a wind speed; {_REMEDY}.")
    return value


def _speeds(path: Path, line: int, fields: list[str], count: int) -> list[float]:
    if len(fields) > count:
        raise LogError(f"{path}, line {line}: {len(fields)} speeds for {count} wind speeds; {_REMEDY}.")
    speeds = []
    for field in fields:
        value = np.nan if field.strip().lower() in _NONE else _number(field)
        if value is None or not (np.isnan(value) or 0 <= value <= FASTEST_KN):
            raise LogError(f"{path}, line {line}: {field!r} is no boat speed in kn; {_REMEDY}.")
        speeds.append(value)
    return speeds + [np.nan] * (count - len(speeds))


def _is_turned(label: str, columns: Floats, angles: Floats) -> bool:
    """Whether the angles stand in the header: by their size, else by the name that comes first."""
    sizes = [float(np.abs(one).max()) for one in (columns, angles)]
    if (sizes[0] > STRONGEST_KN) != (sizes[1] > STRONGEST_KN):
        return sizes[0] > STRONGEST_KN
    if columns.min() < 0:
        return True
    return re.match(r"\s*(tws|wind speed|kn)", label, re.IGNORECASE) is not None


def _arranged(path: Path, angles: Floats, winds: Floats, speeds: Floats) -> PolarTable:
    if np.abs(angles).max() > 360 or winds.min() < 0 or winds.max() > STRONGEST_KN:
        raise LogError(
            f"{path}: angles must lie from -180 to 360 and wind speeds from 0 to {STRONGEST_KN:.0f} kn; angles go "
            f"down the side and wind speeds across: {_REMEDY}."
        )
    if len(np.unique(winds)) < len(winds):
        raise LogError(f"{path}: a wind speed stands twice in the header; leave one of its columns out.")
    order = np.argsort(winds)
    winds, speeds = winds[order], speeds[:, order]
    signed = np.where(angles > 180, angles - 360, angles)
    sides = [_side(path, sign * signed, speeds) for sign in (1.0, -1.0)]
    told = [side for side in sides if (side[0] % 180 != 0).any()]
    if not told or len(told[0][0]) < 2:
        raise LogError(f"{path}: fewer than two wind angles; {_REMEDY}.")
    if len(told) == 1:
        return PolarTable(told[0][0], winds, told[0][1])
    every = np.union1d(sides[0][0], sides[1][0])
    starboard, port = (_placed(every, *side) for side in sides)
    return PolarTable(every, winds, starboard, port)


def _side(path: Path, signed: Floats, speeds: Floats) -> tuple[Floats, Floats]:
    """The angles of one side, rising, with their speeds; the wind from ahead and from astern belong to both."""
    here = (signed >= 0) | (np.abs(signed) == 180)
    angle, values = np.abs(signed[here]), speeds[here]
    found = np.unique(angle)
    for one in found:
        same = values[angle == one]
        if not np.array_equal(same, np.broadcast_to(same[0], same.shape), equal_nan=True):
            raise LogError(
                f"{path}: the wind angle {one:g} stands twice with other speeds; leave one row out."
            )
    first = [int(np.flatnonzero(angle == one)[0]) for one in found]
    return found, values[first]


def _placed(every: Floats, angles: Floats, speeds: Floats) -> Floats:
    """A side's speeds at all angles of the table, led over angles that only the other side has."""
    return np.column_stack(
        [np.interp(every, angles, column, left=np.nan, right=np.nan) for column in speeds.T]
    )
