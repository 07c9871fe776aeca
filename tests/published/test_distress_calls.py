"""Distress calls and beacons against published examples and tables.

The datagrams are those documented at continuouswave.com/whaler/reference/DSC_Datagrams.html (a distress alert with
its expansion, a cancellation, a position report); the texts of message 14 are those of ITU-R M.1371 as given at
e-navigation.nl ("Safety related broadcast message"); the identities those of ITU-R M.585.
"""

from pathlib import Path

import pandas as pd
import pytest
from pyais import encode_dict

from analysis import read_log
from analysis.emergencies import marks_heard
from analysis.emergencies.beacons import marks_of_ais
from analysis.emergencies.calls import marks_of_calls
from analysis.emergencies.marks import Fix, Mark, joined_fixes

RMC = "$GPRMC,{},A,4220.000,N,08300.000,W,5.0,090.0,010626,,,A"
ALERT = "$CDDSC,12,3380400790,12,06,00,1423108312,2019,,,S,E*6A"
EXPANSION = "$CDDSE,1,1,A,3380400790,00,45894494*1B"
SELF_NAMED = "$CDDSC,12,3381581370,12,06,00,1423108312,0236,3381581370,,S,*20"
CANCELLED = "$CDDSC,16,3381581370,12,10,00,1423108312,0236,3381581370,06,S,"  # ITU-R M.493, from memory
ACKNOWLEDGED = "$CDDSC,16,0033810000,12,10,00,1423108312,0236,3381581370,06,S,"
POSITION_REPORT = "$CDDSC,20,3381581370,00,21,26,1423108312,1902,,,B,E*7B"


def heard(tmp_path: Path, *sentences: str) -> list[Mark]:
    log = tmp_path / "calls.nmea"
    log.write_text("\r\n".join([RMC.format("201900"), *sentences, RMC.format("202000")]) + "\r\n")
    return marks_of_calls(read_log(log).events)


def test_a_distress_alert_is_read(tmp_path: Path) -> None:
    (mark,) = heard(tmp_path, ALERT)
    assert (mark.who, mark.category, mark.nature) == ("338040079", "distress", "disabled and adrift")
    assert (mark.alert, mark.test, mark.adrift, mark.position_utc) == (True, False, "craft", "20:19")
    assert mark.fixes[0].lat_deg == pytest.approx(42 + 31 / 60)
    assert mark.fixes[0].lon_deg == pytest.approx(-(83 + 12 / 60))
    assert mark.fixes[0].sd_nm == pytest.approx(0.577, abs=1e-3)  # uniform over the minute that was cut off


def test_its_expansion_refines_the_position(tmp_path: Path) -> None:
    (mark,) = heard(tmp_path, ALERT, EXPANSION)
    assert mark.fixes[0].lat_deg == pytest.approx(42 + 31.4589 / 60, abs=1e-9)
    assert mark.fixes[0].lon_deg == pytest.approx(-(83 + 12.4494 / 60), abs=1e-9)
    assert mark.fixes[0].sd_nm < 0.01


def test_an_expansion_of_another_ship_refines_nothing(tmp_path: Path) -> None:
    other = "$CDDSE,1,1,A,3381581370,00,45894494"
    (mark,) = heard(tmp_path, ALERT, other)
    assert mark.fixes[0].lat_deg == pytest.approx(42 + 31 / 60)


def test_a_cancelled_alert_and_a_position_report_are_no_alerts(tmp_path: Path) -> None:
    marks = heard(tmp_path, CANCELLED, POSITION_REPORT)
    assert [mark.alert for mark in marks] == [False, False]
    assert {mark.category for mark in marks} == {"distress", "routine"}


def test_an_alert_that_names_its_sender_twice_stays_an_alert(tmp_path: Path) -> None:
    marks = heard(tmp_path, SELF_NAMED, ACKNOWLEDGED)
    assert {mark.what: mark.alert for mark in marks} == {
        "distress, or cancelled by the sender: disabled and adrift": True,
        "distress acknowledged: disabled and adrift": True,
    }


def message(time_s: float = 1000.0, **fields: object) -> tuple[float, bool, str, int]:
    sentence = encode_dict(fields, talker_id="AI", sentence_type="VDM")[0].split(",")
    return time_s, False, sentence[5], int(sentence[6][0])


