"""The reduction of pressure to sea level."""

import pytest

from analysis.calibration.barometer import sea_level_pressure_hpa, station_pressure_hpa


@pytest.mark.parametrize(
    ("station_hpa", "height_m", "temp_c", "vapour_hpa", "sea_level_hpa"),
    [  # Deutscher Wetterdienst, VuB 2 p. 28, formula as quoted publicly; numbers computed from it
        (1013.25, 10, 15, 0, 1014.4519),
        (1013.25, 10, 15, 10, 1014.4469),
        (1000.0, 15, 10, 8, 1001.8050),
        (990.0, 3, 20, 15, 990.3441),
    ],
)
def test_the_operational_form(station_hpa, height_m, temp_c, vapour_hpa, sea_level_hpa):
    assert sea_level_pressure_hpa(station_hpa, height_m, temp_c, vapour_hpa) == pytest.approx(
        sea_level_hpa, abs=1e-3
    )
    assert station_pressure_hpa(sea_level_hpa, height_m, temp_c, vapour_hpa) == pytest.approx(
        station_hpa, abs=1e-3
    )


def test_the_worked_example_of_a_sensor_maker():
    # keisoku.magicgifted.com: 1003 hPa at 150 m and 15 degC is 1020.9702 hPa at the sea, by
    # P (1 - L h / (T + L h + 273.15))^-5.257; the two forms agree to the rounding of that exponent.
    assert sea_level_pressure_hpa(1003.0, 150, 15) == pytest.approx(1020.9702, abs=5e-3)


@pytest.mark.parametrize(
    ("temp_c", "corrections_hpa"),
    [  # p exp(g h / (R T)) from 1013.25 hPa at 2, 3, 5, 10 and 20 m, computed
        (0, (0.253, 0.380, 0.634, 1.268, 2.538)),
        (15, (0.240, 0.360, 0.601, 1.202, 2.405)),
        (30, (0.228, 0.343, 0.571, 1.143, 2.286)),
    ],
)
def test_what_a_yacht_adds(temp_c, corrections_hpa):
    for height_m, correction_hpa in zip((2, 3, 5, 10, 20), corrections_hpa, strict=True):
        assert sea_level_pressure_hpa(1013.25, height_m, temp_c) - 1013.25 == pytest.approx(
            correction_hpa, abs=0.001
        )


@pytest.mark.parametrize(
    ("height_m", "pressure_hpa"),
    [(2, 1013.0098), (5, 1012.6495), (10, 1012.0493), (20, 1010.8497), (100, 1001.2944)],
)
def test_the_standard_atmosphere(height_m, pressure_hpa):
    # ICAO standard atmosphere: 1013.25 hPa and 15 degC at the sea, 6.5 K/km; pressures computed from its formula
    at_height_c = 15 - 0.0065 * height_m
    assert station_pressure_hpa(1013.25, height_m, at_height_c) == pytest.approx(pressure_hpa, abs=0.002)


def test_low_stations_by_the_world_meteorological_organization():
    # WMO-No. 8, low-level stations: C = p H / (29.27 Tv); formula from memory, 1.2014 hPa computed
    assert sea_level_pressure_hpa(1013.25, 10, 15) - 1013.25 == pytest.approx(1.2014, abs=0.001)


def test_eight_metres_a_hectopascal():
    # rule of thumb near the sea: about 8 m per hPa
    assert sea_level_pressure_hpa(1013.25, 8) - 1013.25 == pytest.approx(1.0, abs=0.05)
