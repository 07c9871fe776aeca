"""Find every sentence in a stretch of bytes, whatever surrounds it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.kernels import SHORTEST, scan
from analysis.passage import Bools, Ints
from analysis.reading.digits import Text, Words, text_of, word_at


@dataclass(frozen=True)
class Frames:
    """Sentences of one piece of a log, one row each, in order; all arrays have shape (n,).

    ``start`` and ``end`` bound the whole sentence with its checksum, ``body_end`` is where its fields end;
    ``commas`` counts its fields less the address. ``prefix`` is where the text before it on its line (or after the
    previous sentence) begins, ``suffix_end`` where the text behind it ends. ``line`` counts from the piece's
    first line. ``width`` is the length of the address and ``key`` packs its first eight bytes. ``checksum`` is one of
    the states in ``kernels``. ``printable`` is false where the body holds a byte outside printable ASCII. ``cut``
    marks a sentence ended by the start of the next. ``fingerprint`` is equal where the bodies are equal.
    """

    text: Text
    lines: int
    start: Ints
    body_end: Ints
    end: Ints
    prefix: Ints
    suffix_end: Ints
    width: Ints
    commas: Ints
    line: Ints
    checksum: NDArray[np.uint8]
    printable: Bools
    cut: Bools
    fingerprint: NDArray[np.uint32]
    key: Words

    def __len__(self) -> int:
        return len(self.start)

    def span(self, row: int) -> bytes:
        """The sentence of one row from its start to the end of its checksum."""
        return bytes(self.text.bytes[self.start[row] : self.end[row]])


def frame(data: bytes) -> Frames:
    """Find the sentences in ``data``; its first line is line 1."""
    text = text_of(data)
    room = len(data) // SHORTEST + 1
    integers = [np.empty(room, dtype=np.int64) for _ in range(8)]
    state = np.empty(room, dtype=np.uint8)
    flags = [np.empty(room, dtype=bool) for _ in range(2)]
    fingerprint = np.empty(room, dtype=np.uint32)
    count, lines = scan(text.bytes, len(data), 1, *integers, state, *flags, fingerprint)
    start, body_end, end, prefix, suffix_end, width, commas, line = (array[:count] for array in integers)
    return Frames(
        text=text,
        lines=lines,
        start=start,
        body_end=body_end,
        end=end,
        prefix=prefix,
        suffix_end=suffix_end,
        width=width,
        commas=commas,
        line=line,
        checksum=state[:count],
        printable=flags[0][:count],
        cut=flags[1][:count],
        fingerprint=fingerprint[:count],
        key=word_at(text, start + 1, width),
    )
