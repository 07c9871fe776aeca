"""Give every sentence its time: GNSS time where the log has it, the recorder's stamps between, order else.

GNSS time anchors (RMC, ZDA, GGA …) say what time it was when they were sent; stamps say when a line reached
the recorder, by a clock that may be local, wrong or drifting. Anchors fix the offset of the stamps; without
stamps, sentences between two anchors are spread in arrival order.
"""

from dataclasses import dataclass, field

import numpy as np

from analysis.kernels import longest_rise, place_between
from analysis.passage import Bools, Fact, Floats, Ints
from analysis.reading.stamps import ABSOLUTE, SINCE_PREVIOUS, TIME_OF_DAY, YEARLESS
from analysis.talkers import GNSS

DAY_S = 86400.0
ROLLOVER_DAYS = 1024 * 7
GPS_EPOCH_DAY = 3657  # 1980-01-06
_PREFERENCE = ("RMC", "ZDA", "GGA", "GNS", "GLL", "GST", "BWC")
_LARGE_STEP_S = 60.0
_SILENCE_S = 5.0
_SLOWEST_S = 60.0  # a clock that speaks more seldom gives the sentences between no rhythm
_STAMP_WINDOW = 601


@dataclass(frozen=True)
class Anchors:
    """Clock readings in arrival order, shape (m,): the sentence's row, seconds since midnight and days since
    1970-01-01 (NaN where absent), whether the receiver called its data valid, and an index into ``sources``
    (formatter, label).
    """

    row: Ints
    time_of_day_s: Floats
    day: Floats
    trusted: Bools
    source: Ints
    sources: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Stamps:
    """The recorder's stamps per sentence, shape (n,); see ``stamps.Beside``."""

    stamp_s: Floats
    kind: np.ndarray
    zoned: Bools


@dataclass
class Timeline:
    """Seconds since 1970-01-01 UTC per sentence (n,), NaN where the log has no time at all.

    ``basis`` says in words where the time comes from; ``dated`` is false where only the time of day is known
    and the date 1970-01-01 stands in.
    """

    time_s: Floats
    basis: str
    dated: bool = True
    facts: list[Fact] = field(default_factory=list)


def solve(
    count: int, anchors: Anchors, stamps: Stamps, *, day: float | None, near_day: float | None
) -> Timeline:
    """Place ``count`` sentences in time.

    ``day`` is the date the user gave, ``near_day`` a date known from elsewhere (the file's name), both in days since
    1970-01-01; they date a log without a date and expose a 1024-week rollover.
    """
    facts: list[Fact] = []
    recorder = _recorder_seconds(stamps)
    anchors = _without_unset_dates(anchors, facts)
    primary = _primary(anchors)
    if primary is None:
        return _by_stamps_alone(count, recorder, stamps, day, facts)
    rows, time_s, dated = _anchor_times(anchors, primary, recorder, stamps, day)
    if dated:
        time_s = _undo_rollover(time_s, rows, _stated_latest(anchors), recorder, stamps, day, near_day, facts)
    else:
        facts.append(
            Fact("no-date", "The recording has no date; times are on 1970-01-01. Give the date with --date.")
        )
    rows, time_s, segment = _in_order(rows, time_s, facts)
    by_order = _spread(count, rows, time_s, segment)
    basis = f"GNSS time of {anchors.sources[primary][1]}, sentences between placed in order of arrival"
    placed = by_order
    if recorder is not None:
        by_stamp = _by_stamps(recorder, rows, time_s, facts, stamps)
        if by_stamp is not None:
            placed = by_stamp
            basis = f"GNSS time of {anchors.sources[primary][1]}, sentences between placed by the recorder's stamps"
    if not dated:
        basis += "; no date in the recording"
    _compare_clocks(anchors, primary, placed, facts)
    return Timeline(placed, basis, dated, facts)


def own_times(anchors: Anchors, time_s: Floats) -> tuple[Ints, Floats]:
    """Times that sentences state themselves, laid on the calendar of the timeline: rows and seconds.

    Only where they agree with the sentence's place in the timeline to 2 s.
    """
    near = time_s[anchors.row]
    days = np.round((near - anchors.time_of_day_s) / DAY_S)
    own = anchors.time_of_day_s + days * DAY_S
    good = np.abs(own - near) < 2.0
    return anchors.row[good], own[good]


def _without_unset_dates(anchors: Anchors, facts: list[Fact]) -> Anchors:
    unset = anchors.day < GPS_EPOCH_DAY
    if not unset.any():
        return anchors
    facts.append(
        Fact(
            "clock-never-set",
            "A GNSS clock reports dates before 1980: it was never set, so those dates are not used.",
            {"sentences": int(unset.sum())},
        )
    )
    day = np.where(unset, np.nan, anchors.day)
    return Anchors(anchors.row, anchors.time_of_day_s, day, anchors.trusted, anchors.source, anchors.sources)


