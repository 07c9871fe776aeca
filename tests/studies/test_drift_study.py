"""Does the radius about the datum hold what drifted: persons who fall from boats sailed in tide and wind with memory.

Run with ``pytest -m study -s tests/studies/test_drift_study.py``. The passages come from the tests' own
simulator and go the whole road, so that the current is the one the log lets be known; the persons are drifted
here second by second. How each drifts is drawn from the states of a person in the water that leeway tables list
(upright, sitting, face up in a suit, face down; shares of the wind and divergence from memory of IAMSAR vol.
II); the water about the person differs from that at the boat by eddies with a memory of their own.
"""

from pathlib import Path

import numpy as np
import pytest
from simulator.cases import case
from simulator.noise import wander

from analysis import Settings, review
from analysis.asked import Asked
from analysis.earth import geodesic, position_at
from analysis.emergencies import Overboard, UserMark

pytestmark = pytest.mark.study

PASSAGES = 40
FALLS_S = (3600, 9000)
AFTER_S = (600, 1800, 3600, 7200)
STATES = ((0.005, 0.07, 18.0), (0.012, 0.0, 18.0), (0.014, 0.10, 30.0), (0.015, 0.08, 30.0))
EDDIES_KN, EDDIES_S = 0.08, 2400.0
LATEST_MARK_S = 8


def truly_drifted(rng, truth, fall: int, seconds: int) -> tuple[float, float]:
    """Place of a person ``seconds`` after the fall, who drifts with the water and off downwind."""
    rows = slice(fall, fall + seconds)
    n = len(truth.current_north_kn[rows])
    current = truth.current_north_kn[rows] + 1j * truth.current_east_kn[rows]
    water = current + wander(rng, n, EDDIES_KN, EDDIES_S) + 1j * wander(rng, n, EDDIES_KN, EDDIES_S)
    air = -truth.wind_kn[rows] * np.exp(1j * np.radians(truth.wind_from_deg[rows])) - water
    share, least, divergence = STATES[rng.integers(len(STATES))]
    turned = np.exp(1j * np.radians(rng.uniform(-divergence, divergence)))
    slip = (share * np.abs(air) + least) * air / np.abs(air) * turned
    way = (water + slip).sum() / 3600
    place = position_at(way.imag, way.real, truth.lat_deg[fall], truth.lon_deg[fall])
    return float(place.lat_deg), float(place.lon_deg)


def test_what_drifted_lies_within_the_radius(tmp_path: Path) -> None:
    found: dict[int, list[tuple[float, float]]] = {after: [] for after in AFTER_S}
    for seed in range(PASSAGES):
        made = case("nearly-clean" if seed % 2 else "clean", 300 + seed)
        log = tmp_path / "passage.nmea"
        log.write_bytes(made.nmea())
        truth = made.voyage.truth
        rng = np.random.default_rng([seed, 11])
        late = rng.integers(0, LATEST_MARK_S, len(FALLS_S))
        marks = tuple(
            UserMark(truth.start.timestamp() + fall + int(by)) for fall, by in zip(FALLS_S, late, strict=True)
        )
        told = review(log, Settings(asked=Asked(overboard=Overboard(marks)))).case.emergencies.all
        for fall, one in zip(FALLS_S, told, strict=True):
            assert one.datum is not None, one.why
            after_s = one.datum.time_s - (truth.start.timestamp() + fall)
            state = rng.integers(1 << 30)
            for after in AFTER_S:
                if after > after_s[-1]:
                    continue
                lat, lon = truly_drifted(np.random.default_rng(state), truth, fall, after)
                row = int(np.abs(after_s - after).argmin())
                off = geodesic(one.datum.lat_deg[row], one.datum.lon_deg[row], lat, lon).distance_nm
                found[after].append((off, float(one.datum.radius_nm[row])))
    for after, drifts in found.items():
        off, radius = np.array(drifts).T
        print(
            f"\n{after // 60} min: within in {(off <= radius).mean():.1%} of {len(drifts)}, median off "
            f"{np.median(off):.3f} nm, radius {np.median(radius):.3f} nm, 95 in 100 within "
            f"{np.quantile(off / radius, 0.95):.2f} radii"
        )
    inside = [[off <= radius for off, radius in drifts] for drifts in found.values()]
    assert all(len(one) >= 40 and np.mean(one) >= 0.90 for one in inside)
    assert np.mean(np.concatenate(inside)) <= 0.99
