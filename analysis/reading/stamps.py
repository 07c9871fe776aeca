"""Read the text beside sentences: when the recorder says a sentence arrived, and on which port.

Recorders write their own stamp in many shapes. Lines of one recorder share a shape, so each distinct shape
(digits replaced by 0) is parsed once, by a pattern, and the digits of all its lines are then read as columns.
"""

import re
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analysis.passage import Floats, Ints
from analysis.reading.decoding import Columns, days_since_1970
from analysis.reading.digits import Text
from analysis.reading.framing import Frames

LONGEST = 160
_DAY_S = 86400.0

ABSOLUTE, TIME_OF_DAY, YEARLESS, SINCE_PREVIOUS = 1, 2, 3, 4

_HMS = r"(?P<h>\d\d):(?P<mi>\d\d):(?P<s>\d\d)(?:[.,:]+(?P<f>\d{1,9}))?"
_ZONE = r"(?P<zone>Z|[+-]\d\d:?\d\d)?"
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]

# In order of how much a shape says; the first that matches wins.
_PATTERNS = [
    (ABSOLUTE, rf"(?P<y>\d{{4}})[-/.](?P<mo>\d\d)[-/.](?P<d>\d\d)[T ,;_\t]+{_HMS}\s?{_ZONE}"),
    (ABSOLUTE, rf"(?P<mo>\d\d)/(?P<d>\d\d)/(?P<y>\d{{4}})[T ,;\t]+{_HMS}"),
    (ABSOLUTE, rf"(?P<d>\d\d)[.-](?P<mo>\d\d)[.-](?P<y>\d{{4}})[T ,;\t]+{_HMS}"),
    (ABSOLUTE, rf"(?P<y>\d{{4}}):(?P<doy>\d{{3}}):{_HMS}"),
    (ABSOLUTE, r"(?P<y>\d{4}) (?P<doy>\d{3}) (?P<h>\d\d) (?P<mi>\d\d) (?P<s>\d\d) (?P<f>\d{3})"),
    (
        ABSOLUTE,
        r"(?P<y>\d{4})(?P<mo>\d\d)(?P<d>\d\d)[T_-](?P<h>\d\d)(?P<mi>\d\d)(?P<s>\d\d)(?:\.(?P<f>\d+))?",
    ),
    (ABSOLUTE, r"(?<![\w.-])(?P<ms>[1-4]\d{12})(?![\w.])"),
    (ABSOLUTE, r"(?<![\w.-])(?P<e>[1-4]\d{9})(?:\.(?P<f>\d{1,9}))?(?![\w.])"),
    (YEARLESS, rf"(?P<month>(?i:{'|'.join(_MONTHS)}))[a-z]*\s+(?P<d>\d{{1,2}})\s+{_HMS}"),
    (TIME_OF_DAY, rf"(?<!\d){_HMS}"),
    (SINCE_PREVIOUS, r"^(?P<e>\d{1,6})\.(?P<f>\d{1,9}):\s*$"),
]
_COMPILED = [(kind, re.compile(pattern)) for kind, pattern in _PATTERNS]
_TAG = re.compile(r"\\(?P<body>[^\\*]*)(?:\*[0-9A-Fa-f]{1,2})?\\\s*$")
_TAG_TIME = re.compile(r"(?:^|,)c:(?:(?P<ms>[1-4]\d{12})|(?P<e>[1-4]\d{9}))(?:\.(?P<f>\d+))?(?:,|$)")
_TAG_MEMBER = re.compile(r"(?:^|,)g:(?P<member>\d+)-")
_TAG_SOURCE = re.compile(r"(?:^|,)s:(?P<source>[^,]*)")
_JSON_DEVICE = re.compile(r'"(?:device|port|source|interface|sensor|input)"\s*:\s*"(?P<source>[^"]*)"')
_WORDS = re.compile(r"[A-Za-z+][\w.\[\]#+-]*")


class Beside(NamedTuple):
    """What stands beside sentences; arrays of shape (n,), one row per sentence.

    ``stamp_s`` is seconds since 1970-01-01 as written (NaN without a stamp); for a time of day, seconds since
    midnight; for a stamp since the previous sentence, that step. ``kind`` says which (0 none). ``zoned``
    tells that the stamp names UTC or its own offset from it. ``device`` indexes ``devices`` (0 is "").
    """

    stamp_s: Floats
    kind: np.ndarray
    zoned: np.ndarray
    device: Ints
    devices: list[str]


