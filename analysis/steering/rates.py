"""Rates of turn and means about each row of a frame, unknown across gaps, turns and stops."""

from itertools import pairwise

import numpy as np
import pandas as pd

from analysis.estimate import Need
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Bools, Floats, column, seconds_of, spans

HALF_S = 4  # a wave turns the bow to and fro in 5 to 8 s (common practice, no source): 8 s leave little of it
MOVING_KN = 2.0  # below it a rudder turns no boat to speak of (judgment)
_HEADING = Need("Record the heading as well: without it no turn is seen")
_WEIGHTS = np.concatenate(([0.5], np.ones(2 * HALF_S - 1), [0.5])) / (2 * HALF_S)


def needed(frame: pd.DataFrame, manoeuvre: Need) -> Need:
    """What would tell of the rudder: the manoeuvre, or before any a heading to see it by."""
    return manoeuvre if np.isfinite(column(frame, "heading_true_deg")).any() else _HEADING


def rate_of_turn(frame: pd.DataFrame) -> Floats:
    """Rate of turn [deg/s, + to starboard] over 8 s about every row, from the heading."""
    heading = column(frame, "heading_true_deg")
    known = np.isfinite(heading)
    turned = np.full(len(heading), np.nan)
    turned[known] = np.unwrap(heading[known], period=360)
    rate = np.full(len(heading), np.nan)
    if len(heading) > 2 * HALF_S:
        ahead, back = slice(2 * HALF_S, None), slice(None, -2 * HALF_S)
        rate[HALF_S:-HALF_S] = (turned[ahead] - turned[back]) / (2 * HALF_S)
        rate[HALF_S:-HALF_S][_broken(frame)] = np.nan
    return rate


def mean_about(values: Floats) -> Floats:
    """Mean of what lies within 4 s of every row, as a rate over 8 s sees it; NaN beside what is unknown."""
    out = np.full(len(values), np.nan)
    if len(values) > 2 * HALF_S:
        out[HALF_S:-HALF_S] = np.convolve(values, _WEIGHTS, mode="valid")
    return out


def smoothed(values: Floats, rows: int) -> Floats:
    """Mean of ``rows`` about each, at the ends of those that are there; NaN beside what is unknown."""
    window = np.ones(min(rows, len(values)))
    there = np.convolve(np.ones(len(values)), window, mode="same")
    return np.asarray(np.convolve(values, window, mode="same") / there)


def _broken(frame: pd.DataFrame) -> Bools:
    """Whether the 8 s about a row hold a gap."""
    time_s = seconds_of(frame)
    return np.asarray(time_s[2 * HALF_S :] - time_s[: -2 * HALF_S] > 2 * HALF_S + 0.5)


def under_way(frame: pd.DataFrame) -> Bools:
    """Rows in which the boat makes more than 2 kn, through the water or, without a log, over the ground."""
    stw, sog = column(frame, "stw_kn"), column(frame, "sog_kn")
    return np.asarray(np.where(np.isnan(stw), sog, stw) > MOVING_KN)


def straight(frame: pd.DataFrame, manoeuvres: Manoeuvres, margin_s: int) -> Bools:
    """Rows under way that lie ``margin_s`` from any turn and from any gap."""
    busy = ~under_way(frame)
    if manoeuvres.turning is not None:
        busy |= manoeuvres.turning
    busy = _widened(busy, margin_s)
    step = np.diff(seconds_of(frame), prepend=np.nan) > 1.5
    return ~(busy | _widened(np.asarray(step), HALF_S))


def pieces(good: Bools, least: int, most: int) -> list[tuple[int, int, int]]:
    """Stretches of True cut into near-equal pieces of at most ``most`` rows: number of stretch, first row, end."""
    found = []
    for number, (first, last) in enumerate(spans(good)):
        length = last + 1 - first
        if length >= least:
            edges = np.linspace(first, last + 1, -(-length // most) + 1).round().astype(int).tolist()
            found += [(number, a, b) for a, b in pairwise(edges)]
    return found


def means_of(values: Floats, cuts: list[tuple[int, int, int]]) -> Floats:
    """Mean of the known values of every piece; NaN where less than half is known."""
    known = np.isfinite(values)
    total = np.concatenate(([0.0], np.cumsum(np.where(known, values, 0.0))))
    count = np.concatenate(([0], np.cumsum(known)))
    first = np.array([cut[1] for cut in cuts], dtype=int)
    end = np.array([cut[2] for cut in cuts], dtype=int)
    number = count[end] - count[first]
    mean = (total[end] - total[first]) / np.maximum(number, 1)
    return np.asarray(np.where(number >= (end - first) / 2, mean, np.nan))


def _widened(mask: Bools, rows: int) -> Bools:
    total = np.concatenate(([0], np.cumsum(mask)))
    row = np.arange(len(mask))
    return np.asarray(total[np.minimum(row + rows + 1, len(mask))] > total[np.maximum(row - rows, 0)])
