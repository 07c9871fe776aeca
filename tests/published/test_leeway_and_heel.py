"""Leeway and the heeled vane."""

import pytest

from analysis.vectors import leeway_deg, level_apparent_wind

# J. Garrett, The Symmetry of Sailing (1987), section 3.5.3, read as quoted at fer3.com (w4872): leeway is
# 464 sin(heel) / V^2 degrees for a yacht of 12.2 m, so 464 pi / 180 = 8.10 per degree of small heel.


@pytest.mark.parametrize(
    ("heel", "stw", "expected", "by_sine"),
    [(20, 6, 4.500, 4.408), (20, 5, 6.480, 6.348), (25, 7, 4.133, 4.002), (10, 6, 2.250, 2.238)],
)
def test_leeway(heel, stw, expected, by_sine):
    assert leeway_deg(heel, stw, 8.1) == pytest.approx(expected, abs=1e-3)
    assert leeway_deg(heel, stw, 8.1) == pytest.approx(by_sine, rel=0.035)
    assert leeway_deg(-heel, stw, 8.1) == pytest.approx(-expected, abs=1e-3)


@pytest.mark.parametrize(
    ("awa", "aws", "heel", "level_awa", "level_aws"),
    [  # plane geometry, computed: the wind across the boat is seen multiplied by cos(heel)
        (30, 20, 20, 31.5667, 20.3285),
        (30, 20, 25, 32.4986, 20.5364),
        (90, 20, 15, 90.0, 20.7055),
        (150, 20, 5, 149.9053, 20.0191),
        (-30, 20, -20, -31.5667, 20.3285),
    ],
)
def test_heeled_vane(awa, aws, heel, level_awa, level_aws):
    assert level_apparent_wind(awa, aws, heel) == pytest.approx((level_awa, level_aws), abs=1e-3)
