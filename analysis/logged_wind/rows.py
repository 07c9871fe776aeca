"""What a wind display works from and what it shows, as vectors seen from the bow, in windows of a passage."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.kernels import smooth
from analysis.passage import Bools, Floats

Complexes = NDArray[np.complex128]

WINDOW_S = 600
MOST_ROWS = 14_400  # four hours: a longer passage is looked at in windows spread over it
BLOCK_S = 10
TURNING_DEG_S = 1.5
AFTER_TURN_S = 30
SLOWEST_KN = 3.0  # leeway is not worked out below this speed through the water
MOST_HEEL_DEG, MUCH_WIND_KN = (
    22.0,
    19.0,
)  # heel of a yacht on the wind, where it is not logged; common practice, no source


@dataclass(frozen=True)
class Rows:
    """Rows (windows, seconds). Vectors are those the wind comes from and the boat goes to,
    bow real and starboard imaginary.

    ``shown`` is the logged true wind. ``heeled`` is what a display adds to the apparent wind that levels it by heel,
    None where heel is not logged; ``sideways`` is the leeway velocity for 1 deg kn2/deg, from a guess at heel where
    that is not logged. ``heading`` and ``direction``, the logged wind direction made true, are unit vectors.
    ``angle_logged`` is False where TWA is not logged and ``shown`` comes from direction and heading.
    """

    apparent: Complexes
    stw: Complexes
    shown: Complexes
    ground: Complexes | None
    heeled: Complexes | None
    sideways: Complexes
    heading: Complexes | None
    direction: Complexes | None
    direction_is_magnetic: bool
    angle_logged: bool
    variation_deg: float | None
    turning: Bools
    frame_row: NDArray[np.int64]


def rows_of(frame: pd.DataFrame) -> Rows | None:
    """Pick the windows and turn their columns into vectors; None where the log lacks what it takes."""
    have = {str(name) for name in frame if frame[name].notna().any()}
    angle_logged = "logged_twa_deg" in have
    field = _direction_field(frame, have)
    if not {"awa_deg", "aws_kn", "stw_kn", "logged_tws_kn"} <= have or not (angle_logged or field):
        return None
    if not angle_logged and "heading_true_deg" not in have:
        return None
    take = _windows(len(frame))

    def column(name: str) -> Floats:
        picked: Floats = frame[name].to_numpy(dtype=float)[take]
        return picked

    def toward(name: str) -> Complexes:
        return np.exp(1j * np.radians(column(name)))

    stw = column("stw_kn")
    apparent = column("aws_kn") * toward("awa_deg")
    heading = toward("heading_true_deg") if "heading_true_deg" in have else None
    variation = (
        float(np.nanmedian(frame["variation_deg"].to_numpy(dtype=float))) if "variation_deg" in have else None
    )
    direction = toward(field) if field else None
    is_magnetic = field == "logged_twd_mag_deg"
    if direction is not None and is_magnetic:
        direction = direction * np.exp(1j * np.radians(variation or 0.0))
    if angle_logged:
        shown = column("logged_tws_kn") * toward("logged_twa_deg")
    else:
        assert direction is not None and heading is not None
        shown = column("logged_tws_kn") * direction * heading.conj()
    ground: Complexes | None = None
    heeled: Complexes | None = None
    if heading is not None and {"sog_kn", "cog_deg"} <= have:
        ground = column("sog_kn") * toward("cog_deg") * heading.conj()
    if "heel_deg" in have:
        heel = np.radians(np.clip(column("heel_deg"), -60, 60))
        heeled = apparent.imag * (1 / np.cos(heel) - 1) * np.complex128(1j)
    else:
        heel = np.radians(-MOST_HEEL_DEG * np.tanh(np.abs(apparent) * apparent.imag / MUCH_WIND_KN**2))
    sideways: Complexes = heel / np.maximum(stw, SLOWEST_KN) * np.complex128(1j)
    return Rows(
        apparent=apparent,
        stw=stw.astype(complex),
        shown=shown,
        ground=ground,
        heeled=heeled,
        sideways=sideways,
        heading=heading,
        direction=direction,
        direction_is_magnetic=is_magnetic,
        angle_logged=angle_logged,
        variation_deg=variation,
        turning=_turning(heading, apparent),
        frame_row=take,
    )


def _direction_field(frame: pd.DataFrame, have: set[str]) -> str | None:
    """The logged wind direction to judge: the true one where there is one."""
    fields = [name for name in ("logged_twd_deg", "logged_twd_mag_deg") if name in have]
    return (
        max(fields, key=lambda name: round(float(np.mean(frame[name].notna().to_numpy())), 1))
        if fields
        else None
    )


def _windows(n: int) -> NDArray[np.int64]:
    length = min(WINDOW_S, n)
    count = n // length
    picked = np.unique(np.linspace(0, count - 1, min(count, MOST_ROWS // length)).astype(int))
    rows: NDArray[np.int64] = picked[:, None] * length + np.arange(length)
    return rows


def _turning(heading: Complexes | None, apparent: Complexes) -> Bools:
    """Rows in a turn or shortly after one, by the compass or, without one, by the change of the apparent wind."""
    if heading is None:
        return np.zeros(apparent.shape, bool)
    turn = np.zeros(apparent.shape)
    turn[:, BLOCK_S:] = np.abs(np.angle(heading[:, BLOCK_S:] * heading[:, :-BLOCK_S].conj(), deg=True))
    turning = np.nan_to_num(turn) > TURNING_DEG_S * BLOCK_S
    count = np.cumsum(turning, axis=1)
    earlier = np.pad(count, ((0, 0), (AFTER_TURN_S, 0)))[:, : count.shape[1]]
    spread: Bools = count > earlier
    spread[:, :-BLOCK_S] |= spread[:, BLOCK_S:]
    return spread


@dataclass(frozen=True)
class Damping:
    """How a display smooths: a first-order filter of ``time_s`` and then a delay, in seconds."""

    time_s: float
    delay_s: int

    @property
    def lag_s(self) -> float:
        """Seconds by which a steady change is shown late."""
        return self.time_s + self.delay_s

    def __call__(self, values: Complexes) -> Complexes:
        """Filter rows (windows, seconds) without gaps, each window from its first value on."""
        return delayed(damped(values, self.time_s), self.delay_s)


def damped(values: Complexes, time_s: float) -> Complexes:
    """Filter along the last axis to first order, from the first value on."""
    if time_s == 0:
        return values
    keep = np.exp(-1.0 / time_s)
    smoothed: Complexes = smooth(values.reshape(-1, values.shape[-1]), keep).reshape(values.shape)
    return smoothed


def delayed(values: Complexes, delay_s: int) -> Complexes:
    """Shift along the last axis, the first or last value carried into what opens."""
    moved = np.roll(values, delay_s, axis=-1)
    if delay_s > 0:
        moved[..., :delay_s] = values[..., :1]
    elif delay_s < 0:
        moved[..., delay_s:] = values[..., -1:]
    return moved


def filled(values: Complexes) -> tuple[Complexes, Bools]:
    """Carry the last known value into gaps; return where values were known."""
    known = np.isfinite(values)
    if known.all():
        return values, known
    last = np.maximum.accumulate(np.where(known, np.arange(values.shape[-1]), 0), axis=-1)
    return np.nan_to_num(np.take_along_axis(values, last, axis=-1)), known


def unit(vector: Complexes) -> Complexes:
    """Scale vectors to length one, a calm to none."""
    with np.errstate(invalid="ignore"):
        scaled: Complexes = vector / np.maximum(np.abs(vector), 1e-6)
    return scaled


def block_means(values: Complexes, use: Bools) -> Complexes:
    """Means over ``BLOCK_S`` of the rows in use, NaN where fewer than six; one dimension."""
    count = values.shape[-1] // BLOCK_S
    shape = (values.shape[0], count, BLOCK_S)
    kept = use[:, : count * BLOCK_S].reshape(shape)
    total = np.where(kept, values[:, : count * BLOCK_S].reshape(shape), 0).sum(axis=-1)
    number = kept.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        means: Complexes = np.where(number >= 6, total / number, np.nan).ravel()
    return means
