"""Sentences from anywhere, put in the order of time; their text waits in a temporary file, not in memory."""

from collections.abc import Iterable
from tempfile import TemporaryFile
from typing import BinaryIO, cast

import numpy as np

from analysis.spoken import Bytes, Part, Spoken


def spooled(parts: Iterable[Part]) -> Spoken:
    """Collect sentences in the order of time; those of one moment stay in the order they came.

    The text is mapped from a temporary file that goes with it. Raises OSError where the disk is full.
    """
    offset = 0
    starts, ends, times = [np.empty(0, np.int64)], [np.empty(0, np.int64)], [np.empty(0)]
    with TemporaryFile() as spool:
        for part in parts:
            starts.append(part.start + offset)
            ends.append(part.end + offset)
            times.append(part.time_s)
            offset += spool.write(part.text.tobytes())
        spool.flush()
        text = _mapped(cast(BinaryIO, spool), offset)
    start, end, time_s = np.concatenate(starts), np.concatenate(ends), np.concatenate(times)
    known = np.isfinite(time_s)
    rows = np.argsort(time_s, kind="stable")[: int(known.sum()) or None]
    return Spoken(text, start[rows], end[rows], time_s[rows], untimed=len(time_s) - len(rows))


def _mapped(stream: BinaryIO, size: int) -> Bytes:
    if size == 0:
        return np.empty(0, np.uint8)
    return np.memmap(stream, dtype=np.uint8, mode="r", shape=(size,))
