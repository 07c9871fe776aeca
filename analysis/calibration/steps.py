"""Sudden steps and spikes in a quantity that by nature changes slowly."""

from typing import NamedTuple

import numpy as np

from analysis.passage import Floats

WITHIN_S = 10.0
SIDE_S = 60.0
FEWEST = 5
MOST = 100


class Step(NamedTuple):
    """A step: when, in seconds since 1970-01-01 UTC, its size, and the one-sigma of the size."""

    time_s: float
    size: float
    sd: float


class Sudden(NamedTuple):
    """Steps that last, and how many times the value left and came back."""

    steps: tuple[Step, ...]
    spikes: int


def find_sudden(time_s: Floats, value: Floats, least: float) -> Sudden:
    """Find where readings, in time order, change by more than ``least`` within 10 s and stay, or come back.

    A step stays where the medians of the minute before and the minute after differ by that much and each
    side scatters less; at most the first 100 places are looked at.
    """
    if len(value) < 2 * FEWEST:
        return Sudden((), 0)
    steps = np.diff(time_s)
    ahead = max(1, int(WITHIN_S / max(float(np.median(steps)), 0.1)))
    changed = (np.abs(value[ahead:] - value[:-ahead]) > least) & (
        time_s[ahead:] - time_s[:-ahead] < 3 * WITHIN_S
    )
    at = np.flatnonzero(changed)
    if at.size == 0:
        return Sudden((), 0)
    runs = np.split(at, np.flatnonzero(np.diff(at) > ahead) + 1)[:MOST]
    found: list[Step] = []
    spikes = 0
    for run in runs:
        first, last = int(run[0]), int(run[-1]) + ahead
        begin = int(np.searchsorted(time_s, time_s[first] - SIDE_S))
        end = int(np.searchsorted(time_s, time_s[last] + SIDE_S, side="right"))
        before, after = value[begin : first + 1], value[last:end]
        if min(len(before), len(after)) < FEWEST:
            continue
        size = float(np.median(after) - np.median(before))
        scatter = max(float(np.std(before)), float(np.std(after)))
        if abs(size) > max(least, 3 * scatter):
            found.append(Step(float(time_s[(first + last) // 2]), size, _sd(before, after)))
        elif abs(size) < least / 2:
            spikes += 1
    return Sudden(tuple(found), spikes)


def _sd(before: Floats, after: Floats) -> float:
    """One-sigma of the size: the scatter of either side's mean, and the rounding of what is shown."""
    changes = np.abs(np.diff(np.concatenate([before, after])))
    rounding = float(changes[changes > 0].min()) / np.sqrt(12)
    return float(np.sqrt(np.var(before) / len(before) + np.var(after) / len(after) + rounding**2))
