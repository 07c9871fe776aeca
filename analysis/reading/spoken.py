"""A log's own sentences, byte for byte, each with the time that reading gives it."""

import datetime
from collections.abc import Collection, Iterator
from pathlib import Path

import numpy as np

from analysis.passage import Bools, Floats, Sentences
from analysis.reading.files import BrokenOffError, LogFile, pieces
from analysis.reading.framing import Frames
from analysis.reading.log import read
from analysis.reading.pieces import DAMAGED, framed
from analysis.spoken import Part

_SETTLED_S = 5.0  # a sentence that states its own time may say so late, by no more than this


def spoken_parts(
    paths: list[Path], date: datetime.date | None = None, without: Collection[str] = ()
) -> Iterator[Part]:
    """Yield the sentences of logs in the order of the files, a part for each piece of a file.

    What came first stays first: a time that steps back a little, as one that a sentence states itself may, is
    held at the latest. Left out is what was damaged on the way (a checksum that does not match, or none where
    reading did not believe the sentence) and every formatter in ``without``. The logs are read twice: once
    for the times, once for the text. Raises LogError where nothing can be read.
    """
    decoded = read(paths, date=date)
    logs, sentences = decoded.logs, decoded.sentences
    sound = sentences.verified | ~np.isin(decoded.verdicts, DAMAGED)
    time_s = _arrivals(sentences)
    del decoded
    begins = np.searchsorted(sentences.file, np.arange(len(logs) + 1)).tolist()
    for log, begin, last in zip(logs, begins, begins[1:], strict=False):
        first = begin
        for frames in _frames(log):
            rows = slice(first, min(first + len(frames), last))  # the file may have grown since
            first = rows.stop
            kept = sound[rows] & ~_said_as(frames, without)[: rows.stop - rows.start]
            at = np.flatnonzero(kept)
            yield Part(frames.text.bytes, frames.start[at], frames.end[at], time_s[rows][at])


def _arrivals(sentences: Sentences) -> Floats:
    """Times that never step back by less than a few seconds within a file."""
    new = (np.diff(sentences.time_s) < -_SETTLED_S) | (np.diff(sentences.file) != 0)
    stretches = np.split(sentences.time_s, np.flatnonzero(new) + 1)
    return np.concatenate([np.fmax.accumulate(stretch) for stretch in stretches])


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
