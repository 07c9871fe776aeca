"""Read whole logs: pieces decoded side by side, joined into one account with one clock per file."""

import ctypes
import hashlib
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import LogError
from analysis.kernels import count_by_source, mark_repeats
from analysis.passage import Counts, Fact, Floats, Gap, Ints, Sentences, Series, SourceKey
from analysis.reading import ais, clock, facts, rhythm
from analysis.reading.calls import Event
from analysis.reading.clock import Anchors, Stamps, Timeline
from analysis.reading.files import PIECE_BYTES, BrokenOffError, LogFile, find_files, pieces
from analysis.reading.pieces import IGNORED, REJECTED, Piece, ReadingKey, Verdict, read_piece, split_address
from analysis.reading.sources import WORKERS, Collected, Said, split_by_source
from analysis.reading.waypoints import Waypoint

ECHO_S = 0.06
CLOCK_ECHO_S = 5.0
SLOW_HZ, FLOOD_HZ = 3.0, 12.0
NORMALLY_CHECKED, HABIT, ENOUGH = 0.9, 3, 100
CLOCKED = ("RMC", "GGA", "GNS", "GLL", "ZDA", "GST")
UNIQUE = ("VDM", "VDO")  # the second halves of different messages may be equal
GAP_S = 30.0
PIECES_BETWEEN_TRIMS = 32
FIRST_LINES = 5
_NAMED_DATE = re.compile(r"(?<!\d)(20\d\d)[-_.]?([01]\d)[-_.]?([0-3]\d)(?!\d)")
_NAMED_EPOCH = re.compile(r"(?<!\d)(1[0-9]\d{8})(\d{3})?(?!\d)")
_DAY_S = 86400.0

Progress = Callable[[int], None]
"""Called with the number of bytes read since the last call."""


@dataclass(frozen=True)
class Decoded:
    """All a log said, before alignment; see Passage for the meaning of the fields.

    ``logs`` are the streams that ``files`` names, ``verdicts`` what became of each of ``sentences``.
    """

    files: tuple[str, ...]
    counts: Counts
    facts: tuple[Fact, ...]
    series: dict[SourceKey, Series]
    time_basis: str
    gaps: tuple[Gap, ...]
    events: pd.DataFrame
    waypoints: pd.DataFrame
    ais: pd.DataFrame
    logs: tuple[LogFile, ...]
    sentences: Sentences
    verdicts: np.ndarray


@dataclass
class _File:
    """The joined pieces of one file; arrays over its sentences."""

    log: LogFile
    bytes: int = 0
    lines: int = 0
    broken_off: bool = False
    mended: int = 0
    line: Ints = field(default_factory=lambda: np.empty(0, np.int32))
    address: Ints = field(default_factory=lambda: np.empty(0, np.int16))
    device: Ints = field(default_factory=lambda: np.empty(0, np.int16))
    stamps: Stamps = field(
        default_factory=lambda: Stamps(np.empty(0), np.empty(0, np.int8), np.empty(0, bool))
    )
    verdict: np.ndarray = field(default_factory=lambda: np.empty(0, np.uint8))
    verified: np.ndarray = field(default_factory=lambda: np.empty(0, bool))
    fingerprint: np.ndarray = field(default_factory=lambda: np.empty(0, np.uint32))
    length: np.ndarray = field(default_factory=lambda: np.empty(0, np.uint8))
    readings: dict[ReadingKey, Collected] = field(default_factory=dict)
    out_of_range: Counter[str] = field(default_factory=Counter)
    impossible: dict[str, list[Floats]] = field(default_factory=dict)
    clock: list[tuple[str, Ints, Floats, Floats, np.ndarray]] = field(default_factory=list)
    fragments: pd.DataFrame = field(default_factory=pd.DataFrame)
    events: list[Event] = field(default_factory=list)
    waypoints: list[Waypoint] = field(default_factory=list)
    time_s: Floats = field(default_factory=lambda: np.empty(0))

    @property
    def name(self) -> str:
        return self.log.name


