"""Runs to and fro, told run by run."""

import numpy as np
import pandas as pd
import pytest

from analysis.manoeuvres import find_manoeuvres
from analysis.reciprocal import runs_told


def to_and_fro(count: int, factor: float = 1.04) -> pd.DataFrame:
    """Runs of ten minutes at 5 kn north and south in a stream of 0.8 kn north, 90 s of turn between them."""
    heading = [np.full(600, 0.0)]
    for number in range(1, count):
        heading += [np.linspace(180 * (number - 1), 180 * number, 90), np.full(600, 180.0 * number)]
    track = np.concatenate(heading)
    ground = 5 * np.exp(1j * np.radians(track)) + 0.8
    rng = np.random.default_rng(3)
    return pd.DataFrame(
        {
            "heading_true_deg": track % 360,
            "stw_kn": 5 / factor + rng.normal(0, 0.05, len(track)),
            "sog_kn": np.abs(ground),
            "cog_deg": np.degrees(np.angle(ground)) % 360,
        },
        index=pd.date_range("2026-06-01 08:00", periods=len(track), freq="s", tz="UTC", name="time_utc"),
    )


def test_four_runs_tell_each_run_and_the_mean_of_means() -> None:
    frame = to_and_fro(4)
    (told,) = runs_told(frame, find_manoeuvres(frame))
    assert [one.weight for one in told.runs] == [1 / 8, 3 / 8, 3 / 8, 1 / 8]
    # 5 kn with 0.8 kn of stream: 5.8 with it, 4.2 against it.
    assert [one.ground_kn for one in told.runs] == pytest.approx([5.8, 4.2, 5.8, 4.2], abs=0.01)
    assert [one.current_kn for one in told.runs] == pytest.approx([0.8] * 4, abs=0.02)
    assert told.ground_kn == pytest.approx(5.0, abs=0.005)
    assert told.shown_kn == pytest.approx(5 / 1.04, abs=0.01)
    assert told.sd is not None
    assert told.factor == pytest.approx(1.04, abs=3 * told.sd)


def test_two_runs_have_a_mean_but_no_spread() -> None:
    frame = to_and_fro(2)
    (told,) = runs_told(frame, find_manoeuvres(frame))
    assert told.sd is None
    assert told.ground_kn == pytest.approx(5.0, abs=0.01)


def test_without_a_log_there_is_nothing_to_tell() -> None:
    frame = to_and_fro(4).drop(columns="stw_kn")
    assert runs_told(frame, find_manoeuvres(frame)) == ()
