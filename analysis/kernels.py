"""The inner loops, compiled: over the bytes of a log, the fields of its sentences, the readings of a source.

Each is a plain loop that the compiler turns into machine code at its first use and keeps for the next run. They
release the interpreter lock, so pieces of a log are read side by side.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from analysis.passage import Bools, Floats, Ints

Bytes = NDArray[np.uint8]
Offsets = NDArray[np.int32]

TAB, LINE_FEED, RETURN, SPACE, BANG, QUOTE, DOLLAR, APOSTROPHE, STAR = 9, 10, 13, 32, 33, 34, 36, 39, 42
PLUS, COMMA, MINUS, DOT, ZERO, NINE, BACKSLASH, TILDE = 43, 44, 45, 46, 48, 57, 92, 126
LONGEST_ADDRESS = 12
SHORTEST = 4  # bytes of the least that counts as a sentence, such as "$AB,"
MOST_DIGITS = 15
BLANK, LONGER = 0, 1

# state of a sentence's checksum
MATCHES, ABSENT, MISMATCH, UNREADABLE = 0, 1, 2, 3


@njit(cache=True, nogil=True)
def _hex(byte: int) -> int:
    """Value of a hexadecimal digit, -1 if it is none."""
    if ZERO <= byte <= NINE:
        return byte - ZERO
    if 65 <= byte <= 70:
        return byte - 55
    if 97 <= byte <= 102:
        return byte - 87
    return -1


@njit(cache=True, nogil=True)
def _address_end(data: Bytes, at: int, size: int, strict: bool) -> int:
    """Where the address that opens at a $ or ! ends: at a comma or a star; -1 where none stands there.

    ``strict`` admits only capitals and digits, else the last three must be such.
    """
    end = at + 1
    proper = 0  # capitals and digits in a row
    while end < size and end - at <= LONGEST_ADDRESS + 1:
        byte = data[end]
        if byte == COMMA or byte == STAR:
            return end if proper >= min(3, end - at - 1) and proper >= 2 else -1
        if 65 <= byte <= 90 or ZERO <= byte <= NINE:
            proper += 1
        elif strict or byte <= SPACE or byte == DOLLAR or byte == BANG:
            return -1
        else:
            proper = 0
        end += 1
    return -1


@njit(cache=True, nogil=True)
def scan(
    data: Bytes,
    size: int,
    first_line: int,
    start: Ints,
    body_end: Ints,
    end: Ints,
    prefix: Ints,
    suffix_end: Ints,
    width: Ints,
    commas: Ints,
    line: Ints,
    state: Bytes,
    printable: Bools,
    cut: Bools,
    fingerprint: NDArray[np.uint32],
) -> tuple[int, int]:
    """Find the sentences in ``data[:size]`` and fill one row of each array per sentence; see ``Frames``.

    Returns the number of sentences and of lines. Within an open sentence only an address of capitals and digits
    opens another, so that a ! in free text does not cut it. A run of returns closed by a line feed is
    one line end; other returns end a line each.
    """
    count = 0
    lines = 0
    line_start = 0
    at = 0
    while at < size:
        byte = data[at]
        if byte == LINE_FEED or byte == RETURN:
            if count and end[count - 1] >= line_start:
                suffix_end[count - 1] = at
            if byte == RETURN:
                ahead = at
                while ahead < size and data[ahead] == RETURN:
                    ahead += 1
                if ahead < size and data[ahead] == LINE_FEED:
                    at = ahead
            at += 1
            lines += 1
            line_start = at
            continue
        if byte != DOLLAR and byte != BANG:
            at += 1
            continue
        address_end = _address_end(data, at, size, False)
        if address_end < 0:
            at += 1
            continue

        quote = (
            data[at - 1] if at > line_start and (data[at - 1] == QUOTE or data[at - 1] == APOSTROPHE) else 0
        )
        first = at
        total = 0
        mixed = np.uint32(5381)
        found_commas = 0
        clean = True
        severed = False
        at += 1
        while at < size:
            byte = data[at]
            if byte == STAR or byte == LINE_FEED or byte == RETURN:
                break
            if (byte == DOLLAR or byte == BANG) and _address_end(data, at, size, True) > 0:
                severed = True
                break
            if quote and (byte == quote or byte == BACKSLASH):
                break
            total ^= byte
            mixed = np.uint32((mixed << np.uint32(5)) + mixed) ^ np.uint32(byte)
            if byte == COMMA:
                found_commas += 1
            elif byte < SPACE or byte > TILDE:
                clean = False
            at += 1
        stop = at
        judged = ABSENT
        if at < size and data[at] == STAR:
            at += 1
            high = _hex(data[at]) if at < size else -1
            low = _hex(data[at + 1]) if at + 1 < size else -1
            if high >= 0 and low >= 0:
                judged = MATCHES if high * 16 + low == total else MISMATCH
                at += 2
            elif high >= 0:
                judged = MATCHES if high == total else MISMATCH
                at += 1
            elif at < size and data[at] == SPACE and low >= 0:
                judged = MATCHES if low == total else MISMATCH
                at += 2
            elif at < size and data[at] > SPACE:
                judged = UNREADABLE
        else:
            while stop > first + 1 and (
                data[stop - 1] == SPACE or data[stop - 1] == TAB or data[stop - 1] == 0
            ):
                clean = True
                stop -= 1
            if not clean or stop < at:
                clean = True
                for k in range(first + 1, stop):
                    if data[k] < SPACE or data[k] > TILDE:
                        clean = False
        start[count] = first
        body_end[count] = stop
        end[count] = at if judged != ABSENT or stop == at else max(stop, at)
        prefix[count] = line_start if count == 0 else max(line_start, end[count - 1])
        suffix_end[count] = end[count]
        width[count] = min(address_end, stop) - first - 1
        commas[count] = found_commas
        line[count] = first_line + lines
        state[count] = judged
        printable[count] = clean
        cut[count] = severed
        fingerprint[count] = mixed
        count += 1
    if count and end[count - 1] >= line_start:
        suffix_end[count - 1] = size
    return count, lines + (line_start < size)


@njit(cache=True, nogil=True)
def find_edges(data: Bytes, start: Ints, stop: Ints, edges: Offsets) -> None:
    """Fill ``edges`` (fields, n): the delimiter before each field, ``stop`` beyond a sentence's last one."""
    fields = edges.shape[0]
    for row in range(len(start)):
        edges[0, row] = start[row]
        field = 1
        for at in range(start[row] + 1, stop[row]):
            if data[at] == COMMA:
                edges[field, row] = at
                field += 1
                if field == fields:
                    break
        for rest in range(field, fields):
            edges[rest, row] = stop[row]


