"""The Passage: what a log said, as it said it, with the account of everything that was not used."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.talkers import INSTRUMENTS

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


def seconds_of(frame: pd.DataFrame) -> Floats:
    """Seconds since 1970-01-01 UTC of a frame's rows."""
    seconds: Floats = frame.index.to_numpy(dtype="datetime64[ns]").astype(np.int64) / 1e9
    return seconds


def column(frame: pd.DataFrame, name: str) -> Floats:
    """A frame's column as floats, NaN throughout where it is absent."""
    if name in frame:
        return frame[name].to_numpy(dtype=float)
    return np.full(len(frame), np.nan)


def mean_known(values: Floats) -> float:
    """Mean of the values that are known; NaN where none is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def nearest_fixes(frame: pd.DataFrame, time_s: Floats, within_s: float) -> Ints:
    """Rows of the positions nearest to some times [s since 1970-01-01 UTC]; -1 where none lies near enough."""
    known = np.flatnonzero(np.isfinite(column(frame, "lat_deg")) & np.isfinite(column(frame, "lon_deg")))
    if not known.size:
        return np.full(len(time_s), -1, dtype=np.int64)
    at_s = seconds_of(frame)[known]
    after = np.searchsorted(at_s, time_s).clip(0, known.size - 1)
    before = np.maximum(after - 1, 0)
    nearest = np.where(np.abs(at_s[after] - time_s) < np.abs(at_s[before] - time_s), after, before)
    rows: Ints = np.where(np.abs(at_s[nearest] - time_s) <= within_s, known[nearest], -1)
    return rows


def spans(mask: Bools) -> list[tuple[int, int]]:
    """First and last row of every stretch of True."""
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    firsts, lasts = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


class SourceKey(NamedTuple):
    """Where a reading came from: channel, talker, formatter and instance ("" where there is only one)."""

    channel: str
    talker: str
    formatter: str
    instance: str

    @property
    def name(self) -> str:
        """What it is called in its sentences: "GPRMC", with the device where there are several."""
        return " ".join(part for part in (self.talker + self.formatter, self.instance) if part)

    @property
    def words(self) -> str:
        """Its name, and what kind of instrument speaks where the talker tells it: "HCHDG (magnetic compass)"."""
        kind = INSTRUMENTS.get(self.talker)
        return f"{self.name} ({kind})" if kind else self.name


class Sentences(NamedTuple):
    """What all readings of a sentence share; arrays over all sentences of a passage.

    ``time_s`` is seconds since 1970-01-01 UTC, NaN where the log has no time; ``line`` counts from 1 within
    the file of index ``file``; ``verified`` says that the sentence carried a checksum and it matched.
    """

    time_s: Floats
    verified: Bools
    line: NDArray[np.int32]
    file: NDArray[np.int16]


@dataclass(frozen=True)
class Series:
    """All readings of one source in time order: ``value`` in ``unit``, and the ``row`` of each one's sentence.

    A row and a value are all that is kept of a reading, so that a log of a gigabyte fits in memory; ``time_s``
    and the like are looked up when asked for.
    """

    key: SourceKey
    unit: str
    row: NDArray[np.int32]
    value: Floats
    sentences: Sentences

    @classmethod
    def alone(
        cls,
        key: SourceKey,
        unit: str,
        time_s: Floats,
        value: Floats,
        verified: Bools,
        line: NDArray[np.int32],
        file: NDArray[np.int16],
    ) -> "Series":
        """Make a series whose sentences carry nothing else; all arrays have one length."""
        return cls(
            key, unit, np.arange(len(value), dtype=np.int32), value, Sentences(time_s, verified, line, file)
        )

    @property
    def span_s(self) -> tuple[float, float]:
        """Times of the first and the last reading that have one; NaN where none has."""
        first, last = self.sentences.time_s[self.row[[0, -1]]]
        return float(first), float(np.nanmax(self.time_s) if np.isnan(last) and not np.isnan(first) else last)

    @property
    def time_s(self) -> Floats:
        """Seconds since 1970-01-01 UTC of each reading."""
        return self.sentences.time_s[self.row]

    @property
    def verified(self) -> Bools:
        """Which readings a checksum vouches for."""
        return self.sentences.verified[self.row]

    @property
    def line(self) -> NDArray[np.int32]:
        """Line of each reading in its file."""
        return self.sentences.line[self.row]

    @property
    def file(self) -> NDArray[np.int16]:
        """Index of each reading's file."""
        return self.sentences.file[self.row]


@dataclass(frozen=True)
class Source:
    """A row of the source table. ``coverage`` is the fraction of the passage with a fresh reading, 0..1."""

    key: SourceKey
    count: int
    rate_hz: float | None
    coverage: float | None
    chosen: bool


@dataclass(frozen=True)
class Fact:
    """One fact about the log itself: a stable kebab-case id, a sentence, and the numbers behind it."""

    id: str
    text: str
    numbers: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Gap:
    """A stretch without a single sentence; seconds since 1970-01-01 UTC."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Counts:
    """The account of a log. accepted + sum(rejected) + sum(ignored) = sentences.

    ``rejected`` and ``ignored`` map a reason to a count; ``first_lines`` maps a reason to the first lines
    it was met on, each "file:line". ``out_of_range`` counts readings kept out per channel, of which
    ``typical_impossible`` is the median, in the channel's unit.
    """

    bytes: int
    lines: int
    sentences: int
    accepted: int
    rejected: Mapping[str, int]
    ignored: Mapping[str, int]
    first_lines: Mapping[str, tuple[str, ...]]
    out_of_range: Mapping[str, int]
    unknown_formatters: Mapping[str, int]
    typical_impossible: Mapping[str, float] = field(default_factory=dict)


NO_ROWS = "no reading of this boat's instruments has a time"
"""Why nothing can be said of a passage whose frame is empty."""


@dataclass(frozen=True)
class Passage:
    """A log read: the account, the facts, every source's series, and the aligned frame as shown.

    ``frame`` has a UTC ``time_utc`` index at the time base and the columns of the conventions; it is empty
    where the log has no time. ``age`` has the same shape: seconds from each value to its nearest reading.
    ``events`` are rows of marks and calls (``time_utc, kind, text, lat_deg, lon_deg``). ``ais`` holds the
    assembled messages, undecoded (``time_s, own, channel, talker, payload, fill_bits``). ``waypoints`` are the
    changes of where the log says it is going (``time_utc, formatter, name, origin, lat_deg, lon_deg, names, part``).
    """

    files: tuple[str, ...]
    counts: Counts
    facts: tuple[Fact, ...]
    series: Mapping[SourceKey, Series]
    sources: tuple[Source, ...]
    time_basis: str
    gaps: tuple[Gap, ...]
    frame: pd.DataFrame
    age: pd.DataFrame
    events: pd.DataFrame
    ais: pd.DataFrame
    waypoints: pd.DataFrame = field(default_factory=pd.DataFrame)


def readings_of(passage: Passage, channel: str) -> tuple[Floats, Floats]:
    """Times [s since 1970-01-01 UTC] and values of the source chosen for a channel, in order; empty without one."""
    chosen = next((one.key for one in passage.sources if one.chosen and one.key.channel == channel), None)
    one = passage.series.get(chosen) if chosen is not None else None
    if one is None:
        return np.empty(0), np.empty(0)
    time_s, value = one.time_s, one.value
    known = np.isfinite(time_s)
    return (time_s, value) if known.all() else (time_s[known], value[known])
