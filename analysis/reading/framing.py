"""Find every sentence in a stretch of bytes, whatever surrounds it.

The bytes that structure a sentence ($ ! , * CR LF) all lie below 45, so one comparison finds them. What
follows works on that short list of delimiters: a sentence is a run of it, a field the gap between two of its
members, and nothing is copied or split.
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


_STRUCTURE = _lookup("$!,*\r\n")
_ADDRESS = _lookup("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
_BLANK = _lookup(" \t\0")
_HEX = np.full(256, 255, dtype=np.uint8)
_HEX[list(b"0123456789")] = range(10)
_HEX[list(b"ABCDEF")] = range(10, 16)
_HEX[list(b"abcdef")] = range(10, 16)


@dataclass(frozen=True)
class Frames:
    """Sentences of one chunk, one row each, in order; all arrays have shape (n,).

    ``delimiter`` holds the byte offsets of all delimiters; a row's fields lie between its members
    ``first + k`` and ``first + k + 1`` (k = 0 is the address), k = 0 … ``commas``. ``start`` and ``end`` bound the whole
    sentence with its checksum; ``prefix`` is where the text before it on its line (or after the previous
    sentence) begins, ``suffix_end`` where the text behind it ends. ``line`` counts from 1 in the file.
    ``key`` packs the first eight address bytes. ``printable`` is false where the body holds a byte outside
    printable ASCII. ``cut`` marks a sentence ended by the start of the next one.
    """

    text: Text
    delimiter: Ints
    first: Ints
    commas: Ints
    start: Ints
    end: Ints
    body_end: Ints
    prefix: Ints
    suffix_end: Ints
    line: Ints
    key: Words
    checksum: NDArray[np.uint8]
    printable: Bools
    cut: Bools

    def __len__(self) -> int:
        return len(self.start)

    def field_bounds(self, rows: Ints, k: int) -> tuple[Ints, Ints]:
        """Byte offsets of field ``k`` for the given rows; every row must have at least ``k`` commas."""
        at = self.first[rows] + k
        last = self.commas[rows] == k
        return self.delimiter[at] + 1, np.where(last, self.body_end[rows], self.delimiter[at + 1])

    def span(self, row: int) -> bytes:
        """The sentence of one row from its start to the end of its checksum."""
        return bytes(self.text.bytes[self.start[row] : self.end[row]])


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
    delimiter = np.flatnonzero(buffer <= COMMA)
    kind = buffer[delimiter]
    known = _STRUCTURE[kind]
    if not known.all():
        delimiter, kind = delimiter[known], kind[known]

    opens = (kind == DOLLAR) | (kind == BANG)
    opens[-1] = False
    real = _real_starts(text, delimiter, kind, np.flatnonzero(opens))
    false_start = opens.copy()
    false_start[real] = False
    if false_start.any():
        delimiter, kind, opens = delimiter[~false_start], kind[~false_start], opens[~false_start]

    ends_line = (kind == LINE_FEED) | (kind == RETURN)
    first = np.flatnonzero(opens)
    closes = opens | ends_line | (kind == STAR)
    closing = np.flatnonzero(closes)
    closer = closing[np.cumsum(closes)[first]]
    start = delimiter[first]
    closer_at = delimiter[closer]
    closer_kind = kind[closer]
    commas = closer - first - 1

    starred = closer_kind == STAR
    stated, digits = _stated_checksum(buffer, closer_at, starred)
    body_end = closer_at.copy()
    end = np.where(starred, closer_at + 1 + digits, closer_at)
    line_ends = delimiter[ends_line]
    ended_before = np.cumsum(ends_line)[first]
    line_end = line_ends[ended_before]
    line_start = np.where(ended_before > 0, line_ends[ended_before - 1] + 1, 0)
    _close_unstarred(text, start, body_end, end, ~starred, line_start)

    previous_end = np.concatenate([[0], end[:-1]])
    next_start = np.append(start[1:], len(buffer))
    checksum = _judge(buffer, start, body_end, starred, stated)
    return Frames(
        text=text,
        delimiter=delimiter,
        first=first,
        commas=commas,
        start=start,
        end=end,
        body_end=body_end,
        prefix=np.maximum(line_start, previous_end),
        suffix_end=np.where(next_start > line_end, line_end, end),
        line=first_line + _lines_before(delimiter, kind, ends_line, first),
        key=word_at(text, start + 1, delimiter[first + 1] - start - 1),
        checksum=checksum,
        printable=_printable(buffer, start, body_end),
        cut=(closer_kind == DOLLAR) | (closer_kind == BANG),
    )


def _real_starts(text: Text, delimiter: Ints, kind: NDArray[np.uint8], opens: Ints) -> Ints:
    """Keep the $ and ! that open a sentence: an address follows, closed by a comma or a star.

    Within an open sentence only an address of capitals and digits counts, so that a ! in free text does not
    cut it; elsewhere any short run without blanks does, so that a damaged address is still counted.
    """
    at = delimiter[opens]
    closer = kind[opens + 1]
    width = delimiter[opens + 1] - at - 1
    candidate = ((closer == COMMA) | (closer == STAR)) & (width >= 2) & (width <= LONGEST_ADDRESS)
    clean = candidate.copy()
    plain = candidate.copy()
    for k in range(LONGEST_ADDRESS):
        within = k < width
        if not within.any():
            break
        byte = text.bytes[at + 1 + k]
        clean &= ~within | _ADDRESS[byte]
        plain &= ~within | (byte > SPACE)
    doubtful = plain & ~clean
    if doubtful.any():
        before = np.maximum(opens - 1, 0)
        fresh = (kind[before] == LINE_FEED) | (kind[before] == RETURN) | (opens == 0)
        plain &= clean | fresh
    return opens[plain & (clean | doubtful)]


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
    starred: Bools,
    stated: NDArray[np.int16],
) -> NDArray[np.uint8]:
    bounds = np.stack([start + 1, body_end], axis=1).ravel()
    computed = np.bitwise_xor.reduceat(buffer, bounds)[::2] if len(start) else np.empty(0, np.uint8)
    state = np.where(stated == computed, MATCHES, MISMATCH)
    return np.select([stated == -1, stated == -2], [ABSENT, UNREADABLE], state).astype(np.uint8)


def _printable(buffer: NDArray[np.uint8], start: Ints, body_end: Ints) -> Bools:
    foreign = np.flatnonzero((buffer - np.uint8(SPACE)) > 94)
    foreign = foreign[(buffer[foreign] != LINE_FEED) & (buffer[foreign] != RETURN)]
    if foreign.size == 0:
        return np.ones(len(start), dtype=bool)
    return np.searchsorted(foreign, start) == np.searchsorted(foreign, body_end)


def _lines_before(delimiter: Ints, kind: NDArray[np.uint8], ends_line: Bools, first: Ints) -> Ints:
    """Line ends before each sentence; a run of returns closed by a line feed is one."""
    counts = kind == LINE_FEED
    returns = np.flatnonzero(kind == RETURN)
    if returns.size:
        next_is_adjacent = np.zeros(len(kind), dtype=bool)
        next_is_adjacent[:-1] = (delimiter[1:] == delimiter[:-1] + 1) & ends_line[1:]
        lone = ~next_is_adjacent[returns]
        pairs = np.flatnonzero(~lone & (kind[np.minimum(returns + 1, len(kind) - 1)] == RETURN))
        for index in pairs[::-1]:
            lone[index] = lone[index + 1]
        counts = counts.copy()
        counts[returns[lone]] = True
    before: Ints = np.cumsum(counts)[first]
    return before
