"""Laylines against a boat of other physics, upwind and downwind: 40 passages of 6 h each way.

Run with ``pytest -m study -s tests/studies/test_laylines_study.py``. Of each passage only what was logged up to a
moment is given to the program; a mark is then laid where the boat really got to on her next leg, so that she did pass
it. The layline predicted must lead to it within its ±, asked at the turn and ten minutes before; so must the time to
the turn.
Instruments are off as drawn, seas and winds as in the other studies.
"""

import numpy as np
import pandas as pd
import pytest
from simulator import sail

from analysis.calibration import calibrate
from analysis.correction import accuracy_of, corrected_sensors, leeway_of
from analysis.derive import derive
from analysis.earth import hop
from analysis.manoeuvres import find_manoeuvres
from analysis.routes import Mark, RoutesAsked, work_out_routes
from analysis.screening import screen
from analysis.vectors import wrap_signed_deg

pytestmark = pytest.mark.study

PASSAGES = 40
SIGMAS = 1.96
BEFORE_S, TURNED_S, STOP_S = 600, 60, 60


def orders_of(point, rng):
    """Legs of 14 to 28 min on alternate tacks, each within a degree or two of one angle."""
    usual = rng.uniform(41, 48) if point == "upwind" else rng.uniform(140, 158)
    orders, side, spent = [], rng.choice([-1, 1]), 0.0
    while spent < 360:
        minutes = rng.uniform(14, 28)
        orders.append(("wind", side * (usual + rng.normal(0, 1.5)), minutes))
        side, spent = -side, spent + minutes
    return orders


def known_until(frame, end):
    """The routes as the program would have worked them out from the log up to a row."""
    frame = frame.iloc[:end]
    screened = screen(frame)
    manoeuvres = find_manoeuvres(screened.frame)
    calibration = calibrate(screened.frame, manoeuvres, {})
    corrected, estimates = corrected_sensors(frame, screened, calibration, {})
    derived = derive(corrected, leeway_of(estimates), accuracy_of(estimates, corrected))
    return work_out_routes(derived, pd.DataFrame(), manoeuvres, calibration.current, RoutesAsked())


def asked(point, seed):
    """Rows of (error, sd) of the layline at the turn and before it [deg], and of the time to the turn [min]."""
    orders = orders_of(point, np.random.default_rng([seed, 5]))
    voyage = sail(point, seed, heavy=bool(seed % 2), orders=orders)
    truth = voyage.truth
    turns = np.cumsum([round(60 * minutes) for _, _, minutes in orders])
    rows = {"at the turn": [], "10 min before": [], "minutes to the turn": []}
    last = int(np.flatnonzero(turns < len(voyage.frame))[-1])
    for k in (last // 2, last - 1):
        turn, stop = int(turns[k]), int(turns[k + 1]) - STOP_S
        mark = Mark("mark", truth.lat_deg[stop], truth.lon_deg[stop])
        tack = "starboard" if orders[k + 1][1] > 0 else "port"
        begin = turn + TURNED_S
        sailed = hop(truth.lat_deg[begin], truth.lon_deg[begin], mark.lat_deg, mark.lon_deg).bearing_deg
        for name, end in (("at the turn", turn), ("10 min before", turn - BEFORE_S)):
            routes = known_until(voyage.frame, end)
            found = routes.laylines(mark, truth.start.timestamp() + end - 1)
            if found is None or not found.laylines:
                rows[name].append((np.nan, np.nan))
                continue
            line = next(one for one in found.laylines if one.sailing.tack == tack)
            rows[name].append((float(wrap_signed_deg(line.bearing_deg - sailed)), line.bearing_sd_deg))
            if end < turn and found.to_layline is not None:
                to_line = found.to_layline
                rows["minutes to the turn"].append(((to_line.time_s - BEFORE_S) / 60, to_line.time_sd_s / 60))
    return rows


@pytest.mark.parametrize("point", ["upwind", "downwind"])
def test_the_boat_passes_the_mark_within_the_stated_uncertainty(point):
    told = [asked(point, seed) for seed in range(PASSAGES)]
    for name in told[0]:
        error, sd = np.array([row for one in told for row in one[name]]).T
        known = np.isfinite(error)
        covered = np.mean(np.abs(error[known]) <= SIGMAS * sd[known])
        print(
            f"{point:9} {name:20} of {len(error)}: known {known.mean():.0%}, "
            f"rms {np.sqrt(np.mean(error[known] ** 2)):.2f}, median sd {np.median(sd[known]):.2f}, "
            f"within ± {covered:.1%}"
        )
        assert known.mean() >= 0.8
        assert 0.90 <= covered <= 0.99 + 1 / known.sum()
