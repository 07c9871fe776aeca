"""Decimal text to numbers, a whole column at a time.

Eight bytes are read as one machine word and their digits combined by three multiplications, so a column of
a hundred thousand fields costs a few dozen array operations and no loop over characters.
"""

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Floats, Ints

Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]

PADDING = 32  # readable bytes a buffer must carry after its last byte of text

_POWERS = np.power(10.0, np.arange(17))
_LOW_BYTES = np.array([(1 << (8 * k)) - 1 for k in range(9)], dtype=np.uint64)
_ONES = np.uint64(0x0101010101010101)
_HIGHS = np.uint64(0x8080808080808080)
_ZEROS = np.uint64(0x3030303030303030)
_NIBBLES = np.uint64(0xF0F0F0F0F0F0F0F0)
_SIXES = np.uint64(0x0606060606060606)
_DOTS = np.uint64(0x2E2E2E2E2E2E2E2E)
_DECIMAL = re.compile(rb"[ ]*[+-]?(\d+\.?\d*|\.\d+)[ ]*")


class Text(NamedTuple):
    """Bytes with a view that reads the eight bytes at any offset as one little-endian word."""

    bytes: Bytes
    words: Words


def text_of(data: bytes) -> Text:
    """Wrap bytes for columnar reading, adding the padding that word reads need."""
    padded = np.frombuffer(data + b"\n" * PADDING, dtype=np.uint8)
    words: Words = np.ndarray(len(padded) - 7, dtype="<u8", buffer=padded, strides=(1,))
    return Text(padded, words)


def word_at(text: Text, begin: Ints, width: Ints) -> Words:
    """Read up to eight bytes at each offset; bytes beyond ``width`` are zero."""
    return text.words[begin] & _LOW_BYTES[np.clip(width, 0, 8)]


def integers(text: Text, begin: Ints, width: Ints) -> tuple[Ints, Bools]:
    """Read columns of at most eight digits; returns values (0 for no digit) and which were all digits."""
    shift = (8 - width).astype(np.uint64) * np.uint64(8)
    word = text.words[begin] << np.minimum(shift, np.uint64(63))
    fill = _ZEROS & _LOW_BYTES[8 - width]
    word = np.where(width == 0, _ZEROS, word | fill)
    sound = ((word & _NIBBLES) == _ZEROS) & (((word + _SIXES) & _NIBBLES) == _ZEROS)
    word -= _ZEROS
    word = word * np.uint64(10) + (word >> np.uint64(8))
    pair = np.uint64(0x000000FF000000FF)
    word = (
        (word & pair) * np.uint64(0x000F424000000064)
        + ((word >> np.uint64(16)) & pair) * np.uint64(0x0000271000000001)
    ) >> np.uint64(32)
    return word.astype(np.int64), sound


def _dot_offset(text: Text, begin: Ints, width: Ints) -> Ints:
    """Offset of the first dot in each field, the field's width where it has none (first 16 bytes)."""
    found = np.minimum(_first_dot(text, begin), width)
    if len(width) and int(width.max()) > 8:
        far = (found >= 8) & (width > 8)
        found[far] = np.minimum(8 + _first_dot(text, begin[far] + 8), width[far])
    return found


def _first_dot(text: Text, begin: Ints) -> Ints:
    word = text.words[begin] ^ _DOTS
    hit = (word - _ONES) & ~word & _HIGHS
    below = (hit & (~hit + np.uint64(1))) - np.uint64(1)
    return (np.bitwise_count(below) >> 3).astype(np.int64)


def decimals(text: Text, begin: Ints, end: Ints) -> tuple[Floats, Bools]:
    """Read fields as decimal numbers.

    ``begin`` and ``end`` are byte offsets, shape (n,). Returns values (n,), NaN where blank or unreadable,
    and a mask (n,) of the fields that are neither blank nor a decimal number. Accepts a sign, a missing
    integer or fraction part, and blanks around the number; results equal Python's ``float``.
    """
    begin, end = _trimmed(text, begin, end)
    if len(begin) == 0:
        return np.empty(0), np.empty(0, dtype=bool)
    first = text.bytes[begin]
    width = end - begin
    signed = ((first == ord("-")) | (first == ord("+"))) & (width > 0)
    negative = signed & (first == ord("-"))
    begin = begin + signed
    width = width - signed
    dot = _dot_offset(text, begin, width)
    fraction = np.maximum(width - dot - 1, 0)
    fast = (dot <= 8) & (fraction <= 8)
    whole, whole_ok = integers(text, begin, np.minimum(dot, 8))
    if int(fraction.max()) > 0:
        tail, tail_ok = integers(text, begin + dot + 1, np.minimum(fraction, 8))
        scale = _POWERS[np.minimum(fraction, 8)]
        value = (whole * scale + tail) / scale
    else:
        value, tail_ok = whole.astype(np.float64), np.True_
    value = np.where(negative, -value, value)
    blank = (width == 0) & ~signed
    readable = whole_ok & tail_ok & fast & (dot + fraction > 0)
    value[~readable | blank] = np.nan
    unreadable = ~readable & ~blank
    for row in np.flatnonzero(unreadable & ~fast):
        long_field = bytes(text.bytes[begin[row] - signed[row] : begin[row] + width[row]])
        if _DECIMAL.fullmatch(long_field):
            value[row] = float(long_field)
            unreadable[row] = False
    return value, unreadable


def _trimmed(text: Text, begin: Ints, end: Ints) -> tuple[Ints, Ints]:
    space = ord(" ")
    for _ in range(16):
        leading = (text.bytes[begin] == space) & (begin < end)
        if not leading.any():
            break
        begin = begin + leading
    for _ in range(16):
        trailing = (text.bytes[end - 1] == space) & (begin < end)
        if not trailing.any():
            break
        end = end - trailing
    return begin, end
