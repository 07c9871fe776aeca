"""The wind block: exact full turns, contrasts on drawn legs, and the traps of true-wind space."""

import numpy as np
import pandas as pd
import pytest

from analysis.calibration.blocks import Blocks
from analysis.calibration.full_turns import full_turn_evidence
from analysis.calibration.wind import NAMES, fit_wind, upwash_shape
from analysis.manoeuvres import find_manoeuvres

RAD = np.pi / 180


def turned_frame(offset_deg, factor, seconds=480, wind=(85.0, 13.4412), boat_kn=6.0):
    """A full turn to starboard and one to port under power in a steady wind, instruments off as told."""
    sweep = np.linspace(0, 360, seconds)
    heading = np.concatenate([np.zeros(120), sweep, np.zeros(240), -sweep, np.zeros(120)]) % 360
    bow = np.exp(1j * RAD * heading)
    felt = (
        (wind[1] * np.exp(1j * RAD * wind[0]) + boat_kn * bow) / bow / factor * np.exp(-1j * RAD * offset_deg)
    )
    index = pd.date_range("2026-05-01T08:00", periods=len(heading), freq="s", tz="UTC", name="time_utc")
    return pd.DataFrame(
        {
            "heading_true_deg": heading,
            "sog_kn": boat_kn,
            "cog_deg": heading,
            "awa_deg": np.angle(felt, deg=True),
            "aws_kn": np.abs(felt),
        },
        index=index,
    )


@pytest.mark.parametrize(("offset", "factor"), [(0.0, 1.0), (3.0, 1.0), (0.0, 1.1), (0.0, 0.9), (-4.0, 1.05)])
def test_a_full_turn_tells_offset_and_factor_exactly(offset, factor):
    # Wind from 085 at 13.4412 kn, boat 6 kn: the geometry of a turn in a steady wind, by hand.
    frame = turned_frame(offset, factor)
    turns = find_manoeuvres(frame).turns
    assert [turn.turns for turn in turns] == [1, -1]
    found = {e.subject: e for e in full_turn_evidence(frame, turns)}
    assert found["vane_offset_deg"].value == pytest.approx(offset, abs=1e-6)
    assert found["wind_speed_factor"].value == pytest.approx(factor, abs=1e-6)


def test_a_turn_one_way_owns_up_to_lag():
    frame = turned_frame(2.0, 1.0)
    both = full_turn_evidence(frame, find_manoeuvres(frame).turns)[0]
    one = full_turn_evidence(frame, find_manoeuvres(frame).turns[:1])[0]
    assert both.sd < 0.1
    # 0.76 deg/s for 1.5 s
    assert one.sd == pytest.approx(1.14, abs=0.1)


def test_no_full_turn_no_evidence():
    frame = turned_frame(0.0, 1.0).iloc[:100]
    assert full_turn_evidence(frame, find_manoeuvres(frame).turns) == ()
    assert full_turn_evidence(frame.drop(columns="awa_deg"), ()) == ()


def drawn(angles, offset=3.0, factor=1.05, upwash=-3.0, gust_kn=0.8, minutes=15, seed=0):
    """Legs at true wind angles (wind from north, 12 kn) seen by a wrong masthead unit; gusts remember a minute."""
    rng = np.random.default_rng(seed)
    each = 3 * minutes
    angle = np.repeat(np.asarray(angles, dtype=float), each)
    number = np.arange(len(angle)) + 4.0 * (np.arange(len(angle)) // each)
    heading = -angle % 360
    gust = np.zeros(len(angle), dtype=complex)
    for i in range(1, len(gust)):
        gust[i] = 0.7 * gust[i - 1] + gust_kn * np.sqrt(0.51) * (rng.normal() + 1j * rng.normal())
    bow = np.exp(1j * RAD * heading)
    stw = 6.0 - 1.2 * np.cos(RAD * angle)
    felt = (12.0 + gust + stw * bow) / bow
    true = np.angle(felt, deg=True)
    inner = true.copy()
    for _ in range(30):
        inner = true - offset - upwash * upwash_shape(inner + offset)
    shown = np.abs(felt) / factor * np.exp(1j * RAD * inner)
    nothing = np.full(len(angle), np.nan)
    return Blocks(
        1.7e9 + 20 * number,
        number,
        stw * bow,
        stw * bow,
        stw,
        heading,
        heading,
        nothing,
        shown,
        shown * bow,
        0 * number,
    )


ALL_ROUND = [45, -45, 90, -90, 140, -140, 60, -60, 120, -120, 45, -45, 100, -100]


def test_offset_factor_and_upwash_are_found():
    fit = fit_wind(drawn(ALL_ROUND), None)
    for name, true in zip(NAMES, (3.0, 1.05, -3.0), strict=True):
        assert abs(fit.value(name) - true) < 3 * fit.sd(name), name
    assert fit.sd("wind_speed_factor") < 0.06


def test_the_factor_is_not_drawn_towards_a_smaller_wind():
    # Thirty passages: minimising the wind's variation would pull the factor down by tenths.
    offs = np.array(
        [fit_wind(drawn(ALL_ROUND, seed=s, minutes=8, gust_kn=1.2), None).value(NAMES[1]) for s in range(30)]
    )
    assert abs(np.mean(offs - 1.05)) < 0.02


def test_one_leg_determines_nothing():
    fit = fit_wind(drawn([60, 60, 60]), None)
    assert fit.sd("vane_offset_deg") > 2.5
    assert fit.sd("wind_speed_factor") > 0.06


def test_upwash_is_odd_one_at_thirty_and_fades_aft():
    np.testing.assert_allclose(upwash_shape(np.array([30.0, -30.0, 0.0])), [1, -1, 0], atol=1e-12)
    assert upwash_shape(np.array([150.0]))[0] < 0.15


def test_symmetric_sailing_is_named_apart_from_the_contrast():
    fit = fit_wind(drawn(ALL_ROUND, gust_kn=0.5), None)
    names = [evidence.name for evidence in fit.evidence]
    assert names[0] == "contrast across manoeuvres"
    assert "symmetric sailing" in names
    symmetric = fit.evidence[names.index("symmetric sailing")]
    assert abs(symmetric.value - 3.0) < 3 * symmetric.sd


def test_too_little_wind_is_no_fit():
    assert fit_wind(drawn([45], minutes=2), None) is None
