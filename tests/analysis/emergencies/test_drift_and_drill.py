"""Datum and drill against hand calculations."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from analysis import earth
from analysis.calibration.results import CurrentSeries
from analysis.emergencies import Overboard, UserMark, find_emergencies
from analysis.emergencies.calls import marks_of_calls
from analysis.emergencies.drift import Datum, current_of, drifted, wind_of
from analysis.emergencies.drill import Closest, Drill, review_drill
from analysis.emergencies.marks import Fix, Mark, user_marks

START = pd.Timestamp("2026-06-01T10:00:00Z")


def at(seconds: float) -> float:
    return START.timestamp() + seconds


def steady(hours: float = 3.0, **columns: float) -> pd.DataFrame:
    """A boat that goes east at 6 kn from 50 N, 2 W."""
    count = int(hours * 3600) + 1
    place = earth.position_at(np.arange(count) * 6 / 3600, np.zeros(count), 50.0, -2.0)
    values = {
        "lat_deg": place.lat_deg,
        "lon_deg": place.lon_deg,
        "sog_kn": 6.0,
        "heading_true_deg": 90.0,
    } | columns
    index = pd.date_range(START, periods=count, freq="s", name="time_utc")
    return pd.DataFrame({name: np.broadcast_to(value, count) for name, value in values.items()}, index=index)


def stream(north_kn: float, east_kn: float, sd_kn: float = 0.0) -> CurrentSeries:
    two = np.ones(2)
    return CurrentSeries(
        pd.DatetimeIndex([START, START + pd.Timedelta(hours=12)]),
        two * 0, two * 0, two * 0, two * 0, two * north_kn, two * east_kn, two * sd_kn, True,
    )  # fmt: skip


def person_in(frame: pd.DataFrame, current: CurrentSeries) -> Datum:
    """Let a person drift from 50 N 2 W at the start of the frame."""
    flow = current_of(frame, current)
    assert flow is not None
    datum = drifted([Fix(at(0), 50.0, -2.0, 0.005)], "person", frame, flow, wind_of(frame))
    assert datum is not None
    return datum


def after_an_hour(datum: Datum) -> earth.Line:
    hour = int(np.searchsorted(datum.time_s, at(3600)))
    return earth.geodesic(50.0, -2.0, datum.lat_deg[hour], datum.lon_deg[hour])


def test_a_current_of_two_knots_carries_the_datum_two_miles_in_an_hour() -> None:
    frame = steady(tws_water_kn=0.0, twd_water_deg=0.0)
    datum = person_in(frame, stream(2.0, 0.0))
    away = after_an_hour(datum)
    assert away.distance_nm == pytest.approx(2.0, abs=1e-4)
    assert away.bearing_deg == pytest.approx(0.0, abs=0.01)
    assert (datum.current_kn, datum.current_set_deg) == (pytest.approx(2.0), pytest.approx(0.0))


def test_a_person_drifts_downwind_by_the_published_share() -> None:
    frame = steady(tws_water_kn=20.0, twd_water_deg=270.0)
    datum = person_in(frame, stream(0.0, 0.0))
    away = after_an_hour(datum)
    assert away.distance_nm == pytest.approx(0.011 * 20 + 0.07, abs=1e-4)  # by hand: 0.29 kn for an hour
    assert away.bearing_deg == pytest.approx(90.0, abs=0.01)


def test_the_radius_grows_and_begins_anew_with_a_new_position() -> None:
    frame = steady(tws_water_kn=15.0, twd_water_deg=0.0)
    flow = current_of(frame, stream(0.5, 0.5, 0.1))
    assert flow is not None
    fixes = [Fix(at(0), 50.0, -2.0, 0.005), Fix(at(3600), 50.02, -2.0, 0.005)]
    datum = drifted(fixes, "person", frame, flow, wind_of(frame))
    assert datum is not None
    before, after = (int(np.searchsorted(datum.time_s, at(s))) for s in (3570, 3600))
    assert (np.diff(datum.radius_nm[:before]) > 0).all()
    assert datum.radius_nm[after] == pytest.approx(
        np.sqrt(5.991) * 0.005, rel=1e-3
    )  # chi-square of 2 degrees
    assert datum.lat_deg[after] == pytest.approx(50.02)


def test_without_wind_the_radius_holds_a_leeway_from_anywhere() -> None:
    calm = steady(tws_water_kn=0.0, twd_water_deg=0.0)
    flow = current_of(calm, stream(0.5, 0.5, 0.05))
    assert flow is not None
    place = [Fix(at(0), 50.0, -2.0, 0.005)]
    known, unknown = (drifted(place, "person", frame, flow, wind_of(frame)) for frame in (calm, steady()))
    assert known is not None and unknown is not None
    assert unknown.radius_nm[-1] > known.radius_nm[-1]
    assert "no wind is known" in unknown.by[1]


def test_a_current_kept_beyond_its_estimates_is_less_and_less_known() -> None:
    frame = steady(
        3.0, tws_water_kn=0.0, twd_water_deg=0.0, lon_deg=-2.0
    )  # at anchor, so that she stays near

    def radius_nm(known_h: float) -> tuple[float, str]:
        minutes = pd.date_range(START, periods=int(60 * known_h) + 1, freq="min")
        one = np.ones(len(minutes))
        series = CurrentSeries(minutes, one, one, one, one, one * 2.0, one * 0.0, one * 0.1, True)
        datum = person_in(frame, series)
        return float(datum.radius_nm[-1]), datum.by[0]

    (known, plain), (lost, said) = radius_nm(3.0), radius_nm(1.0)
    # by hand: 0.1 kn for an hour, two hours of the root of 0.1² + 8 (1 - exp(-(t / 2.795 h)²)) kn: 2.02 nm; with the
    # wander's 0.16 nm, 2.448 times their root sum of squares. Known throughout: 0.3 and 0.16 nm.
    assert lost == pytest.approx(2.448 * np.hypot(2.02, 0.16), rel=0.01)
    assert known == pytest.approx(2.448 * np.hypot(0.30, 0.16), rel=0.01)
    assert "120 min" in said and "min" not in plain


def test_range_and_bearing_lead_from_the_boat_to_the_datum() -> None:
    frame = steady(tws_water_kn=0.0, twd_water_deg=0.0)
    datum = person_in(frame, stream(0.0, 0.0))
    hour = int(np.searchsorted(datum.time_s, at(3600)))
    slack = 0.08  # 0.07 kn of least leeway, in calm toward nowhere
    assert datum.range_nm[hour] == pytest.approx(6.0, abs=slack)
    assert datum.bearing_deg[hour] == pytest.approx(270.0, abs=1.0)


def out_and_back() -> pd.DataFrame:
    """East at 6 kn for 60 s, round in 30 s by starboard, back west past the mark 0.02 nm to the south of it."""
    heading = np.concatenate((np.full(160, 90.0), np.linspace(90, 270, 30), np.full(200, 270.0)))
    count = len(heading)
    east = np.cumsum(6 / 3600 * np.sin(np.radians(heading)))
    north = np.cumsum(6 / 3600 * np.cos(np.radians(heading)))
    place = earth.position_at(east, north, 50.0, -2.0)
    index = pd.date_range(START, periods=count, freq="s", name="time_utc")
    return pd.DataFrame(
        {"lat_deg": place.lat_deg, "lon_deg": place.lon_deg, "sog_kn": 6.0, "heading_true_deg": heading},
        index=index,
    )


def by_hand(frame: pd.DataFrame, row: int) -> Mark:
    return user_marks(Overboard((UserMark(at(row)),)), frame)[0]


def test_a_drill_is_timed_from_the_mark() -> None:
    frame = out_and_back()
    drill = review_drill(by_hand(frame, 100), None, frame)
    assert drill is not None and drill.mark is not None
    # by hand: the turn begins 60 s after the mark at 180 deg in 29 s; 30 deg of it take 5 s, 150 deg 25 s
    assert drill.turned_s == pytest.approx(65, abs=2)
    assert drill.on_way_back_s == pytest.approx(85, abs=2)
    # half circle of 30 s at 6 kn: its diameter is 2 x 0.05 nm / pi
    assert drill.mark.distance_nm == pytest.approx(2 * 0.05 / np.pi, abs=0.003)
    assert drill.mark.after_s == pytest.approx(150, abs=12)
    assert drill.farthest_nm == pytest.approx(0.117, abs=0.01)


def test_a_boat_that_sails_on_has_no_return() -> None:
    frame = steady()
    drill = review_drill(by_hand(frame, 100), None, frame)
    assert drill is not None
    assert drill.turned_s is None and drill.mark is None


def test_a_drill_says_how_long_the_boat_was_watched() -> None:
    frame = steady()
    short = review_drill(by_hand(frame, 100), None, frame.iloc[:221])
    assert short is not None and short.turned_s is None
    assert short.watched_s == pytest.approx(120)


def test_a_drill_goes_by_the_course_where_the_heading_is_missing_about_the_mark() -> None:
    frame = out_and_back()
    frame["cog_deg"] = frame["heading_true_deg"]
    frame.iloc[75:125, frame.columns.get_loc("heading_true_deg")] = np.nan
    drill = review_drill(by_hand(frame, 100), None, frame)
    assert drill is not None and drill.by_course
    assert drill.turned_s == pytest.approx(65, abs=2)  # as by heading, above
    assert review_drill(by_hand(frame, 100), None, frame.drop(columns="cog_deg")) is None


def test_another_ship_s_person_and_one_far_off_are_no_drill_of_this_boat() -> None:
    frame = steady()
    mark = dataclasses.replace(by_hand(frame, 100), kind="DSC call", who="211123456")
    far = dataclasses.replace(mark, fixes=(Fix(at(100), 50.0 + 35 / 60, -2.0, 0.005),))
    another = dataclasses.replace(mark, another=True)
    found = find_emergencies((mark, far, another), frame, stream(0, 0), Overboard()).all
    assert [one.drill is not None for one in found] == [True, False, False]


def test_a_mark_by_time_of_day_lies_where_the_boat_was() -> None:
    frame = steady()
    (mark,) = user_marks(Overboard((UserMark(10.5 * 3600),)), frame)
    assert mark.start_s == at(1800)
    assert mark.fixes[0].lon_deg == pytest.approx(frame["lon_deg"].iloc[1800])


def test_a_mark_outside_the_log_has_no_position_and_no_drift() -> None:
    frame = steady(0.5)
    (one,) = find_emergencies((), frame, stream(1, 0), Overboard((UserMark(at(7200)),))).all
    assert one.mark.fixes == () and one.datum is None
    assert one.why == "it has no position"


def test_without_current_nothing_is_drifted() -> None:
    frame = steady()
    (one,) = find_emergencies((), frame, None, Overboard((UserMark(at(60)),))).all
    assert one.datum is None and one.why is not None and "no current" in one.why


def test_person_overboard_sentences_join_and_tests_are_named() -> None:
    text = "$CDMOB,0007B,{},100000.0,1,010626,{:%H%M%S}.0,5000.600,N,00200.000,W,90.0,0.5,,1*00"
    events = pd.DataFrame(
        [
            (moment, "person overboard", text.format(state, moment), 50.01, -2.0)
            for k, state in ((0, "A"), (90, "A"), (200, "T"), (300, "V"))
            for moment in [START + pd.Timedelta(seconds=k)]
        ],
        columns=["time_utc", "kind", "text", "lat_deg", "lon_deg"],
    )
    found = find_emergencies(tuple(marks_of_calls(events)), steady(), stream(0, 0), Overboard()).all
    assert [(one.mark.count, one.mark.alert, one.mark.test) for one in found] == [
        (2, True, False),
        (1, False, True),
    ]
    assert [len(one.mark.fixes) for one in found] == [2, 1]
    assert found[0].datum is not None and found[1].datum is None


def test_nothing_is_drifted_by_the_current_of_another_place() -> None:
    frame = steady()
    flow = current_of(frame, stream(1.0, 0.0))
    assert flow is not None
    assert (
        drifted([Fix(at(0), 51.0, -2.0, 0.005)], "craft", frame, flow, None) is None
    )  # 60 nm north of the boat
    near = drifted([Fix(at(0), 50.0, -2.0, 0.005)], "craft", frame, flow, None)
    assert near is not None
    assert near.range_nm[-1] <= 10.0 < np.hypot(6.0, 1.0) * (near.time_s[-1] - at(0) + 60) / 3600


def test_what_drifts_toward_a_boat_that_goes_on_is_no_return() -> None:
    passed = Drill(False, 3600.0, 300.0, None, 4.0, mark=None, datum=Closest(0.2, 1500.0))
    assert passed.back_s is None


def called(clock: str) -> Mark:
    """A distress alert received at 10:00:00, with a position of that time of day."""
    text = f"$CDDSC,12,3380400790,12,06,00,1500000200,{clock},,,S,"
    columns = ["time_utc", "kind", "text", "lat_deg", "lon_deg"]
    (mark,) = marks_of_calls(pd.DataFrame([(START, "DSC call", text, 50.0, -2.0)], columns=columns))
    return mark


@pytest.mark.parametrize(
    ("clock", "before_s"),
    [
        ("0940", 1200),
        ("1000", 0),
        ("1002", 0),
        ("2330", 37800),
        ("8888", 0),
        ("02392123", 0),
    ],  # by hand, from 10:00:00
)
def test_a_position_is_of_the_time_given_with_it(clock: str, before_s: float) -> None:
    (fix,) = called(clock).fixes
    assert fix.time_s == at(-before_s)
    assert fix.timed == (len(clock) == 4 and clock != "8888")


def test_a_position_without_its_time_is_said_to_have_none() -> None:
    frame = steady()
    timed, untimed = (
        find_emergencies((called(clock),), frame, stream(0, 0), Overboard()).all[0].datum
        for clock in ("1000", "8888")
    )
    assert timed is not None and untimed is not None
    assert len(timed.by) == 2 and "without its time" in untimed.by[2]
