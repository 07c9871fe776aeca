"""Split what sentences said by where it came from: channel, talker, formatter, instance."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.kernels import in_order
from analysis.passage import Bools, Floats, Ints, Sentences, Series, SourceKey
from analysis.reading.pieces import ReadingKey, split_address

WORKERS = 2


class Collected:
    """Rows and values of one kind of reading, collected piece by piece in arrays that double as they fill."""

    def __init__(self) -> None:
        self._row = np.empty(1 << 12, dtype=np.int32)
        self._value = np.empty(1 << 12)
        self._size = 0

    def add(self, row: NDArray[np.int32], value: Floats) -> None:
        """Append readings."""
        size = self._size + len(row)
        if size > len(self._row):
            self._row, self._value = (_doubled(array, self._size, size) for array in (self._row, self._value))
        self._row[self._size : size], self._value[self._size : size] = row, value
        self._size = size

    @property
    def row(self) -> NDArray[np.int32]:
        """Rows of the sentences, in order."""
        return self._row[: self._size]

    @property
    def value(self) -> Floats:
        """The values."""
        return self._value[: self._size]


def _doubled(array: np.ndarray, used: int, wanted: int) -> np.ndarray:
    grown = np.empty(max(2 * len(array), wanted), dtype=array.dtype)
    grown[:used] = array[:used]
    return grown


class Said(NamedTuple):
    """Readings of one file by what they are: rows of its sentences, and values.

    ``offset`` is the row of its first sentence among those of all files; the arrays are per sentence.
    """

    readings: dict[ReadingKey, Collected]
    offset: int
    usable: Bools
    address: Ints
    device: Ints


_Part = tuple[NDArray[np.int32], Floats]
"""Rows and values of one source in one file."""


def split_by_source(
    files: Sequence[Said], sentences: Sentences, addresses: Sequence[str], devices: Sequence[str]
) -> dict[SourceKey, Series]:
    """Give every source its series in time order; empties the readings of the files.

    A transducer that appears in two units is two sources.
    """
    parts: dict[tuple[SourceKey, str], list[_Part]] = {}
    talkers = [split_address(address)[0] for address in addresses]
    with ThreadPoolExecutor(WORKERS) as pool:
        for said in files:
            for found in pool.map(partial(_split, said, talkers, devices), list(said.readings)):
                for name, part in found:
                    parts.setdefault(name, []).append(part)
        names = sorted(parts)
        joined = list(pool.map(lambda name: _joined(parts[name], sentences.time_s), names))
    series: dict[SourceKey, Series] = {}
    for (key, unit), (row, value) in zip(names, joined, strict=True):
        own = key._replace(instance=f"{key.instance} in {unit}") if key in series else key
        series[own] = Series(own, unit, row, value, sentences)
    return series


def _split(
    said: Said, talkers: Sequence[str], devices: Sequence[str], name: ReadingKey
) -> list[tuple[tuple[SourceKey, str], _Part]]:
    """Split one formatter's readings of one channel by talker and device."""
    formatter, channel, unit, transducer = name
    collected = said.readings.pop(name)
    at, value = collected.row, collected.value
    kept = said.usable[at]
    if not kept.all():
        at, value = at[kept], value[kept]
    source = said.address[at].astype(np.int32) * len(devices) + said.device[at]
    several = len(source) > 0 and source.min() != source.max()
    result = []
    for code in np.unique(source) if several else source[:1]:
        where, values = (at[source == code], value[source == code]) if several else (at, value)
        instance = " ".join(part for part in (devices[code % len(devices)], transducer) if part)
        key = SourceKey(channel, talkers[code // len(devices)], formatter, instance)
        result.append(((key, unit), (where + np.int32(said.offset) if said.offset else where, values)))
    return result


def _joined(parts: Sequence[_Part], time_s: Floats) -> _Part:
    row, value = (
        parts[0] if len(parts) == 1 else (np.concatenate(column) for column in zip(*parts, strict=True))
    )
    if not in_order(time_s, row):
        order = np.argsort(time_s[row], kind="stable")  # missing times go last
        row, value = row[order], value[order]
    return row, value
