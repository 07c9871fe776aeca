"""Bring many sources at many rates to one time base, and choose one source per quantity by a stated rule."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analysis import kernels
from analysis.channels import CHANNELS
from analysis.errors import SettingError
from analysis.passage import Floats, Gap, Series, Source, SourceKey
from analysis.talkers import GNSS
from analysis.vectors import wrap_direction_deg, wrap_signed_deg

NEAR_S = 0.5
WORKERS = 2
LONGEST_BRIDGE_S = 10.0 + NEAR_S  # a source that comes every 10 s comes a little late now and then
BRIDGE_PERIODS = 4.0
FAST_PERIOD_S = 0.6
BURST_SHARE = 1 / 3  # readings that come in bursts have a median step this much below the mean
_ENOUGH_STEPS = 5_000
SHORTENED_GAP_S = 6 * 3600.0
_STEADY = {"stw_kn", "awa_deg", "aws_kn", "heading_mag_deg", "heading_true_deg", "lat_deg", "cog_deg"}

# Channels of which the second comes from the sentence of the first, so that both belong to one moment and instrument.
PAIRS = (
    ("lat_deg", "lon_deg"),
    ("sog_kn", "cog_deg"),
    ("awa_deg", "aws_kn"),
    ("logged_twa_deg", "logged_tws_kn"),
    ("waypoint_lat_deg", "waypoint_lon_deg"),
    ("logged_set_deg", "logged_drift_kn"),
)
_UNALIGNED = ("target_", "distress_")
_PREFERENCE = (
    *("HDG", "RMC", "GGA", "GNS", "GLL", "VTG", "HDT", "THS", "HDM", "MWV", "VWR", "VWT", "VHW", "VBW"),
    *("MWD", "DPT", "DBT", "MTW", "XDR", "MDA"),
)
# Talkers made for a quantity (NMEA 0183 talker identifiers); the rest, such as II, pass on what others measure.
_MADE_FOR = {
    "sog_kn": GNSS, "cog_deg": GNSS, "lat_deg": GNSS,
    "heading_mag_deg": ("HC",), "heading_true_deg": ("HC", "HE", "HF", "HN"),
    "stw_kn": ("VD", "VM", "VW"), "awa_deg": ("WI",), "aws_kn": ("WI",), "depth_m": ("SD",),
}  # fmt: skip
TRUE_NORTH_TALKERS = ("GP", "GN", "HN", "HE")

Choices = Mapping[str, tuple[str, str, str]]
"""The user's choice per channel: talker, formatter, instance."""


@dataclass(frozen=True)
class Aligned:
    """The frame as shown, the age of each value in seconds, and the table of sources."""

    frame: pd.DataFrame
    age: pd.DataFrame
    sources: tuple[Source, ...]


@dataclass(frozen=True)
class _Quality:
    rate_hz: float | None
    coverage: float | None
    period_s: float = field(default=np.nan)


def align(series: Mapping[SourceKey, Series], gaps: Sequence[Gap], choices: Choices | None = None) -> Aligned:
    """Align the chosen sources to whole seconds.

    Scalars are interpolated linearly and directions along the shorter arc; sources faster than the base are
    averaged over it. Nothing crosses a gap longer than 4 periods of the source, capped at 10.5 s. A silence of the
    whole log beyond 6 h is shortened to its two ends.

    The rule of choice, per quantity: a live source before one that never changes, then the fuller coverage
    (in steps of a tenth), then verified checksums, the sentence in order of preference, and the higher rate.
    Values that belong together come from one sentence. ``choices`` overrules the rule; SettingError where it names
    a source the log does not have.
    """
    timed = {key: one for key, one in series.items() if not np.isnan(one.span_s[0])}
    base_s = _time_base(timed, gaps)
    with ThreadPoolExecutor(WORKERS) as pool:
        rated = pool.map(lambda one: _quality(one, base_s, gaps), timed.values())
        quality = dict(zip(timed, rated, strict=True))
    chosen = _choose(timed, quality, choices or {})
    with ThreadPoolExecutor(WORKERS) as pool:
        aligned = pool.map(lambda key: resample(timed[key], base_s, quality[key].period_s), chosen.values())
        columns, ages = {}, {}
        for channel, (value, age) in zip(chosen, aligned, strict=True):
            columns[channel], ages[channel] = value, age.astype(np.float32)
    index = pd.DatetimeIndex(pd.to_datetime(base_s, unit="s", utc=True), name="time_utc")
    order = [name for name in CHANNELS if name in columns]
    table = tuple(
        Source(
            key,
            len(one.value),
            quality[key].rate_hz if key in quality else None,
            quality[key].coverage if key in quality else None,
            chosen.get(key.channel) == key,
        )
        for key, one in series.items()
    )
    return Aligned(
        pd.DataFrame({name: columns[name] for name in order}, index=index, copy=False),
        pd.DataFrame({name: ages[name] for name in order}, index=index, copy=False),
        table,
    )


def _time_base(timed: Mapping[SourceKey, Series], gaps: Sequence[Gap]) -> Floats:
    """Whole seconds from the first reading to the last, long silences shortened."""
    if not timed:
        return np.empty(0)
    first = min(one.span_s[0] for one in timed.values())
    last = max(one.span_s[1] for one in timed.values())
    borders = [np.floor(first)]
    for gap in gaps:
        if gap.end_s - gap.start_s > SHORTENED_GAP_S and first < gap.end_s and gap.start_s < last:
            borders += [np.ceil(gap.start_s) + 1, np.floor(gap.end_s) - 1]
    borders.append(np.ceil(last))
    stretches = [np.arange(a, b + 1) for a, b in zip(borders[::2], borders[1::2], strict=True)]
    return np.unique(np.concatenate(stretches))


