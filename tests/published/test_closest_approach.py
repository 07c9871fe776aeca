"""CPA and TCPA against the Maneuvering Board Manual (Pub. 1310); the radio horizon against FS-1037C."""

import numpy as np
import pytest

from analysis.traffic import closest_approach, radio_horizon_nm

YARDS_PER_NM = 2025.37


def towards(bearing_deg: float, length: float) -> complex:
    return length * complex(np.exp(1j * np.radians(bearing_deg)))


def approach(
    bearing: float, range_nm: float, own: tuple[float, float], other: tuple[float, float]
) -> tuple[float, float, float]:
    """CPA [nm], TCPA [min], bearing there; motions as course and speed."""
    place, motion = towards(bearing, range_nm), towards(*other) - towards(*own)
    found = closest_approach(place.imag, place.real, motion.imag, motion.real)
    return float(found.cpa_nm), 60 * float(found.tcpa_h), float(found.bearing_deg)


def test_the_example_of_the_manual() -> None:
    """Pub. 1310, chapter 6, example 1: 0908 to 0920; CPA 220, 6900 yd, 0937 (29 min after 0908), SRM 10 kn."""
    first, last = towards(275, 12000 / YARDS_PER_NM), towards(260, 9000 / YARDS_PER_NM)
    motion = (last - first) / (12 / 60)
    assert abs(motion) == pytest.approx(10, abs=0.2)
    assert np.degrees(np.angle(motion)) % 360 == pytest.approx(130, abs=1)
    found = closest_approach(first.imag, first.real, motion.imag, motion.real)
    assert float(found.cpa_nm) * YARDS_PER_NM == pytest.approx(6900, abs=100)
    assert 60 * float(found.tcpa_h) == pytest.approx(29, abs=1)
    assert float(found.bearing_deg) == pytest.approx(220, abs=1)


def test_the_second_example_of_the_manual() -> None:
    """Pub. 1310, chapter 6, example 2: own 150/18, target 255/20000 yd at 1100, 270/11200 yd at 1114: 099, 27 kn."""
    relative = (towards(270, 11200 / YARDS_PER_NM) - towards(255, 20000 / YARDS_PER_NM)) / (14 / 60)
    target = relative + towards(150, 18)
    assert abs(target) == pytest.approx(27, abs=0.6)
    assert np.degrees(np.angle(target)) % 360 == pytest.approx(99, abs=1.5)


@pytest.mark.parametrize(
    ("bearing", "range_nm", "own", "other", "cpa", "minutes", "there"),
    [
        (45, 5 * np.sqrt(2), (0, 10), (270, 10), 0.0, 30.0, None),
        (np.degrees(np.arctan2(1, 10)), np.hypot(1, 10), (0, 10), (180, 10), 1.0, 30.0, 90.0),
        (45, 10, (0, 6), (270, 8), np.sqrt(2), 59.39697, 323.1301),
        (0, 2, (0, 12), (0, 8), 0.0, 30.0, None),
        (90, 3, (0, 6), (45, 12), 0.84325, -19.5372, None),
    ],
)
def test_exact_cases(
    bearing: float,
    range_nm: float,
    own: tuple[float, float],
    other: tuple[float, float],
    cpa: float,
    minutes: float,
    there: float | None,
) -> None:
    """Worked out by hand from the end points: collision, meeting, crossing, overtaking, already past."""
    found = approach(bearing, range_nm, own, other)
    assert found[0] == pytest.approx(cpa, abs=1e-5)
    assert found[1] == pytest.approx(minutes, abs=1e-4)
    if there is not None:
        assert found[2] == pytest.approx(there, abs=1e-4)


def test_equal_motion_has_no_tcpa() -> None:
    found = approach(123, 4.0, (77, 9), (77, 9))
    assert found[0] == pytest.approx(4.0)
    assert np.isnan(found[1])


@pytest.mark.parametrize(
    ("own_m", "other_m", "nm"),
    [(17, 2.5, 12.72), (15, 15, 17.27), (17, 20, 19.17), (17, 30, 21.41), (4, 50, 20.23), (4, 100, 26.76)],
)
def test_radio_horizon(own_m: float, other_m: float, nm: float) -> None:
    """2.23 (sqrt h1 + sqrt h2) nm, US Federal Standard 1037C."""
    assert radio_horizon_nm(own_m, other_m) == pytest.approx(nm, abs=0.01)
