"""True wind against published cases, manuals and an independent program."""

import numpy as np
import pytest
from truewinds.legacy import truew

from analysis.vectors import (
    apparent_wind,
    awa_from_vane_deg,
    current,
    made_good_kn,
    true_wind_ground,
    true_wind_water,
    vector_sum,
    water_track,
    wrap_direction_deg,
    wrap_signed_deg,
)

# Smith, Bourassa & Sharp (1999), J. Atmos. Oceanic Technol. 16, 939-952: inputs read in the authors' C test
# driver, outputs in the unit test of its public Python port.
# course, speed over ground, vane (0..360 from the bow), heading, anemometer -> true direction, true speed
SMITH_VALID = [
    (0, 0, 90, 0, 5, 90, 5),
    (0, 0, 90, 90, 5, 180, 5),
    (0, 5, 0, 0, 5, None, 0),
    (0, 5, 0, 0, 0, 180, 5),
    (180, 5, 180, 180, 5, 360, 10),
    (90, 5, 90, 90, 5, 225, 7.071067811865475),
    (90, 5, 135, 45, 5, 225, 7.071067811865475),
    (225, 5, 270, 225, 5, 90, 7.071067811865475),
    (270, 3, 90, 270, 4, 36.86989764584405, 5),
    (0, 0, 0, 0, 0, None, 0),
]
SMITH_INVALID = [
    (2, -9999, 0, 0, 0),
    (-1111, -9999, 1111, 5555, 9999),
    (-2, 8, 8, 8, 3),
    (3, -6, 0, 8, 3),
    (0, 0, -9, 8, 3),
    (0, 0, 7, 8, -4),
    (5, 1, 2, -13, 2),
]


@pytest.mark.parametrize(("cog", "sog", "vane", "heading", "aws", "twd", "tws"), SMITH_VALID)
def test_smith_reference_cases(cog, sog, vane, heading, aws, twd, tws):
    wind = true_wind_ground(awa_from_vane_deg(vane), aws, heading, sog, cog)
    assert wind.tws_ground_kn == pytest.approx(tws, abs=1e-9)
    if twd is None:
        assert np.isnan(wind.twd_ground_deg)
    else:
        assert wrap_signed_deg(wind.twd_ground_deg - twd) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("cog", "sog", "vane", "heading", "aws"), SMITH_INVALID)
def test_smith_invalid_cases_give_no_wind(cog, sog, vane, heading, aws):
    assert np.all(np.isnan(true_wind_ground(awa_from_vane_deg(vane), aws, heading, sog, cog)))


@pytest.mark.parametrize(
    ("cog", "sog", "vane", "heading", "aws", "zero_line", "twd", "tws"),
    [  # computed with truewinds 0.0.4, legacy.truew
        (123.456, 7.89, 12.34567, 45.67, 5.78, 180, 276.39930199, 11.55726707),
        (45, 5, 250, 30, 10, 0, 262.34407761, 13.50398621),
    ],
)
def test_reference_program_at_noted_points(cog, sog, vane, heading, aws, zero_line, twd, tws):
    wind = true_wind_ground(awa_from_vane_deg(vane, zero_line), aws, heading, sog, cog)
    assert wind[:2] == pytest.approx((twd, tws), abs=1e-8)


def test_reference_program_at_random_points():
    """The reference program of Smith et al. as packaged in truewinds 0.0.4."""
    rng = np.random.default_rng(20260601)
    cog, vane, heading = rng.uniform(0, 360, (3, 2000))
    sog, aws = rng.uniform(0, 30, (2, 2000))
    wind = true_wind_ground(awa_from_vane_deg(vane), aws, heading, sog, cog)
    rows = zip(cog, sog, vane, heading, aws, strict=True)
    theirs = np.array([truew(crse=c, cspd=s, wdir=v, hd=h, wspd=a)[:2] for c, s, v, h, a in rows])
    np.testing.assert_allclose(wrap_signed_deg(wind.twd_ground_deg - theirs[:, 0]), 0, atol=1e-8)
    np.testing.assert_allclose(wind.tws_ground_kn, theirs[:, 1], atol=1e-10)


def test_subtracting_the_motion_would_show():
    """Smith et al.: the wrong sign errs by up to twice the ship's speed; dead ahead it is exactly that."""
    right = true_wind_ground(0, 20, 0, 8, 0).tws_ground_kn
    wrong = true_wind_ground(0, 20, 0, 8, 180).tws_ground_kn
    assert wrong - right == pytest.approx(16)


