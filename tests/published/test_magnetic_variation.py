"""Magnetic variation against the official test values of the World Magnetic Model."""

import numpy as np
import pytest

from analysis.earth import magnetic_model, variation_along, variation_deg

# year, altitude km, latitude, longitude, official variation, printed to 0.01 deg
WMM2025 = [
    # the test table of the WMM2025 report, read in the copy of Mayitzin/ahrs
    (2025.0, 0, 80, 0, 1.28), (2025.0, 0, 0, 120, -0.16), (2025.0, 0, -80, 240, 68.78),
    (2025.0, 100, 80, 0, 0.85), (2025.0, 100, 0, 120, -0.15), (2025.0, 100, -80, 240, 68.21),
    (2027.5, 0, 80, 0, 2.59), (2027.5, 0, 0, 120, -0.24), (2027.5, 0, -80, 240, 68.49),
    (2027.5, 100, 80, 0, 2.16), (2027.5, 100, 0, 120, -0.23), (2027.5, 100, -80, 240, 67.93),
    # rows of the 100-row test file of NCEI, read in the copy of boxpet/pygeomag
    (2025.0, 65, 43, 93, 0.50), (2025.0, 51, -33, 109, -5.49), (2025.0, 3, -50, -103, 27.96),
    (2025.0, 94, -29, -110, 15.74), (2025.0, 66, 14, 143, -0.19), (2025.0, 18, 0, 21, 1.29),
    (2025.5, 6, -36, -137, 20.28), (2025.5, 63, 26, 81, 0.51),
]  # fmt: skip


@pytest.mark.parametrize(("year", "altitude", "lat", "lon", "official"), WMM2025)
def test_model_against_official_values(year, altitude, lat, lon, official):
    model = magnetic_model(year).calculate(glat=lat, glon=lon, alt=altitude, time=year)
    assert model.d == pytest.approx(official, abs=0.005)


@pytest.mark.parametrize(
    ("year", "lat", "lon", "official"), [(y, p, q, d) for y, h, p, q, d in WMM2025 if h == 0]
)
def test_variation_at_sea_level(year, lat, lon, official):
    assert variation_deg(lat, lon, year) == pytest.approx(official, abs=0.005)


@pytest.mark.parametrize(("year", "expected"), [(2025.25, 15.065629638512593), (2013.25, 16.415602225952366)])
def test_documented_values_of_the_library(year, expected):
    """README and docstring of pygeomag 1.1.0 (Seattle), WMM2025 and WMM2010."""
    assert variation_deg(47.6205, -122.3493, year) == pytest.approx(expected, abs=1e-9)


def test_model_follows_the_date():
    """Computed with pygeomag 1.1.0 on each side of the life of WMM2020 and at the end of WMM2025."""
    assert variation_deg(50.75, -1.3, 2024.999) == pytest.approx(0.683, abs=1e-3)
    assert variation_deg(50.75, -1.3, 2030.0) == pytest.approx(1.433, abs=1e-3)
    assert [magnetic_model(year).model for year in (2010.0, 2015.0, 2020.0, 2024.999, 2025.0, 2030.0)] == [
        "WMM-2010", "WMM-2015v2", "WMM-2020", "WMM-2020", "WMM-2025", "WMM-2025",
    ]  # fmt: skip


def test_variation_along_meets_the_official_values():
    """At 2025.0 and 2027.5 (1735689600 and 1814529600 s); 80 N and 80 S lie on nodes of the interpolation."""
    rows = np.array([(y, p, q, d) for y, h, p, q, d in WMM2025 if h == 0])
    time_s = np.where(rows[:, 0] == 2025.0, 1735689600.0, 1814529600.0)
    np.testing.assert_allclose(variation_along(rows[:, 1], rows[:, 2], time_s), rows[:, 3], atol=0.01)