def _primary(anchors: Anchors) -> int | None:
    """The source whose clock rules.

    It has the most distinct trusted times; among the like, formatters stand in order of preference and GNSS
    receivers before instruments that pass their times on.
    """
    timed = ~np.isnan(anchors.time_of_day_s)
    if not timed.any():
        return None
    scores = np.zeros(len(anchors.sources))
    for index in np.unique(anchors.source[timed]):
        mine = timed & (anchors.source == index)
        changes = np.diff(anchors.time_of_day_s[mine], prepend=np.nan) != 0
        scores[index] = changes.sum() * (0.1 + 0.9 * anchors.trusted[mine].mean())
    contenders = [i for i in range(len(scores)) if scores[i] >= 0.8 * scores.max()]
    rank = {formatter: k for k, formatter in enumerate(_PREFERENCE)}

    def order(index: int) -> tuple[int, bool, float]:
        formatter, label = anchors.sources[index]
        return rank.get(formatter, len(rank)), label[:2] not in GNSS, -scores[index]

    return min(contenders, key=order)


def _anchor_times(
    anchors: Anchors, primary: int, recorder: Floats | None, stamps: Stamps, day: float | None
) -> tuple[Ints, Floats, bool]:
    """Full times of the primary source's anchors: rows, seconds, and whether a date is known."""
    mine = (anchors.source == primary) & ~np.isnan(anchors.time_of_day_s)
    rows, of_day = anchors.row[mine], anchors.time_of_day_s[mine]
    turned = np.cumsum(np.diff(of_day, prepend=of_day[0]) < -DAY_S / 2) - np.cumsum(
        np.diff(of_day, prepend=of_day[0]) > DAY_S / 2
    )
    unrolled = of_day + turned * DAY_S
    dated_rows, offset_days = _date_offsets(anchors, rows, unrolled)
    if dated_rows.size:
        nearest = _nearest(dated_rows, rows)
        return rows, unrolled + offset_days[nearest] * DAY_S, True
    if day is not None:
        return rows, unrolled + day * DAY_S, True
    if recorder is not None and (stamps.kind == ABSOLUTE).any():
        lag = np.nanmedian(recorder[rows] - unrolled) / DAY_S
        if np.isfinite(lag):
            return rows, unrolled + np.round(lag) * DAY_S, True
    return rows, unrolled, False


def _date_offsets(anchors: Anchors, rows: Ints, unrolled: Floats) -> tuple[Ints, Floats]:
    """Where dates are stated, the days to add to the unrolled time of day; lone contradictions smoothed out."""
    dated = ~np.isnan(anchors.day)
    at, day, of_day = anchors.row[dated], anchors.day[dated], anchors.time_of_day_s[dated]
    if at.size == 0:
        return at, day
    here = unrolled[_nearest(rows, at)]
    stated = day * DAY_S + np.where(np.isnan(of_day), here % DAY_S, of_day)
    offset = np.round((stated - here) / DAY_S)
    if len(offset) >= 5 and np.ptp(offset) > 0:
        padded = np.pad(offset, 2, mode="edge")
        offset = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    return at, offset


def _nearest(sorted_rows: Ints, rows: Ints) -> Ints:
    """Index into ``sorted_rows`` of the member nearest to each row."""
    after = np.clip(np.searchsorted(sorted_rows, rows), 1, max(len(sorted_rows) - 1, 1))
    if len(sorted_rows) == 1:
        return np.zeros(len(rows), dtype=np.int64)
    before = after - 1
    closer = np.abs(sorted_rows[before] - rows) <= np.abs(sorted_rows[after] - rows)
    return np.where(closer, before, after)


def _stated_latest(anchors: Anchors) -> float:
    """The latest full time that a receiver states while it calls its data valid, or at all; NaN without dates."""
    full = anchors.day * DAY_S + anchors.time_of_day_s
    known = ~np.isnan(full)
    sound = full[known & anchors.trusted] if (known & anchors.trusted).any() else full[known]
    return float(sound.max()) if sound.size else np.nan


