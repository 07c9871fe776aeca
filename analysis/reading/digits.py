"""Fields as columns of numbers and of machine words."""

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.kernels import MOST_DIGITS, Bytes, Offsets, parse_decimals
from analysis.passage import Bools, Floats, Ints

Words = NDArray[np.uint64]

_PADDING = 32  # readable bytes that word reads need after the last byte of text
_LOW_BYTES = np.array([(1 << (8 * k)) - 1 for k in range(9)], dtype=np.uint64)
_LONG_DECIMAL = re.compile(rb" *[+-]?(\d+\.?\d*|\.\d+) *")


class Text(NamedTuple):
    """Bytes with a view that reads the eight bytes at any offset as one little-endian word."""

    bytes: Bytes
    words: Words


def text_of(data: bytes) -> Text:
    """Wrap bytes for columnar reading, adding the padding that word reads need."""
    padded = np.frombuffer(data + b"\n" * _PADDING, dtype=np.uint8)
    words: Words = np.ndarray(len(padded) - 7, dtype="<u8", buffer=padded, strides=(1,))
    return Text(padded, words)


def word_at(text: Text, begin: Ints | Offsets, width: Ints | Offsets) -> Words:
    """Read up to eight bytes at each offset; bytes beyond ``width`` are zero."""
    word: Words = text.words[begin] & _LOW_BYTES[np.clip(width, 0, 8)]
    return word


def decimals(text: Text, begin: Offsets, end: Offsets) -> tuple[Floats, Bools]:
    """Read fields as decimal numbers.

    ``begin`` and ``end`` are byte offsets, shape (n,). Returns values (n,), NaN where blank or unreadable,
    and a mask (n,) of the fields that are neither blank nor a decimal number. Accepts a sign, a missing
    integer or fraction part, and blanks around the number; results equal Python's ``float``.
    """
    value = np.empty(len(begin))
    unreadable = np.zeros(len(begin), dtype=bool)
    parse_decimals(text.bytes, begin, end, value, unreadable)
    for row in np.flatnonzero(unreadable & (end - begin > MOST_DIGITS)):
        field = bytes(text.bytes[begin[row] : end[row]])
        if _LONG_DECIMAL.fullmatch(field):
            value[row], unreadable[row] = float(field), False
    return value, unreadable
