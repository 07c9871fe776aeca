"""Formatters outside the sentence table: their numbers by pynmea2's field lists, read as columns."""

from collections.abc import Mapping
from functools import cache

import pynmea2

from analysis.passage import Ints
from analysis.reading.decoding import Columns, Decoded
from analysis.reading.framing import Frames

_CLOCKS = ("timestamp", "datestamp", "datetime")


@cache
def known_fields(formatter: str) -> Mapping[int, str] | None:
    """Field number -> name of a formatter that pynmea2 knows, without clock fields; None if unknown.

    A proprietary one is known by its whole address, whose end pynmea2 counts as field 0.
    """
    kind = pynmea2.TalkerSentence.sentence_types.get(formatter)
    maker = pynmea2.ProprietarySentence.sentence_types.get(formatter[1:4]) if formatter[0] == "P" else None
    if kind is None and maker is not None:
        kind = maker.sentence_types.get(formatter[1:])
    if kind is None:
        return None
    listed = kind.fields if maker is None else kind.fields[1:]
    fields: dict[int, str] = {}
    for k, (_, name, *converter) in enumerate(listed, start=1):
        if not any(word in (name, *(c.__name__ for c in converter)) for word in _CLOCKS):
            fields[k] = name
    return fields


def decode_other(frames: Frames, rows: Ints, formatter: str) -> Decoded:
    """Decode the numeric fields of sentences of one formatter as channels ``formatter.field``."""
    decoded = Decoded()
    columns = Columns(frames, rows)
    for k, name in (known_fields(formatter) or {}).items():
        decoded.add((f"{formatter.lower()}.{name}", "", ""), rows, columns.lenient(k))
    return decoded
