"""Routes from GPX files, and files that mean harm."""

from pathlib import Path

import pytest

from analysis.errors import LogError
from analysis.reading import gpx
from analysis.reading.gpx import read_gpx

HEAD = '<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="t">'
ROUTE = (
    '<rte><name>Out</name><rtept lat="50.1" lon="-1.25"><name>BELL &amp; co</name></rtept>'
    '<rtept lat="-50" lon="180"/></rte>'
)
BOMB = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>'
    "<gpx><name>&b;</name></gpx>"
)


def read(folder: Path, text: str | bytes) -> tuple[gpx.GpxRoute, ...]:
    path = folder / "route.gpx"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_gpx(path)


def test_routes_with_their_names(tmp_path: Path) -> None:
    (route,) = read(tmp_path, f'{HEAD}<wpt lat="1" lon="2"/>{ROUTE}<trk><trkseg/></trk></gpx>')
    assert route.name == "Out"
    assert route.points == (("BELL & co", 50.1, -1.25), ("", -50.0, 180.0))


def test_waypoints_stand_for_a_route_where_there_is_none(tmp_path: Path) -> None:
    (route,) = read(tmp_path, f'{HEAD}<wpt lat="1" lon="2"><name>A</name></wpt><wpt lat="3" lon="4"/></gpx>')
    assert route.points == (("A", 1.0, 2.0), ("", 3.0, 4.0))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BOMB, "document type"),
        ('<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx/>', "document type"),
        ("<kml/>", "begins with kml"),
        ("not xml", "is no GPX file"),
        (f"{HEAD}<rte>", "is no GPX file"),
        (f"{HEAD}</gpx>", "no route"),
        (f'{HEAD}<wpt lat="91" lon="0"/></gpx>', "off the globe"),
        (f'{HEAD}<wpt lat="nan" lon="0"/></gpx>', "off the globe"),
        (f'{HEAD}<wpt lat="x" lon="0"/></gpx>', "no latitude"),
        (HEAD + "<a>" * 100, "nested"),
    ],
)
def test_what_cannot_be_used_is_said_in_a_sentence(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(LogError, match=said):
        read(tmp_path, text)


def test_sizes_are_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    point = '<wpt lat="1" lon="2"/>'
    with pytest.raises(LogError, match="more than"):
        read(tmp_path, HEAD + point * (gpx.MOST_POINTS + 1) + "</gpx>")
    monkeypatch.setattr(gpx, "MOST_BYTES", 100)
    with pytest.raises(LogError, match="larger than"):
        read(tmp_path, HEAD + point * 10 + "</gpx>")
    with pytest.raises(LogError, match="cannot be read"):
        read_gpx(tmp_path / "none.gpx")
