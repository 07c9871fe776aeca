"""The polar against a boat of known speeds: coverage over 48 passages of 12 h at all angles, the instruments right.

Run with ``pytest -m study -s tests/studies/test_polar_study.py``. Even seeds sail in noise with memory, odd ones in
heavy tails and wave-periodic noise. The truth is what the boat's speeds average to in a minute: wind and yaw wander
within it, so sharp bends of the curve are rounded. Few passages bracket the best angle down wind, where her curve is
flat: nearly all best angles are upwind ones.
"""

from functools import cache

import numpy as np
import pytest
from simulator.instruments import Errors
from simulator.voyage import polar, sail

from analysis.derive import Leeway, derive
from analysis.lasting import ALWAYS
from analysis.manoeuvres import find_manoeuvres
from analysis.performance import TACKS, Sailed, find_minutes, fit_surface

pytestmark = pytest.mark.study

PASSAGES, HOURS = 48, 12.0
ANGLES = np.arange(25.0, 180.1, 0.5)


def orders(rng):
    """Legs of 8 to 22 minutes at any angle, half of them close-hauled, mostly changing tack."""
    plan, side, spent = [], 1, 0.0
    while spent < 60 * HOURS:
        minutes, side = rng.uniform(8, 22), -side if rng.random() < 0.7 else side
        angle = rng.uniform(36, 60) if rng.random() < 0.5 else rng.uniform(36, 175)
        plan.append(("wind", side * angle, minutes))
        spent += minutes
    return plan


def wander(truth):
    """By how much wind speed and angle stray within steady minutes [kn, deg]: a sample."""
    wind = truth.wind_kn * np.exp(1j * np.radians(truth.wind_from_deg))
    wind = wind + truth.current_north_kn + 1j * truth.current_east_kn
    minutes = (wind / np.exp(1j * np.radians(truth.heading_deg))).reshape(-1, 60)
    mean = minutes.mean(axis=1, keepdims=True)
    angle = np.degrees(np.angle(minutes / mean))
    steady = np.abs(angle).max(axis=1) < 25
    return (np.abs(minutes) - np.abs(mean))[steady].ravel()[::97], angle[steady].ravel()[::97]


WINDS, DEGREES = np.arange(0.0, 40.0, 0.25), np.arange(0.0, 181.0)
BY_WIND = np.array([polar(wind, 90) for wind in WINDS]) / polar(10, 90)
BY_ANGLE = np.array([polar(10, angle) for angle in DEGREES])


def true_speed(stray, tws, twa):
    """The boat's mean speed in such minutes; her speed is a product of wind and angle, read off her own curves."""
    winds, angles = tws + stray[0], 180 - np.abs(180 - np.abs(twa + stray[1]))
    return float(np.mean(np.interp(winds, WINDS, BY_WIND) * np.interp(angles, DEGREES, BY_ANGLE)))


@cache
def outcome():
    """Rows of error and sd: of cells by tack, of the smooth surface, of best angles and their VMG."""
    rows = {name: [] for name in (*TACKS, "smooth", "best angle", "vmg")}
    for seed in range(PASSAGES):
        rng = np.random.default_rng([seed, 12])
        errors = Errors(leeway_coefficient=rng.uniform(5, 12))
        pilot = ("wind", "compass")[seed // 2 % 2]
        voyage = sail(
            "mixed", seed, HOURS, bool(seed % 2), errors, orders=orders(rng), gaps=False, pilot=pilot
        )
        frame = derive(voyage.frame, Leeway(errors.leeway_coefficient, 0.0))
        minutes = find_minutes(frame, find_manoeuvres(voyage.frame))
        sailed = Sailed(minutes, ALWAYS, fit_surface(minutes))
        stray = wander(voyage.truth)
        for tack, cells in sailed.cells.items():
            for at in map(tuple, np.argwhere(np.isfinite(cells.median_kn))):
                true = true_speed(stray, sailed.grid.tws_kn[at[1]], sailed.grid.twa_deg[at[0]])
                rows[tack].append((cells.median_kn[at] - true, cells.median_kn_sd[at]))
        smooth = sailed.smooth
        for at in map(tuple, np.argwhere(np.isfinite(smooth.speed_kn))):
            true = true_speed(stray, smooth.grid.tws_kn[at[1]], smooth.grid.twa_deg[at[0]])
            rows["smooth"].append((smooth.speed_kn[at] - true, smooth.speed_kn_sd[at]))
        for best in sailed.best:
            if best.twa_deg is None:
                continue
            here = ANGLES[ANGLES < 90] if best.upwind else ANGLES[ANGLES >= 90]
            good = [abs(true_speed(stray, best.tws_kn, a) * np.cos(np.radians(a))) for a in here]
            rows["best angle"].append((best.twa_deg - here[int(np.argmax(good))], best.twa_deg_sd))
            rows["vmg"].append((best.vmg_kn - max(good), best.vmg_kn_sd))
    return {name: np.array(values) for name, values in rows.items()}


def coverage(rows):
    return float(np.mean(np.abs(rows[:, 0]) < 1.96 * rows[:, 1]))


def test_report():
    for name, rows in outcome().items():
        rms, bias = np.sqrt(np.mean(rows[:, 0] ** 2)), rows[:, 0].mean()
        print(
            f"\n{name:14s} n {len(rows):5d}  rms {rms:.3f}  bias {bias:+.3f}  median sd {np.median(rows[:, 1]):.3f}  "
            f"cover {coverage(rows):.3f}",
            end="",
        )


@pytest.mark.parametrize("name", [*TACKS, "smooth", "best angle", "vmg"])
def test_intervals_hold_the_truth(name):
    assert 0.90 <= coverage(outcome()[name]) <= 0.99
