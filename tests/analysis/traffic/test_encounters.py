"""Who came how close: invented encounters whose geometry is known."""

from pathlib import Path

import numpy as np
import pytest
from simulator.traffic import START_S, Vessel, sailed

from analysis import read_log
from analysis.screening import screen
from analysis.traffic import (
    Alarms,
    AskedTraffic,
    Encounter,
    Forecast,
    RadarWatch,
    Traffic,
    hear,
    own_ship,
    watch_traffic,
)
from analysis.traffic.forecast import alarmed
from analysis.traffic.portrait import portrait

NORTH = Vessel(legs=((3600.0, 0.0, 6.0),), fix_m=0.0)


def watched(folder: Path, own: Vessel, *vessels: Vessel, asked: AskedTraffic | None = None) -> Traffic:
    log = folder / "log.nmea"
    log.write_text("\r\n".join(sailed(own, vessels, 5).lines) + "\r\n")
    passage = read_log(log)
    shown = screen(passage.frame).frame
    return watch_traffic(passage, hear(passage.ais), shown, shown, asked or AskedTraffic())


def met(folder: Path, vessel: Vessel, asked: AskedTraffic | None = None) -> Encounter:
    return watched(folder, NORTH, vessel, asked=asked).closest(1)[0]


def crossing(miss_nm: float) -> Vessel:
    """Comes from starboard heading west at 8 kn, crossing the boat's course after half an hour, ``miss_nm`` ahead."""
    return Vessel(east_nm=4.0, north_nm=3.0 + miss_nm, legs=((3600.0, 270.0, 8.0),), fix_m=0.0)


def test_a_crossing_ahead(tmp_path: Path) -> None:
    """Hand calculation: relative motion (-8, -6) kn, so half a mile ahead passes at 0.5 x 0.8 = 0.4 nm."""
    one = met(tmp_path, crossing(0.5))
    assert one.range_nm == pytest.approx(0.4, abs=0.005)
    assert one.time_s - START_S == pytest.approx(
        1800 + 3600 * 0.5 * 6 / 100, abs=12
    )  # 0.5 x 6 kn / (10 kn)^2
    assert one.crosses_nm == pytest.approx(0.5, abs=0.03)
    assert one.relative_kn == pytest.approx(10, abs=0.3)
    assert one.bearing_deg == pytest.approx(323.13, abs=2)  # across the relative course 233.13
    assert one.relative_deg == pytest.approx(-36.87, abs=3)
    assert one.cut == ""
    assert one.overtaking == ""


def test_a_crossing_that_was_not_heard_is_none(tmp_path: Path) -> None:
    """She would reach the boat's course after half an hour; the recording ends at 25 minutes."""
    own = Vessel(legs=((1500.0, 0.0, 6.0),), fix_m=0.0)
    one = watched(tmp_path, own, crossing(0.5)).closest(1)[0]
    assert one.cut == "last heard"
    assert np.isnan(one.crosses_nm)


def test_a_crossing_astern(tmp_path: Path) -> None:
    one = met(tmp_path, crossing(-0.5))
    assert one.range_nm == pytest.approx(0.4, abs=0.005)
    assert one.crosses_nm == pytest.approx(-0.5, abs=0.03)


def test_meeting_end_on_to_starboard(tmp_path: Path) -> None:
    one = met(tmp_path, Vessel(east_nm=0.3, north_nm=8.0, legs=((3600.0, 180.0, 10.0),), fix_m=0.0))
    assert one.range_nm == pytest.approx(0.3, abs=0.005)
    assert one.relative_deg == pytest.approx(90, abs=3)
    assert one.aspect_deg == pytest.approx(90, abs=3)
    assert np.isnan(one.crosses_nm)


def test_who_overtakes_whom(tmp_path: Path) -> None:
    fast = Vessel(east_nm=-0.4, north_nm=-3.0, legs=((3600.0, 0.0, 14.0),), fix_m=0.0)
    slow = Vessel(mmsi=200000002, east_nm=0.6, north_nm=1.5, legs=((3600.0, 0.0, 2.0),), fix_m=0.0)
    told = {one.mmsi: one for one in watched(tmp_path, NORTH, fast, slow).closest(5)}
    assert told[fast.mmsi].overtaking == "target"
    assert told[slow.mmsi].overtaking == "own"


