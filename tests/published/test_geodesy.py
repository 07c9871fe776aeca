"""Geodesics and rhumb lines against published test sets, manuals and textbook problems."""

import pytest

from analysis.earth import M_PER_NM, geodesic, geodesic_end, rhumb, rhumb_end


def dms(degrees, minutes, seconds=0.0):
    return degrees + minutes / 60 + seconds / 3600


JFK = (dms(40, 38, 23), -dms(73, 46, 44))
SIN = (dms(1, 21, 33), dms(103, 59, 22))
SAN_FRANCISCO = (dms(37, 47.5), -dms(122, 27.8))
SYDNEY = (-dms(33, 51.7), dms(151, 12.7))


@pytest.mark.parametrize(
    ("start", "azimuth", "end", "end_azimuth", "metres"),
    [  # C. F. F. Karney's test set, read in the tests of geographiclib
        ((35.60777, -139.44815), 111.098748429560326, (-11.17491, -69.95921), 129.289270889708762,
         8935244.5604818305),
        ((55.52454, 106.05087), 22.020059880982801, (77.03196, 197.18234), 109.112041110671519,
         4105086.1713924406),
        ((-41.22777, 122.32875), 14.285113402275739, (-7.57291, 130.37946), 10.805303085187369,
         3812686.035106021),
        ((-19.79938, -174.47484), 71.167275780171533, (-11.99349, -154.35109), 65.589099775199228,
         2319004.8601169389),
        # GeodSolve manual page, read to the second and the metre; computed with geographiclib and pyproj
        (JFK, 3.3083124001, SIN, 177.4859021437, 15347627.6596),
    ],
)  # fmt: skip
def test_geodesic(start, azimuth, end, end_azimuth, metres):
    line = geodesic(*start, *end)
    assert line.distance_nm * M_PER_NM == pytest.approx(metres, abs=1e-3)
    assert line.bearing_deg == pytest.approx(azimuth, abs=1e-6)
    assert line.final_bearing_deg == pytest.approx(end_azimuth, abs=1e-6)
    found = geodesic_end(*start, azimuth, metres / M_PER_NM)
    assert found.lat_deg == pytest.approx(end[0], abs=1e-8)
    assert (found.lon_deg - end[1] + 180) % 360 - 180 == pytest.approx(0, abs=1e-8)


def test_geodesic_to_the_printed_second():
    """GeodSolve manual page: JFK to SIN, 003:18:29.9 and 177:29:09.2, 15347628 m."""
    line = geodesic(*JFK, *SIN)
    assert line.bearing_deg == pytest.approx(dms(3, 18, 29.9), abs=0.05 / 3600)
    assert line.final_bearing_deg == pytest.approx(dms(177, 29, 9.2), abs=0.05 / 3600)
    assert line.distance_nm * M_PER_NM == pytest.approx(15347628, abs=0.5)


@pytest.mark.parametrize(
    ("start", "end", "course", "metres"),
    [
        (JFK, SIN, 103.58283300, 18523563.042),  # RhumbSolve manual page, 103:34:58.2 and 18523563 m read
        ((40.6, -73.8), (51.6, -0.5), 77.76838971, 5771083.383),  # inputs: GeographicLib's example-Rhumb
        # computed with RhumbSolve 2.1.2; the next two cross the antimeridian
        ((50, -5), (50, 5), 90, 716957.536),
        ((50.0, 179.5), (50.5, -179.5), 52.05302807, 90444.062),
        (SAN_FRANCISCO, SYDNEY, 228.471983, 11965092.971),
        ((40.7, -dms(74, 1)), (dms(14, 41), -dms(17, 26)), 117.639041, 6215365.505),  # inputs: USCG question
    ],
)
def test_rhumb_line(start, end, course, metres):
    line = rhumb(*start, *end)
    assert line.bearing_deg == pytest.approx(course, abs=1e-6)
    assert line.distance_nm * M_PER_NM == pytest.approx(metres, abs=1e-3)
    found = rhumb_end(*start, course, metres / M_PER_NM)
    assert found.lat_deg == pytest.approx(end[0], abs=1e-6)
    assert (found.lon_deg - end[1] + 180) % 360 - 180 == pytest.approx(0, abs=2e-6)


def test_rhumb_line_from_start_and_course():
    """GeographicLib's example-Rhumb, end computed with RhumbSolve 2.1.2."""
    assert rhumb_end(40.6, -73.8, 51, 5.5e6 / M_PER_NM) == pytest.approx((71.68889988, 0.25551982), abs=1e-8)


@pytest.mark.parametrize(
    ("start", "end", "metres", "azimuth"),
    [  # computed with RhumbSolve's companion GeodSolve: the geodesics beside the rhumb lines above
        ((50, -5), (50, 5), 716422.977, 86.1657),
        ((50.0, 179.5), (50.5, -179.5), 90443.384, None),
        (SAN_FRANCISCO, SYDNEY, 11931395.338, 240.4594),
    ],
)
def test_geodesic_beside_rhumb_line(start, end, metres, azimuth):
    line = geodesic(*start, *end)
    assert line.distance_nm * M_PER_NM == pytest.approx(metres, abs=1e-3)
    if azimuth is not None:
        assert line.bearing_deg == pytest.approx(azimuth, abs=1e-4)


def test_mercator_sailing():
    """Bowditch, The Sailings, from memory: course 301.8, 538.2 miles of one minute of latitude each.

    The true length on WGS84 is shorter, 537.325 nm (computed with RhumbSolve).
    """
    start, end = (dms(32, 14.7), -dms(66, 28.9)), (dms(36, 58.7), -dms(75, 42.2))
    line = rhumb(*start, *end)
    assert line.bearing_deg == pytest.approx(301.8, abs=0.2)
    assert line.bearing_deg == pytest.approx(301.8474, abs=1e-4)
    assert line.distance_nm == pytest.approx(537.325, abs=1e-3)
    assert line.distance_nm == pytest.approx(538.2, rel=0.0025)
    assert geodesic(*start, *end).distance_nm == pytest.approx(537.137, abs=1e-3)


@pytest.mark.parametrize(
    ("start", "end", "printed", "on_wgs84"),
    [  # UK Chief Mate examination, 28 March 2006 (docsbay.net 150072), read; on a sphere, 1 nm to the minute
        ((30, -dms(79, 40)), (36, -50), 1529.2, 1533.086),
        ((36, -50), (40, -40), 529.8, 530.958),
        ((40, -40), (dms(61, 14), -dms(6, 40)), 1762.2, 1766.377),
    ],
)
def test_great_circle_of_an_examination(start, end, printed, on_wgs84):
    distance = geodesic(*start, *end).distance_nm
    assert distance == pytest.approx(on_wgs84, abs=1e-3)
    assert distance == pytest.approx(printed, rel=0.003)  # sphere and ellipsoid differ by 0.25 % here
