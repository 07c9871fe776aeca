"""Weather against outside sources: WMO code tables, the Beaufort scale, wind by height, a field of a centre."""

import base64
from pathlib import Path

import numpy as np
import pytest

from analysis.reading.forecast import read_forecast
from analysis.weather import beaufort, change_text, characteristic, height_factor, placed

# A 72 h forecast of mean-sea-level pressure of the centre kwbc, 2006-10-04 00Z + 72 h: nine points cut from
# regular_ll_msl.grib of the sample data of cfgrib 0.9.15.1 (Apache License 2.0).
FIELD = (
    b"R1JJQgAAAAIAAAAAAAAAxgAAABUBAAcAAgIBAQfWCgQAAAAABAAAAEgDAAAAAAkAAAAABgAAAAAAAAAAAAAAAAAAAAAAAAMAAAAD"
    b"AAAAAP////8DKLdAAD0JADADCjLAAFuNgAAPQkAAD0JAAAAAACUEAAAAAQMBBABQAAAAAQAAAEhlAAAAAAD/AAAAAAADBQoAAAAV"
    b"BQAAAAkAAEfC3ICABAAADgAAAAAGBv8AAAAVBwAAOQJIC4BAwWUFpBxgjEA3Nzc3"
)


@pytest.mark.parametrize(
    ("knots", "force"),
    [  # WMO code table 1100, as three public pages give it alike; a speed is rounded to whole knots first
        (0, 0), (0.4, 0), (1, 1), (3, 1), (4, 2), (6, 2), (7, 3), (10, 3), (10.4, 3), (10.6, 4), (11, 4), (16, 4),
        (17, 5), (21, 5), (22, 6), (27, 6), (28, 7), (33, 7), (34, 8), (40, 8), (41, 9), (47, 9), (48, 10), (55, 10),
        (56, 11), (63, 11), (64, 12), (120, 12),
    ],
)  # fmt: skip
def test_the_beaufort_scale(knots, force):
    assert beaufort(knots) == force


def test_the_beaufort_scale_in_metres_a_second():
    # v = 0.836 B^1.5 m/s, from memory: it lies inside its force from 1 to 11
    forces = np.arange(1, 12)
    assert beaufort(0.836 * forces**1.5 * 3600 / 1852).tolist() == forces.tolist()


@pytest.mark.parametrize(
    ("hpa", "code"),
    [  # WMO code table 0200, characteristic of pressure tendency; each course made to fit its words
        ([0, 1, 2, 2.4, 1.6, 1.0, 0.5], 0),  # rising, then falling; higher than three hours ago
        ([0, 1, 2, 2.4, 1.6, 1.0, 0.0], 0),  # the same as three hours ago
        ([0, 1.0, 2.0, 3.0, 3.0, 3.0, 3.0], 1),  # rising, then steady
        ([0, 1.0, 2.0, 3.0, 3.3, 3.6, 3.9], 1),  # rising, then rising more slowly
        ([0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0], 2),  # rising steadily
        ([0, 0.6, 0.9, 1.6, 2.0, 2.4, 3.0], 2),  # rising unsteadily
        ([0, -0.5, -1.0, -0.6, 0.5, 1.0, 1.5], 3),  # falling, then rising; higher
        ([0, 0.0, 0.0, 0.0, 1.0, 2.0, 3.0], 3),  # steady, then rising
        ([0, 0.3, 0.6, 0.9, 1.9, 2.9, 3.9], 3),  # rising, then rising more rapidly
        ([0, 0.0, 0.05, 0.0, -0.05, 0.0, 0.0], 4),  # steady
        ([0, -1, -2, -2.4, -1.6, -1.0, -0.5], 5),  # falling, then rising; lower
        ([0, -1.0, -2.0, -3.0, -3.0, -3.0, -3.0], 6),  # falling, then steady
        ([0, -1.0, -2.0, -3.0, -3.3, -3.6, -3.9], 6),  # falling, then falling more slowly
        ([0, -0.5, -1.0, -1.5, -2.0, -2.5, -3.0], 7),  # falling steadily
        ([0, 0.0, 0.0, 0.0, -1.0, -2.0, -3.0], 8),  # steady, then falling
        ([0, 0.5, 1.0, 0.6, -0.5, -1.0, -1.5], 8),  # rising, then falling; lower
        ([0, -0.3, -0.6, -0.9, -1.9, -2.9, -3.9], 8),  # falling, then falling more rapidly
    ],
)
def test_the_characteristic_of_the_tendency(hpa, code):
    assert characteristic(1010 + np.array(hpa, dtype=float)) == code


@pytest.mark.parametrize(
    ("hpa", "words"),
    [  # change over three hours in UK shipping forecasts: weatherfaqs.org.uk/node/78
        (0.0, "steady"), (0.1, "rising slowly"), (-1.5, "falling slowly"), (1.6, "rising"), (-3.5, "falling"),
        (3.6, "rising quickly"), (-6.0, "falling quickly"), (-6.1, "falling very rapidly"),
    ],
)  # fmt: skip
def test_how_fast_it_changes(hpa, words):
    assert change_text(hpa) == words


def test_wind_by_height():
    # Over the sea the power law of exponent 0.11, S. A. Hsu et al., J. Appl. Meteorol. 33 (1994), 757, from memory,
    # gives nearly the same as the log law; one by hand: ln(10/0.0002) / ln(20/0.0002) = 10.820 / 11.513
    assert height_factor(20.0) == pytest.approx(0.9398, abs=1e-4)
    for height_m in (5.0, 8.0, 15.0, 20.0, 25.0):
        assert height_factor(height_m) == pytest.approx((10 / height_m) ** 0.11, rel=0.02)
    assert height_factor(10.0) == 1.0


def test_a_field_of_a_public_centre(tmp_path: Path):
    pytest.importorskip("eccodes")
    path = tmp_path / "field.grib"
    path.write_bytes(base64.b64decode(b"".join(FIELD.split())))
    forecast = read_forecast(path)
    at_s = np.full(2, 1160179200.0)  # 2006-10-07T00:00Z
    along = placed(forecast, at_s, np.array([52.0, 52.5]), np.array([5.0, 4.5]))
    # 100028 Pa at 52 N 5 E as eccodes 2.50 reads it; between the four points about 52.5 N 4.5 E their mean by hand:
    # (99769 + 99826 + 99953 + 100028) / 4
    assert along.pressure_hpa == pytest.approx([1000.28, 998.94], abs=0.005)
    assert np.isnan(along.tws_kn).all()