@njit(cache=True, nogil=True)
def _decimal(data: Bytes, at: int, stop: int) -> tuple[float, bool]:
    """Read ``data[at:stop]`` as a decimal number, blanks around it allowed: value, and whether it is unreadable.

    NaN where blank or unreadable; a number of more than 15 digits is unreadable here.
    """
    while at < stop and data[at] == SPACE:
        at += 1
    while stop > at and data[stop - 1] == SPACE:
        stop -= 1
    if at == stop:
        return np.nan, False
    negative = data[at] == MINUS
    if negative or data[at] == PLUS:
        at += 1
    whole = 0
    scale = 1.0
    digits = 0
    pointed = False
    while at < stop:
        byte = data[at]
        if ZERO <= byte <= NINE:
            whole = whole * 10 + (byte - ZERO)
            digits += 1
            if pointed:
                scale *= 10.0
        elif byte == DOT and not pointed:
            pointed = True
        else:
            return np.nan, True
        at += 1
    if digits == 0 or digits > MOST_DIGITS:
        return np.nan, True
    return (-whole / scale if negative else whole / scale), False


@njit(cache=True, nogil=True)
def parse_decimals(data: Bytes, begin: Offsets, end: Offsets, value: Floats, unreadable: Bools) -> None:
    """Read ``data[begin:end]`` of each row as a decimal number; see ``_decimal``."""
    for row in range(len(begin)):
        value[row], unreadable[row] = _decimal(data, begin[row], end[row])


@njit(cache=True, nogil=True)
def read_columns(
    data: Bytes,
    start: Ints,
    stop: Ints,
    number_slot: Ints,
    letter_slot: Ints,
    value: Floats,
    unreadable: Bools,
    letter: Bytes,
) -> None:
    """Read the wanted fields of sentences in one pass over each.

    ``number_slot`` and ``letter_slot`` give, per field number, the row of ``value`` and ``unreadable`` (slots, n)
    or of ``letter`` (slots, n) it goes to, -1 for none. A letter is the field's one byte, BLANK where it is
    empty or absent, LONGER where it has more.
    """
    last = len(number_slot) - 1
    for row in range(len(start)):
        at = start[row] + 1
        end = stop[row]
        field = 0
        while field <= last:
            begin = at
            while at < end and data[at] != COMMA:
                at += 1
            slot = number_slot[field]
            if slot >= 0:
                value[slot, row], unreadable[slot, row] = _decimal(data, begin, at)
            slot = letter_slot[field]
            if slot >= 0:
                letter[slot, row] = BLANK if at <= begin else data[begin] if at == begin + 1 else LONGER
            field += 1
            at = min(at + 1, end)


