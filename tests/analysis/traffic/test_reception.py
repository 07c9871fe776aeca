"""Shadow sectors: found where bearings off the bow are lost, and not told where nothing is."""

import numpy as np
import pandas as pd
import pytest

from analysis.earth import position_at
from analysis.traffic.own import OwnShip
from analysis.traffic.reception import reception

SECONDS = 4 * 3600
OWN = OwnShip(
    np.arange(SECONDS, dtype=float),
    np.full(SECONDS, 47.0),
    np.full(SECONDS, -9.0),
    np.full(SECONDS, 6.0 + 0j),
    np.where(np.arange(SECONDS) % 4800 < 2400, 30.0, 120.0),  # a tack every forty minutes
    "heading",
)


def heard(seed: int, lost_off_bow: tuple[float, float] | None, share: float = 0.85) -> pd.DataFrame:
    """Reports of 60 vessels that pass on straight ways, heard less the farther away, in bursts and fades."""
    rng = np.random.default_rng(seed)
    tables = []
    for k in range(60):
        time = np.arange(rng.uniform(0, 30), SECONDS - 1, 30.0)
        way = rng.uniform(-8, 8) + 1j * rng.uniform(-8, 8)
        way = way + rng.uniform(3, 12) * np.exp(1j * rng.uniform(0, 2 * np.pi)) * (time - SECONDS / 2) / 3600
        fade = 0.15 * np.sin(time / rng.uniform(300, 900) + rng.uniform(0, 6))  # each station comes and goes
        kept = rng.random(len(time)) < 0.85 / (1 + np.exp((np.abs(way) - 15) / 3)) + fade
        if lost_off_bow is not None:
            _, heading = OWN.moving_at(time)
            off = (np.degrees(np.angle(way)) - heading - lost_off_bow[0]) % 360
            kept &= ~((off < lost_off_bow[1] - lost_off_bow[0]) & (rng.random(len(time)) < share))
        there = position_at(way.imag[kept], way.real[kept], 47.0, -9.0)
        tables.append(
            pd.DataFrame(
                {
                    "mmsi": 200001000 + k,
                    "visit": k,
                    "time_s": time[kept],
                    "lat_deg": there.lat_deg,
                    "lon_deg": there.lon_deg,
                }
            )
        )
    table = pd.concat(tables, ignore_index=True)
    return table.assign(repeated=False, virtual=False, kind="A", number=1, sog_kn=8.0)


def shadows(seed: int, lost: tuple[float, float] | None) -> pd.DataFrame:
    visits = heard(seed, lost)
    table = reception(visits, OWN, 15.0).sectors
    return table[table["shadow"]]


@pytest.mark.parametrize("seed", range(4))
def test_a_shadow_off_the_bow_is_found(seed: int) -> None:
    table = shadows(seed, (75.0, 105.0))
    assert table.loc[table["of"] == "bow", "middle_deg"].tolist() == [90]


@pytest.mark.parametrize("count", [6, pytest.param(40, marks=pytest.mark.study)])
def test_no_shadow_is_told_where_there_is_none(count: int) -> None:
    """Twelve sectors off the bow and twelve from north on each passage: at most one false one in all."""
    told = sum(len(shadows(seed, None)) for seed in range(count))
    assert told <= 1


def test_the_horizon_needs_a_height() -> None:
    visits = heard(3, None)
    assert reception(visits, OWN, None).horizon_nm == {}
    told = reception(visits, OWN, 16.0)
    assert told.horizon_nm["A"] == pytest.approx(
        2.23 * (4 + np.sqrt(20))
    )  # FS-1037C, a ship's aerial at 20 m
    assert told.stations == 60


def test_what_was_repeated_or_is_no_aerial_says_nothing_of_range() -> None:
    visits = heard(3, None)
    for change in ({"repeated": True}, {"virtual": True}, {"kind": "aircraft"}, {"number": 27}):
        assert reception(visits.assign(**change), OWN, None).stations == 0
