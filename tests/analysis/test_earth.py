"""The Earth: short lines against exact geodesics, the plane and back, variation along a track."""

import time

import numpy as np
import pytest

from analysis.earth import (
    VARIATION_YEARS,
    decimal_year,
    east_north_nm,
    geodesic,
    geodesic_end,
    hop,
    position_at,
    rhumb_end,
    variation_along,
    variation_deg,
)
from analysis.vectors import wrap_signed_deg

PLACES = {"anywhere": (-60, 60), "high latitudes": (60, 89), "round the pole": (89, 89.999)}


@pytest.mark.parametrize("latitudes", PLACES.values(), ids=PLACES)
@pytest.mark.parametrize(
    ("longest_nm", "distance_error", "bearing_error_deg", "plane_error"),
    [(0.002, 1e-8, 1e-5, 1e-7), (20, 1e-8, 1e-5, 1e-7), (200, 1e-7, 1e-3, 1e-5)],
)
def test_short_lines_against_exact_geodesics(
    latitudes, longest_nm, distance_error, bearing_error_deg, plane_error
):
    """Ends from geographiclib; the tolerances are those the functions promise."""
    rng = np.random.default_rng(6)
    lat, lon = rng.uniform(*latitudes, 150), rng.uniform(-180, 180, 150)
    bearing, distance = rng.uniform(0, 360, 150), rng.uniform(0.3, 1, 150) * longest_nm
    ends = np.array([geodesic_end(*row) for row in zip(lat, lon, bearing, distance, strict=True)])
    found = hop(lat, lon, ends[:, 0], ends[:, 1])
    np.testing.assert_allclose(found.distance_nm, distance, rtol=distance_error)
    np.testing.assert_allclose(wrap_signed_deg(found.bearing_deg - bearing), 0, atol=bearing_error_deg)
    east, north = distance * np.sin(np.radians(bearing)), distance * np.cos(np.radians(bearing))
    miss = hop(*position_at(east, north, lat, lon), ends[:, 0], ends[:, 1])
    assert np.max(miss.distance_nm / distance) < plane_error


def test_hop_across_the_antimeridian_either_way_of_writing_it():
    exact = geodesic(50.0, 179.9, 50.1, -179.9)
    assert hop(50.0, 179.9, 50.1, -179.9) == pytest.approx(exact[:2], rel=1e-7)
    assert hop(50.0, 179.9, 50.1, 180.1) == pytest.approx(exact[:2], rel=1e-7)
    assert position_at(*east_north_nm(50.1, -179.9, 50.0, 179.9), 50.0, 179.9) == pytest.approx(
        (50.1, -179.9)
    )


def test_hop_broadcasts_and_keeps_missing_positions_missing():
    found = hop(50.0, [1.0, 1.0, np.nan], [50.0, 51.0, 51.0], 1.0)
    np.testing.assert_array_equal(np.isnan(found.distance_nm), [False, False, True])
    np.testing.assert_array_equal(np.isnan(found.bearing_deg), [True, False, True])
    assert found.distance_nm[0] == 0
    assert isinstance(hop(50.0, 1.0, 51.0, 1.0).bearing_deg, float)


def test_a_minute_of_latitude_is_about_a_mile():
    """On WGS84 a minute of latitude at 45 deg is 1852.2 m (from memory)."""
    east, north = east_north_nm(45 + 1 / 120, 7, 45 - 1 / 120, 7)
    assert east == 0
    assert north * 1852 == pytest.approx(1852.2, abs=0.1)


def test_the_plane_and_back():
    east, north = np.meshgrid([-15.0, 0.0, 15.0], [-15.0, 0.0, 15.0])
    back = east_north_nm(*position_at(east, north, 58.0, -3.0), 58.0, -3.0)
    np.testing.assert_allclose(back, (east, north), atol=1e-6)


def test_rhumb_line_due_east_and_west_returns():
    """A full check of the exact courses: 100 nm east, then as far west, ends where it began."""
    east = rhumb_end(50.0, 179.0, 90.0, 100.0)
    assert east.lat_deg == pytest.approx(50)
    assert rhumb_end(*east, 270.0, 100.0) == pytest.approx((50.0, 179.0))
    # 100 nm along a parallel of radius N cos(lat), N from the definition of WGS84
    sin_lat = np.sin(np.radians(50))
    radius_nm = 6378137 / 1852 / np.sqrt(1 - 0.0066943799901413165 * sin_lat**2) * np.cos(np.radians(50))
    assert wrap_signed_deg(east.lon_deg - 179) == pytest.approx(np.degrees(100 / radius_nm))


