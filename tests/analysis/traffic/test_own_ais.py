"""The own transponder, reception by bearing, radar and its watch: what is put in comes out."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from simulator.traffic import START_S, Vessel, sailed

from analysis import Review, SettingError, Settings, review
from analysis.asked import Asked
from analysis.review import asked_again, reconsidered
from analysis.traffic import Alarms, AskedTraffic, RadarWatch, check_watch

HOUR = 3600.0
OWN = Vessel(legs=((HOUR, 40.0, 6.0),), fix_m=8.0)
SHIP = Vessel(east_nm=5.0, north_nm=1.0, legs=((HOUR, 320.0, 9.0),))
MINE = Vessel(mmsi=200000099, name="TARNWHISTLE", kind="B", legs=OWN.legs, every_s=30.0, fix_m=8.0)
OURS = (
    "ais-identity",
    "ais-no-position",
    "ais-position",
    "ais-rare",
    "ais-silent",
    "ais-alarm",
    "ais-shadow",
)


def reviewed(folder: Path, *vessels: Vessel, asked: AskedTraffic | None = None, **options: object) -> Review:
    log = folder / "own.nmea"
    own = options.pop("own", OWN)
    voyage = sailed(own, vessels, 11, **options)  # type: ignore[arg-type]
    log.write_text("\r\n".join(voyage.lines) + "\r\n")
    return review(log, Settings(asked=Asked(traffic=asked or AskedTraffic())))


def said(one: Review) -> set[str]:
    return {finding.id for finding in one.findings} & set(OURS)


def test_a_transponder_in_order(tmp_path: Path) -> None:
    one = reviewed(tmp_path, SHIP, vdo=MINE)
    told = one.case.traffic.transmission
    assert (told.mmsis, told.names, told.transponder) == ((200000099,), ("TARNWHISTLE",), "B CS")
    assert told.ratio == pytest.approx(1.0, abs=0.05)
    assert told.interval_s == pytest.approx(30, abs=1)
    assert said(one) == set()


def test_class_a_has_shorter_intervals(tmp_path: Path) -> None:
    """ITU-R M.1371: 10 s below 14 kn; a report every 60 s is too rare."""
    one = reviewed(tmp_path, vdo=Vessel(**{**vars(MINE), "kind": "A", "every_s": 60.0}))
    assert one.case.traffic.transmission.nominal_s == 10
    assert one.case.traffic.transmission.ratio == pytest.approx(6, abs=0.3)
    assert said(one) == {"ais-rare"}


def test_at_anchor_three_minutes_are_due(tmp_path: Path) -> None:
    still = ((HOUR, 0.0, 0.0),)
    mine = Vessel(**{**vars(MINE), "kind": "A", "every_s": 180.0, "status": 1, "legs": still})
    one = reviewed(tmp_path, own=Vessel(legs=still, fix_m=8.0), vdo=mine)
    assert one.case.traffic.transmission.nominal_s == 180
    assert said(one) == set()


def test_what_is_printed_every_second_says_nothing_of_sending(tmp_path: Path) -> None:
    one = reviewed(tmp_path, vdo=Vessel(**{**vars(MINE), "every_s": 1.0}), vdo_channel="")
    told = one.case.traffic.transmission
    assert told.ratio is None
    assert "does not show which were sent" in told.why
    assert said(one) == set()


def test_a_receiver_only_is_not_known(tmp_path: Path) -> None:
    one = reviewed(tmp_path, SHIP)
    assert one.case.traffic.transmission.mmsis == ()
    assert "does not show whether the own transponder sent" in one.case.traffic.transmission.why
    assert said(one) == set()


def test_a_position_that_lags(tmp_path: Path) -> None:
    """Late by 8 s at 6 kn it lies 25 m astern: the delay is told, what remains is small."""
    legs = tuple((400.0, 40.0 + (90 if k % 2 else 0), 6.0) for k in range(9))
    mine = Vessel(**{**vars(MINE), "every_s": 10.0, "legs": legs})
    one = reviewed(tmp_path, own=Vessel(legs=legs, fix_m=8.0), vdo=mine, vdo_delay_s=8.0)
    delay = one.case.traffic.transmission.delay_s
    assert delay is not None and delay.value is not None and delay.sd is not None
    assert delay.value == pytest.approx(8, abs=4 * delay.sd + 0.5)


def test_a_position_elsewhere_and_silence(tmp_path: Path) -> None:
    away = reviewed(tmp_path, vdo=Vessel(**{**vars(MINE), "east_nm": 0.3}))
    assert said(away) == {"ais-position"}
    assert next(one for one in away.findings if one.id == "ais-position").value == pytest.approx(556, abs=30)
    two = sailed(OWN, [], 11, vdo=MINE, vdo_until_s=900)
    later = [line for line in sailed(OWN, [], 12, vdo=MINE).lines if "VDO" in line][-20:]
    log = tmp_path / "silent.nmea"
    log.write_text("\r\n".join([*two.lines, *later]) + "\r\n")
    assert "ais-silent" in said(review(log))


def test_an_identity_that_is_none(tmp_path: Path) -> None:
    one = reviewed(tmp_path, vdo=Vessel(**{**vars(MINE), "mmsi": 123456789}))
    assert said(one) == {"ais-identity"}


def test_alarms_and_texts_of_the_transponder_are_kept_once(tmp_path: Path) -> None:
    alarm = "$AIALR,120000.00,002,A,V,AIS: Antenna VSWR exceeds limit*47"  # layout IEC 61162-1
    lines = [(START_S + 60 * k, _checked(alarm)) for k in range(5)]
    lines.append((START_S + 400, _checked("$AITXT,01,01,21,AIS: External EPFS lost*00")))
    lines.append((START_S + 500, _checked("$GPTXT,01,01,02,ANTSTATUS=OK*00")))
    one = reviewed(tmp_path, vdo=MINE, extra=lines)
    assert one.case.traffic.notices["kind"].tolist() == ["transponder alarm", "transponder text"]
    assert said(one) == {"ais-alarm"}


def _checked(line: str) -> str:
    body = line[1:].split("*")[0]
    total = 0
    for letter in body.encode():
        total ^= letter
    return f"${body}*{total:02X}"


def ttm(letter: str) -> list[tuple[float, str]]:
    """Radar readings of a target where the ship is, its bearings true or off the bow, and of one where nobody is."""
    voyage = sailed(OWN, [SHIP], 11)
    lines = []
    for k in range(0, 600, 10):
        north = (voyage.others[0].lat_deg[k] - voyage.own.lat_deg[k]) * 60
        east = (voyage.others[0].lon_deg[k] - voyage.own.lon_deg[k]) * 60 * np.cos(np.radians(47.0))
        away, bearing = float(np.hypot(east, north)), float(np.degrees(np.arctan2(east, north)))
        shown = (bearing - (voyage.own.course_deg[k] if letter == "R" else 0.0)) % 360
        ship = f"$RATTM,01,{away:.2f},{shown:.1f},{letter},9.0,320.0,T,1.00,10.0,N,,T,,,A*00"
        nobody = f"$RATTM,02,2.50,200.0,{letter},0.0,0.0,T,2.50,0.0,N,,T,,,A*00"
        lines += [(START_S + k + 0.3, _checked(one)) for one in (ship, nobody)]
    return lines


@pytest.mark.parametrize("letter", ["T", "R"])
def test_radar_targets_stand_beside_ais(tmp_path: Path, letter: str) -> None:
    one = reviewed(tmp_path, SHIP, extra=ttm(letter))
    radar = one.case.traffic.radar.set_index("number")
    assert radar.loc[1, "mmsi"] == SHIP.mmsi
    assert radar.loc[1, "apart_nm"] < 0.1
    assert radar.loc[2, "mmsi"] == 0
    assert radar.loc[2, "nearest_nm"] == pytest.approx(2.5)
    assert radar["unturned"].sum() == 0


def test_a_bearing_off_the_bow_is_turned_by_the_corrected_heading(tmp_path: Path) -> None:
    """A compass 30 deg off puts the target elsewhere, 2 x 5 nm x sin 15 = 2.6 nm from the ship."""
    one = reviewed(tmp_path, SHIP, extra=ttm("R"))
    off = reconsidered(one, {"compass_constant_deg": 30.0}).case.traffic.radar
    assert off["mmsi"].tolist() == [0, 0]


def test_bearings_off_the_bow_without_a_heading_are_counted(tmp_path: Path) -> None:
    log = tmp_path / "no_heading.nmea"
    lines = sailed(OWN, [SHIP], 11, extra=ttm("R")).lines
    log.write_text("\r\n".join(line for line in lines if "HDT" not in line) + "\r\n")
    radar = review(log).case.traffic.radar.set_index("number")
    assert radar["mmsi"].tolist() == [0, 0]
    assert radar["unturned"].tolist() == [60, 60]
    assert radar.loc[2, "nearest_nm"] == pytest.approx(2.5)


def test_answers_follow_what_was_asked(tmp_path: Path) -> None:
    one = reviewed(tmp_path, SHIP, vdo=MINE)
    told = one.case.traffic
    assert (told.reception.horizon_nm, told.watch) == ({}, None)
    wishes = AskedTraffic(Alarms(3.0, 60.0), 16.0, RadarWatch(10, 1))
    again = asked_again(one, replace(one.settings.asked, traffic=wishes)).case.traffic
    assert again.reception.horizon_nm["A"] == pytest.approx(2.23 * (4 + np.sqrt(20)))  # FS-1037C
    assert again.watch is not None
    assert told.encounters["alarms"].sum() < again.encounters["alarms"].sum()
    assert again.ais is told.ais


def test_bearings_off_the_bow_follow_a_correction_of_the_compass(tmp_path: Path) -> None:
    one = reviewed(tmp_path, SHIP)
    before = one.case.traffic.closest(1)[0]
    after = reconsidered(one, {"compass_constant_deg": 10.0}).case.traffic.closest(1)[0]
    assert before.range_nm == after.range_nm
    assert (before.relative_deg - after.relative_deg) % 360 == pytest.approx(10, abs=1.0)


def test_a_sleeping_radar() -> None:
    """Hand calculation: 6 - 2 = 4 nm in 10 + 2 = 12 min is 20 kn; at 30 kn 4 nm take 8 min, 2 of them the scan."""
    told = check_watch(RadarWatch(10, 2, 6, 2), pd.Series([8.0, 15.0, 30.0]).to_numpy())
    assert told.limit_kn == pytest.approx(20)
    assert (told.met, told.unseen, told.fastest_kn) == (3, 1, 30)
    assert told.seen_at_nm == pytest.approx(0)
    assert told.longest_sleep_min == pytest.approx(6)
    alone = check_watch(RadarWatch(10, 2, 6, 2), pd.Series([], dtype=float).to_numpy())
    assert (alone.met, alone.fastest_kn, alone.seen_at_nm) == (0, None, None)


@pytest.mark.parametrize("wrong", [(-1, 1, 6, 2), (10, 0, 6, 2), (10, 1, 2, 2), (10, 1, 6, 0)])
def test_a_radar_watch_without_meaning_is_refused(wrong: tuple[float, float, float, float]) -> None:
    with pytest.raises(SettingError):
        RadarWatch(*wrong)


def test_an_aerial_that_cannot_be_is_refused() -> None:
    with pytest.raises(SettingError):
        AskedTraffic(aerial_height_m=-3)
