"""Two sources of one quantity, one less the other."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.differences import difference
from analysis.passage import Passage, Series, Source, SourceKey

START_S = 1_780_300_800.0


def holding(passage: Passage, values: dict[SourceKey, np.ndarray], variation_deg: float = 0.0) -> Passage:
    """A passage of 20 s with these sources, a reading a second."""
    time_s = START_S + np.arange(20.0)
    series = {
        key: Series.alone(
            key, "", time_s, value.astype(float), np.ones(20, bool), np.arange(20), np.zeros(20, np.int16)
        )
        for key, value in values.items()
    }
    index = pd.DatetimeIndex(pd.to_datetime(time_s, unit="s", utc=True), name="time_utc")
    return replace(
        passage,
        series=series,
        sources=tuple(Source(key, 20, 1.0, 1.0, chosen=False) for key in series),
        frame=pd.DataFrame({"variation_deg": np.full(20, variation_deg)}, index=index),
    )


def test_headings_across_north_magnetic_and_true(small_passage: Passage) -> None:
    magnetic = SourceKey("heading_mag_deg", "HC", "HDG", "")
    true = SourceKey("heading_true_deg", "HE", "HDT", "")
    passage = holding(small_passage, {magnetic: np.full(20, 3.0), true: np.full(20, 359.0)}, -5.0)
    got = difference(passage, magnetic, true)
    assert got is not None
    # 3 less 5 of variation west is 358 true; 359 is 1 more.
    assert got.difference == pytest.approx(1.0)
    assert got.first == pytest.approx(358.0)


def test_positions_give_the_distance(small_passage: Passage) -> None:
    keys = [SourceKey("lat_deg", "GP", "RMC", ""), SourceKey("lat_deg", "GN", "RMC", "")]
    values = {
        keys[0]: np.full(20, 60.0),
        keys[0]._replace(channel="lon_deg"): np.full(20, 10.0),
        keys[1]: np.full(20, 60.0003),
        keys[1]._replace(channel="lon_deg"): np.full(20, 10.0008),
    }
    got = difference(holding(small_passage, values), *keys)
    assert got is not None
    # A minute of latitude is 1852 m: 0.0003 deg = 33.3 m north; 0.0008 deg x cos 60 = 44.4 m east: 55.6 m.
    assert got.difference == pytest.approx(55.56, abs=0.01)


def test_a_source_the_passage_does_not_hold(small_passage: Passage) -> None:
    key = SourceKey("stw_kn", "VW", "VHW", "")
    passage = holding(small_passage, {key: np.full(20, 5.0)})
    assert difference(passage, key, key._replace(instance="1 of 2")) is None