@dataclass(frozen=True)
class _Shape:
    """What a pattern found in one shape: the kind, and the byte span of each part.

    ``labelled`` tells that the devices are named as such, not guessed from words; ``member`` is the span of
    the number within a TAG group.
    """

    kind: int
    parts: dict[str, tuple[int, int]]
    month: int
    zone_s: float | None
    devices: list[tuple[int, int]]
    labelled: bool
    member: tuple[int, int] | None = None


def read_beside(text: Text, begin: Ints, end: Ints, *, after: bool) -> Beside:
    """Read the text between ``begin`` and ``end`` of each sentence; ``after`` where it follows the sentence.

    Device names are taken from text before a sentence only: behind it, receivers append measurements.
    Words of a shape met once are rubbish; only a TAG block or a JSON key names a device for a single
    sentence. Where only the first sentence of a TAG group tells time and source, the others share them.
    """
    count = len(begin)
    if not (end - begin > 1).any():
        none, nobody = np.broadcast_to(np.int8(0), count), np.broadcast_to(np.int64(0), count)
        return Beside(np.broadcast_to(np.nan, count), none, np.broadcast_to(np.False_, count), nobody, [""])
    stamp = np.full(count, np.nan)
    kind = np.zeros(count, dtype=np.int8)
    zoned = np.zeros(count, dtype=bool)
    device = np.zeros(count, dtype=np.int64)
    leader = np.arange(count)
    names: dict[str, int] = {"": 0}
    begin = np.maximum(begin, end - LONGEST) if not after else begin
    end = np.minimum(end, begin + LONGEST)
    rows = np.flatnonzero(end - begin > 1)
    if rows.size:
        codes = _shape_codes(text, begin[rows], end[rows])
        order = np.argsort(codes, kind="stable")
        borders = np.flatnonzero(np.diff(codes[order])) + 1
        for group in np.split(rows[order], borders):
            shape = _parse(bytes(text.bytes[begin[group[0]] : end[group[0]]]).decode("latin-1"), after)
            if shape.kind:
                kind[group] = shape.kind
                zoned[group] = shape.zone_s is not None
                stamp[group] = _evaluate(shape, text, begin[group])
            if shape.devices and (shape.labelled or len(group) > 1):
                device[group] = _devices(shape.devices, text, begin[group], names)
            if shape.member:
                leader[group[_digits(text, begin[group], shape.member) > 1]] = 0
    leader = np.maximum.accumulate(leader)
    return Beside(stamp[leader], kind[leader], zoned[leader], device[leader], list(names))


def _shape_codes(text: Text, begin: Ints, end: Ints) -> np.ndarray:
    """Give each span a 64-bit code that is equal where the bytes are equal once every digit is made a 0."""
    width = end - begin
    code = width.astype(np.uint64)
    for k in range(int(width.max())):
        byte = text.bytes[np.minimum(begin + k, end)].astype(np.uint64)
        byte = np.where((byte >= 48) & (byte <= 57), np.uint64(48), byte)
        mixed = (code ^ byte) * np.uint64(0x100000001B3)
        code = np.where(k < width, mixed ^ (mixed >> np.uint64(31)), code)
    return code


def _parse(sample: str, after: bool) -> _Shape:
    tag = _TAG.search(sample)
    if tag and not after:
        offset = tag.start("body")
        time, source = _TAG_TIME.search(tag["body"]), _TAG_SOURCE.search(tag["body"])
        spans = [(offset + source.start("source"), offset + source.end("source"))] if source else []
        if time is None:
            member = _TAG_MEMBER.search(tag["body"])
            at = (offset + member.start("member"), offset + member.end("member")) if member else None
            return _Shape(0, {}, 0, None, spans, labelled=True, member=at)
        return _Shape(ABSOLUTE, _parts(time, offset), 0, 0.0, spans, labelled=True)
    json = "{" in sample
    for kind, pattern in _COMPILED:
        match = pattern.search(sample)
        if match and not (after and kind in (TIME_OF_DAY, SINCE_PREVIOUS, YEARLESS)):
            parts = _parts(match, 0)
            month = _MONTHS.index(match["month"][:3].lower()) + 1 if "month" in parts else 0
            zone = (
                _zone_s(match["zone"])
                if "zone" in parts
                else (0.0 if "e" in parts or "ms" in parts else None)
            )
            return _Shape(kind, parts, month, zone, _device_spans(sample, match.span(), after), json)
    return _Shape(0, {}, 0, None, _device_spans(sample, (0, 0), after), json)