class _Names:
    """Gives each distinct name a number."""

    def __init__(self, *names: str) -> None:
        self.index: dict[str, int] = {name: k for k, name in enumerate(names)}

    def codes(self, names: list[str]) -> np.ndarray:
        return np.array([self.index.setdefault(name, len(self.index)) for name in names], dtype=np.int16)

    def names(self) -> list[str]:
        return list(self.index)


def read(paths: list[Path], *, date: date | None = None, progress: Progress | None = None) -> Decoded:
    """Read logs and join them in time.

    ``date`` dates a log that has none and exposes a GNSS week rollover. Raises LogError where a path does
    not exist, may not be read, or no file holds a sentence.
    """
    given = find_files(paths)
    addresses, devices = _Names(), _Names("")
    loaded: list[_File] = []
    found: list[Fact] = []
    seen: dict[str, str] = {}
    nothing_in: list[str] = []
    for log in given:
        digest = _digest(log)
        if digest in seen:
            same = "is given twice" if seen[digest] == log.name else f"holds the same as {seen[digest]}"
            found.append(Fact("same-file", f"{log.name} {same} and is read once."))
            continue
        seen[digest] = log.name
        file = _load(log, addresses, devices, progress)
        if len(file.line):
            loaded.append(file)
        else:
            nothing_in.append(log.name)
    if not loaded:
        raise LogError(_nothing_found(given, paths))
    if all(np.isin(file.verdict, REJECTED).all() for file in loaded):
        found.append(
            Fact("nothing-usable", "Not one sentence of the recording could be used; see what was rejected.")
        )
    found += [
        Fact("no-sentence", f"{name} holds no NMEA 0183 sentence and is left out.") for name in nothing_in
    ]
    large = _is_large(loaded)
    decoded = _join(loaded, addresses.names(), devices.names(), date, found)
    if large:
        loaded.clear()
        _give_back_memory()
    return decoded


def _nothing_found(given: list[LogFile], paths: list[Path]) -> str:
    names = ", ".join(str(path) for path in paths)
    if all(log.path.stat().st_size == 0 for log in given):
        return f"{names}: the file is empty; choose a log with NMEA 0183 sentences in it."
    return f"{names}: no NMEA 0183 sentence found; choose a log with lines such as $GPRMC,… or !AIVDM,…"


def _digest(log: LogFile) -> str:
    if log.member is not None:
        return f"{log.path}\0{log.member}"
    digest = hashlib.blake2b(digest_size=16)
    try:
        with log.path.open("rb") as stream:
            digest.update(stream.read(1 << 20))
            digest.update(str(log.path.stat().st_size).encode())
            if log.path.stat().st_size > 1 << 20:
                stream.seek(-(1 << 20), 2)
                digest.update(stream.read())
    except PermissionError as error:
        raise LogError(f"{log.path}: reading is not permitted; change the file's permissions.") from error
    except OSError as error:
        raise LogError(
            f"{log.path}: cannot be read ({error.strerror}); copy the log to this machine."
        ) from error
    return digest.hexdigest()


def _load(log: LogFile, addresses: _Names, devices: _Names, progress: Progress | None) -> _File:
    file = _File(log)
    parts: list[Piece] = []
    offsets: list[int] = [0]
    with ThreadPoolExecutor(WORKERS) as pool:
        waiting: list[tuple[int, Future[Piece]]] = []

        def finish() -> None:
            size, future = waiting.pop(0)
            part = future.result()
            part.line += file.lines
            file.lines += part.lines
            parts.append(part)
            for key, (rows, value) in part.readings.items():
                file.readings.setdefault(key, Collected()).add(rows + np.int32(offsets[-1]), value)
            part.readings.clear()
            offsets.append(offsets[-1] + len(part.line))
            if len(parts) % PIECES_BETWEEN_TRIMS == 0:
                _give_back_memory()
            if progress:
                progress(size)

        for data in _whole_pieces(log, file):
            waiting.append((len(data), pool.submit(read_piece, data)))
            file.bytes += len(data)
            if len(waiting) > WORKERS:
                finish()
        while waiting:
            finish()
    if offsets[-1]:
        _fill(file, parts, offsets, addresses, devices)
    if len(parts) >= PIECES_BETWEEN_TRIMS:
        parts.clear()
        _give_back_memory()
    return file


