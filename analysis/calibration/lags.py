"""How much later heading, apparent wind and log come than the boat's motion over the ground, from her turns.

In a turn the heading is compared with the direction of the track, the apparent wind shown with the one that a
steady wind and the motion make, and the log with the speed through the water worked back from the motion. Each is
fitted as level + gain x reference(t - lag) + spread x reference''(t - lag), the last term for what damping does
beside its mean delay, by Gauss-Newton on the lag. The mean over the turns is robust and its one-sigma comes from
their scatter. The motion is read from the track of positions or from the course and speed shown, whichever tells
more. Receivers delay the latter by 0.5 to 2 s; where the heading is told by both, by what they differ.
"""

from collections.abc import Callable, Iterable
from typing import NamedTuple, TypeVar

import numpy as np
import pandas as pd
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from analysis.calibration.needs import TURNS_TAKE, with_sensors
from analysis.calibration.small_samples import widening
from analysis.estimate import Estimate, Need
from analysis.kernels import smooth
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Floats, column
from analysis.robust import robust_sd
from analysis.vectors import wrap_signed_deg

LEAST_TURNS, MOST_TURNS = 4, 24
LEAST_CHANGE_DEG = 35.0
LONGEST_TURN_S = 75
MARGIN_S, CLEAR_S, LEAST_SIDE_ROWS = 35, 8, 15
LEAST_SOG_KN, LEAST_AWS_KN = 2.0, 4.0
EARLIEST_S, LATEST_S = -6, 20
DAMPINGS_S = np.array([0.0, 2.0, 4.0, 8.0])
LOG_DAMPING_SHARES = (0.4, 1.0)  # logs are damped rather than late (common practice, no source)
GAINS = (0.4, 2.0)
LEAST_KNOWN = 0.8
LEAST_FIT = 0.7  # share of the shown variance a turn must explain
MOST_TURN_SD_S, MOST_SD_S, WELL_TOLD_S = 4.0, 1.0, 0.6
LEAST_SCATTER_S = 0.1

# Velocity filters of receivers take 0.5 to 2 s (common practice, no source).
RECEIVER_DELAY_S, RECEIVER_DELAY_SD_S = 1.25, 0.5
# Sideslip in the turn, an antenna off the pivot, the sentences' way to the recorder (common practice, no source).
TRACK_SD_S = 0.25
WIND_SD_S = 0.35  # the masthead swings and upwash fades as the sails let go (common practice, no source)
SMOOTHER = (
    np.array([0.5, 1.0, 1.0, 1.0, 0.5]) / 4
)  # what a difference of positions over 4 s does to a velocity
LEEWAY_COEFFICIENT = 8.1  # deg kn2/deg: Garrett, The Symmetry of Sailing, 1987, sec. 3.5.3
NM_PER_DEG = 60.0
RAD = np.pi / 180


Complexes = NDArray[np.complex128]
Values = TypeVar("Values", Floats, Complexes)


class _Window(NamedTuple):
    """One turn: the rows in which it is fitted, the wider ones the reference is read in, and its two sides."""

    rows: slice
    wide: slice
    before: slice
    after: slice


class _Motion(NamedTuple):
    """Velocity over the ground, complex north + i east [kn], smoothed over 4 s, and how late it is [s]."""

    velocity: Complexes
    delay_s: float
    delay_sd_s: float


class _Lag(NamedTuple):
    value_s: float
    sd_s: float
    turns: int


