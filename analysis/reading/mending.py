"""Put together sentences that a recorder tore apart, where the checksum proves the joint.

Recorders that stamp every network packet break lines inside a sentence and write a stamp into it. A repair is
made only where the sentence's own checksum then matches.
"""

import re
from functools import reduce
from operator import xor

import numpy as np

from analysis.kernels import ABSENT, COMMA, LINE_FEED, MATCHES, MISMATCH
from analysis.passage import Ints
from analysis.reading.framing import Frames

_STAMP = rb"[\"']?(?:\d{9,13}(?:\.\d+)?|\d{4}-\d\d-\d\d[T ][\d:.]+Z?)[\"']?[,;: \t]+[\"']?"
_SECOND_HALF = re.compile(rb"(?P<break>[\"']?[\r\n]+)(?P<half>[^$!*\r\n]{1,90}\*[0-9A-Fa-f]{2})")
_STAMP_FIRST = re.compile(_STAMP)
_STAMP_LAST = re.compile(rb"\d{13},?$")
_STAMP_WITHIN = re.compile(rb"\d{13},?")
_STRAY_STAMP = re.compile(rb"(\r*\n)(,[1-4]\d{9,12})(?=[\r\n]|$)")


def mend(data: bytes, frames: Frames) -> tuple[bytes, int]:
    """Repair torn sentences of a piece; returns the piece with the same lines, and how many were repaired."""
    pieces: list[bytes] = []
    done = 0
    mended = 0
    for row in _torn(frames):
        start, end = int(frames.start[row]), int(frames.end[row])
        if start < done:
            continue
        repaired = _rejoined(data, start, end) or _cleared(data, start, end)
        if repaired is not None:
            whole, upto = repaired
            pieces += [data[done:start], whole]
            done = upto
            mended += 1
    if mended:
        data = b"".join([*pieces, data[done:]])
    after = frames.text.bytes[np.minimum(frames.suffix_end + 1, len(data))]
    beyond = frames.text.bytes[np.minimum(frames.suffix_end + 2, len(data))]
    if ((after == COMMA) | ((after == LINE_FEED) & (beyond == COMMA))).any():
        data = _STRAY_STAMP.sub(rb"\2\1", data)
    return data, mended


def _torn(frames: Frames) -> Ints:
    """Rows that may be halves: no checksum and no sentence on the next line, or a checksum that fails."""
    doubtful = np.flatnonzero(frames.checksum != MATCHES)
    next_line = np.append(frames.line, np.iinfo(np.int64).max)[doubtful + 1]
    alone = ~frames.cut[doubtful] & (next_line > frames.line[doubtful] + 1)
    state = frames.checksum[doubtful]
    torn: Ints = doubtful[((state == ABSENT) & alone) | (state == MISMATCH)]
    return torn


def _proven(sentence: bytes) -> bool:
    body, _, stated = sentence[1:].rpartition(b"*")
    return body.isascii() and reduce(xor, body, 0) == int(stated, 16)


def _rejoined(data: bytes, start: int, end: int) -> tuple[bytes, int] | None:
    second = _SECOND_HALF.match(data, end)
    if second is None:
        return None
    first, half = data[start:end], second["half"]
    stamp = _STAMP_FIRST.match(half)
    for head in (first, _STAMP_LAST.sub(b"", first)):
        for tail in (half, half[stamp.end() :] if stamp else half):
            if _proven(head + tail):
                return head + tail + second["break"].lstrip(b"\"'"), second.end()
    return None


def _cleared(data: bytes, start: int, end: int) -> tuple[bytes, int] | None:
    sentence = data[start:end]
    if not re.search(rb"\*[0-9A-Fa-f]{2}$", sentence):
        return None
    for stamp in _STAMP_WITHIN.finditer(sentence):
        whole = sentence[: stamp.start()] + sentence[stamp.end() :]
        if _proven(whole):
            return whole, end
    return None