@pytest.mark.parametrize(
    ("heading", "speed", "awa", "aws", "twd", "tws", "twd_tolerance", "tws_tolerance"),
    [
        # Pub 1310 / Pub 217, manoeuvring-board wind example: answer read, heading 240 at 18 kn from memory
        (240, 18, 40, 30, 315, 20, 1, 0.5),
        # Bowditch, true-wind table: inputs read in a USCG question, printed answer from memory
        (270, 10, -10, 30, 255, 20.2, 1, 0.5),
        # USCG deck examination, General Navigation: inputs and choices read, the only choice that fits
        (180, 22, -70, 20, 51, 24.0, 1, 0.5),
        # US Navy training slides: inputs read, answer computed by the cosine rule
        (270, 15, 45, 15, 22.5, 2 * 15 * np.sin(np.radians(22.5)), 1e-9, 1e-9),
        # the right-angled 1-2-sqrt 3 triangle
        (0, 5, 60, 10, 90, 5 * np.sqrt(3), 1e-9, 1e-9),
        (123, 5, 60, 10, 213, 5 * np.sqrt(3), 1e-9, 1e-9),
    ],
)
def test_worked_examples_of_manuals(heading, speed, awa, aws, twd, tws, twd_tolerance, tws_tolerance):
    wind = true_wind_ground(awa, aws, heading, speed, heading)
    assert wrap_signed_deg(wind.twd_ground_deg - twd) == pytest.approx(0, abs=twd_tolerance)
    assert wind.tws_ground_kn == pytest.approx(tws, abs=tws_tolerance)


# Computed by two routes, direct vector arithmetic and truewinds.legacy.truew; None: no direction.
# hdg, stw, leeway, awa, aws, cog, sog -> ctw, twd water, tws water, twd ground, tws ground, set, drift, vmg
CHAIN = {
    "close-hauled, starboard tack": (
        (40, 6, -4, 30, 18, 30, 6.5),
        (36, 84.4909, 13.4412, 87.7905, 13.6746, 339.5019, 0.8148, 3.9861),
    ),
    "close-hauled, port tack": (
        (130, 6, 4, -30, 18, 138, 5.2),
        (134, 85.5091, 13.4412, 87.0320, 14.2662, 290.3252, 0.9033, 3.9861),
    ),
    "running": (
        (200, 7, 0, 160, 9, 200, 7),
        (200, 8.7374, 15.7608, 8.7374, 15.7608, None, 0, -6.8652),
    ),
    "motoring in a calm": ((90, 6, 0, 0, 6, 90, 6), (90, None, 0, None, 0, None, 0, None)),
    "drifting": ((0, 0, 0, 90, 10, 180, 1), (None, 90, 10, 84.2894, 10.0499, 180, 1, 0)),
}


@pytest.mark.parametrize(("given", "expected"), CHAIN.values(), ids=CHAIN)
def test_full_chain(given, expected):
    heading, stw, leeway, awa, aws, cog, sog = given
    water = true_wind_water(awa, aws, stw, heading, leeway)
    ground = true_wind_ground(awa, aws, heading, sog, cog)
    drift = current(stw, heading, leeway, sog, cog)
    track = water_track(stw, heading, leeway)
    vmg = made_good_kn(*track, water.twd_water_deg)
    found = (track.direction_deg, *water[:2], *ground[:2], *drift, vmg)
    wanted = [np.nan if value is None else value for value in expected]
    assert found == pytest.approx(wanted, abs=1e-3, nan_ok=True)


def test_wind_over_ground_is_wind_over_water_plus_current():
    """The identity between the three, with the wind turned from 'from' to 'toward' and back."""
    rng = np.random.default_rng(2)
    heading, cog = rng.uniform(0, 360, (2, 500))
    stw, sog, aws = rng.uniform(0.1, 12, (3, 500))
    leeway, awa = rng.uniform(-10, 10, 500), rng.uniform(-180, 180, 500)
    water = true_wind_water(awa, aws, stw, heading, leeway)
    ground = true_wind_ground(awa, aws, heading, sog, cog)
    drift = current(stw, heading, leeway, sog, cog)
    toward = vector_sum(water.twd_water_deg + 180, water.tws_water_kn, drift.set_deg, drift.drift_kn)
    np.testing.assert_allclose(
        wrap_signed_deg(toward.direction_deg + 180 - ground.twd_ground_deg), 0, atol=1e-8
    )
    np.testing.assert_allclose(toward.speed_kn, ground.tws_ground_kn, atol=1e-10)


def test_chain_runs_backwards():
    """Apparent wind from each true wind gives the first row of the chain back."""
    heading, stw, leeway, awa, aws, cog, sog = CHAIN["close-hauled, starboard tack"][0]
    water = true_wind_water(awa, aws, stw, heading, leeway)
    ground = true_wind_ground(awa, aws, heading, sog, cog)
    over_water = apparent_wind(*water[:2], heading, *water_track(stw, heading, leeway))
    over_ground = apparent_wind(*ground[:2], heading, cog, sog)
    assert over_water == pytest.approx((awa, aws), abs=1e-9)
    assert over_ground == pytest.approx((awa, aws), abs=1e-9)
    assert wrap_direction_deg(heading + water.twa_water_deg) == pytest.approx(water.twd_water_deg)