def test_alarms_of_ones_own_choice(tmp_path: Path) -> None:
    """The alarm goes off as TCPA falls below the limit, and not at all where the limit is narrower than the pass."""
    wide = met(tmp_path, crossing(0.5), AskedTraffic(Alarms(0.8, 15.0)))
    assert wide.time_s - wide.alarm_s == pytest.approx(15 * 60, abs=45)
    assert wide.time_s - wide.foreseen_s > 20 * 60
    narrow = met(tmp_path, crossing(0.5), AskedTraffic(Alarms(0.1, 15.0)))
    assert narrow.alarms == 0 or narrow.time_s - narrow.alarm_s < 15 * 60
    assert np.isnan(narrow.foreseen_s)


def test_what_bounds_the_closest_point_is_said(tmp_path: Path) -> None:
    closing = Vessel(north_nm=20.0, legs=((3600.0, 180.0, 5.0),), fix_m=0.0)
    opening = Vessel(mmsi=200000002, north_nm=-1.0, legs=((3600.0, 180.0, 5.0),), fix_m=0.0)
    told = {one.mmsi: one for one in watched(tmp_path, NORTH, closing, opening).closest(5)}
    assert told[closing.mmsi].cut == "last heard"
    assert told[opening.mmsi].cut == "first heard"


def test_turns_between_sparse_reports_widen_the_interval(tmp_path: Path) -> None:
    steady = met(tmp_path, crossing(0.5))
    turning = tuple((200.0, 270.0 + (40 if k % 2 else -40), 8.0) for k in range(18))
    wild = met(
        tmp_path,
        Vessel(east_nm=4.0, north_nm=3.5, legs=turning, every_s=180.0, fix_m=0.0, turn_deg_s=2.0),
    )
    assert wild.range_sd_nm > 3 * steady.range_sd_nm


def test_a_name_that_changes_is_told(tmp_path: Path) -> None:
    one = crossing(0.5)
    other = Vessel(**{**vars(one), "name": "PALE MORNING", "east_nm": 4.01})
    told = watched(tmp_path, NORTH, one, other)
    assert len(told.stations) == 1
    assert "name" in told.stations["changed"].iloc[0]


def test_the_portrait_holds_the_closest_point(tmp_path: Path) -> None:
    told = watched(tmp_path, NORTH, crossing(0.5))
    one = told.closest(1)[0]
    passage = read_log(tmp_path / "log.nmea")
    seen = portrait(told.track(one.visit), own_ship(passage.frame, passage.frame), one)
    assert np.nanmin(np.abs(seen.relative)) == pytest.approx(one.range_nm, abs=1e-3)
    before = seen.forecast.time_s < one.time_s - 300
    assert np.median(seen.forecast.cpa_nm[before]) == pytest.approx(0.4, abs=0.1)


def test_nobody_is_left_out(tmp_path: Path) -> None:
    far = Vessel(mmsi=200000077, east_nm=90.0, legs=((3600.0, 0.0, 12.0),))
    told = watched(tmp_path, NORTH, crossing(0.5), far)
    assert set(told.stations["mmsi"]) == {200000001, 200000077}
    assert told.reception.farthest_nm == pytest.approx(90, abs=1)


def test_across_the_antimeridian(tmp_path: Path) -> None:
    log = tmp_path / "pacific.nmea"
    log.write_text("\r\n".join(sailed(NORTH, [crossing(0.5)], 5, -17.0, 179.98).lines) + "\r\n")
    passage = read_log(log)
    told = watch_traffic(passage, hear(passage.ais), passage.frame, passage.frame, AskedTraffic())
    assert told.closest(1)[0].range_nm == pytest.approx(0.4, abs=0.01)


