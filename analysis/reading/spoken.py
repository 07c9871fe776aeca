"""A log's own sentences, byte for byte, each with the time that reading gives it."""

import datetime
from collections.abc import Collection, Iterator
from pathlib import Path

import numpy as np

from analysis.passage import Bools
from analysis.reading.files import BrokenOffError, LogFile, pieces
from analysis.reading.framing import Frames
from analysis.reading.log import read
from analysis.reading.pieces import DAMAGED, framed
from analysis.spoken import Part


def spoken_parts(
    paths: list[Path], date: datetime.date | None = None, without: Collection[str] = ()
) -> Iterator[Part]:
    """Yield the sentences of logs in the order of the files, a part for each piece of a file.

    Left out is what was damaged on the way (a checksum that does not match, or none where reading did not
    believe the sentence) and every formatter in ``without``. The logs are read twice: once for the times,
    once for the text. Raises LogError where nothing can be read.
    """
    decoded = read(paths, date=date)
    logs, sentences = decoded.logs, decoded.sentences
    sound = sentences.verified | ~np.isin(decoded.verdicts, DAMAGED)
    del decoded
    begins = np.searchsorted(sentences.file, np.arange(len(logs) + 1)).tolist()
    for log, begin, last in zip(logs, begins, begins[1:], strict=False):
        first = begin
        for frames in _frames(log):
            rows = slice(first, min(first + len(frames), last))  # the file may have grown since
            first = rows.stop
            kept = sound[rows] & ~_said_as(frames, without)[: rows.stop - rows.start]
            at = np.flatnonzero(kept)
            yield Part(frames.text.bytes, frames.start[at], frames.end[at], sentences.time_s[rows][at])


def _frames(log: LogFile) -> Iterator[Frames]:
    try:
        for data in pieces(log):
            yield framed(data)[0]
    except BrokenOffError:
        return


def _said_as(frames: Frames, formatters: Collection[str]) -> Bools:
    """Whether each sentence has one of the formatters, whoever says it."""
    wanted = [int.from_bytes(name.encode("ascii"), "little") for name in formatters]
    formatter = (frames.key >> np.uint64(16)) & np.uint64(0xFFFFFF)
    said: Bools = np.isin(formatter, np.array(wanted, dtype=np.uint64)) & (frames.width == 5)
    return said
