"""The own transponder, by what it prints of its own messages (VDO): how often, whose name, which position."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.earth import M_PER_NM
from analysis.estimate import Estimate
from analysis.passage import Floats
from analysis.vectors import wrap_signed_deg

from .own import OwnShip

# Nominal intervals [s] (ITU-R M.1371-5, tables 1 and 2, from memory): class A at rest, up to 14, to 23 kn and above,
# on a steady course and while changing it; class B with carrier sense below and above 2 kn; class B SO likewise,
# shorter above 14 and 23 kn.
AT_REST_S = 180.0
_A_STEADY, _A_TURNING = (10.0, 6.0, 2.0), (10 / 3, 2.0, 2.0)
_B_CARRIER_SENSE, _B_ORGANISED = (30.0, 30.0, 30.0), (30.0, 15.0, 5.0)
_BORDERS_KN = (14.0, 23.0)
_CRAWL_KN, _AT_REST_KN = 2.0, 3.0
_AT_ANCHOR = (1, 5)  # navigational status: at anchor, moored
_TURNING_DEG = 5.0  # heading off its mean of the last half minute (same tables, from memory)
PRINTED_OFTEN = 0.6  # share of the nominal interval below which not all that is printed was sent: judgment
TOO_RARE = 1.5  # times the nominal interval: judgment
_SILENT, _SILENT_S = 5.0, 60.0  # a pause of five intervals and a minute: judgment
_NO_TIME = "The recording has no time, so the interval of the own reports is not known."
_BLOCK_S = 600.0
_LEAST_CHANGE_M_S = 0.5  # of the velocity, to part a delay from a place: judgment


@dataclass(frozen=True)
class Transmission:
    """What the log tells of the own transponder; ``mmsis`` is empty and ``why`` says so where it tells nothing.

    ``interval_s`` is the median from one position report to the next, ``nominal_s`` the median interval due,
    ``ratio`` that of the two stretch by stretch; None with the reason in ``why`` where the log does not show
    what was sent. ``silences`` are pauses (start and end [s]). ``offset_m`` is how far the position lies from
    the GNSS in use once ``delay_s`` (the transponder's position is that much older, +) is taken out.
    """

    mmsis: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    transponder: str = ""
    reports: int = 0
    without_position: int = 0
    interval_s: float | None = None
    nominal_s: float | None = None
    ratio: float | None = None
    why: str = ""
    silences: tuple[tuple[float, float], ...] = ()
    offset_m: Estimate | None = None
    delay_s: Estimate | None = None
    arrives_s: float | None = None


def own_transmission(
    reports: pd.DataFrame, statics: pd.DataFrame, stations: pd.DataFrame, own: OwnShip
) -> Transmission:
    """Judge the own transponder from its position reports, names and all its messages."""
    mmsis = tuple(int(one) for one in stations.loc[stations["own"].astype(bool), "mmsi"])
    if not mmsis:
        heard = "The recording has AIS of others only" if len(stations) else "The recording has no AIS"
        return Transmission(why=f"{heard}: without VDO it does not show whether the own transponder sent.")
    said = statics[statics["own"].astype(bool)]
    names = tuple(dict.fromkeys(name for name in said["name"] if name))
    mine = reports[reports["own"].astype(bool)].sort_values("arrived_s", kind="stable")
    mine = mine[mine["number"].isin([1, 2, 3, 18, 19])]
    if mine.empty:
        return Transmission(mmsis, names, why="The transponder printed no position report.")
    placed = mine[mine["lat_deg"].notna() & mine["lon_deg"].notna()]
    kind = "A" if mine["kind"].iloc[-1] == "A" else "B CS" if mine["carrier_sense"].all() else "B SO"
    due = nominal_intervals_s(mine, own, kind)
    interval, nominal, ratio, why, silences = _intervals(mine, due)
    offset, delay = _against_gnss(placed, own)
    timed = mine["second"].to_numpy() >= 0
    late = (mine["arrived_s"] - mine["time_s"]).to_numpy(float)[timed]
    return Transmission(
        mmsis,
        names,
        kind,
        len(mine),
        len(mine) - len(placed),
        interval,
        nominal,
        ratio,
        why,
        silences,
        offset,
        delay,
        float(np.median(late)) if len(late) else None,
    )


def nominal_intervals_s(mine: pd.DataFrame, own: OwnShip, kind: str) -> Floats:
    """The interval due at each own report by the speed it states; by the own track's where it states none."""
    time = mine["arrived_s"].to_numpy(float)
    velocity, heading = own.moving_at(time)
    speed = mine["sog_kn"].to_numpy(float)
    speed = np.nan_to_num(np.where(np.isfinite(speed), speed, np.abs(velocity)))
    band = np.searchsorted(_BORDERS_KN, speed, side="right")
    if kind != "A":
        steps = _B_CARRIER_SENSE if kind == "B CS" else _B_ORGANISED
        return np.where(speed <= _CRAWL_KN, AT_REST_S, np.asarray(steps)[band])
    _, before = own.moving_at(time - 15.0)
    turning = np.nan_to_num(np.abs(wrap_signed_deg(heading - before))) > _TURNING_DEG
    due = np.where(turning, np.asarray(_A_TURNING)[band], np.asarray(_A_STEADY)[band])
    resting = mine["status"].isin(_AT_ANCHOR).to_numpy() & (speed <= _AT_REST_KN)
    return np.where(resting, AT_REST_S, due)


def _intervals(
    mine: pd.DataFrame, due: Floats
) -> tuple[float | None, float | None, float | None, str, tuple[tuple[float, float], ...]]:
    time = mine["arrived_s"].to_numpy(float)
    step = np.diff(time)
    known = np.isfinite(step) & (step > 0)
    if known.sum() < 3:
        timed = np.isfinite(time).any()
        why = "Too few own position reports to tell their interval." if timed else _NO_TIME
        return None, None, None, why, ()
    step, needed, start = step[known], due[:-1][known], time[:-1][known]
    ratio = float(np.median(step / needed))
    interval, nominal = float(np.median(step)), float(np.median(needed))
    usual = np.minimum(needed, interval) if ratio < PRINTED_OFTEN else needed
    silent = (step > _SILENT * usual) & (step > _SILENT_S)
    silences = tuple(zip(start[silent].tolist(), (start + step)[silent].tolist(), strict=True))
    if ratio < PRINTED_OFTEN:
        why = (
            f"The transponder prints its message every {interval:.0f} s, more often than the {nominal:.0f} s at "
            "which it sends, so the recording does not show which were sent."
        )
        return interval, nominal, None, why, silences
    return interval, nominal, ratio, "", silences


def _against_gnss(placed: pd.DataFrame, own: OwnShip) -> tuple[Estimate | None, Estimate | None]:
    """Offset [m] and delay [s] of the transponder's position, their spread from ten-minute blocks."""
    time = placed["time_s"].to_numpy(float)
    apart = (
        own.offset_nm(time, placed["lat_deg"].to_numpy(float), placed["lon_deg"].to_numpy(float)) * M_PER_NM
    )
    velocity, _ = own.moving_at(time)
    moved = velocity * M_PER_NM / 3600.0
    known = np.isfinite(apart) & np.isfinite(moved)
    if known.sum() < 5:
        return None, None
    apart, moved, block = apart[known], moved[known], (time[known] // _BLOCK_S).astype(int)
    fast = np.abs(moved) > 0.5
    delay = _delay(apart[fast], moved[fast], block[fast]) if fast.sum() >= 20 else None
    lag = delay.value if delay is not None and delay.determined and delay.value is not None else 0.0
    left = np.abs(apart + lag * moved)
    each = np.array([np.median(left[block == one]) for one in np.unique(block)])
    sd = float(each.std(ddof=1) / np.sqrt(len(each))) if len(each) > 1 else None
    return Estimate(float(np.median(left)), sd, "m", True), delay


def _delay(apart: np.ndarray, moved: np.ndarray, block: np.ndarray) -> Estimate | None:
    """How late positions are, by what changes with the velocity: a fixed offset does not; None on one course."""
    numbers = np.unique(block)
    apart, moved = apart - apart.mean(), moved - moved.mean()
    along = np.array([-(apart * moved.conj()).real[block == one].sum() for one in numbers])
    power = np.array([(np.abs(moved) ** 2)[block == one].sum() for one in numbers])
    if power.sum() < _LEAST_CHANGE_M_S**2 * len(apart):
        return None
    value = float(along.sum() / power.sum())
    if len(numbers) < 3:
        return Estimate(value, None, "s", False)
    sd = float(np.sqrt(((along - value * power) ** 2).sum()) / power.sum())
    return Estimate(value, sd, "s", sd < 1.0)