def test_a_consort_that_edges_alongside_is_met(tmp_path: Path) -> None:
    """Both make 6 kn, and three degrees to port bring her in at 6 sin 3° = 0.31 kn: 0.05 nm in ten minutes."""
    north, edging = ((600.0, course, 6.0) for course in (0.0, 357.0))
    consort = Vessel(east_nm=0.07, legs=(edging,), fix_m=0.0)
    one = watched(tmp_path, Vessel(legs=(north,), fix_m=0.0), consort).closest(1)[0]
    assert one.relative_kn < 0.5
    assert one.range_nm == pytest.approx(0.07 - np.sin(np.radians(3)), abs=0.01)


def test_two_that_lie_still_by_each_other_do_not_meet(tmp_path: Path) -> None:
    anchored = ((300.0, 0.0, 0.0),)
    told = watched(tmp_path, Vessel(legs=anchored), Vessel(east_nm=0.1, legs=anchored))
    assert len(told.encounters) == 1
    assert told.met.empty


@pytest.mark.parametrize(
    ("speed_kn", "foreseen"), [(0.2, True), (0.8, False)], ids=["hove to", "motion not known"]
)
def test_alarms_of_a_boat_whose_course_is_blank(tmp_path: Path, speed_kn: float, foreseen: bool) -> None:
    """A ship 2 nm off at 10 kn is foreseen if the own motion is known, and alarms within 1 nm anyway."""
    own = Vessel(legs=((900.0, 0.0, speed_kn),), fix_m=0.0)
    ship = Vessel(east_nm=0.3, north_nm=2.0, legs=((900.0, 180.0, 10.0),), fix_m=0.0)
    seen = watched(tmp_path, own, ship)
    shown = seen.passage.frame.copy()
    shown.iloc[:-60, shown.columns.get_loc("cog_deg")] = np.nan
    one = watch_traffic(seen.passage, seen.ais, shown, shown, AskedTraffic()).closest(1)[0]
    assert one.alarms == 1
    assert (one.alarm_s - START_S < 60) == foreseen
    assert np.isfinite(one.foreseen_s)


@pytest.mark.parametrize("every_s", [2.0, 10.0])
def test_how_fast_a_ferry_closes(tmp_path: Path, every_s: float) -> None:
    """Class A at 35 kn reports every 2 s (ITU-R M.1371); end on against 6 kn she closes at 41 kn."""
    ferry = Vessel(north_nm=8.0, legs=((600.0, 180.0, 35.0),), every_s=every_s)
    one = watched(tmp_path, Vessel(legs=((600.0, 0.0, 6.0),)), ferry).closest(1)[0]
    assert one.closing_kn == pytest.approx(41, abs=0.5)


def test_a_radar_that_sees_farther_counts_who_closes_out_there(tmp_path: Path) -> None:
    """Ten minutes at 16 kn from 12 nm end at 9.3 nm."""
    far = Vessel(north_nm=12.0, legs=((600.0, 180.0, 10.0),))
    own = Vessel(legs=((600.0, 0.0, 6.0),))
    for watch, closing_kn in ((RadarWatch(10, 1), np.nan), (RadarWatch(10, 1, 12.0), 16.0)):
        one = watched(tmp_path, own, far, asked=AskedTraffic(watch=watch)).closest(1)[0]
        assert one.closing_kn == pytest.approx(closing_kn, abs=0.5, nan_ok=True)


def test_a_silence_or_a_missing_position_breaks_what_was_foreseen() -> None:
    """Six minutes after the last report the carrying on ends; it begins anew with the next one, at 600 s."""
    time = np.array([0.0, 30.0, 60.0, 600.0, 630.0])
    five = np.full(5, 0.2)
    seen = Forecast(np.zeros(5, int), time, five, 5 * five, five, five, np.full(5, 4.0))
    for closest_s, since in ((70.0, 0.0), (640.0, 600.0), (300.0, np.nan)):
        told = alarmed(seen, np.array([closest_s]), np.array([0.2]), Alarms(0.5, 20.0))
        assert told["foreseen_s"][0] == pytest.approx(since, nan_ok=True)
