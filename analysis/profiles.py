"""A quantity by heading or by the size of another, from means of a minute."""

from dataclasses import dataclass, replace

import numpy as np

from analysis.passage import Floats

MINUTE_S = 60
LEAST_MINUTES = 3
HEADING_STEP_DEG = 15.0
SIZE_STEPS = 10


@dataclass(frozen=True)
class Profile:
    """Means by sector; arrays of one length.

    ``at`` is the middle of the sector, ``sd`` the spread from minute to minute within it, ``minutes`` their number.
    """

    at: Floats
    mean: Floats
    sd: Floats
    minutes: Floats


def by_heading(heading_deg: Floats, value: Floats) -> Profile:
    """Average a quantity in sectors of 15 deg of the heading; rows a second apart, NaN where nothing is known.

    A minute counts where at least half of it is known, a sector where at least three minutes fall into it.
    """
    bow = np.exp(1j * np.radians(heading_deg))
    known = np.isfinite(heading_deg) & np.isfinite(value)
    bows, values = _minutes(bow, known), _minutes(value, known)
    count = round(360 / HEADING_STEP_DEG)
    place = np.round(np.degrees(np.angle(bows)) / HEADING_STEP_DEG).astype(int) % count
    return _gathered(place, values.real, HEADING_STEP_DEG)


def by_size(size: Floats, value: Floats) -> Profile:
    """Average a quantity in ten even steps of another, as ``by_heading`` does; the odd extreme is left out."""
    known = np.isfinite(size) & np.isfinite(value)
    sizes, values = _minutes(size, known).real, _minutes(value, known).real
    if not len(sizes):
        return _gathered(np.empty(0, dtype=int), values, 1.0)
    low, high = np.quantile(sizes, (0.02, 0.98))
    step = max(float(high - low) / SIZE_STEPS, 1e-9)
    place = np.floor((sizes - low) / step)
    inside = (place >= 0) & (place < SIZE_STEPS)
    got = _gathered(place[inside].astype(int), values[inside], step)
    return replace(got, at=got.at + low + step / 2)


def _minutes(values: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Means of the minutes that are known for at least half."""
    whole = len(values) // MINUTE_S * MINUTE_S
    there = known[:whole].reshape(-1, MINUTE_S)
    count = there.sum(axis=1)
    enough = 2 * count >= MINUTE_S
    total = np.where(there, values[:whole].reshape(-1, MINUTE_S), 0).sum(axis=1)
    return np.asarray(total[enough] / count[enough])


def _gathered(place: np.ndarray, values: Floats, step: float) -> Profile:
    sectors = [(one, values[place == one]) for one in np.unique(place)]
    full = [(one, inside) for one, inside in sectors if len(inside) >= LEAST_MINUTES]
    return Profile(
        np.array([step * one for one, _ in full], dtype=float),
        np.array([inside.mean() for _, inside in full], dtype=float),
        np.array([inside.std(ddof=1) for _, inside in full], dtype=float),
        np.array([len(inside) for _, inside in full], dtype=float),
    )
