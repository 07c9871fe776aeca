"""Every pair of sources of one quantity, compared second by second on a sample of the passage."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations, pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis.agreement.results import Agreement, Apart
from analysis.agreement.trust import Scene, scene_of, trusted_of
from analysis.alignment import resample
from analysis.passage import Bools, Floats, Ints, Passage, Series, SourceKey
from analysis.robust import robust_sd
from analysis.vectors import wrap_direction_deg, wrap_signed_deg

WORKERS = 2
LEAST_READINGS, LEAST_COMPARED_S = 30, 120
STRETCHES, STRETCH_S = 60, 300
FASTEST_HZ = 2.0
BLOCK_S = 60
APART_TOLERANCES, APART_BLOCKS = 2.0, 10
LAGS_S = np.arange(-15, 16)
STEP_S = 5  # over which changes are compared for a lag
LAG_PIECES = 6
LEAST_LIKENESS = 0.5
REPEAT_READINGS, REPEAT_S, REPEAT_SHARE = 1000, 1.5, 0.9
NM_M, RAD = 1852.0, np.pi / 180
EARTH_M_PER_DEG = 60 * NM_M


class Kind(NamedTuple):
    """How a quantity is compared: the accuracy one instrument is allowed, and below what it means nothing.

    ``accuracy`` is a 95 % figure in the channel's unit, ``share`` one as a share of the value; the greater counts. A
    constant difference within ``settable`` is a matter of setting.
    """

    accuracy: float
    share: float = 0.0
    circular: bool = False
    ratio: bool = False
    settable: float = 0.0
    needs: tuple[str, float] = ("", 0.0)


# Accuracies of the published standards. Log: IMO A.824(19), 2 % or 0.2 kn (from memory). Heading: MSC.116(73) 4.3.2,
# 1.0 deg static. SOG and COG: IEC 61108-1, 2 % or 0.2 kn and 3 deg (from memory). Wind: WMO-No. 8 annex 1.A, 10 % or
# 0.5 m/s, 5 deg (from memory). Depth: MSC.74(69) annex 4, 0.5 m or 2.5 %. Position: MSC.112(73), 13 m (from memory),
# and as much for two aerials at the ends of a yacht. Temperature and pressure: common practice, no source.
KINDS: Mapping[str, Kind] = {
    "lat_deg": Kind(26.0),
    "sog_kn": Kind(0.2, 0.02, ratio=True),
    "cog_deg": Kind(3.0, circular=True, needs=("sog_kn", 2.0)),
    "heading_true_deg": Kind(1.0, circular=True),
    "stw_kn": Kind(0.2, 0.02, ratio=True),
    "awa_deg": Kind(5.0, circular=True, needs=("aws_kn", 4.0)),
    "aws_kn": Kind(1.0, 0.1, ratio=True),
    "depth_m": Kind(0.5, 0.025, ratio=True, settable=4.0),  # keel to waterline of a yacht (common practice)
    "water_temp_c": Kind(1.0),
    "air_pressure_hpa": Kind(1.0),
}


class _Told(NamedTuple):
    """One source on the sample: values (n,), complex metres for positions; NaN where silent."""

    key: SourceKey
    series: Series
    value: np.ndarray


def compare_sources(passage: Passage) -> tuple[Agreement, ...]:
    """Compare every pair of sources of one quantity; magnetic headings through the variation.

    Works on 60 stretches of 5 min of a long passage, on all of a short one. Quantities with one source cost nothing.
    """
    groups = _groups(passage)
    if not groups or len(passage.frame) < LEAST_COMPARED_S:
        return ()
    rows = _sampled_rows(len(passage.frame))
    scene = scene_of(passage.frame, rows)
    wanted = [(channel, one) for channel, members in groups.items() for one in members]
    with ThreadPoolExecutor(WORKERS) as pool:
        told = pool.map(lambda pair: _told(pair[0], pair[1], passage, scene), wanted)
        by_channel: dict[str, list[_Told]] = {}
        for (channel, _), one in zip(wanted, told, strict=True):
            by_channel.setdefault(channel, []).append(one)
        pairs = [
            (channel, first, second)
            for channel, members in by_channel.items()
            for first, second in combinations(members, 2)
        ]
        compared = list(pool.map(lambda pair: _compare(pair[0], pair[1], pair[2], scene), pairs))
    return tuple(one for one in compared if one is not None)


def _groups(passage: Passage) -> dict[str, list[Series]]:
    """Sources that can be compared, by the channel they are compared as; only where there are two."""
    groups: dict[str, list[Series]] = {}
    for key, one in passage.series.items():
        channel = "heading_true_deg" if key.channel == "heading_mag_deg" else key.channel
        placed = channel != "lat_deg" or key._replace(channel="lon_deg") in passage.series
        if channel in KINDS and placed and len(one.value) >= LEAST_READINGS and np.isfinite(one.span_s[0]):
            groups.setdefault(channel, []).append(one)
    whole = {channel: _whole(members) for channel, members in groups.items()}
    parted = {
        channel: [part for one in members for part in _parted(one, passage, KINDS[channel])]
        for channel, members in whole.items()
    }
    return {channel: members for channel, members in parted.items() if len(members) > 1}


def _whole(members: list[Series]) -> list[Series]:
    """Those vouched for by checksums, where any are: names in torn sentences are no instruments."""
    verified = [float(one.sentences.verified[one.row[:: 1 + len(one.row) // 1000]].mean()) for one in members]
    return [one for one, share in zip(members, verified, strict=True) if share >= 0.5 * max(verified)]


def _parted(one: Series, passage: Passage, kind: Kind) -> list[Series]:
    """Part a source in two where two instruments speak by turns under one name, far from each other."""
    value: np.ndarray = one.value
    if one.key.channel == "lat_deg":
        lon = _longitude(one, passage)
        if len(lon.value) != len(value):
            return [one]
        value = EARTH_M_PER_DEG * (value + 1j * np.cos(RAD * value) * lon.value)
    middle = slice(max(len(value) // 2 - REPEAT_READINGS, 0), len(value) // 2 + REPEAT_READINGS)
    usual, next_but_one = (float(np.median(np.abs(_steps(value[middle], apart, kind)))) for apart in (1, 2))
    typical = float(np.median(np.abs(one.value[middle]))) if kind.share else 0.0
    if usual < 2**0.5 * max(kind.accuracy, kind.share * typical) or next_but_one > 0.3 * usual:
        return [one]
    step = _steps(value, 1, kind)
    axis = np.sqrt(np.mean(_steps(value[middle], 1, kind) ** 2))
    across = np.real(step * np.conj(axis)) / np.abs(axis)
    changed = np.flatnonzero(np.abs(across) > usual / 2)
    last = np.maximum(np.searchsorted(changed, np.arange(len(step)), side="right") - 1, 0)
    second = np.concatenate(([across[changed[0]] < 0], across[changed[last]] > 0))
    return [_taken(one, second == k, f"{one.key.instance} {k + 1} of 2".strip()) for k in (False, True)]


def _steps(value: np.ndarray, apart: int, kind: Kind) -> np.ndarray:
    step: np.ndarray = value[apart:] - value[:-apart]
    return wrap_signed_deg(step) if kind.circular else step


def _taken(one: Series, rows: Bools, instance: str) -> Series:
    return Series(
        one.key._replace(instance=instance), one.unit, one.row[rows], one.value[rows], one.sentences
    )


def _sampled_rows(size: int) -> Ints:
    if size <= STRETCHES * STRETCH_S:
        return np.arange(size)
    starts = np.linspace(0, size - STRETCH_S, STRETCHES).astype(np.int64)
    return np.asarray((starts[:, None] + np.arange(STRETCH_S)).ravel(), dtype=np.int64)


def _told(channel: str, one: Series, passage: Passage, scene: Scene) -> _Told:
    period_s = _period_s(one, passage)
    thin = max(int(1 / (period_s * FASTEST_HZ)), 1)
    value = _resampled(one, scene.time_s, thin, period_s)
    if one.key.channel == "heading_mag_deg":
        value = wrap_direction_deg(value + scene.variation_deg)
    if channel == "lat_deg":
        lon = _resampled(_longitude(one, passage), scene.time_s, thin, period_s)
        east = wrap_signed_deg(lon - scene.lon_deg) * np.cos(RAD * scene.lat_deg)
        return _Told(one.key, one, EARTH_M_PER_DEG * (value - scene.lat_deg + 1j * east))
    return _Told(one.key, one, value)


def _period_s(one: Series, passage: Passage) -> float:
    """Time between readings [s]; of a source parted in two, that of its first readings."""
    rate_hz = next((source.rate_hz for source in passage.sources if source.key == one.key), None)
    if rate_hz:
        return 1 / rate_hz
    steps = np.diff(one.sentences.time_s[one.row[:REPEAT_READINGS]])
    return float(np.median(steps[steps > 0])) if (steps > 0).any() else np.inf


def _longitude(latitude: Series, passage: Passage) -> Series:
    """The longitudes of the same sentences."""
    own = latitude.key._replace(channel="lon_deg")
    lon = passage.series.get(own)
    if lon is not None:
        return lon
    whole = passage.series[own._replace(instance=own.instance[: -len(" 1 of 2")].strip())]
    return _taken(whole, np.isin(whole.row, latitude.row), own.instance)


def _resampled(one: Series, time_s: Floats, thin: int, period_s: float) -> Floats:
    if thin > 1:
        one = Series(one.key, one.unit, one.row[::thin], one.value[::thin], one.sentences)
    return resample(one, time_s, period_s * thin)[0]


def _compare(channel: str, first: _Told, second: _Told, scene: Scene) -> Agreement | None:
    kind = KINDS[channel]
    both = np.isfinite(first.value) & np.isfinite(second.value) & scene.above(*kind.needs)
    if both.sum() < LEAST_COMPARED_S:
        return None
    difference = second.value - first.value
    if kind.circular:
        difference = wrap_signed_deg(difference)
    difference = np.where(both, difference, np.nan)
    if channel == "heading_true_deg":
        difference = _without_deviation(difference, first.value)
    block, middle = _blocks(scene, difference)
    bias, bias_sd = _mean(middle)
    lag = _lag(first.value, second.value, kind.circular, scene)
    if channel == "lat_deg":
        bias, bias_sd = float(abs(bias)), float(abs(bias_sd))
    typical = float(np.median(np.abs(first.value[both]))) if not kind.circular else 0.0
    resolution = _resolution(first.series.value) + _resolution(second.series.value)
    if channel == "lat_deg":
        typical, resolution = 0.0, resolution * EARTH_M_PER_DEG
    tolerance = 2**0.5 * max(kind.accuracy, kind.share * typical) + resolution / 2
    ratio = None
    if kind.ratio and typical > 5 * kind.accuracy:
        ratio = _ratio(scene, first.value, second.value, both, free=kind.settable > 0)
    drift = _drift(np.abs(middle) if channel == "lat_deg" else middle.real, scene.time_s, block)
    setting = min(max(float(np.real(bias)), -kind.settable), kind.settable)
    repeat = _one_instrument(first, second) or _echoes(first, second, kind, scene, resolution)
    agreement = Agreement(
        channel=channel,
        first=first.key,
        second=second.key,
        unit="m" if channel == "lat_deg" else first.series.unit,
        compared_s=int(both.sum()),
        repeat=repeat,
        bias=float(np.real(bias)),
        bias_sd=float(np.real(bias_sd)),
        scale=ratio[0] if ratio else None,
        scale_sd=ratio[1] if ratio else None,
        lag_s=lag[0] if lag else None,
        lag_sd_s=lag[1] if lag else None,
        noise_first=_noise(first.series, kind.circular, channel),
        noise_second=_noise(second.series, kind.circular, channel),
        dropouts_first=_silent(first.value, second.value),
        dropouts_second=_silent(second.value, first.value),
        drift_per_h=drift[0] if drift else None,
        drift_per_h_sd=drift[1] if drift else None,
        typical=typical,
        tolerance=float(tolerance),
        within=float(np.mean(np.abs(difference[both] - setting) <= tolerance)),
        settable=kind.settable,
        apart=_apart(middle - setting, block, scene, APART_TOLERANCES * tolerance),
        trusted=None,
        why="",
    )
    return trusted_of(agreement, first.value, second.value, scene)


def _without_deviation(difference_deg: Floats, heading_deg: Floats) -> Floats:
    """Take out what turns once with the heading, if headings all round were sailed: another place on board."""
    known = np.isfinite(difference_deg)
    h = RAD * heading_deg[known]
    design = np.column_stack((np.ones_like(h), np.sin(h), np.cos(h)))
    normal = design.T @ design / len(h)
    if np.linalg.cond(normal) > 30:
        return difference_deg
    answer = np.linalg.solve(normal, design.T @ difference_deg[known] / len(h))
    out = difference_deg.copy()
    out[known] -= design[:, 1:] @ answer[1:]
    return out


def _blocks(scene: Scene, value: np.ndarray) -> tuple[Ints, np.ndarray]:
    """Numbers of the minutes that are known for at least a third, and the median of each."""
    rows = np.arange(len(value) // BLOCK_S * BLOCK_S).reshape(-1, BLOCK_S)
    folded = value[rows]
    known = np.isfinite(folded).sum(axis=1) >= BLOCK_S // 3
    folded = folded[known]
    if np.iscomplexobj(folded):
        middle = np.nanmedian(folded.real, axis=1) + 1j * np.nanmedian(folded.imag, axis=1)
    else:
        middle = np.nanmedian(folded, axis=1) if len(folded) else np.empty(0)
    return np.flatnonzero(known), middle


def _mean(middle: np.ndarray) -> tuple[complex, float]:
    """Robust mean of the minutes and its one-sigma, their memory counted."""
    if len(middle) < 2:
        return (complex(middle[0]), float("inf")) if len(middle) else (0.0, float("inf"))
    if np.iscomplexobj(middle):
        parts = [_mean(middle.real), _mean(middle.imag)]
        return complex(parts[0][0].real, parts[1][0].real), float(np.hypot(parts[0][1], parts[1][1]))
    centre = float(np.median(middle))
    spread = max(robust_sd(middle - centre), 1e-6)
    kept = middle[np.abs(middle - centre) < 4 * spread]
    mean = float(kept.mean())
    return mean, max(_sd_of_mean(kept - mean), 1e-6)


def _sd_of_mean(residual: Floats) -> float:
    power = float(residual @ residual)
    memory = float(residual[1:] @ residual[:-1]) / power if power > 0 else 0.0
    memory = min(max(memory + (1 + 3 * memory) / len(residual), 0.0), 0.95)
    return float((power / max(len(residual) - 1, 1) / len(residual) * (1 + memory) / (1 - memory)) ** 0.5)


def _ratio(
    scene: Scene, first: Floats, second: Floats, both: Bools, free: bool
) -> tuple[float, float] | None:
    """Second over first by the minutes' medians, through zero or, with ``free``, beside a constant.

    None where the first hardly leaves zero, or hardly changes beside a constant.
    """
    one, two = (_blocks(scene, np.where(both, value, np.nan))[1] for value in (first, second))
    usable = one > 0.3 * np.median(one) if len(one) else np.zeros(0, dtype=bool)
    if usable.sum() < 2:
        return None
    one, two = one[usable], two[usable]
    if not free:
        mean, sd = _mean(two / one)
        return float(mean.real), sd
    if len(one) < 20 or np.quantile(one, 0.9) < 1.3 * np.quantile(one, 0.1):
        return None
    weight = 1 / one**2  # sounders err by a share of the depth
    for _ in range(3):
        level = float(weight @ one / weight.sum())
        power = float(weight @ (one - level) ** 2)
        slope = float(weight @ ((one - level) * two)) / power
        left = (two - weight @ two / weight.sum() - slope * (one - level)) / one
        spread = max(robust_sd(left), 1e-6)
        weight = np.minimum(1, 2 * spread / np.maximum(np.abs(left), 1e-9)) / one**2
    return slope, float(_sd_of_mean(left) * len(one) ** 0.5 / power**0.5)


def _drift(middle: Floats, time_s: Floats, block: Ints) -> tuple[float, float] | None:
    """Trend of the minutes per hour; None over less than half an hour."""
    hours = time_s[block * BLOCK_S] / 3600
    if len(middle) < 20 or np.ptp(hours) < 0.5:
        return None
    hours = hours - hours.mean()
    power = float(hours @ hours)
    slope = float(hours @ middle) / power
    residual = middle - middle.mean() - slope * hours
    return slope, float(_sd_of_mean(residual) * (len(hours) / power) ** 0.5)


def _apart(middle: np.ndarray, block: Ints, scene: Scene, far: float) -> Apart | None:
    """The longest run of minutes far apart, all on one side; None where there is none of ten minutes."""
    side = np.where(np.abs(middle) > far, np.sign(np.real(middle)), 0)
    if not side.any():
        return None
    edges = np.flatnonzero(np.diff(np.concatenate(([np.nan], side, [np.nan])), prepend=0)[1:] != 0)
    runs = [(a, b) for a, b in pairwise(edges.tolist()) if side[a] != 0]
    first, last = max(runs, key=lambda run: run[1] - run[0])
    if last - first < APART_BLOCKS:
        return None
    ends = scene.time_s[[block[first] * BLOCK_S, block[last - 1] * BLOCK_S + BLOCK_S - 1]]
    times = pd.to_datetime(ends, unit="s", utc=True)
    run = middle[first:last]
    typical = float(np.median(np.abs(run))) * (1 if np.iscomplexobj(run) else float(side[first]))
    return Apart(times[0], times[1], typical)


def _lag(first: np.ndarray, second: np.ndarray, circular: bool, scene: Scene) -> tuple[float, float] | None:
    """How much later the second changes than the first [s]; None where the changes are not alike."""
    steps = []
    for value in (first, second):
        step = value[STEP_S:] - value[:-STEP_S]
        step = wrap_signed_deg(step) if circular else step
        if np.iscomplexobj(step):
            return None
        steps.append(np.where(scene.unbroken[STEP_S:] & np.isfinite(step), step, 0.0))
    pieces = [np.array_split(step, LAG_PIECES) for step in steps]
    found = []
    for a, b in zip(*pieces, strict=True):
        if len(a) < 4 * len(LAGS_S):
            return None
        inner = b[-LAGS_S[0] : len(b) - LAGS_S[-1]]
        likeness = np.array([a[-LAGS_S[0] - lag : len(a) - LAGS_S[-1] - lag] @ inner for lag in LAGS_S])
        at = int(np.argmax(likeness))
        power = float((a @ a) * (b @ b)) ** 0.5
        if power > 0 and likeness[at] > LEAST_LIKENESS * power and 0 < at < len(LAGS_S) - 1:
            left, middle, right = likeness[at - 1 : at + 2]
            found.append(LAGS_S[at] + (left - right) / (2 * (left - 2 * middle + right)))
    if len(found) < 3:
        return None
    return float(np.median(found)), float(1.2533 * np.std(found, ddof=1) / len(found) ** 0.5)


def _noise(one: Series, circular: bool, channel: str) -> float | None:
    """One-sigma from reading to reading, from second differences of the middle of the passage."""
    middle = max(len(one.value) // 2 - REPEAT_READINGS, 0)
    value = one.value[middle : middle + 2 * REPEAT_READINGS]
    bend = value[2:] - 2 * value[1:-1] + value[:-2]
    if len(bend) < LEAST_READINGS:
        return None
    if circular:
        bend = wrap_signed_deg(bend)
    scale = EARTH_M_PER_DEG if channel == "lat_deg" else 1.0
    return float(scale * robust_sd(bend) / 6**0.5)


def _silent(value: np.ndarray, other: np.ndarray) -> float:
    spoken = np.isfinite(other)
    return float(np.mean(np.isnan(value[spoken]))) if spoken.any() else 0.0


def _resolution(value: Floats) -> float:
    """The step in which a source is printed."""
    steps = np.diff(np.unique(np.round(value[:: 1 + len(value) // REPEAT_READINGS], 9)))
    steps = steps[steps > 1e-7]
    return float(np.quantile(steps, 0.1)) if len(steps) else 0.0


def _one_instrument(first: _Told, second: _Told) -> bool:
    """One talker's several sentences, and headings that a log passes on."""
    copied = first.key.channel.startswith("heading") and "VHW" in (first.key.formatter, second.key.formatter)
    return copied or (first.key.talker, first.key.instance) == (second.key.talker, second.key.instance)