@njit(cache=True, nogil=True)
def keep_possible(
    rows: Ints,
    value: Floats,
    low: float,
    high: float,
    full_turn: float,
    kept_row: Offsets,
    kept_value: Floats,
) -> int:
    """Copy the values within the limits and their rows; returns how many there are.

    A value equal to ``full_turn`` becomes 0; missing ones are dropped.
    """
    kept = 0
    for k in range(len(rows)):
        one = value[k]
        if low <= one <= high:
            kept_row[kept] = rows[k]
            kept_value[kept] = 0.0 if one == full_turn else one
            kept += 1
    return kept


@njit(cache=True, nogil=True)
def count_by_source(
    usable: Bools, address: Ints, device: Ints, devices: int, addresses: int, time_s: Floats, gap_s: float
) -> tuple[Ints, float]:
    """Count the usable sentences of each source (address by device), and the seconds outside longer gaps."""
    count = np.zeros(addresses * devices, dtype=np.int64)
    awake_s = 0.0
    for row in range(len(usable)):
        if usable[row]:
            count[address[row] * devices + device[row]] += 1
        if row:
            step = time_s[row] - time_s[row - 1]
            if 0.0 < step < gap_s:
                awake_s += step
    return count, awake_s


@njit(cache=True, nogil=True)
def mark_repeats(
    usable: Bools,
    address: Ints,
    device: Ints,
    devices: int,
    time_s: Floats,
    fingerprint: NDArray[np.uint32],
    window_s: Floats,
    repeat: Bools,
) -> None:
    """Mark usable sentences equal to one of the two before them from the same source, within a window.

    ``window_s`` is per source (address by device); the other arrays per sentence.
    """
    last = np.full(len(window_s), -1, dtype=np.int64)
    last_but_one = np.full(len(window_s), -1, dtype=np.int64)
    for row in range(len(usable)):
        if not usable[row]:
            continue
        mine = address[row] * devices + device[row]
        for earlier in (last[mine], last_but_one[mine]):
            if earlier >= 0 and fingerprint[earlier] == fingerprint[row]:
                repeat[row] |= 0.0 <= time_s[row] - time_s[earlier] < window_s[mine]
        last_but_one[mine] = last[mine]
        last[mine] = row


@njit(cache=True, nogil=True)
def _mean_of_line(
    time_s: Floats, value: Floats, inside: int, low_s: float, high_s: float, bridge_s: float, otherwise: float
) -> float:
    """Mean over low..high of the line through the readings, the first of them within being ``inside``."""
    size = len(time_s)
    area = 0.0
    width = 0.0
    for k in range(max(inside, 1), size):
        start, stop = time_s[k - 1], time_s[k]
        if start >= high_s:
            break
        step = stop - start
        if 0.0 < step <= bridge_s:
            slope = (value[k] - value[k - 1]) / step
            left, right = max(start, low_s), min(stop, high_s)
            if right > left:
                middle = (left + right) / 2
                area += (value[k - 1] + slope * (middle - start)) * (right - left)
                width += right - left
    return area / width if width > 0.0 else otherwise


@njit(cache=True, nogil=True)
def resample(
    time_s: Floats,
    value: Floats,
    base_s: Floats,
    bridge_s: float,
    near_s: float,
    average: bool,
    result: Floats,
    age_s: Floats,
) -> None:
    """Bring readings in time order to the base times, filling ``result`` and ``age_s`` (NaN where there is none).

    Between two readings no more than ``bridge_s`` apart values are interpolated; elsewhere the nearest reading counts
    within ``near_s``. With ``average``, the interpolated line is averaged over ``near_s`` to either side, which
    smooths without delay.
    """
    size = len(time_s)
    after = 0
    window = 0
    for k in range(len(base_s)):
        base = base_s[k]
        while after < size and time_s[after] < base:
            after += 1
        result[k] = np.nan
        age_s[k] = np.nan
        ahead = time_s[after] - base if after < size else np.inf
        behind = base - time_s[after - 1] if after > 0 else np.inf
        if ahead == 0.0:
            behind = 0.0
        if ahead + behind <= bridge_s:
            if ahead == 0.0:
                result[k] = value[after]
            else:
                share = behind / (ahead + behind)
                result[k] = value[after - 1] + share * (value[after] - value[after - 1])
        elif min(ahead, behind) <= near_s:
            result[k] = value[after] if ahead < behind else value[after - 1]
        else:
            continue
        age_s[k] = min(ahead, behind)
        if average:
            while window < size and time_s[window] < base - near_s:
                window += 1
            result[k] = _mean_of_line(
                time_s, value, window, base - near_s, base + near_s, bridge_s, result[k]
            )