def marks(*messages: tuple[float, bool, str, int]) -> list[Mark]:
    return marks_of_ais(pd.DataFrame(messages, columns=["time_s", "own", "payload", "fill_bits"]))


@pytest.mark.parametrize(
    ("mmsi", "text", "kind", "adrift"),
    [
        (970123456, "SART ACTIVE", "AIS-SART", "craft"),
        (972123456, "MOB ACTIVE", "AIS MOB", "person"),
        (974123456, "EPIRB ACTIVE", "EPIRB-AIS", "craft"),
    ],
)
def test_an_active_beacon_is_an_alert(mmsi: int, text: str, kind: str, adrift: str) -> None:
    (mark,) = marks(
        message(type=1, mmsi=mmsi, status=14, lat=50.1, lon=-1.2, speed=0.4, course=90),
        message(type=14, mmsi=mmsi, text=text),
    )
    assert (mark.kind, mark.who, mark.adrift) == (kind, str(mmsi), adrift)
    assert mark.alert and not mark.test and text in mark.what
    assert mark.fixes[0].lat_deg == pytest.approx(50.1, abs=1e-5)


@pytest.mark.parametrize("text", ["SART TEST", "MOB TEST", "EPIRB TEST"])
def test_a_beacon_under_test_is_named_a_test(text: str) -> None:
    (mark,) = marks(
        message(type=1, mmsi=970123456, status=15, lat=50.1, lon=-1.2),
        message(type=14, mmsi=970123456, text=text),
    )
    assert mark.test and not mark.alert


def test_ships_are_no_beacons_and_a_text_of_one_is_told() -> None:
    (mark,) = marks(
        message(type=1, mmsi=211123456, status=0, lat=50.1, lon=-1.2),
        message(type=14, mmsi=413956418, text="MAYDAY MAYDAY"),
    )
    assert (mark.kind, mark.alert) == ("AIS safety text", False)
    assert "MAYDAY" in mark.what


@pytest.mark.parametrize("after_s", [600.0, 7200.0])
def test_a_beacon_tested_and_later_active_is_two_marks(after_s: float) -> None:
    tested, active = marks(
        message(type=1, mmsi=972123456, status=15, lat=50.1, lon=-1.2),
        message(type=14, mmsi=972123456, text="MOB TEST"),
        message(1000.0 + after_s, type=14, mmsi=972123456, text="MOB ACTIVE"),
        message(1010.0 + after_s, type=1, mmsi=972123456, status=14, lat=50.3, lon=-1.2),
    )
    assert (tested.test, tested.alert, tested.end_s) == (True, False, 1000.0)
    assert (active.test, active.alert, active.start_s) == (False, True, 1000.0 + after_s)
    assert [fix.lat_deg for fix in active.fixes] == [pytest.approx(50.3, abs=1e-5)]


def test_an_active_text_is_an_alert_whatever_the_identity() -> None:
    (mark,) = marks(message(type=14, mmsi=211123456, text="MOB ACTIVE"))
    assert (mark.kind, mark.alert, mark.adrift) == ("AIS safety text", True, "person")


def test_the_finer_of_two_positions_at_one_moment_is_kept() -> None:
    coarse, fine = Fix(0.0, 50.0, -1.0, 0.6), Fix(10.0, 50.01, -1.0, 0.003)
    assert joined_fixes([coarse, fine]) == (fine,)
    assert joined_fixes([fine, coarse]) == (fine,)


def test_a_call_of_another_ship_is_told_from_the_own_by_the_own_ais(tmp_path: Path) -> None:
    def heard_by(identity: int) -> list[bool]:
        own = encode_dict({"type": 1, "mmsi": identity, "lat": 42.3, "lon": -83.0}, sentence_type="VDO")[0]
        log = tmp_path / "calls.nmea"
        log.write_text("\r\n".join([RMC.format("201900"), own, ALERT, RMC.format("202000")]) + "\r\n")
        return [mark.another for mark in marks_heard(read_log(log))]

    assert heard_by(338040079) == [False]
    assert heard_by(211123456) == [True]