def _echoes(first: _Told, second: _Told, kind: Kind, scene: Scene, resolution: float) -> bool:
    """Whether readings of the sparser source repeat, but for rounding, one of the other just before or after."""
    sparse, dense = sorted((first.series, second.series), key=lambda one: len(one.value))
    if sparse.key.channel != dense.key.channel:
        near = wrap_signed_deg(second.value - first.value)
        return bool(np.nanmean(np.abs(near) <= resolution / 2 + 0.15) >= REPEAT_SHARE)
    rows = slice(None, None, 1 + len(sparse.value) // REPEAT_READINGS)
    time_s, value = sparse.sentences.time_s[sparse.row[rows]], sparse.value[rows]
    if len(np.unique(value)) < 4:
        return False
    told_s = dense.time_s
    at = np.searchsorted(told_s, time_s)
    unlike = np.full(len(value), np.inf)
    for shift in range(-8, 8):
        near = np.clip(at + shift, 0, len(told_s) - 1)
        off = np.abs(dense.value[near] - value)
        off = np.abs(wrap_signed_deg(off)) if kind.circular else off
        unlike = np.minimum(unlike, np.where(np.abs(told_s[near] - time_s) <= REPEAT_S, off, np.inf))
    met = np.isfinite(unlike)
    if met.sum() < LEAST_READINGS:
        return False
    alike = unlike[met] <= max(_resolution(sparse.value), _resolution(dense.value)) / 2 * 1.01 + 1e-6
    return bool(alike.mean() >= REPEAT_SHARE)
