"""Find every sentence in a stretch of bytes, whatever surrounds it.

Starts, stars and line ends are few; commas are many. So the former are listed, and the latter kept as one bit
per byte: the commas of a sentence are then the bits of a machine word or two, and a field lies between two of
them. Nothing is copied or split.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Bools, Ints
from analysis.reading.digits import Text, Words, text_of, word_at

LINE_FEED, RETURN, DOLLAR, BANG, STAR, COMMA, SPACE = 10, 13, 36, 33, 42, 44, 32
QUOTES = (34, 39)
LONGEST_ADDRESS = 12

# state of a sentence's checksum
MATCHES, ABSENT, MISMATCH, UNREADABLE = 0, 1, 2, 3


def _lookup(members: str) -> NDArray[np.bool_]:
    table = np.zeros(256, dtype=bool)
    table[list(members.encode())] = True
    return table


_STRUCTURE = _lookup("$!*\r\n")
_ADDRESS = 12

# state of a sentence's checksum
MATCHES, ABSENT, MISMATCH, UNREADABLE = 0, 1, 2, 3


def _lookup(members: str) -> NDArray[np.bool_]:
    table = np.zeros(256, dtype=bool)
    table[list(members.encode())] = True
    return table


_STRUCTURE = _lookup("$!,*\r\n")
_ADDRESS = _lookup("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
_BLANK = _lookup(" \t\0")
_HEX = np.full(256, 255, dtype=np.uint8)
_HEX[list(b"0123456789")] = range(10)
_HEX[list(b"ABCDEF")] = range(10, 16)
_HEX[list(b"abcdef")] = range(10, 16)


@dataclass(frozen=True)
class Frames:
    """Sentences of one chunk, one row each, in order; all arrays but ``comma_bits`` have shape (n,).

    ``start`` and ``end`` bound the whole sentence with its checksum, ``body_end`` is where its fields end;
    ``commas`` counts its fields less the address. ``prefix`` is where the text before it on its line (or after the
    previous sentence) begins, ``suffix_end`` where the text behind it ends. ``line`` counts from 1 in the
    file. ``width`` is the length of the address and ``key`` packs its first eight bytes. ``printable`` is false where
    the body holds a byte outside printable ASCII. ``cut`` marks a sentence ended by the start of the next.
    """

    text: Text
    comma_bits: Words
    start: Ints
    end: Ints
    body_end: Ints
    commas: Ints
    prefix: Ints
    suffix_end: Ints
    line: Ints
    width: Ints
    key: Words
    checksum: NDArray[np.uint8]
    printable: Bools
    cut: Bools

    def __len__(self) -> int:
        return len(self.start)

    def span(self, row: int) -> bytes:
        """The sentence of one row from its start to the end of its checksum."""
        return bytes(self.text.bytes[self.start[row] : self.end[row]])


STRIDE = 56  # bits of a word that are whole whatever the offset within its first byte
_BELOW = np.array([(1 << k) - 1 for k in range(STRIDE + 1)], dtype=np.uint64)


def _comma_bits(buffer: NDArray[np.uint8]) -> Words:
    """One bit per byte, set at commas, as words readable at any byte of the bit array."""
    packed = np.packbits(np.append(buffer == COMMA, np.zeros(128, dtype=bool)), bitorder="little")
    words: Words = np.ndarray(len(packed) - 7, dtype="<u8", buffer=packed, strides=(1,))
    return words


def commas_from(comma_bits: Words, begin: Ints, end: Ints) -> Words:
    """Comma bits of up to 56 bytes from each ``begin``, the first byte lowest, none at or beyond ``end``."""
    within = _BELOW[np.clip(end - begin, 0, STRIDE)]
    return (comma_bits[begin >> 3] >> (begin & 7).astype(np.uint64)) & within


def lowest_bit(word: Words) -> Ints:
    """Position of the lowest set bit of each word, 64 where none is set."""
    return np.bitwise_count((word & (~word + np.uint64(1))) - np.uint64(1)).astype(np.int64)


def line_count(data: bytes) -> int:
    """Count line ends: LF, CR LF, CR CR LF, or CR alone."""
    feeds = data.count(b"\n")
    if data.count(b"\r") == 0:
        return feeds
    return feeds + _lone_returns(np.frombuffer(data, dtype=np.uint8)).size


def _lone_returns(buffer: NDArray[np.uint8]) -> Ints:
    """Offsets of the carriage returns that end a line by themselves."""
    returns = np.flatnonzero(buffer == RETURN)
    after = np.append(buffer, np.uint8(LINE_FEED))[returns + 1]
    alone = after != LINE_FEED
    runs = np.flatnonzero(after == RETURN)
    for index in runs[::-1]:
        alone[index] = alone[index + 1]
    return returns[alone]


def frame(data: bytes, first_line: int = 1) -> Frames:
    """Find the sentences in ``data``, whose first byte lies on line ``first_line``."""
    text = text_of(data)
    buffer = text.bytes[: len(data) + 1]  # one line end of padding closes the last line
    mark = np.flatnonzero(buffer <= STAR)
    kind = buffer[mark]
    known = _STRUCTURE[kind]
    if not known.all():
        mark, kind = mark[known], kind[known]
    comma_bits = _comma_bits(text.bytes)
    opens = np.flatnonzero((kind == DOLLAR) | (kind == BANG))
    real = _real_starts(text, comma_bits, mark, kind, opens)
    if not real.all():
        mark, kind = np.delete(mark, opens[~real]), np.delete(kind, opens[~real])
        opens = np.flatnonzero((kind == DOLLAR) | (kind == BANG))

    start, closer, closer_kind = mark[opens], mark[opens + 1], kind[opens + 1]
    starred = closer_kind == STAR
    stated, digits = _stated_checksum(buffer, closer, starred)
    body_end = closer.copy()
    end = np.where(starred, closer + 1 + digits, closer)
    ends_line = (kind == LINE_FEED) | (kind == RETURN)
    line_ends = mark[ends_line]
    ended_before = np.cumsum(ends_line, dtype=np.int32)[opens]
    line_end = line_ends[ended_before]
    line_start = np.where(ended_before > 0, line_ends[ended_before - 1] + 1, 0)
    if not starred.all():
        _close_unstarred(text, start, body_end, end, ~starred, line_start)

    commas, first_comma = _count_commas(comma_bits, start, body_end)
    width = first_comma - start - 1
    previous_end = np.concatenate([[0], end[:-1]])
    next_start = np.append(start[1:], len(buffer))
    return Frames(
        text=text,
        comma_bits=comma_bits,
        start=start,
        end=end,
        body_end=body_end,
        commas=commas,
        prefix=np.maximum(line_start, previous_end),
        suffix_end=np.where(next_start > line_end, line_end, end),
        line=first_line + _lines_before(mark, kind, opens),
        width=width,
        key=word_at(text, start + 1, width),
        checksum=_judge(buffer, start, body_end, stated),
        printable=_printable(buffer, start, body_end, int(ends_line.sum())),
        cut=(closer_kind == DOLLAR) | (closer_kind == BANG),
    )


def _count_commas(comma_bits: Words, start: Ints, body_end: Ints) -> tuple[Ints, Ints]:
    """Commas in each sentence, and where the first one is (the body's end where there is none)."""
    bits = commas_from(comma_bits, start, body_end)
    count = np.bitwise_count(bits).astype(np.int64)
    first = np.where(bits == 0, body_end, start + lowest_bit(bits))
    offset = STRIDE
    longer = np.flatnonzero(body_end - start > offset)
    while longer.size:
        bits = commas_from(comma_bits, start[longer] + offset, body_end[longer])
        count[longer] += np.bitwise_count(bits)
        offset += STRIDE
        longer = longer[body_end[longer] - start[longer] > offset]
    return count, first


def _real_starts(text: Text, comma_bits: Words, mark: Ints, kind: NDArray[np.uint8], opens: Ints) -> Bools:
    """Which $ and ! open a sentence: an address without blanks follows, closed by a comma or a star.

    Within an open sentence only an address of capitals and digits counts, so that a ! in free text does not
    cut it; elsewhere a damaged address is a sentence too, and is counted.
    """
    at = mark[opens]
    following = np.minimum(opens + 1, len(kind) - 1)
    bits = commas_from(comma_bits, at, mark[following])
    width = np.where(bits != 0, at + lowest_bit(bits), mark[following]) - at - 1
    real: Bools = ((bits != 0) | (kind[following] == STAR)) & (width >= 2) & (width <= LONGEST_ADDRESS)
    real &= (text.bytes[at + 1] > SPACE) & (text.bytes[at + 2] > SPACE)
    before = kind[np.maximum(opens - 1, 0)]
    within = real & ((before == DOLLAR) | (before == BANG)) & (opens > 0)
    for index in np.flatnonzero(within):
        address = text.bytes[at[index] + 1 : at[index] + 1 + width[index]]
        real[index] = bool(_ADDRESS[address].all())
    return real


def _stated_checksum(
    buffer: NDArray[np.uint8], star: Ints, starred: Bools
) -> tuple[NDArray[np.int16], Ints]:
    """Read the one or two hexadecimal digits behind a star: value, and bytes used.

    -1 where nothing stands there, -2 where something else does.
    """
    at = np.minimum(star + 1, len(buffer) - 1)
    one, two = buffer[at], buffer[np.minimum(at + 1, len(buffer) - 1)]
    high, low = _HEX[one].astype(np.int16), _HEX[two].astype(np.int16)
    both = (high < 16) & (low < 16)
    single = (high < 16) & (low > 15)
    padded = (one == SPACE) & (low < 16)
    blank = (one == LINE_FEED) | (one == RETURN) | ((one == SPACE) & (low > 15))
    value = np.select([both, single, padded, blank], [high * 16 + low, high, low, np.int16(-1)], np.int16(-2))
    used = np.select([both | padded, single], [2, 1], 0)
    return np.where(starred, value, np.int16(-1)).astype(np.int16), used


def _close_unstarred(
    text: Text, start: Ints, body_end: Ints, end: Ints, unstarred: Bools, line_start: Ints
) -> None:
    """Trim trailing blanks and a closing quote from sentences that carry no checksum."""
    rows = np.flatnonzero(unstarred)
    stop = body_end[rows]
    before = text.bytes[np.maximum(start[rows] - 1, 0)]
    for quote in QUOTES:
        quoted = (before == quote) & (start[rows] > line_start[rows])
        if quoted.any():
            marks = np.append(np.flatnonzero(text.bytes == quote), len(text.bytes))
            closing = marks[np.searchsorted(marks, start[rows[quoted]])]
            stop[quoted] = np.minimum(stop[quoted], closing)
    body_end[rows] = end[rows] = without_trailing(text, start[rows], stop, _BLANK)


def without_trailing(text: Text, begin: Ints, end: Ints, unwanted: NDArray[np.bool_]) -> Ints:
    """Move each end back over trailing bytes for which the 256-entry table ``unwanted`` is true."""
    for _ in range(16):
        trailing = unwanted[text.bytes[np.maximum(end - 1, 0)]] & (end > begin)
        if not trailing.any():
            break
        end = end - trailing
    return end


def _judge(
    buffer: NDArray[np.uint8],
    start: Ints,
    body_end: Ints,
    stated: NDArray[np.int16],
) -> NDArray[np.uint8]:
    bounds = np.stack([start + 1, body_end], axis=1).ravel()
    computed = np.bitwise_xor.reduceat(buffer, bounds)[::2] if len(start) else np.empty(0, np.uint8)
    state = np.where(stated == computed, MATCHES, MISMATCH)
    return np.select([stated == -1, stated == -2], [ABSENT, UNREADABLE], state).astype(np.uint8)


def _printable(buffer: NDArray[np.uint8], start: Ints, body_end: Ints, line_ends: int) -> Bools:
    foreign = (buffer - np.uint8(SPACE)) > 94
    if np.count_nonzero(foreign) == line_ends:
        return np.ones(len(start), dtype=bool)
    at = np.flatnonzero(foreign)
    at = at[(buffer[at] != LINE_FEED) & (buffer[at] != RETURN)]
    return np.searchsorted(at, start) == np.searchsorted(at, body_end)


def _lines_before(mark: Ints, kind: NDArray[np.uint8], opens: Ints) -> Ints:
    """Line ends before each sentence; a run of returns closed by a line feed is one."""
    counts = kind == LINE_FEED
    returns = np.flatnonzero(kind == RETURN)
    if returns.size:
        following = np.minimum(returns + 1, len(kind) - 1)
        adjacent = mark[following] == mark[returns] + 1
        lone = ~(adjacent & ((kind[following] == LINE_FEED) | (kind[following] == RETURN)))
        for index in np.flatnonzero(adjacent & (kind[following] == RETURN))[::-1]:
            lone[index] = lone[index + 1]
        counts[returns[lone]] = True
    return np.cumsum(counts, dtype=np.int32)[opens].astype(np.int64)