# time and variation


def test_decimal_year():
    """2024-01-01, the middle of the leap year 2024, the last second of 2023, and 2005-01-01."""
    seconds = [1704067200, 1704067200 + 183 * 86400, 1704067199, 1104537600]
    np.testing.assert_allclose(
        decimal_year(seconds), [2024, 2024.5, 2024 - 1 / (365 * 86400), 2005], atol=1e-11
    )
    assert np.all(np.isnan(decimal_year([np.nan, np.inf, 1e300])))


def test_variation_is_unknown_outside_the_models():
    first, last = VARIATION_YEARS
    assert np.isnan(variation_deg(50, 0, first - 0.01))
    assert np.isnan(variation_deg(50, 0, last + 0.01))
    assert np.isnan(variation_deg(50, 0, np.nan))
    assert np.isnan(variation_deg(np.nan, 0, 2026))
    assert np.isnan(variation_deg(91, 0, 2026))
    assert np.isfinite([variation_deg(50, 0, first), variation_deg(50, 0, last)]).all()


def day(start_s=1.78e9, points=86400):
    """A day's sail of 290 nm across the English Channel and the North Sea."""
    return np.linspace(50, 53, points), np.linspace(-2, 4, points), start_s + np.arange(points, dtype=float)


def test_variation_along_a_day_follows_the_model():
    lat, lon, time_s = day()
    along = variation_along(lat, lon, time_s)
    year = decimal_year(time_s)
    exact = [variation_deg(lat[i], lon[i], year[i]) for i in range(0, lat.size, 1000)]
    np.testing.assert_allclose(along[::1000], exact, atol=0.002)


def test_variation_anywhere_stays_near_the_model():
    """The accuracy promised: 0.02 deg between 55 S and 55 N, in any year covered, any longitude."""
    rng = np.random.default_rng(7)
    lat, lon = rng.uniform(-55, 55, 200), rng.uniform(-180, 180, 200)
    time_s = rng.uniform(1.2623e9, 1.8934e9, 200)
    rows = zip(lat, lon, decimal_year(time_s), strict=True)
    exact = np.array([variation_deg(*row) for row in rows])
    np.testing.assert_allclose(variation_along(lat, lon, time_s), exact, atol=0.02)


def test_variation_along_reaches_the_last_instant_of_the_models():
    """2030-01-01 is 1893456000 s; a second later nothing is known."""
    last, after = variation_along(np.full(2, 50.0), np.full(2, 0.0), np.array([1893456000.0, 1893456001.0]))
    assert last == pytest.approx(variation_deg(50, 0, 2030.0), abs=1e-9)
    assert np.isnan(after)


def test_variation_along_crosses_the_line_where_it_turns_round():
    """North of the magnetic pole, near 86 N 139 E, variation passes from +180 to -180 within a cell."""
    lon = np.linspace(120.0, 160.0, 400)
    lat, time_s = np.full(400, 88.4), np.full(400, 1.78e9)
    rows = zip(lat, lon, decimal_year(time_s), strict=True)
    exact = np.array([variation_deg(*row) for row in rows])
    assert exact.min() < -170
    assert exact.max() > 170
    along = variation_along(lat, lon, time_s)
    assert np.all((along > -180) & (along <= 180))
    np.testing.assert_allclose(wrap_signed_deg(along - exact), 0, atol=0.3)


def test_variation_along_keeps_missing_points_missing():
    nan = np.nan
    lat, lon = np.array([nan, 50, 90, 91, 50, 50]), np.array([1, nan, 3, 3, -180, 1.0])
    time_s = np.array([1.7e9, 1.7e9, 1.7e9, 1.7e9, 1.7e9, 9e8])
    np.testing.assert_array_equal(
        np.isnan(variation_along(lat, lon, time_s)), [True, True, False, True, False, True]
    )
    assert variation_along(np.array([]), np.array([]), np.array([])).size == 0


@pytest.mark.benchmark
def test_variation_along_a_day_is_quick():
    """Processor time, best of five, each on a stretch of sea not asked about before."""
    took = []
    for shift in range(5):
        lat, lon, time_s = day()
        start = time.process_time()
        variation_along(lat - 5 * shift, lon, time_s)
        took.append(time.process_time() - start)
    print(f"variation along 86400 points: {min(took) * 1e3:.0f} ms")
    assert min(took) < 0.05
