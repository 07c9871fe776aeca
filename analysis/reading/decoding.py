"""Evaluate the sentence table over columns of sentences."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.channels import CHANNELS
from analysis.kernels import (
    BLANK,
    COMMA,
    LONGER,
    MATCHES,
    Bytes,
    Offsets,
    find_edges,
    keep_possible,
    read_columns,
)
from analysis.passage import Bools, Floats, Ints
from analysis.reading.digits import Words, decimals, word_at
from analysis.reading.framing import Frames
from analysis.sentences import (
    AnyOther,
    BowAngle,
    Celsius,
    Clock,
    Condition,
    Count,
    Degrees,
    Distance,
    Expression,
    First,
    Letter,
    Lettered,
    NoLetter,
    NotZero,
    Number,
    Sentence,
    Speed,
    Sum,
    Tenths,
    wanted_fields,
)
from analysis.transducers import Transducer, transducer
from analysis.vectors import wrap_signed_deg

KNOTS = {"N": 1.0, "K": 1 / 1.852, "M": 3600 / 1852, "S": 1609.344 / 1852}
MILES = {"N": 1.0, "K": 1 / 1.852, "S": 1609.344 / 1852, "M": 1 / 1852}
_SIDES = {"S": "NS", "W": "EW", "R": "LR"}
_LONGEST_NAME = 24
_IMPOSSIBLE_SAMPLE = 100
_MOST_FIELDS = 64
_HIGHEST_M, _WRAP = 6400.0, 6553.6
_KELVIN, _FAHRENHEIT = ord("K"), ord("F")


class Columns:
    """The fields of sentences of one formatter, read column by column on demand.

    ``rows`` index into the chunk's frames, shape (n,). ``unreadable`` collects the rows in which a field that must
    be a number is not one.
    """

    def __init__(self, frames: Frames, rows: Ints, layout: Sentence | None = None) -> None:
        self._text = frames.text
        self._start, self._stop = frames.start[rows], frames.body_end[rows]
        self._most = int(frames.commas[rows].max(initial=0))
        self._numbers: dict[int, tuple[Floats, Bools]] = {}
        self._letters: dict[int, Bytes] = {}
        self.unreadable: Bools = np.zeros(len(rows), dtype=bool)
        if layout is not None:
            self._read(layout)

    def _read(self, layout: Sentence) -> None:
        """Read all fields that a layout wants at once."""
        numbers, letters = wanted_fields(layout)
        number_slot, letter_slot = (
            _slots(wanted, max((0, *numbers, *letters))) for wanted in (numbers, letters)
        )
        shape = len(self._start)
        value = np.empty((len(numbers), shape))
        unreadable = np.empty((len(numbers), shape), dtype=bool)
        letter = np.empty((len(letters), shape), dtype=np.uint8)
        read_columns(
            self._text.bytes, self._start, self._stop, number_slot, letter_slot, value, unreadable, letter
        )
        for slot, k in enumerate(numbers):
            odd = np.flatnonzero(unreadable[slot])
            if odd.size:
                begin, end = self.bounds(k)
                value[slot, odd], unreadable[slot, odd] = decimals(self._text, begin[odd], end[odd])
        self._numbers = {k: (value[slot], unreadable[slot]) for slot, k in enumerate(numbers)}
        self._letters = {k: letter[slot] for slot, k in enumerate(letters)}

    @cached_property
    def _edges(self) -> NDArray[np.int32]:
        edges = np.empty((self._most + 2, len(self._start)), dtype=np.int32)
        find_edges(self._text.bytes, self._start, self._stop, edges)
        return edges

    def bounds(self, k: int) -> tuple[Offsets, Offsets]:
        """Byte offsets of field ``k``; empty where a sentence has fewer fields."""
        end: Offsets = self._edges[min(k, self._most) + 1]
        return (np.minimum(self._edges[k] + np.int32(1), end) if k <= self._most else end), end

    def number(self, k: int) -> Floats:
        """Field ``k`` as a number, NaN where blank; a field that is not a number marks its row unreadable."""
        value = self.lenient(k)
        self.unreadable |= self._numbers[k][1]
        return value

    def lenient(self, k: int) -> Floats:
        """Field ``k`` as a number, NaN where blank or not a number."""
        if k not in self._numbers:
            self._numbers[k] = decimals(self._text, *self.bounds(k))
        return self._numbers[k][0]

    def unclear(self) -> Bools:
        """Rows in which any field read so far is not of its kind: tolerable only where a checksum vouches for it."""
        unclear = self.unreadable.copy()
        for _, bad in self._numbers.values():
            unclear |= bad
        for letters in self._letters.values():
            unclear |= letters == LONGER
        return unclear

    def letter(self, k: int) -> Bytes:
        """Field ``k`` as one byte, BLANK where it is empty or absent, LONGER where it has more."""
        if k not in self._letters:
            begin, end = self.bounds(k)
            one = np.where(end - begin == 1, self._text.bytes[begin], np.uint8(LONGER))
            self._letters[k] = np.where(end == begin, BLANK, one).astype(np.uint8)
        return self._letters[k]

    def side(self, k: int, negative: str) -> Bytes:
        """Field ``k`` as the letter of a side, one of them ``negative``; any other marks its row unreadable."""
        letter = self.letter(k)
        self.unreadable |= ~_among(_SIDES[negative])[letter] & (letter != BLANK)
        return letter

    def word(self, k: int, offset: int = 0) -> Words:
        """Eight bytes of field ``k`` from ``offset``, zero beyond its end."""
        begin, end = self.bounds(k)
        return word_at(self._text, begin + offset, end - begin - offset)

    def text(self, k: int, row: int) -> str:
        """Field ``k`` of one row as text, without surrounding blanks."""
        begin, end = self.bounds(k)
        return bytes(self._text.bytes[begin[row] : end[row]]).decode("ascii", "replace").strip()


def evaluate(expression: Expression, columns: Columns) -> Floats:
    """Evaluate one expression of the sentence table; missing is NaN."""
    match expression:
        case Number(k, scale):
            value = columns.number(k)
            return value if scale == 1.0 else value * scale
        case Tenths(k):
            value = columns.number(k)
            return np.where((value > _HIGHEST_M) & (value < _WRAP), value - _WRAP, value)
        case Lettered(k, letter, negative):
            value, sign = columns.number(k), columns.side(letter, negative)
            value = np.where(sign == ord(negative), -value, value)
            return np.where((sign <= LONGER) & (value >= 0), np.nan, value)
        case Degrees(k, letter, negative):
            return degrees(columns.number(k), columns.side(letter, negative), negative)
        case BowAngle(k, side):
            return _bow_angle(columns.number(k), None if side is None else columns.letter(side))
        case Speed(k, unit):
            return columns.number(k) * _by_letter(columns.letter(unit), KNOTS)
        case Distance(k, unit):
            return columns.number(k) * _by_letter(columns.letter(unit), MILES)
        case Celsius(k, unit):
            value, units = columns.number(k), columns.letter(unit)
            value = np.where(units == _FAHRENHEIT, (value - 32) / 1.8, value)
            return np.where(units == _KELVIN, value - 273.15, value)
        case First(options):
            value = evaluate(options[0], columns)
            for option in options[1:]:
                lacking = np.isnan(value) | (value == 0)
                if lacking.any():
                    other = evaluate(option, columns)
                    value = np.where(lacking & ~np.isnan(other), other, value)
            return value
        case Sum(terms):
            value = evaluate(terms[0], columns)
            for term in terms[1:]:
                value = value + np.nan_to_num(evaluate(term, columns))
            return value % 360
        case Count(first, last):
            filled = [columns.letter(k) != BLANK for k in range(first, last + 1)]
            count: Floats = np.sum(filled, axis=0, dtype=np.float64)
            return count


def _by_letter(letters: Bytes, table: dict[str, float]) -> Floats:
    factor = np.full(256, np.nan)
    for letter, scale in table.items():
        factor[ord(letter)] = scale
    return factor[letters]


def degrees(value: Floats, letter: Bytes, negative: str) -> Floats:
    """Turn ddmm.mmm and hemisphere letters into degrees; inf where the minutes are no minutes."""
    whole = np.floor(value / 100)
    minutes = value - 100 * whole
    angle = np.where(minutes < 60, whole + minutes / 60, np.inf)
    angle = np.where(np.isnan(value) | (letter <= LONGER), np.nan, angle)
    return np.where(letter == ord(negative), -angle, angle)


def _bow_angle(value: Floats, side: Bytes | None) -> Floats:
    if side is not None:
        value = np.where(side == ord("L"), -value, value)
        value = np.where((side == ord("L")) | (side == ord("R")), value, np.nan)
    folded = wrap_signed_deg(value)
    return np.where(np.abs(value) <= 360, folded, np.where(np.isnan(value), np.nan, np.inf))


@cache
def _among(letters: str) -> Bools:
    table = np.zeros(256, dtype=bool)
    table[list(letters.encode())] = True
    return table


def holds(condition: Condition, columns: Columns) -> Bools:
    """Where a condition of the sentence table is true."""
    match condition:
        case Letter(k, allowed, blank):
            passes: Bools = _among(allowed)[columns.letter(k)]
            return passes | (columns.letter(k) == BLANK) if blank else passes
        case NoLetter(k, barred):
            among: Bools = _among(barred)[columns.letter(k)]
            return ~among
        case AnyOther(k, barred):
            word = columns.word(k)
            remaining = np.zeros(len(word), dtype=bool)
            for shift in range(8):
                byte = (word >> np.uint64(8 * shift)) & np.uint64(255)
                remaining |= (byte != 0) & (byte != ord(barred))
            empty: Bools = word == 0
            return remaining | empty
        case NotZero(k):
            nonzero: Bools = columns.number(k) != 0
            return nonzero


def _slots(wanted: tuple[int, ...], last: int) -> Ints:
    slots = np.full(last + 1, -1, dtype=np.int64)
    slots[list(wanted)] = np.arange(len(wanted))
    return slots


@dataclass
class Decoded:
    """What one formatter's sentences in a chunk gave; ``row`` arrays index into the chunk's frames.

    ``readings`` maps (channel, unit, transducer name) to rows and values within the physically possible;
    ``clock`` holds rows, seconds since midnight, days since 1970-01-01 (NaN where absent) and whether the
    sender called its data valid. ``impossible`` holds a sample of the values that ``out_of_range`` counts.
    """

    readings: dict[tuple[str, str, str], tuple[Offsets, Floats]] = field(default_factory=dict)
    malformed: list[Ints] = field(default_factory=list)
    implausible: list[Ints] = field(default_factory=list)
    out_of_range: dict[str, int] = field(default_factory=dict)
    impossible: dict[str, list[Floats]] = field(default_factory=dict)
    clock: list[tuple[Ints, Floats, Floats, Bools]] = field(default_factory=list)

    def add(self, key: tuple[str, str, str], rows: Ints, value: Floats) -> None:
        """Keep the finite values that are physically possible, and count the others."""
        channel = CHANNELS.get(key[0])
        low, high = (channel.low, channel.high) if channel else (-np.inf, np.inf)
        full_turn = 360.0 if channel is not None and channel.kind == "direction" else np.nan
        kept_row, kept_value = np.empty(len(rows), dtype=np.int32), np.empty(len(rows))
        kept = keep_possible(rows, value, low, high, full_turn, kept_row, kept_value)
        if kept < len(rows):
            beyond = (value < low) | (value > high)
            lost = rows[beyond]
            if len(lost):
                self.implausible.append(lost)
                self.impossible.setdefault(key[0], []).append(value[beyond][:_IMPOSSIBLE_SAMPLE])
                self.out_of_range[key[0]] = self.out_of_range.get(key[0], 0) + len(lost)
        row, value = kept_row[:kept], kept_value[:kept]
        if len(value):
            if key in self.readings:
                before_row, before = self.readings[key]
                row, value = np.concatenate([before_row, row]), np.concatenate([before, value])
            self.readings[key] = row, value


def decode(frames: Frames, rows: Ints, layouts: tuple[Sentence, ...]) -> Decoded:
    """Decode sentences of one formatter by its layouts; rows with a field count of none are malformed."""
    decoded = Decoded()
    commas = frames.commas[rows]
    left = np.ones(len(rows), dtype=bool)
    for layout in layouts:
        fits = _among_counts(layout.counts)[np.minimum(commas, _MOST_FIELDS)]
        if not fits.all() and not layout.exact:
            surplus = _among_counts(layout.counts)[np.minimum(commas - 1, _MOST_FIELDS)] & left
            last = frames.text.bytes[frames.body_end[rows] - 1] == COMMA
            fits |= surplus & last & ~fits
        fits &= left
        left &= ~fits
        if fits.all():
            _decode_layout(frames, rows, layout, decoded)
        elif fits.any():
            _decode_layout(frames, rows[fits], layout, decoded)
    if left.any():
        decoded.malformed.append(rows[left])
    return decoded


@cache
def _among_counts(counts: frozenset[int]) -> Bools:
    table = np.zeros(_MOST_FIELDS + 1, dtype=bool)
    table[list(counts)] = True
    return table


def _decode_layout(frames: Frames, rows: Ints, layout: Sentence, decoded: Decoded) -> None:
    columns = Columns(frames, rows, layout)
    valid = np.ones(len(rows), dtype=bool)
    for condition in layout.valid:
        valid &= holds(condition, columns)
    values: list[tuple[str, Floats]] = []
    for reading in layout.readings:
        value = evaluate(reading.value, columns)
        keep = valid
        for condition in reading.when:
            keep = keep & holds(condition, columns)
        values.append((reading.channel, value if keep.all() else np.where(keep, value, np.nan)))
    for (name, lat), (_, lon) in pairwise(values):
        if name.endswith("lat_deg"):  # what is left of an impossible position is none
            lat_off, lon_off = np.abs(lat) > 90, np.abs(lon) > 180
            lon[lat_off] = np.nan
            lat[lon_off & ~lat_off] = np.nan
    for k in layout.numbers:
        columns.number(k)
    sound = ~(columns.unreadable | (columns.unclear() & (frames.checksum[rows] != MATCHES)))
    if not sound.all():
        decoded.malformed.append(rows[~sound])
    for channel, value in values:
        key = (channel, CHANNELS[channel].unit, "")
        decoded.add(key, rows[sound], value[sound]) if not sound.all() else decoded.add(key, rows, value)
    if layout.clock is not None:
        time_of_day_s, day = clock_of(layout.clock, columns)
        timed = sound & ~np.isnan(time_of_day_s)
        dated = sound & ~np.isnan(day)
        if (timed | dated).any():
            held = timed | dated
            decoded.clock.append((rows[held], time_of_day_s[held], day[held], valid[held]))


def clock_of(clock: Clock, columns: Columns) -> tuple[Floats, Floats]:
    """Read seconds since midnight and days since 1970-01-01; NaN where absent or no such time exists."""
    time = columns.lenient(clock.time)
    hours, minutes, seconds = time // 10000, time // 100 % 100, time % 100
    proper = (hours < 24) & (minutes < 60) & (seconds < 61) & (time >= 0)
    time_of_day_s = np.where(proper, hours * 3600 + minutes * 60 + np.round(seconds, 4), np.nan)
    if clock.date is not None:
        date = columns.lenient(clock.date)
        day, month, year = date // 10000, date // 100 % 100, date % 100
        year = year + np.where(year >= 70, 1900, 2000)
    elif clock.day_month_year is not None:
        day, month, year = (columns.lenient(k) for k in clock.day_month_year)
    else:
        return time_of_day_s, np.full(len(time), np.nan)
    return time_of_day_s, days_since_1970(year, month, day)


def days_since_1970(year: Floats, month: Floats, day: Floats) -> Floats:
    """Days since 1970-01-01 of Gregorian dates; NaN where a part is missing or no such date exists."""
    proper = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year >= 1900) & (year < 2200)
    months = np.where(proper, (year - 1970) * 12 + month - 1, 0).astype(np.int64)
    starts = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    length = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64) - starts
    return np.where(proper & (day <= length), starts + day - 1, np.nan)


def decode_transducers(frames: Frames, rows: Ints) -> Decoded:
    """Decode XDR sentences: every group of type, value, unit, name; the last group may be cut short."""
    decoded = Decoded()
    columns = Columns(frames, rows)
    commas = frames.commas[rows]
    short = commas < 2
    for group in range(int(commas.max(initial=0) + 2) // 4):
        k = 4 * group
        value = columns.number(k + 2)
        for key, names, scaled in _by_transducer(columns, k, value):
            decoded.add((key.channel, key.unit, names), rows[scaled[0]], scaled[1])
    bad = columns.unreadable | short
    if bad.any():
        decoded.malformed.append(rows[bad])
        kept = np.zeros(len(frames), dtype=bool)
        kept[rows[~bad]] = True
        decoded.readings = {
            key: (at[kept[at]], value[kept[at]]) for key, (at, value) in decoded.readings.items()
        }
    return decoded


def _by_transducer(
    columns: Columns, k: int, value: Floats
) -> Iterator[tuple[Transducer, str, tuple[Ints, Floats]]]:
    """Split one group of quadruples by what transducer it is: rows and values in the channel's unit."""
    held = ~np.isnan(value)
    mixed = np.zeros(len(value), dtype=np.uint64)
    begin, end = columns.bounds(k + 4)
    longest = min(int((end - begin).max(initial=0)), _LONGEST_NAME)
    for part in (
        columns.word(k + 1),
        columns.word(k + 3),
        *(columns.word(k + 4, at) for at in range(0, longest, 8)),
    ):
        mixed = (mixed ^ part) * np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(29)
    for code in np.unique(mixed[held]):
        at = np.flatnonzero(held & (mixed == code))
        kind, unit, name = (columns.text(k + j, int(at[0])) for j in (1, 3, 4))
        found = transducer(kind, unit, name)
        yield found, name, (at, _in_channel_unit(found, value[at]))


def _in_channel_unit(found: Transducer, value: Floats) -> Floats:
    if found.scale is not None:
        return value * found.scale + found.shift
    return np.select([value < 2, value > 20000], [value * 1000, value / 100], value)
