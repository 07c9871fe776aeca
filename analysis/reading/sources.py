"""Split what sentences said by where it came from: channel, talker, formatter, instance."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Floats, Ints, Series, SourceKey
from analysis.reading.pieces import ReadingKey, split_address

WORKERS = 2


class Said(NamedTuple):
    """Readings of one file (rows of its sentences and values, piece by piece), and its columns per sentence."""

    readings: Mapping[ReadingKey, Sequence[tuple[Ints, Floats]]]
    time_s: Floats
    usable: Bools
    verified: Bools
    line: Ints
    address: Ints
    device: Ints


class _Part(NamedTuple):
    """The readings of one source in one file."""

    time_s: Floats
    value: Floats
    verified: Bools
    line: NDArray[np.int32]
    file: NDArray[np.int16]


def split_by_source(
    files: Sequence[Said], addresses: Sequence[str], devices: Sequence[str]
) -> dict[SourceKey, Series]:
    """Give every source its series in time order.

    A transducer that appears in two units is two sources.
    """
    parts: dict[tuple[SourceKey, str], list[_Part]] = {}
    talkers = [split_address(address)[0] for address in addresses]
    with ThreadPoolExecutor(WORKERS) as pool:
        for index, said in enumerate(files):
            for found in pool.map(partial(_split, said, index, talkers, devices), said.readings.items()):
                for name, part in found:
                    parts.setdefault(name, []).append(part)
    series: dict[SourceKey, Series] = {}
    for (key, unit), columns in sorted(parts.items()):
        own = key._replace(instance=f"{key.instance} in {unit}") if key in series else key
        series[own] = _joined(own, unit, columns)
    return series


def _split(
    said: Said,
    index: int,
    talkers: Sequence[str],
    devices: Sequence[str],
    reading: tuple[ReadingKey, Sequence[tuple[Ints, Floats]]],
) -> list[tuple[tuple[SourceKey, str], _Part]]:
    """Split one formatter's readings of one channel by talker and device."""
    (formatter, channel, unit, name), pieces = reading
    at = np.concatenate([rows for rows, _ in pieces])
    value = np.concatenate([value for _, value in pieces])
    kept = said.usable[at]
    if not kept.all():
        at, value = at[kept], value[kept]
    source = said.address[at].astype(np.int32) * len(devices) + said.device[at]
    several = len(source) > 0 and source.min() != source.max()
    result = []
    for code in np.unique(source) if several else source[:1]:
        where, values = (at[source == code], value[source == code]) if several else (at, value)
        instance = " ".join(part for part in (devices[code % len(devices)], name) if part)
        key = SourceKey(channel, talkers[code // len(devices)], formatter, instance)
        file = np.full(len(where), index, np.int16)
        result.append(
            ((key, unit), _Part(said.time_s[where], values, said.verified[where], said.line[where], file))
        )
    return result


def _joined(key: SourceKey, unit: str, parts: Sequence[_Part]) -> Series:
    whole = parts[0] if len(parts) == 1 else _Part._make(map(np.concatenate, zip(*parts, strict=True)))
    if (np.diff(whole.time_s) < 0).any():
        order = np.argsort(whole.time_s, kind="stable")
        whole = _Part._make(column[order] for column in whole)
    return Series(key, unit, whole.time_s, whole.value, whole.verified, whole.line, whole.file)