def _quality(one: Series, base_s: Floats, gaps: Sequence[Gap]) -> _Quality:
    steps = _sampled_steps(one)
    time_s, row = one.sentences.time_s, one.row
    if steps.size == 0:
        return _Quality(None, 0.0)
    period = float(np.median(steps))
    count, total_s = kernels.steps_within(time_s, row, LONGEST_BRIDGE_S)
    if count and period < total_s / count * BURST_SHARE:
        period = total_s / count
    count, total_s = kernels.steps_within(time_s, row, max(BRIDGE_PERIODS * period, 2.0))
    rate = count / total_s
    silent = sum(gap.end_s - gap.start_s for gap in gaps)
    whole = max(float(base_s[-1] - base_s[0]) - silent, 1.0)
    longest = max(min(BRIDGE_PERIODS * period, LONGEST_BRIDGE_S), 1.0)
    bridged = kernels.steps_capped(time_s, row, longest)
    return _Quality(round(rate, 3), round(min(bridged / whole, 1.0), 4), period)


def _sampled_steps(one: Series) -> Floats:
    """Steps of the beginning, the middle and the end, enough to tell a period by; all of a short series."""
    size = len(one.row)
    starts = [0] if size <= 3 * _ENOUGH_STEPS else [0, size // 2, size - _ENOUGH_STEPS]
    length = size if len(starts) == 1 else _ENOUGH_STEPS
    steps = np.concatenate([np.diff(one.sentences.time_s[one.row[s : s + length]]) for s in starts])
    return steps[steps > 0]


def _choose(
    timed: Mapping[SourceKey, Series], quality: Mapping[SourceKey, _Quality], choices: Choices
) -> dict[str, SourceKey]:
    chosen: dict[str, SourceKey] = {}
    by_channel: dict[str, list[SourceKey]] = {}
    for key in timed:
        if key.channel in CHANNELS and not key.channel.startswith(_UNALIGNED):
            by_channel.setdefault(key.channel, []).append(key)
    ranked = {
        channel: sorted(keys, key=lambda key: _rank(timed[key], quality[key])) if len(keys) > 1 else keys
        for channel, keys in by_channel.items()
    }
    for channel, keys in ranked.items():
        chosen[channel] = keys[0]
    for channel, wanted in choices.items():
        key = SourceKey(channel, *wanted)
        if key not in by_channel.get(channel, []):
            have = ", ".join(" ".join(part for part in k[1:] if part) for k in by_channel.get(channel, []))
            raise SettingError(
                f"{channel}: the recording has no source {' '.join(wanted).strip()}; it has {have or 'none'}."
            )
        chosen[channel] = key
    for leader, follower in PAIRS:
        if leader in chosen and follower in ranked and follower not in choices:
            same = SourceKey(follower, *chosen[leader][1:])
            chosen[follower] = same if same in timed else chosen[follower]
    return chosen


def _rank(one: Series, quality: _Quality) -> tuple[float, ...]:
    dead = one.key.channel in _STEADY and len(one.value) > 20 and np.ptp(one.value) == 0
    order = {formatter: k for k, formatter in enumerate(_PREFERENCE)}
    preference = order.get(one.key.formatter, len(order))
    if one.key.formatter in ("HDT", "THS") and one.key.talker in TRUE_NORTH_TALKERS:
        preference = -1
    return (
        float(dead),
        -round(quality.coverage or 0.0, 1),
        -round(float(one.sentences.verified[one.row[:: 1 + len(one.row) // _ENOUGH_STEPS]].mean()), 1),
        preference,
        _strangeness(one.key),
        -(quality.rate_hz or 0.0),
        -len(one.value),
    )


def _strangeness(key: SourceKey) -> float:
    """0 for a talker made for the quantity, 1 for one of no trade, 2 for one made for another quantity."""
    if key.talker in _MADE_FOR.get(key.channel, ()):
        return 0.0
    return 2.0 if any(key.talker in talkers for talkers in _MADE_FOR.values()) else 1.0


def resample(one: Series, base_s: Floats, period_s: float) -> tuple[Floats, Floats]:
    """Values (n,) of one source at the base times (n,), NaN where none is near, and their ages in seconds."""
    kind = CHANNELS[one.key.channel].kind
    time_s, value = one.time_s, one.value
    if np.isnan(time_s[-1]):
        known = ~np.isnan(time_s)
        time_s, value = time_s[known], value[known]
    circular = kind in ("direction", "signed_angle") or one.key.channel.endswith("lon_deg")
    if circular:
        value = _unrolled(value)
    result, age = np.full((2, len(base_s)), np.nan)
    bridge_s = min(max(BRIDGE_PERIODS * period_s, 1.0), LONGEST_BRIDGE_S) if np.isfinite(period_s) else 0.0
    kernels.resample(time_s, value, base_s, bridge_s, NEAR_S, period_s < FAST_PERIOD_S, result, age)
    if circular:
        result = wrap_direction_deg(result) if kind == "direction" else wrap_signed_deg(result)
    return result, age


def _unrolled(angle_deg: Floats) -> Floats:
    """Angles made continuous by whole turns."""
    return angle_deg - 360 * np.cumsum(np.round(np.diff(angle_deg, prepend=angle_deg[:1]) / 360))
