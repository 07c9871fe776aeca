"""The recorder writes what the sensors show, and each fault is in the file: read back with another parser."""

import math

import numpy as np
import pynmea2
import pytest

from .cases import CLEAN, case
from .faults import FAULTS
from .recorder import with_checksum

HOURS = 0.4


def read(nmea, formatter):
    """All sentences of a formatter, checksums checked by the parser."""
    lines = nmea.decode("latin-1").split("\r\n")
    return [pynmea2.parse(line, check=True) for line in lines if line[3:6] == formatter]


def written(fault, seed=0, **changes):
    made = case(fault, seed, hours=HOURS, **changes)
    return made, made.voyage, made.nmea()


def test_checksums_are_the_published_ones():
    """The example of the NMEA 0183 reference page of the gpsd project: $GPGLL,...*1D."""
    assert with_checksum(["GPGLL,4916.45,N,12311.12,W,225444,A,"]) == [
        "$GPGLL,4916.45,N,12311.12,W,225444,A,*1D"
    ]


@pytest.mark.parametrize("name", [*CLEAN, *FAULTS])
def test_every_case_can_be_written_and_is_the_same_twice(name):
    nmea = case(name, 3, hours=0.06).nmea()
    assert nmea == case(name, 3, hours=0.06).nmea()
    assert nmea.count(b"\r\n") > 600


def test_positions_speeds_and_angles_come_back():
    made, voyage, nmea = written("true-wind-mirrored")
    fixes = read(nmea, "RMC")
    rows = np.arange(len(fixes))
    # half a thousandth of a minute and the receiver's own 1.5 m of noise, five-fold
    np.testing.assert_allclose([f.latitude for f in fixes], voyage.truth.lat_deg[rows], atol=8e-5)
    np.testing.assert_allclose([f.spd_over_grnd for f in fixes], voyage.sensed["sog_kn"][rows], atol=0.051)
    assert fixes[0].datetime.replace(tzinfo=None) == voyage.truth.start.to_pydatetime().replace(tzinfo=None)
    shown = [one for one in read(nmea, "MWV") if one.reference == "R"]
    rate = made.rig.fit.rates["MWV-R"]
    at = np.arange(len(shown)) / rate
    speed = np.interp(at, np.arange(len(voyage.sensed["aws_kn"])), voyage.sensed["aws_kn"])
    # a tenth of a knot of rounding, and a quarter second of gusts
    assert np.std([float(one.wind_speed) for one in shown] - speed) < 0.3


def test_the_display_of_a_clean_boat_finds_the_wind_over_the_water():
    """From the truth: wind over the ground less the current, with the standard errors of 24 min of gusts."""
    _, voyage, nmea = written("true-wind-leeway", pilot="wind")
    truth = voyage.truth
    wind = -truth.wind_kn * np.exp(1j * np.radians(truth.wind_from_deg))
    over_water = -np.mean(wind - truth.current_north_kn - 1j * truth.current_east_kn)
    told = read(nmea, "MWD")
    mean = np.mean(
        [float(o.wind_speed_knots) * np.exp(1j * math.radians(float(o.direction_true))) for o in told]
    )
    assert abs(np.degrees(np.angle(mean / over_water))) < 3
    assert abs(mean) == pytest.approx(abs(over_water), rel=0.05)


@pytest.mark.parametrize(
    ("fault", "formatter", "field", "share"),
    [("log-stuck", "VHW", "water_speed_knots", 0.2), ("cog-frozen", "RMC", "true_course", 0.2)],
)
def test_a_stuck_value_stands_still_to_the_end(fault, formatter, field, share):
    _, _, nmea = written(fault)
    values = [getattr(one, field) for one in read(nmea, formatter)]
    assert len(set(values[-int(share * len(values)) :])) == 1
    assert len(set(values)) > 10


def test_a_mirrored_vane_is_the_other_side_of_the_true_one():
    _, voyage, nmea = written("vane-mirrored")
    true = voyage.sensed["awa_deg"]
    shown = [float(one.wind_angle) for one in read(nmea, "MWV") if one.reference == "R"]
    at = np.linspace(0, len(true) - 1, len(shown)).astype(int)
    assert np.median(abs((np.array(shown) + true[at] + 180) % 360 - 180)) < 3


def test_bad_characters_fail_the_checksum_at_the_stated_rate():
    _, _, nmea = written("checksum-errors")
    bad = 0
    lines = nmea.decode("latin-1").split("\r\n")[:-1]
    for line in lines:
        try:
            pynmea2.parse(line, check=True)
        except pynmea2.ParseError:
            bad += 1
    assert 0.015 < bad / len(lines) < 0.11


def test_an_overloaded_port_sends_no_more_than_it_can():
    _, _, nmea = written("port-overloaded")
    assert len(nmea) / (HOURS * 3600) == pytest.approx(480, rel=0.05)
