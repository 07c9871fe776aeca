"""What a log says of its waypoints. Field orders as in the public NMEA reference page of the gpsd project."""

import math
from pathlib import Path

import pandas as pd
import pytest
from written import read_text, sentence

RMC = "GPRMC,1200{:02d},A,5000.000,N,00100.000,W,5.0,090.0,030626,,"


def table(folder: Path, *bodies: str) -> pd.DataFrame:
    lines = [f"{sentence(RMC.format(k))}\r\n{sentence(body)}\r\n" for k, body in enumerate(bodies)]
    return read_text(folder, "".join(lines)).waypoints


def test_a_destination_is_kept_once_until_it_changes(tmp_path: Path) -> None:
    first = "GPRMB,A,0.1,R,START,BELL,5006.300,N,00115.000,W,9.8,300.0,4.0,V"
    second = "GPRMB,A,0.1,R,BELL,HOME,5007.000,N,00120.000,W,9.8,300.0,4.0,V"
    found = table(tmp_path, first, first.replace("9.8", "9.7"), second, second, first)
    assert found["name"].tolist() == ["BELL", "HOME", "BELL"]
    assert found["origin"].tolist() == ["START", "BELL", "START"]
    assert found["lat_deg"].tolist() == pytest.approx([50.105, 50 + 7 / 60, 50.105])  # by hand
    assert found["lon_deg"].tolist() == pytest.approx([-1.25, -1 - 20 / 60, -1.25])
    assert found["time_utc"].dt.second.tolist() == [0, 2, 4]


def test_void_blank_and_damaged_destinations_are_left_out(tmp_path: Path) -> None:
    void = "GPRMB,V,0.1,R,START,BELL,5006.300,N,00115.000,W,9.8,300.0,4.0,V"
    blank = "GPRMB,A,,,,,,,,,,,,V"
    bad = sentence("GPRMB,A,0.1,R,START,BELL,5006.300,N,00115.000,W,9.8,300.0,4.0,V")[:-2] + "00"
    text = "\r\n".join([sentence(void), sentence(blank), bad, sentence("GPBOD,,T,,M,,")])
    assert len(read_text(tmp_path, text).waypoints) == 0


def test_waypoints_and_routes_are_listed_once(tmp_path: Path) -> None:
    points = ["GPWPL,5006.300,N,00115.000,W,BELL", "GPWPL,5007.000,S,00120.000,E,HOME"]
    route = "GPRTE,1,1,c,HOMEWARD,BELL,HOME"
    found = table(tmp_path, *points, route, *points, route)
    assert found["formatter"].tolist() == ["WPL", "WPL", "RTE"]
    assert found["lat_deg"].tolist()[1] == pytest.approx(-50 - 7 / 60)
    assert found["names"].tolist() == ["", "", "BELL,HOME"]
    assert found["name"].tolist()[2] == "HOMEWARD" and found["part"].tolist()[2] == 1


@pytest.mark.parametrize(
    ("body", "name", "origin"),
    [
        ("GPBWC,120000,5006.300,N,00115.000,W,300.0,T,301.0,M,9.8,N,BELL", "BELL", ""),
        ("GPBWR,120000,5006.300,N,00115.000,W,300.0,T,301.0,M,9.8,N,BELL", "BELL", ""),
        ("GPBOD,300.0,T,301.0,M,BELL,START", "BELL", "START"),
    ],
)
def test_other_sentences_name_the_destination(tmp_path: Path, body: str, name: str, origin: str) -> None:
    (one,) = table(tmp_path, body).itertuples()
    assert (one.name, one.origin) == (name, origin)
    assert math.isnan(one.lat_deg) if "BOD" in body else one.lat_deg == pytest.approx(50.105)


def test_a_log_without_waypoints_has_none(tmp_path: Path) -> None:
    assert len(read_text(tmp_path, sentence(RMC.format(1))).waypoints) == 0
