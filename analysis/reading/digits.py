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
_PAIR = np.uint64(0x000000FF000000FF)
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


def _bits(count: Ints) -> Words:
    return (count << 3).astype(np.uint64)


def _first_dot(word: Words) -> Ints:
    """Offset of the first dot in each word, 8 where it has none."""
    word = word ^ _DOTS
    hit = (word - _ONES) & ~word & _HIGHS
    return (np.bitwise_count((hit & (~hit + np.uint64(1))) - np.uint64(1)) >> 3).astype(np.int64)


def _integers(word: Words, width: Ints) -> tuple[Ints, Bools]:
    """Numbers in the first ``width`` (0..8) bytes of each word, and which of them are all digits."""
    idle = 8 - width
    word = np.where(width == 0, _ZEROS, (word << _bits(np.minimum(idle, 7))) | (_ZEROS & _LOW_BYTES[idle]))
    sound = ((word & _NIBBLES) == _ZEROS) & (((word + _SIXES) & _NIBBLES) == _ZEROS)
    word = word - _ZEROS
    word = word * np.uint64(10) + (word >> np.uint64(8))
    word = (word & _PAIR) * np.uint64(0x000F424000000064) + (
        (word >> np.uint64(16)) & _PAIR
    ) * np.uint64(0x0000271000000001)
    return (word >> np.uint64(32)).astype(np.int64), sound


def decimals(text: Text, begin: Ints, end: Ints) -> tuple[Floats, Bools]:
    """Read fields as decimal numbers.

    ``begin`` and ``end`` are byte offsets, shape (n,). Returns values (n,), NaN where blank or unreadable,
    and a mask (n,) of the fields that are neither blank nor a decimal number. Accepts a sign, a missing
    integer or fraction part, and blanks around the number; results equal Python's ``float``.
    """
    value, unreadable = _plain_decimals(text, begin, end)
    odd = np.flatnonzero(unreadable)
    if odd.size:
        value[odd], unreadable[odd] = _plain_decimals(text, *_trimmed(text, begin[odd], end[odd]))
        for row in odd[unreadable[odd] & (end[odd] - begin[odd] > 8)]:
            long_field = bytes(text.bytes[begin[row] : end[row]])
            if _DECIMAL.fullmatch(long_field):
                value[row], unreadable[row] = float(long_field), False
    return value, unreadable


def _plain_decimals(text: Text, begin: Ints, end: Ints) -> tuple[Floats, Bools]:
    """Decimals without blanks around them and with at most 8 digits on either side of the dot."""
    width = end - begin
    blank = width == 0
    if blank.all():
        return np.full(len(begin), np.nan), np.zeros(len(begin), dtype=bool)
    word = text.words[begin]
    lead = word & np.uint64(255)
    negative = (lead == ord("-")) & ~blank
    signed = negative | ((lead == ord("+")) & ~blank)
    if signed.any():
        begin, width = begin + signed, width - signed
        word = text.words[begin]
    if int(width.max()) > 8:
        value, sound = _long(text, begin, width, word)
    else:
        value, sound = _short(word, width)
    value = np.where(negative, -value, value)
    value[~sound | blank] = np.nan
    return value, ~sound & ~blank


def _short(word: Words, width: Ints) -> tuple[Floats, Bools]:
    """Numbers of at most eight bytes: the dot is squeezed out and the rest read at once."""
    dot = np.minimum(_first_dot(word), width)
    fraction = np.maximum(width - dot - 1, 0)
    before = word & _LOW_BYTES[dot]
    after = word >> _bits(np.minimum(dot + 1, 7))
    squeezed = np.where(fraction > 0, before | (after << _bits(np.minimum(dot, 7))), before)
    whole, sound = _integers(squeezed, dot + fraction)
    return whole / _POWERS[fraction], sound & (dot + fraction > 0)


def _long(text: Text, begin: Ints, width: Ints, word: Words) -> tuple[Floats, Bools]:
    """Numbers whose integer and fraction parts have at most eight bytes each."""
    dot = _first_dot(word)
    far = (dot == 8) & (width > 8)
    dot[far] += _first_dot(text.words[begin[far] + 8])
    dot = np.minimum(dot, width)
    fraction = np.maximum(width - dot - 1, 0)
    fits = (dot <= 8) & (fraction <= 8) & (dot + fraction > 0)
    whole, whole_ok = _integers(word, np.minimum(dot, 8))
    tail, tail_ok = _integers(text.words[begin + dot + 1], np.minimum(fraction, 8))
    scale = _POWERS[np.minimum(fraction, 8)]
    return (whole * scale + tail) / scale, fits & whole_ok & tail_ok


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