def _undo_rollover(
    time_s: Floats,
    rows: Ints,
    latest_s: float,
    recorder: Floats | None,
    stamps: Stamps,
    day: float | None,
    near_day: float | None,
    facts: list[Fact],
) -> Floats:
    """Add 1024 weeks where the dates lie that far before the log's other evidence."""
    eras = np.zeros(len(time_s))
    evidence = ""
    span = ROLLOVER_DAYS * DAY_S
    within = np.round((latest_s - time_s) / span)
    mixed = (within >= 1) & (np.abs(latest_s - time_s - within * span) < 2 * DAY_S)
    if mixed.any():
        eras[mixed] = within[mixed]
        evidence = "other dates in the same log"
    corrected = time_s + eras * span
    candidates: list[tuple[float, str]] = []
    if recorder is not None and (stamps.kind == ABSOLUTE).any():
        candidates.append((float(np.nanmedian(recorder[rows] - corrected)), "the recorder's stamps"))
    middle = float(np.median(corrected))
    if day is not None:
        candidates.append((day * DAY_S - middle, "the date given"))
    if near_day is not None:
        candidates.append((near_day * DAY_S - middle, "the date in the file's name"))
    for lag, source in candidates:
        missed = np.round(lag / span)
        if missed >= 1 and abs(lag - missed * span) < 4 * DAY_S:
            eras += missed
            evidence = source
            break
    if eras.any():
        facts.append(
            Fact(
                "week-rollover",
                f"GNSS dates were 1024 weeks early and are corrected by {eras.max() * ROLLOVER_DAYS:.0f} days, "
                f"as {evidence} show.",
                {"days": float(eras.max() * ROLLOVER_DAYS), "evidence": evidence},
            )
        )
    return time_s + eras * span


def _in_order(rows: Ints, time_s: Floats, facts: list[Fact]) -> tuple[Ints, Floats, Ints]:
    """Drop anchors whose clock runs backward for a moment; split where it steps back for good.

    Returns rows, seconds, and the segment number of each kept anchor.
    """
    steps = np.diff(time_s)
    if not (steps < 0).any():
        return rows, time_s, np.zeros(len(rows), dtype=np.int64)
    kept = longest_rise(time_s)
    segment = np.zeros(len(rows), dtype=np.int64)
    if len(kept) < 0.9 * len(rows):
        segment[1:] = np.cumsum(steps < -_LARGE_STEP_S)
        parts = [np.flatnonzero(segment == k) for k in range(int(segment[-1]) + 1)]
        kept = np.concatenate([part[longest_rise(time_s[part])] for part in parts])
        if segment[-1]:
            facts.append(
                Fact(
                    "clock-stepped-back",
                    "The clock steps back by more than a minute and goes on from there; "
                    "the parts are put in order of time.",
                    {"times": int(segment[-1])},
                )
            )
    dropped = len(rows) - len(kept)
    if dropped:
        facts.append(
            Fact(
                "clock-backward",
                "GNSS times run backward for a moment; there the order of arrival rules.",
                {"sentences": dropped},
            )
        )
    return rows[kept], time_s[kept], segment[kept]


def _spread(count: int, rows: Ints, time_s: Floats, segment: Ints) -> Floats:
    """Place all sentences between the first arrivals of each distinct anchor time."""
    fresh = np.ones(len(rows), dtype=bool)
    fresh[1:] = (np.diff(time_s) > 0) | (np.diff(segment) != 0)
    rows, time_s, segment = rows[fresh], time_s[fresh], segment[fresh]
    step_rows, step_s = np.diff(rows), np.diff(time_s)
    steady = (step_s > 0) & (np.diff(segment) == 0)
    rhythm_s = float(np.median(step_s[steady])) if steady.any() else 0.0
    usual = steady & (step_s < max(_SILENCE_S, min(2 * rhythm_s, _SLOWEST_S)))
    spacing = float(np.median(step_s[usual] / step_rows[usual])) if usual.any() else 0.0
    usual_rows = float(np.median(step_rows[usual])) if usual.any() else 1.0

    broken = (np.diff(segment) != 0) | ((step_s > _SILENCE_S) & (step_rows * spacing < 0.3 * step_s))
    placed = np.empty(count)
    place_between(rows, time_s, spacing, int(usual_rows), broken, placed)
    return placed


def _recorder_seconds(stamps: Stamps) -> Floats | None:
    """The recorder's clock per sentence, continuous and filled, or None where stamps are too few."""
    stamped = stamps.kind > 0
    if stamped.mean() < 0.5 if len(stamped) else True:
        return None
    kinds, counts = np.unique(stamps.kind[stamped], return_counts=True)
    kind = int(kinds[np.argmax(counts)])
    seconds = np.where(stamps.kind == kind, stamps.stamp_s, np.nan)
    if kind == SINCE_PREVIOUS:
        return np.cumsum(np.nan_to_num(seconds))
    known = np.flatnonzero(~np.isnan(seconds))
    if known.size == 0:
        return None
    value = seconds[known]
    if kind in (TIME_OF_DAY, YEARLESS):
        period = DAY_S if kind == TIME_OF_DAY else 366 * DAY_S
        step = np.diff(value, prepend=value[0])
        value = value + np.cumsum(step < -period / 2) * period
    fresh = np.concatenate([[True], np.diff(value) != 0])
    steps = np.diff(value[fresh])
    coarse = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    if fresh.mean() < 0.8 and 0.5 <= coarse <= 2.0 and (value % 1 == 0).all():
        return _spread(
            len(seconds), known[fresh], value[fresh], np.cumsum(np.append(False, steps < -_LARGE_STEP_S))
        )
    return np.interp(np.arange(len(seconds)), known, value)