def estimate_lags(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> dict[str, Estimate]:
    """Estimate ``heading_lag_s``, ``awa_lag_s`` and ``stw_lag_s`` from the turns of an aligned frame at 1 s.

    A lag [s] is how much later the shown value comes than the boat's motion, the mean delay of damping included.
    Not determined with fewer than 4 good turns; left out where the frame has no such sensor.
    """
    motions = _motions(frame)
    windows = _windows(frame, manoeuvres, motions)
    headings = [_heading_lag(frame, windows, motion) for motion in motions]
    motions = _timed(motions, headings)
    heading = _against(motions, headings)
    lags = {
        "heading_lag_s": heading,
        "awa_lag_s": _awa_lag(frame, windows, motions, heading),
        "stw_lag_s": _against(motions, (_stw_lag(frame, windows, motion) for motion in motions)),
    }
    needed = {"heading_lag_s": "heading_true_deg", "awa_lag_s": "awa_deg", "stw_lag_s": "stw_kn"}
    return {name: _estimate(frame, lag) for name, lag in lags.items() if needed[name] in frame}


def _estimate(frame: pd.DataFrame, lag: _Lag | None) -> Estimate:
    turns = lag.turns if lag is not None else 0
    if lag is not None and turns >= LEAST_TURNS and lag.sd_s <= MOST_SD_S:
        return Estimate(lag.value_s, lag.sd_s, "s", True)
    more = max(LEAST_TURNS - turns, 2)
    need = Need(
        f"Make {more} more tacks or quick turns of 60° or more, a minute of steady sailing between them"
    )
    need = with_sensors(need, frame, TURNS_TAKE)
    return Estimate(lag.value_s if lag else None, lag.sd_s if lag else None, "s", False, need)


def _motions(frame: pd.DataFrame) -> list[_Motion]:
    """The boat's motion as her positions and as her receiver tell it."""
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    track = np.full(len(frame), np.nan, dtype=complex)
    if len(frame) > 4:
        east = wrap_signed_deg(lon[4:] - lon[:-4])
        track[2:-2] = NM_PER_DEG * 900 * (lat[4:] - lat[:-4] + 1j * east * np.cos(RAD * lat[2:-2]))
        track[2:-2][frame.index[4:] - frame.index[:-4] != pd.Timedelta("4s")] = np.nan
    shown = _smooth(column(frame, "sog_kn") * np.exp(1j * RAD * column(frame, "cog_deg")))
    motions = (
        _Motion(track, 0.0, TRACK_SD_S),
        _Motion(shown, RECEIVER_DELAY_S, float(np.hypot(RECEIVER_DELAY_SD_S, TRACK_SD_S))),
    )
    return [motion for motion in motions if np.isfinite(motion.velocity).any()]


def _windows(frame: pd.DataFrame, manoeuvres: Manoeuvres, motions: list[_Motion]) -> list[_Window]:
    """The quickest turns under way with what lies about them, clear of their neighbours."""
    turns = manoeuvres.turns
    if not motions or not turns:
        return []
    sog = np.abs(motions[-1].velocity)
    starts = frame.index.searchsorted(pd.DatetimeIndex([turn.start for turn in turns])).tolist()
    ends = frame.index.searchsorted(pd.DatetimeIndex([turn.end for turn in turns])).tolist()
    found = []
    for turn, start, end, earlier, later in zip(
        turns, starts, ends, [0, *ends[:-1]], [*starts[1:], len(frame)], strict=True
    ):
        if abs(turn.change_deg) < LEAST_CHANGE_DEG or end - start > LONGEST_TURN_S or turn.turns:
            continue
        first = max(start - MARGIN_S, earlier + CLEAR_S, LATEST_S)
        last = min(end + MARGIN_S, later - CLEAR_S, len(frame) + EARLIEST_S)
        sides = slice(first, start - CLEAR_S), slice(end + CLEAR_S, last)
        if min(side.stop - side.start for side in sides) < LEAST_SIDE_ROWS:
            continue
        if _middle(sog[first:last]) > LEAST_SOG_KN:
            wide = slice(first - LATEST_S, last - EARLIEST_S)
            found.append(
                (abs(turn.change_deg) / max(end - start, 1), _Window(slice(first, last), wide, *sides))
            )
    return [window for _, window in sorted(found, key=lambda one: -one[0])[:MOST_TURNS]]


def _heading_lag(frame: pd.DataFrame, windows: list[_Window], motion: _Motion) -> _Lag | None:
    """Heading against the direction of the motion through the water, less a usual leeway."""
    heading = column(frame, "heading_true_deg")
    through_water = _through_water(frame, motion)
    fits = []
    for window in windows:
        track = _unwrapped(np.angle(through_water(window), deg=True))
        fits.append(_fit(_smooth(_unwrapped(heading[window.wide])), track))
    return _mean(fits)


def _stw_lag(frame: pd.DataFrame, windows: list[_Window], motion: _Motion) -> _Lag | None:
    """The log against the speed of the motion through the water, as the boat loses way and gathers it."""
    stw = column(frame, "stw_kn")
    through_water = _through_water(frame, motion)
    fits = [_fit(_smooth(stw[window.wide]), np.abs(through_water(window))) for window in windows]
    return _mean(fits, LOG_DAMPING_SHARES)


def _awa_lag(
    frame: pd.DataFrame, windows: list[_Window], motions: list[_Motion], heading_lag: _Lag | None
) -> _Lag | None:
    """Apparent wind angle against the one that a steady wind and the boat's motion make on her heading."""
    if heading_lag is None or heading_lag.turns < LEAST_TURNS:
        return None
    velocity = motions[0].velocity
    heading, awa, aws = (column(frame, name) for name in ("heading_true_deg", "awa_deg", "aws_kn"))
    wind = aws * np.exp(1j * RAD * (awa + heading)) - velocity
    fits = []
    for window in windows:
        steady = _mean_beside(wind, window)
        if np.isnan(steady) or _middle(aws[window.rows]) < LEAST_AWS_KN:
            continue
        truly = _at(_smooth(_unwrapped(heading[window.wide])), heading_lag.value_s)
        made = np.angle((steady + velocity[window.wide]) * np.exp(-1j * RAD * truly), deg=True)
        made = _unwrapped(made)
        shown = made + wrap_signed_deg(awa[window.wide] - made)
        fits.append(_fit(_smooth(shown), made))
    lag = _mean(fits)
    return lag and lag._replace(sd_s=float(np.hypot(np.hypot(lag.sd_s, WIND_SD_S), heading_lag.sd_s)))


def _through_water(frame: pd.DataFrame, motion: _Motion) -> Callable[[_Window], Complexes]:
    """The motion less what the ground moves beside the log, turned back by leeway where heel is known."""
    heading, stw = column(frame, "heading_true_deg"), column(frame, "stw_kn")
    adrift = motion.velocity - stw * np.exp(1j * RAD * heading)
    speed = np.maximum(np.abs(motion.velocity), LEAST_SOG_KN)
    leeway = LEEWAY_COEFFICIENT * column(frame, "heel_deg") / np.maximum(speed, 3) ** 2
    if np.isnan(leeway).all():
        leeway = np.zeros(len(frame))

    def through_water(window: _Window) -> Complexes:
        logged, moved = _middle(stw[window.rows]), _middle(speed[window.rows])
        current = _mean_beside(adrift, window) if 0.5 * moved < logged < 2 * moved else 0.0
        moving = motion.velocity[window.wide] - current
        turned: Complexes = moving * np.exp(-1j * RAD * leeway[window.wide])
        return turned

    return through_water


def _fit(shown: Floats, reference: Floats) -> Floats:
    """Lag [s] of one turn and its one-sigma at each of DAMPINGS_S, shape (dampings, 2).

    Both reach LATEST_S before and -EARLIEST_S after the rows fitted. NaN where the reference does not explain what
    was shown.
    """
    out = np.full((len(DAMPINGS_S), 2), np.nan)
    shown = shown[LATEST_S : len(shown) + EARLIEST_S]
    good = np.isfinite(shown)
    if good.mean() < LEAST_KNOWN or np.isfinite(reference).mean() < LEAST_KNOWN:
        return out
    y = shown[good] - shown[good].mean()
    reference, whole = _filled(reference), float(y @ y)
    damped = np.stack([_damped(reference, damping_s) for damping_s in DAMPINGS_S])
    late = sliding_window_view(damped, len(shown), axis=1)[:, ::-1][:, :, good]
    x = late - late.mean(axis=2, keepdims=True)
    power = np.maximum(np.einsum("kln,kln->kl", x, x), 1e-9)
    common = np.maximum(x @ y, 0)
    misfits = whole - common**2 / power
    for k, at in enumerate(np.argmin(misfits, axis=1).tolist()):
        misfit, gain = misfits[k], common[k, at] / power[k, at]
        fits = misfit[at] <= (1 - LEAST_FIT) * whole and GAINS[0] < gain < GAINS[1]
        if not fits or not 0 < at < len(misfit) - 1:
            continue
        left, middle, right = misfit[at - 1 : at + 2].tolist()
        curvature = left - 2 * middle + right
        residual = y - gain * x[k, at]
        memory = min(max(float(residual[1:] @ residual[:-1]) / max(middle, 1e-12), 0.0), 0.9)
        sd = (2 * middle / (len(y) - 3) * (1 + memory) / (1 - memory) / curvature) ** 0.5
        if sd < MOST_TURN_SD_S:
            out[k] = EARLIEST_S + at + (left - right) / (2 * curvature) + DAMPINGS_S[k], sd
    return out


def _damped(values: Floats, damping_s: float) -> Floats:
    """First-order damping at 1 s with a mean delay of ``damping_s``."""
    keep = damping_s / (1 + damping_s)
    return np.asarray(smooth(values[None, :], keep)[0]) if keep else values


def _timed(motions: list[_Motion], headings: list[_Lag | None]) -> list[_Motion]:
    """Time the motion the receiver tells by its track, where the heading lags surely behind either."""
    told = [lag for lag in headings if lag is not None and _told_well(lag)]
    if len(told) < 2:
        return motions
    by_track, by_receiver = told
    sd_s = float(np.linalg.norm((by_track.sd_s, by_receiver.sd_s, TRACK_SD_S)))
    return [motions[0], motions[1]._replace(delay_s=by_track.value_s - by_receiver.value_s, delay_sd_s=sd_s)]


def _against(motions: list[_Motion], lags: Iterable[_Lag | None]) -> _Lag | None:
    """The lag against the first motion that tells it well, else the best, its own delay and doubt added."""
    best = None
    for motion, own in zip(motions, lags, strict=False):
        if own is not None:
            sd = float(np.hypot(own.sd_s, motion.delay_sd_s))
            lag = _Lag(own.value_s + motion.delay_s, sd, own.turns)
            best = lag if best is None or (lag.turns >= LEAST_TURNS and lag.sd_s < best.sd_s) else best
            if _told_well(best):
                break
    return best


def _told_well(lag: _Lag) -> bool:
    return lag.turns >= LEAST_TURNS and lag.sd_s < WELL_TOLD_S


def _mean(fits: list[Floats], shares: tuple[float, float] = (0.0, 1.0)) -> _Lag | None:
    """Mean over turns, midway between the least and the greatest share that damping may have in the lag."""
    turns = np.array(fits).reshape(-1, len(DAMPINGS_S), 2)
    turns = turns[np.isfinite(turns[:, 0, 0])]
    told = np.isfinite(turns[:, :, 0])
    enough = np.logical_and.accumulate(told.sum(axis=0) >= max(LEAST_KNOWN * len(turns), 2))
    if not enough.any():
        return None
    means, sds = np.array([_robust_mean(*turns[told[:, k], k].T) for k in np.flatnonzero(enough)]).T
    low, high = (float(np.interp(0.0, DAMPINGS_S[enough] - share * means, means)) for share in shares)
    return _Lag((low + high) / 2, float(np.hypot(sds.min(), (high - low) / np.sqrt(12))), len(turns))


def _robust_mean(value: Floats, sd: Floats) -> tuple[float, float]:
    """Huber's mean and its one-sigma from the scatter, widened for few values by Student's t."""
    mean = float(np.median(value))
    scatter = max(robust_sd(value - mean), LEAST_SCATTER_S)
    for _ in range(5):
        spread = np.hypot(sd, scatter)
        weight = np.minimum(1, 1.5 * spread / np.maximum(np.abs(value - mean), 1e-9)) / spread**2
        mean = float(weight @ value / weight.sum())
    effective = weight.sum() ** 2 / (weight @ weight)
    own = np.sqrt(weight**2 @ (value - mean) ** 2) / weight.sum()
    own = max(own * np.sqrt(effective / max(effective - 1, 0.5)), 0.5 * weight.sum() ** -0.5)
    return mean, widening(max(effective - 1, 1)) * own


def _smooth(values: Values) -> Values:
    """Weighted mean over 4 s; NaN within 2 s of a gap or an end."""
    out = np.full_like(values, np.nan)
    if len(values) >= len(SMOOTHER):
        out[2:-2] = np.convolve(values, SMOOTHER, mode="valid")
    return out


def _mean_beside(values: Complexes, window: _Window) -> complex:
    """Mean of the means before and after the turn; NaN where either is unknown."""
    sides = [values[side][np.isfinite(values[side])] for side in (window.before, window.after)]
    if min(len(side) for side in sides) < LEAST_SIDE_ROWS // 2:
        return complex("nan")
    return complex(sides[0].mean() + sides[1].mean()) / 2


def _middle(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0


def _unwrapped(angle_deg: Floats) -> Floats:
    """Angles made continuous by whole turns, across unknown ones too."""
    known = np.isfinite(angle_deg)
    out = np.full_like(angle_deg, np.nan)
    out[known] = np.unwrap(angle_deg[known], period=360)
    return out


def _filled(values: Floats) -> Floats:
    row, known = np.arange(len(values)), np.isfinite(values)
    return np.interp(row, row[known], values[known])


def _at(values: Floats, later_s: float) -> Floats:
    """Values read so many seconds later."""
    row = np.arange(len(values))
    return np.interp(row + later_s, row, _filled(values)) if np.isfinite(values).any() else values