@njit(cache=True, nogil=True)
def place_between(
    rows: Ints, time_s: Floats, spacing_s: float, usual_rows: int, broken: Bools, placed_s: Floats
) -> None:
    """Place every row in time between the rows whose times are known (both in order, broken per interval).

    Rows are spread evenly over an interval. In a broken one the first ``usual_rows`` belong to its start and the
    others to its end, ``spacing_s`` apart, as do the rows before the first and behind the last known one.
    """
    last = len(rows) - 1
    for row in range(rows[0]):
        placed_s[row] = time_s[0] - (rows[0] - row) * spacing_s
    for k in range(last):
        begin, end = rows[k], rows[k + 1]
        pace = (time_s[k + 1] - time_s[k]) / (end - begin) if end > begin else 0.0
        for row in range(begin, end):
            if not broken[k]:
                placed_s[row] = time_s[k] + (row - begin) * pace
            elif row < begin + usual_rows:
                placed_s[row] = time_s[k] + (row - begin) * spacing_s
            else:
                placed_s[row] = time_s[k + 1] - (end - row) * spacing_s
    for row in range(rows[last], len(placed_s)):
        placed_s[row] = time_s[last] + (row - rows[last]) * spacing_s


@njit(cache=True, nogil=True)
def count_characters(
    time_s: Floats, length: Bytes, talker: Ints, start_s: float, span_s: float, cells: Floats
) -> None:
    """Add each sentence's length to its cell of ``cells`` (talkers, spans of time from ``start_s``)."""
    for row in range(len(time_s)):
        cells[talker[row], int((time_s[row] - start_s) / span_s)] += length[row]


@njit(cache=True, nogil=True)
def in_order(time_s: Floats, row: Offsets) -> bool:
    """Whether the times of the rows never go back; a missing time is out of order."""
    for k in range(1, len(row)):
        if not time_s[row[k]] >= time_s[row[k - 1]]:
            return False
    return True


@njit(cache=True, nogil=True)
def steps_within(time_s: Floats, row: Offsets, limit_s: float) -> tuple[int, float]:
    """Count the steps between the times of the rows above 0 and up to a limit, and add them up."""
    count = 0
    total_s = 0.0
    for k in range(1, len(row)):
        step = time_s[row[k]] - time_s[row[k - 1]]
        if 0.0 < step <= limit_s:
            count += 1
            total_s += step
    return count, total_s


@njit(cache=True, nogil=True)
def steps_capped(time_s: Floats, row: Offsets, limit_s: float) -> float:
    """Add up the steps between the times of the rows, each counted for no more than a limit."""
    total_s = 0.0
    for k in range(1, len(row)):
        step = time_s[row[k]] - time_s[row[k - 1]]
        if step > 0.0:
            total_s += min(step, limit_s)
    return total_s


@njit(cache=True, nogil=True)
def smooth(values: np.ndarray, keep: float) -> np.ndarray:
    """Filter rows (windows, steps), real or complex, to first order, each from its first value on."""
    out = values.copy()
    for i in range(values.shape[0]):
        for j in range(1, values.shape[1]):
            out[i, j] = keep * out[i, j - 1] + (1 - keep) * values[i, j]
    return out


@njit(cache=True, nogil=True)
def longest_rise(values: Floats) -> Ints:
    """Indices of a longest non-decreasing subsequence."""
    size = len(values)
    tails = np.empty(size, dtype=np.int64)
    before = np.full(size, -1, dtype=np.int64)
    length = 0
    for k in range(size):
        low, high = 0, length
        if length and values[k] >= values[tails[length - 1]]:
            low = length
        while low < high:
            middle = (low + high) // 2
            if values[tails[middle]] <= values[k]:
                low = middle + 1
            else:
                high = middle
        before[k] = tails[low - 1] if low else -1
        tails[low] = k
        length = max(length, low + 1)
    chain = np.empty(length, dtype=np.int64)
    at = tails[length - 1] if length else -1
    for place in range(length - 1, -1, -1):
        chain[place] = at
        at = before[at]
    return chain