def _is_large(loaded: list[_File]) -> bool:
    """Whether freed memory is worth handing back between the steps."""
    return sum(file.bytes for file in loaded) >= PIECES_BETWEEN_TRIMS * PIECE_BYTES


def _give_back_memory() -> None:
    """Hand memory that pieces have freed back to the system, which the C library of Linux does not by itself."""
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if trim is not None:
        trim(0)


def _whole_pieces(log: LogFile, file: _File) -> Iterator[bytes]:
    try:
        yield from pieces(log)
    except BrokenOffError:
        file.broken_off = True


def _fill(file: _File, parts: list[Piece], offsets: list[int], addresses: _Names, devices: _Names) -> None:
    file.line = _end_to_end([part.line for part in parts])
    file.address = _end_to_end([addresses.codes(part.addresses)[part.address] for part in parts])
    file.device = _end_to_end([devices.codes(part.stamp.devices)[part.stamp.device] for part in parts])
    file.verdict = _end_to_end([part.verdict for part in parts])
    file.verified = _end_to_end([part.verified for part in parts])
    file.fingerprint = _end_to_end([part.fingerprint for part in parts])
    file.length = _end_to_end([part.length for part in parts])
    file.mended = sum(part.mended for part in parts)
    stamp_s = _end_to_end([part.stamp.stamp_s for part in parts])
    kind = _end_to_end([part.stamp.kind for part in parts])
    zoned = _end_to_end([part.stamp.zoned for part in parts])
    for part, offset in zip(parts, offsets, strict=False):
        file.out_of_range.update(part.out_of_range)
        for channel, values in part.impossible.items():
            file.impossible.setdefault(channel, []).extend(values)
        for formatter, (rows, of_day, day, trusted) in part.clock:
            file.clock.append((formatter, rows + offset, of_day, day, trusted))
        file.events += [event._replace(row=event.row + offset) for event in part.events]
        file.waypoints += [one._replace(row=one.row + offset) for one in part.waypoints]
    tables = [
        table.assign(row=table["row"] + offset)
        for part, offset in zip(parts, offsets, strict=False)
        for table in part.fragments
        if len(table)
    ]
    file.fragments = pd.concat(tables).sort_values("row", kind="stable") if tables else pd.DataFrame()
    ports = _forward(file, [(r + o, v) for p, o in zip(parts, offsets, strict=False) for r, v in p.ports])
    if ports is not None:
        named = ["" if np.isnan(v) else f"input {v:.0f}" for v in np.unique(ports)]
        codes = devices.codes(named)[np.unique(ports, return_inverse=True)[1]]
        file.device = np.where(file.device == 0, codes, file.device)
    ahead = _forward(
        file, [(r + o, v) for p, o in zip(parts, offsets, strict=False) for r, v in p.forward_stamps]
    )
    if ahead is not None and (kind == 0).mean() > 0.5:
        stamp_s = np.where(kind == 0, ahead, stamp_s)
        kind = np.where((kind == 0) & ~np.isnan(ahead), np.int8(1), kind)
    file.stamps = Stamps(stamp_s, kind, zoned)


def _forward(file: _File, said: list[tuple[Ints, Floats]]) -> Floats | None:
    """Value of the latest sentence that spoke for those after it, per sentence; NaN before the first."""
    if not said:
        return None
    rows = np.concatenate([rows for rows, _ in said])
    value = np.concatenate([value for _, value in said])
    order = np.argsort(rows, kind="stable")
    latest = np.searchsorted(rows[order], np.arange(len(file.line)), side="right") - 1
    return np.where(latest >= 0, value[order][np.maximum(latest, 0)], np.nan)