def _parts(match: re.Match[str], offset: int) -> dict[str, tuple[int, int]]:
    spans = {name: match.span(name) for name in match.groupdict()}
    return {name: (a + offset, b + offset) for name, (a, b) in spans.items() if a >= 0}


def _zone_s(zone: str) -> float:
    if zone == "Z":
        return 0.0
    sign = -1 if zone[0] == "-" else 1
    return sign * (int(zone[1:3]) * 3600 + int(zone[-2:]) * 60)


def _device_spans(sample: str, stamp: tuple[int, int], after: bool) -> list[tuple[int, int]]:
    if after:
        return []
    if "{" in sample:
        named = _JSON_DEVICE.search(sample)
        return [named.span("source")] if named else []
    rest = sample[: stamp[0]] + " " * (stamp[1] - stamp[0]) + sample[stamp[1] :]
    if not rest.isascii() or rest.count(",") > 4:
        return []
    return [match.span() for match in _WORDS.finditer(rest)]


def _devices(spans: list[tuple[int, int]], text: Text, begin: Ints, names: dict[str, int]) -> Ints:
    """Return the index of the device name of each row, adding new names to ``names``."""
    widths = [b - a for a, b in spans]
    block = np.concatenate([text.bytes[begin[:, None] + np.arange(a, b)] for a, b in spans], axis=1)
    if block.shape[1] == 0:
        return np.zeros(len(begin), dtype=np.int64)
    packed = np.ascontiguousarray(block).view(f"S{block.shape[1]}").ravel()
    found, inverse = np.unique(packed, return_inverse=True)
    indices = np.empty(len(found), dtype=np.int64)
    edges = np.cumsum(widths)[:-1]
    for k, raw in enumerate(found):
        padded = bytes(raw).ljust(block.shape[1], b"\0")
        words = [padded[a:b] for a, b in zip([0, *edges], [*edges, len(padded)], strict=True)]
        name = " ".join(word.decode("latin-1") for word in words)
        indices[k] = names.setdefault(name, len(names))
    return indices[inverse]


def _digits(text: Text, begin: Ints, span: tuple[int, int]) -> Floats:
    value = np.zeros(len(begin))
    for at in range(*span):
        value = value * 10 + (text.bytes[begin + at] - 48.0)
    return value


def _evaluate(shape: _Shape, text: Text, begin: Ints) -> Floats:
    """Evaluate the seconds of each row of one shape; NaN where the parts make no date or time."""
    part = {
        name: _digits(text, begin, span)
        for name, span in shape.parts.items()
        if name not in ("zone", "month")
    }
    fraction = part["f"] / 10.0 ** (shape.parts["f"][1] - shape.parts["f"][0]) if "f" in part else 0.0
    if "ms" in part:
        return part["ms"] / 1000
    if "e" in part:
        return part["e"] + fraction
    clock = part["h"] * 3600 + part["mi"] * 60 + part["s"] + fraction
    clock = np.where((part["h"] < 24) & (part["mi"] < 60) & (part["s"] <= 60), clock, np.nan)
    if shape.kind == TIME_OF_DAY:
        return clock
    if "doy" in part:
        one = np.ones(len(begin))
        day = days_since_1970(part["y"], one, one) + part["doy"] - 1
    elif shape.kind == YEARLESS:
        day = days_since_1970(np.full(len(begin), 2000.0), np.full(len(begin), float(shape.month)), part["d"])
    else:
        day = days_since_1970(part["y"], part["mo"], part["d"])
    return day * _DAY_S + clock - (shape.zone_s or 0.0)


# Sentences by which a recorder speaks for the lines that follow: its stamp, or the input they came in on.
FORWARD = ("PGHP", "PSMDCN")


def read_forward(
    frames: Frames,
    rows: Ints,
    formatter: str,
    ports: list[tuple[Ints, Floats]],
    forward_stamps: list[tuple[Ints, Floats]],
) -> None:
    """Add what such sentences say, as (rows, values), to the list it belongs to."""
    columns = Columns(frames, rows)
    if formatter == "PSMDCN":
        ports.append((rows, columns.lenient(1)))
        return
    year, month, day, hour, minute, second, millisecond = (columns.lenient(k) for k in range(2, 9))
    clock = hour * 3600 + minute * 60 + second + millisecond / 1000
    forward_stamps.append((rows, days_since_1970(year, month, day) * _DAY_S + clock))