def _by_stamps(
    recorder: Floats, rows: Ints, time_s: Floats, facts: list[Fact], stamps: Stamps
) -> Floats | None:
    """Shift the recorder's clock to GNSS time by the running median of their difference; None if it wanders."""
    fresh = np.concatenate([[True], np.diff(time_s) > 0])
    rows, lag = rows[fresh], (time_s - recorder[rows])[fresh]
    half = min(_STAMP_WINDOW // 2, (len(lag) - 1) // 2)
    if half > 0:
        padded = np.pad(lag, half, mode="reflect")
        smooth = np.array(
            [np.median(padded[k : k + 2 * half + 1]) for k in range(0, len(lag), max(half // 4, 1))]
        )
        smooth = np.interp(np.arange(len(lag)), np.arange(0, len(lag), max(half // 4, 1)), smooth)
    else:
        smooth = np.full(len(lag), np.median(lag))
    if np.median(np.abs(lag - smooth)) > 3.0:
        facts.append(
            Fact(
                "stamps-wander", "The recorder's stamps do not keep pace with GNSS time and are not used.", {}
            )
        )
        return None
    if (stamps.kind == ABSOLUTE).any():
        _describe_recorder_clock(float(np.median(smooth)), float(smooth[-1] - smooth[0]), facts)
    shifted: Floats = recorder + np.interp(np.arange(len(recorder)), rows, smooth)
    return shifted


def _describe_recorder_clock(lag_s: float, drift_s: float, facts: list[Fact]) -> None:
    quarters = round(lag_s / 900)
    if quarters and abs(quarters) <= 14 * 4 and abs(lag_s - quarters * 900) < 120:
        hours = -quarters / 4
        facts.append(
            Fact(
                "stamps-local",
                f"The recorder's stamps are in local time, UTC{hours:+g} h; times here are UTC.",
                {"zone_h": hours, "remainder_s": round(lag_s - quarters * 900, 1)},
            )
        )
    elif abs(lag_s) > 5:
        word = "slow" if lag_s > 0 else "fast"
        facts.append(
            Fact(
                "stamps-off",
                f"The recorder's clock is {abs(lag_s):.0f} s {word} on GNSS time; times here follow GNSS.",
                {"recorder_minus_gnss_s": round(-lag_s, 1)},
            )
        )
    if abs(drift_s) > 5:
        facts.append(
            Fact(
                "stamps-drift",
                f"The recorder's clock drifts by {abs(drift_s):.0f} s over the recording.",
                {"drift_s": round(-drift_s, 1)},
            )
        )


def _by_stamps_alone(
    count: int, recorder: Floats | None, stamps: Stamps, day: float | None, facts: list[Fact]
) -> Timeline:
    if recorder is None:
        facts.append(
            Fact(
                "no-time",
                "The recording has neither GNSS time nor stamps; what it says cannot be placed in time.",
            )
        )
        return Timeline(np.full(count, np.nan), "none", dated=False, facts=facts)
    if (stamps.kind == ABSOLUTE).any():
        if not stamps.zoned.any():
            facts.append(
                Fact(
                    "stamps-unzoned",
                    "There is no GNSS time; the recorder's stamps name no zone and are taken as UTC.",
                )
            )
        return Timeline(recorder, "the recorder's stamps", facts=facts)
    if day is not None:
        start = recorder[0] - recorder[0] % DAY_S
        return Timeline(
            recorder - start + day * DAY_S, "the recorder's stamps and the date given", facts=facts
        )
    facts.append(
        Fact("no-date", "The recording has no date; times are on 1970-01-01. Give the date with --date.")
    )
    return Timeline(recorder % (366 * DAY_S), "the recorder's stamps; no date in the recording", False, facts)


def _compare_clocks(anchors: Anchors, primary: int, time_s: Floats, facts: list[Fact]) -> None:
    for index, (_, label) in enumerate(anchors.sources):
        mine = (anchors.source == index) & ~np.isnan(anchors.time_of_day_s)
        if index == primary or mine.sum() < 5:
            continue
        lag = anchors.time_of_day_s[mine] - time_s[anchors.row[mine]]
        lag = (lag + DAY_S / 2) % DAY_S - DAY_S / 2
        typical = float(np.median(lag))
        if abs(typical) > 1.5:
            facts.append(
                Fact(
                    "two-clocks",
                    f"{label} tells a time {abs(typical):.1f} s {'ahead of' if typical > 0 else 'behind'} "
                    f"{anchors.sources[primary][1]}; the latter is used.",
                    {"source": label, "lag_s": round(typical, 2)},
                )
            )