def _named_day(name: str) -> float | None:
    """The date a file's name carries, in days since 1970-01-01."""
    epoch = _NAMED_EPOCH.search(name)
    if epoch:
        return float(int(epoch[1]) // 86400)
    named = _NAMED_DATE.search(name)
    if named:
        try:
            return float((date(int(named[1]), int(named[2]), int(named[3])) - date(1970, 1, 1)).days)
        except ValueError:
            return None
    return None


def _timeline(
    file: _File, addresses: list[str], devices: list[str], day: float | None
) -> tuple[Timeline, Anchors]:
    labels: dict[tuple[str, str], int] = {}
    rows, time_of_day, days, trusted, source = [], [], [], [], []
    by_formatter: dict[str, list[tuple[np.ndarray, ...]]] = {}
    for formatter, *columns in file.clock:
        by_formatter.setdefault(formatter, []).append(tuple(columns))
    usable = (file.verdict == Verdict.ACCEPTED) | (file.verdict == Verdict.IMPLAUSIBLE)
    for formatter, parts in by_formatter.items():
        at, of_day, stated_day, valid = map(np.concatenate, zip(*parts, strict=True))
        sound = usable[at]
        if not sound.all():
            at, of_day, stated_day, valid = at[sound], of_day[sound], stated_day[sound], valid[sound]
        pair = file.address[at].astype(np.int64) * (len(devices) + 1) + file.device[at]
        for code in np.unique(pair):
            name = addresses[code // (len(devices) + 1)]
            device = devices[code % (len(devices) + 1)]
            label = f"{name} ({device})" if device else name
            index = labels.setdefault((formatter, label), len(labels))
            mine = pair == code
            rows.append(at[mine])
            time_of_day.append(of_day[mine])
            days.append(stated_day[mine])
            trusted.append(valid[mine])
            source.append(np.full(int(mine.sum()), index))
    empty: list[Floats] = [np.empty(0)]
    row = np.concatenate(rows or empty).astype(np.int64)
    order = np.argsort(row, kind="stable")
    anchors = Anchors(
        row[order],
        np.concatenate(time_of_day or empty)[order],
        np.concatenate(days or empty)[order],
        np.concatenate(trusted or empty).astype(bool)[order],
        np.concatenate(source or empty).astype(np.int64)[order],
        tuple(labels),
    )
    return clock.solve(len(file.line), anchors, file.stamps, day=day, near_day=_named_day(file.name)), anchors


def _join(
    loaded: list[_File], addresses: list[str], devices: list[str], day: date | None, found: list[Fact]
) -> Decoded:
    given_day = None if day is None else float((day - date(1970, 1, 1)).days)
    own_time: list[tuple[Ints, Floats]] = []
    bases: list[str] = []
    for file in loaded:
        _distrust_unchecked(file)
        timeline, anchors = _timeline(file, addresses, devices, given_day)
        file.time_s = timeline.time_s
        own_time.append(clock.own_times(anchors, timeline.time_s))
        if timeline.basis not in bases:
            bases.append(timeline.basis)
        found += [fact for fact in timeline.facts if fact not in found]
        file.clock.clear()
        _drop_echoes(file, addresses)
    gaps = _gaps(_end_to_end([file.time_s for file in loaded]))
    messages, lost = _messages(loaded)
    found += facts.of_sentences(
        [(f.name, f.broken_off, f.mended) for f in loaded],
        [(f.time_s, f.length, f.address) for f in loaded],
        addresses,
        gaps,
        lost,
    )
    if _is_large(loaded):
        _give_back_memory()
    sentences = _all_sentences(loaded, own_time)
    offsets = np.cumsum([0, *(len(file.line) for file in loaded)]).tolist()
    said = [_said(file, offset) for file, offset in zip(loaded, offsets, strict=False)]
    series = split_by_source(said, sentences, addresses, devices)
    found += facts.of_series(series, gaps)
    found += rhythm.find_missing(series)
    return Decoded(
        files=tuple(file.name for file in loaded),
        counts=_counts(loaded, addresses),
        facts=tuple(found),
        series=series,
        time_basis="; ".join(bases),
        gaps=gaps,
        events=_events(loaded),
        waypoints=_waypoints(loaded),
        ais=messages,
        logs=tuple(file.log for file in loaded),
        sentences=sentences,
        verdicts=_end_to_end([file.verdict for file in loaded]),
    )


def _distrust_unchecked(file: _File) -> None:
    """Reject sentences without a checksum from addresses that normally carry one.

    Where a whole file of a hundred or more does, an address must do without three times before it is believed.
    """
    if file.verified.all():
        return
    judged = file.verified | (file.verdict == Verdict.ACCEPTED)
    total = np.bincount(file.address[judged], minlength=1)
    checked = np.bincount(file.address[file.verified], minlength=len(total))
    normally = checked >= NORMALLY_CHECKED * np.maximum(total, 1)
    if total.sum() >= ENOUGH and checked.sum() >= NORMALLY_CHECKED * total.sum():
        normally |= total - checked < HABIT
    bare = (file.verdict == Verdict.ACCEPTED) & ~file.verified
    file.verdict[bare & normally[np.minimum(file.address, len(normally) - 1)]] = Verdict.NO_CHECKSUM


def _drop_echoes(file: _File, addresses: list[str]) -> None:
    """Mark sentences that repeat one of the same address and port, word for word, within a short window."""
    time_s = file.time_s
    if len(time_s) < 2 or np.isnan(time_s[0]):
        return
    ports = int(file.device.max()) + 1
    usable = (file.verdict == Verdict.ACCEPTED) | (file.verdict == Verdict.IMPLAUSIBLE)
    readings, awake_s = count_by_source(
        usable, file.address, file.device, ports, len(addresses), time_s, GAP_S
    )
    # A heading sensor at 10 Hz rightly repeats itself; nothing aboard sends faster than 12 Hz, and what sends
    # about once a second has no cause to say the same twice in a burst.
    rate_hz = readings / max(awake_s, 1.0)
    window = np.where((rate_hz > FLOOD_HZ) | (rate_hz < SLOW_HZ), ECHO_S, 0.0)
    formatters = np.array([split_address(address)[1] for address in addresses])
    window[np.repeat(np.isin(formatters, CLOCKED), ports)] = CLOCK_ECHO_S
    window[np.repeat(np.isin(formatters, UNIQUE), ports)] = 0.0
    repeat = np.zeros(len(usable), dtype=bool)
    mark_repeats(usable, file.address, file.device, ports, time_s, file.fingerprint, window, repeat)
    file.verdict[repeat] = Verdict.REPEATED


def _all_sentences(loaded: list[_File], own_time: list[tuple[Ints, Floats]]) -> Sentences:
    """What the sentences of all files share; one that states its own time has that."""
    for file, (rows, seconds) in zip(loaded, own_time, strict=True):
        file.time_s[rows] = seconds
    return Sentences(
        _end_to_end([file.time_s for file in loaded]),
        _end_to_end([file.verified for file in loaded]),
        _end_to_end([file.line for file in loaded]),
        _end_to_end([np.broadcast_to(np.int16(k), len(file.line)) for k, file in enumerate(loaded)]),
    )


def _end_to_end(arrays: list[np.ndarray]) -> np.ndarray:
    """Join arrays; one value throughout that was never spelt out is not spelt out now either."""
    if len(arrays) == 1:
        return arrays[0]
    if (
        all(array.strides == (0,) for array in arrays)
        and len({repr(array[0]) for array in arrays if len(array)}) == 1
    ):
        return np.broadcast_to(arrays[0][0], sum(map(len, arrays)))
    return np.concatenate(arrays)


def _said(file: _File, offset: int) -> Said:
    """What the usable sentences of a file said."""
    usable = (file.verdict == Verdict.ACCEPTED) | (file.verdict == Verdict.IMPLAUSIBLE)
    return Said(file.readings, offset, usable, file.address, file.device)


def _gaps(times: Floats) -> tuple[Gap, ...]:
    missing = np.isnan(times)
    known = times[~missing] if missing.any() else times
    steps = np.diff(known)
    if (steps < 0).any():
        known = np.sort(known)
        steps = np.diff(known)
    long = np.flatnonzero(steps > GAP_S)
    return tuple(Gap(float(known[k]), float(known[k + 1])) for k in long)


def _messages(loaded: list[_File]) -> tuple[pd.DataFrame, int]:
    tables, lost = [], 0
    for file in loaded:
        if len(file.fragments):
            usable = np.isin(file.verdict[file.fragments["row"].to_numpy()], (Verdict.ACCEPTED,))
            messages, missing = ais.assemble(file.fragments[usable], file.time_s)
            tables.append(messages)
            lost += missing
    if not tables:
        return ais.assemble(pd.DataFrame(), np.empty(0))[0], 0
    return pd.concat(tables).sort_values("time_s", kind="stable", ignore_index=True), lost


def _events(loaded: list[_File]) -> pd.DataFrame:
    rows = [
        (file.time_s[event.row], event.kind, event.text, event.lat_deg, event.lon_deg)
        for file in loaded
        for event in file.events
    ]
    table = pd.DataFrame(rows, columns=["time_utc", "kind", "text", "lat_deg", "lon_deg"])
    table["time_utc"] = pd.to_datetime(table["time_utc"].astype(np.float64), unit="s", utc=True)
    return table


def _waypoints(loaded: list[_File]) -> pd.DataFrame:
    """Waypoints in the order of time; the row gives way to ``time_utc``."""
    rows = [(file.time_s[one.row], *one[1:]) for file in loaded for one in file.waypoints]
    table = pd.DataFrame(rows, columns=["time_utc", *Waypoint._fields[1:]])
    table["time_utc"] = pd.to_datetime(table["time_utc"].astype(np.float64), unit="s", utc=True)
    return table.sort_values("time_utc", kind="stable", ignore_index=True)


def _counts(loaded: list[_File], addresses: list[str]) -> Counts:
    rejected: Counter[str] = Counter()
    ignored: Counter[str] = Counter()
    unknown: Counter[str] = Counter()
    out_of_range: Counter[str] = Counter()
    impossible: dict[str, list[Floats]] = {}
    first_lines: dict[str, list[str]] = {}
    accepted = 0
    for file in loaded:
        accepted += int((file.verdict == Verdict.ACCEPTED).sum())
        for verdict in (*REJECTED, *IGNORED):
            at = np.flatnonzero(file.verdict == verdict)
            reason = verdict.name.lower()
            if at.size:
                (rejected if verdict in REJECTED else ignored)[reason] += at.size
                lines = first_lines.setdefault(reason, [])
                lines += [f"{file.name}:{line}" for line in file.line[at[: FIRST_LINES - len(lines)]]]
        strange = np.bincount(file.address[file.verdict == Verdict.UNKNOWN], minlength=len(addresses))
        unknown.update({addresses[k]: int(strange[k]) for k in np.flatnonzero(strange)})
        out_of_range.update(file.out_of_range)
        for channel, values in file.impossible.items():
            impossible.setdefault(channel, []).extend(values)
    return Counts(
        bytes=sum(file.bytes for file in loaded),
        lines=sum(file.lines for file in loaded),
        sentences=sum(len(file.line) for file in loaded),
        accepted=accepted,
        rejected=dict(rejected),
        ignored=dict(ignored),
        first_lines={reason: tuple(lines) for reason, lines in first_lines.items()},
        out_of_range=dict(out_of_range),
        unknown_formatters=dict(unknown.most_common()),
        typical_impossible={
            channel: float(np.median(np.concatenate(values))) for channel, values in impossible.items()
        },
    )
