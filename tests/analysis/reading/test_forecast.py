"""Forecasts as tables, with what people write in them; GRIB made here with known numbers."""

from pathlib import Path

import numpy as np
import pytest

from analysis.errors import LogError
from analysis.reading import grib
from analysis.reading.forecast import read_forecast

NOON_S = 1780315200.0  # 2026-06-01T12:00Z, date -d @1780315200


def table(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "forecast.csv"
    path.write_text(text, "utf-8")
    return path


def test_a_whole_table(tmp_path: Path) -> None:
    one = read_forecast(
        table(
            tmp_path,
            "# centre and run\ntime,lat,lon,twd,tws,pressure\n"
            "2026-06-01T15:00Z,50,-2,230,15,1012\n2026-06-01T12:00Z,50,-2,225,14,1013.2\n",
        )
    )
    assert one.name == "forecast.csv"
    assert one.time_s.tolist() == [NOON_S, NOON_S + 10800]
    assert one.twd_deg.tolist() == [225, 230]
    assert one.tws_kn.tolist() == [14, 15]
    assert one.pressure_hpa.tolist() == [1013.2, 1012]
    assert (one.lat_deg[0], one.lon_deg[0]) == (50, -2)


@pytest.mark.parametrize(
    ("header", "value", "knots"),
    [  # 1852 m to the nautical mile: 10 m/s = 19.438 kn, 18.52 km/h = 10 kn, 11.508 mph = 10 kn
        ("tws", "14", 14.0),
        ("tws_kn", "14", 14.0),
        ("wind speed (kt)", "14", 14.0),
        ("tws_m/s", "10", 19.438),
        ("tws_mps", "10", 19.438),
        ("wspd [km/h]", "18.52", 10.0),
        ("Wind speed mph", "11.508", 10.0),
    ],
)
def test_units_of_the_wind(tmp_path: Path, header: str, value: str, knots: float) -> None:
    one = read_forecast(table(tmp_path, f"time;{header}\n2026-06-01T12:00Z;{value}\n"))
    assert one.tws_kn[0] == pytest.approx(knots, abs=0.001)
    assert np.isnan(one.twd_deg[0])
    assert np.isnan(one.lat_deg[0])


def test_places_by_letter_and_pressure_by_magnitude(tmp_path: Path) -> None:
    one = read_forecast(
        table(tmp_path, "valid,latitude,longitude,mslp_Pa\n2026-06-01T12:00Z,33.5S,151.25E,101320\n")
    )
    assert (one.lat_deg[0], one.lon_deg[0]) == (-33.5, 151.25)
    assert one.pressure_hpa[0] == pytest.approx(1013.2)


def test_an_empty_cell_says_nothing(tmp_path: Path) -> None:
    one = read_forecast(table(tmp_path, "time,twd,tws\n2026-06-01T12:00Z,,14\n2026-06-01T15:00Z,230,\n"))
    assert np.isnan(one.twd_deg).tolist() == [True, False]
    assert np.isnan(one.tws_kn).tolist() == [False, True]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("lat,lon,tws\n50,-2,14\n", "no column for the time"),
        ("time,remark\n2026-06-01T12:00Z,fine\n", "no column for wind or pressure"),
        ("time,lat,tws\n2026-06-01T12:00Z,50,14\n", "latitude and longitude go together"),
        ("time,tws\n", "no row below the header"),
        ("time,tws\n2026-06-01T12:00Z,\n", "no row holds a wind or a pressure"),
        ("time,tws\nnoon,14\n", "line 2: 'noon' is no time"),
        ("time,tws\n2026-06-01T12:00Z,strong\n", "line 2: 'strong' is no wind speed from 0 to 200 kn"),
        ("time,twd\n2026-06-01T12:00Z,400\n", "line 2: '400' is no wind direction from 0 to 360"),
        ("time,lat,lon,tws\n2026-06-01T12:00Z,95,0,14\n", "is no latitude from -90 to 90"),
        ("", "is empty"),
    ],
)
def test_what_cannot_be_used_is_said_in_one_sentence(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(LogError, match=told) as caught:
        read_forecast(table(tmp_path, text))
    assert "forecast.csv" in str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="cannot be read"):
        read_forecast(tmp_path / "none.csv")


def gribbed(path: Path, edition: int) -> Path:
    """A field of 3 x 3 points about 50 N 179.5 E to 179.5 W: 10 m/s from the west, 1 hPa a degree of latitude."""
    eccodes = pytest.importorskip("eccodes")
    wanted = {
        "10u": lambda lat: 10.0 + 0 * lat,
        "10v": lambda lat: 0 * lat,
        "msl": lambda lat: 100000 + 100 * (lat - 50),
    }
    with path.open("wb") as stream:
        for hour in (0, 6):
            for name, value in wanted.items():
                message = eccodes.codes_grib_new_from_samples(f"regular_ll_sfc_grib{edition}")
                for key, number in {
                    "Ni": 3, "Nj": 3,
                    "latitudeOfFirstGridPointInDegrees": 51.0, "latitudeOfLastGridPointInDegrees": 49.0,
                    "longitudeOfFirstGridPointInDegrees": 179.0, "longitudeOfLastGridPointInDegrees": 181.0,
                    "iDirectionIncrementInDegrees": 1.0, "jDirectionIncrementInDegrees": 1.0,
                    "dataDate": 20260601, "dataTime": 1200, "step": hour,
                }.items():  # fmt: skip
                    eccodes.codes_set(message, key, number)
                eccodes.codes_set(message, "shortName", name)
                eccodes.codes_set_values(message, np.repeat(value(np.array([51.0, 50.0, 49.0])), 3))
                eccodes.codes_write(message, stream)
                eccodes.codes_release(message)
    return path


@pytest.mark.parametrize("edition", [1, 2])
def test_grib_of_either_edition(tmp_path: Path, edition: int) -> None:
    one = read_forecast(gribbed(tmp_path / "forecast.grb", edition))
    assert len(one.time_s) == 18
    assert np.unique(one.time_s).tolist() == [NOON_S, NOON_S + 6 * 3600]
    assert one.tws_kn == pytest.approx(np.full(18, 19.438), abs=0.01)  # 10 m/s
    assert one.twd_deg == pytest.approx(
        np.full(18, 270.0), abs=0.01
    )  # air that moves east comes from the west
    assert one.pressure_hpa[one.lat_deg == 51.0] == pytest.approx(np.full(6, 1001.0), abs=0.01)
    assert set(one.lon_deg) == {179.0, -180.0, -179.0}


def test_a_damaged_grib_and_one_without_the_decoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "broken.grb"
    path.write_bytes(b"GRIB" + bytes(200))
    monkeypatch.setattr(grib, "find_spec", lambda _: None)
    with pytest.raises(LogError, match="takes the package eccodes, which is not installed"):
        read_forecast(path)
    monkeypatch.undo()
    pytest.importorskip("eccodes")
    with pytest.raises(LogError, match="damaged or of an unknown kind"):
        read_forecast(path)
