"""The words of the page: values, moments, what is missing, the account."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from dash import html
from passages import day_at_sea, desk_with, passage_of, review_of, reviewed, whole_day
from plotly.utils import PlotlyJSONEncoder

from analysis.estimate import Estimate
from analysis.findings import Finding
from analysis.manoeuvres import Leg, Manoeuvres, Stop, Turn
from analysis.passage import Fact
from analysis.positions import position_text
from analysis.review import Review, Settings
from analysis.screening import Unfit
from app import cautions
from app.addresses import PAGE_GROUPS
from app.desk import Desk
from app.dress import Dress
from app.figures.rows import placed_rows
from app.figures.scene import scene_of
from app.pages.passage import layout
from app.pages.passage.chunks import chunk, chunk_starts
from app.pages.passage.columns import cursor_channels
from app.pages.passage.corrected import corrections
from app.pages.passage.happenings import happenings
from app.pages.passage.missing import missing_texts, not_drawn_text, nothing_text
from app.pages.passage.moment import mark_at, moment_at, moment_near
from app.pages.shell import shell
from app.pages.wording import duration_text, fact_text, time_text, value_text
from app.view import View


def written(review: Review) -> str:
    view = View(Desk([]).open(review), Dress())
    return json.dumps(shell(view, "", layout(view)), cls=PlotlyJSONEncoder)


@pytest.mark.parametrize(
    ("channel", "value", "sd", "text"),
    [
        ("sog_kn", 6.44, None, "6.4 kn"),
        ("drift_kn", 1.24, 0.21, "1.2 ±0.4 kn"),
        ("cog_deg", 359.7, None, "000°"),
        ("cog_deg", 7.2, 3.0, "007 ±6°"),
        ("awa_deg", -32.4, None, "32° port"),
        ("awa_deg", 4.26, None, "4.3° stbd"),
        ("variation_deg", -3.46, None, "3.5° W"),
        ("pitch_deg", -2.0, None, "-2°"),
        ("cross_track_error_nm", -0.0004, None, "0.00 nm"),
        ("satellites_used", 12.0, None, "12"),
        ("sog_kn", np.nan, None, "–"),
    ],
)
def test_values_are_written_as_sailors_read_them(
    channel: str, value: float, sd: float | None, text: str
) -> None:
    assert value_text(channel, value, sd) == text


def test_positions_carry_rounding_into_the_degrees() -> None:
    assert position_text(49.99999999, -5.5) == "50°00.000′N  005°30.000′W"


@pytest.mark.parametrize(
    ("seconds", "text"), [(59.0, "0 min 59 s"), (3600.0, "1 h 00 min"), (93_784.0, "1 d 2 h 03 min")]
)
def test_durations(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_a_moment_is_the_nearest_second_and_says_what_the_frame_says() -> None:
    frame = day_at_sea(hours=0.5)
    scene = scene_of(frame)
    moment = moment_at(scene, float(scene.time_ms[700]) + 400.0)
    assert moment.time_ms == scene.time_ms[700]
    assert moment.texts["stw_kn"] == f"{frame['stw_kn'].iloc[700]:.1f} kn"
    assert moment.clock == "2031-05-03 18:11:40 UTC"
    assert moment_at(scene, -1e18).time_ms == scene.time_ms[0]
    assert moment_at(scene, 1e18).time_ms == scene.time_ms[-1]


def test_between_sparse_readings_the_nearest_is_shown_and_in_a_gap_none() -> None:
    frame = day_at_sea(hours=0.5)
    sparse = ["lat_deg", "lon_deg", "sog_kn"]
    frame.loc[np.arange(len(frame)) % 30 != 0, sparse] = np.nan
    frame.iloc[600:900, [frame.columns.get_loc(name) for name in sparse]] = np.nan
    scene = scene_of(frame)
    near, far = (moment_at(scene, float(scene.time_ms[row])) for row in (314, 750))
    # Readings stand at every 30 s: 314 is nearest to 300, and 600 to 899 is silent.
    assert near.texts["sog_kn"] == f"{frame['sog_kn'].iloc[300]:.1f} kn"
    assert near.east_nm is not None
    assert near.texts["position"] != "–"
    assert (far.texts["sog_kn"], far.texts["position"], far.east_nm) == ("–", "–", None)
    assert far.texts["stw_kn"] != "–"
    frame.loc[frame.index[700:703], "stw_kn"] = np.nan
    assert moment_at(scene_of(frame), float(scene.time_ms[701])).texts["stw_kn"] == "–"


def test_without_a_date_only_the_time_of_day_is_said() -> None:
    start = 16 * 3_600_000.0
    assert time_text(start, start, dated=False) == "16:00:00 UTC"
    assert time_text(start + 86_400_000, start, dated=False) == "16:00:00 UTC, day 2"
    frame = day_at_sea(hours=0.1)
    frame.index = pd.date_range("1970-01-01 18:00", periods=len(frame), freq="s", tz="UTC")
    scene = scene_of(frame, dated=False)
    fact = Fact("no-date", "The log has no date; times are on 1970-01-01.")
    page = written(reviewed(frame, facts=(fact,)))
    assert "unknown; give it with --date" in page
    assert "The date is unknown" in page
    assert "1970" not in page
    assert moment_at(scene, float(scene.time_ms[0])).clock == "18:00:00 UTC"


def test_facts_are_written_with_labels() -> None:
    text = "depth_m of SDDPT is interrupted 2 times, 70 s in all; odd_name stays."
    assert fact_text(text).startswith("Depth below transducer of SDDPT is interrupted 2 times")
    assert fact_text(text).endswith("odd_name stays.")


def test_what_has_neither_strip_nor_side_of_the_triangle_stands_below() -> None:
    frame = day_at_sea(hours=0.1)
    # Heel and depth are among the channels and have no strip where there are eight others.
    assert cursor_channels(scene_of(frame)) == ["heel_deg", "depth_m"]
    frame["leeway_deg"], frame["hdop"] = 3.0, 1.0
    assert cursor_channels(scene_of(frame)) == ["heel_deg", "depth_m", "hdop"]


def test_strips_left_out_are_named() -> None:
    scene = scene_of(day_at_sea(hours=0.1)[["stw_kn", "heading_true_deg", "set_deg", "drift_kn"]])
    assert not_drawn_text(placed_rows(scene)) == (
        "Not drawn, for want of readings: apparent wind angle, apparent wind speed, "
        "true wind direction and true wind speed. "
    )
    assert not_drawn_text(placed_rows(scene_of(day_at_sea(hours=0.1)))) == ""


def test_a_log_with_nothing_to_draw_says_whether_time_or_readings_are_missing() -> None:
    empty = day_at_sea(hours=0.1).iloc[:0]
    assert "has no time" in nothing_text(passage_of(empty))
    assert "no reading" in nothing_text(passage_of(empty[[]]))


def test_a_place_on_the_track_finds_its_moment() -> None:
    scene = scene_of(day_at_sea(hours=0.5))
    assert scene.east_nm is not None
    assert scene.north_nm is not None
    found = moment_near(scene, float(scene.east_nm[900]), float(scene.north_nm[900]))
    assert found is not None
    assert found.time_ms == scene.time_ms[900]
    assert moment_near(scene_of(day_at_sea(hours=0.1)[["stw_kn"]]), 0.0, 0.0) is None


def test_what_is_missing_is_said_with_its_reason() -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn", "sog_kn", "cog_deg", "lat_deg", "lon_deg"]]
    texts = " ".join(missing_texts(passage_of(frame), scene_of(frame).channels))
    assert "No heading: no sentence that gives it" in texts
    assert "(MWV or VWR)" in texts
    assert "Current cannot be derived: it also needs Heading, true." in texts
    assert "No speed over ground" not in texts


def test_readings_all_kept_out_are_named_as_the_reason() -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn"]]
    passage = passage_of(frame)
    passage.counts.out_of_range["awa_deg"] = 31  # type: ignore[index]
    texts = missing_texts(passage, ["stw_kn"])
    assert any("apparent wind angle: all 31 readings" in text for text in texts)


def test_the_account_and_the_log_s_own_words_are_text() -> None:
    frame = day_at_sea(hours=0.1)
    review = reviewed(frame, files=("<img src=x onerror=alert(1)>.log",))
    page = written(review)
    assert "dangerously_allow_html" not in page
    assert "Markdown" not in page
    assert cautions.SHORT in page
    assert "Rejected: checksum" in page
    assert "<img src=x onerror=alert(1)>.log" in page


def test_the_ways_to_the_pages_stand_in_their_groups_and_the_present_one_is_marked() -> None:
    view = View(desk_with(whole_day()).all()[0], Dress())
    ways = next(part for part in shell(view, "wind", [])._traverse() if isinstance(part, html.Nav))
    titles = [title for pages in PAGE_GROUPS.values() for title in pages.values()]
    links = [part for part in ways._traverse() if isinstance(part, html.A)]
    assert [link.children for link in links] == titles
    assert [link.children for link in links if getattr(link, "aria-current", None)] == ["Wind"]
    groups = [part.children[0].children for part in ways.children]
    assert groups == [name for name, pages in PAGE_GROUPS.items() if pages]


def test_a_chunk_holds_every_second_with_its_place_and_motions() -> None:
    frame = day_at_sea(hours=1.5)
    scene = scene_of(frame)
    starts = chunk_starts(scene)
    assert starts == [scene.time_ms[0], scene.time_ms[4096]]
    packed = chunk(scene, 1)
    count = len(frame) - 4096
    # Eight bytes for the time of each second and four for each of nine fields.
    assert len(packed) == count * (8 + 9 * 4)
    times = np.frombuffer(packed[: 8 * count], dtype=np.float64)
    east, north, heading, *moving = np.frombuffer(packed[8 * count :], dtype=np.float32).reshape(9, count)
    np.testing.assert_array_equal(times, scene.time_ms[4096:])
    assert scene.east_nm is not None
    assert scene.north_nm is not None
    np.testing.assert_allclose(east, scene.east_nm[4096:], rtol=1e-5)
    np.testing.assert_allclose(north, scene.north_nm[4096:], rtol=1e-5)
    np.testing.assert_allclose(heading, frame["heading_true_deg"].iloc[4096:], rtol=1e-5)
    stw, sog, aws = (np.hypot(moving[at], moving[at + 1]) for at in (0, 2, 4))
    for speed, name in ((stw, "stw_kn"), (sog, "sog_kn"), (aws, "aws_kn")):
        np.testing.assert_allclose(speed, frame[name].iloc[4096:], rtol=1e-4)


def test_what_happened_is_told_in_the_order_of_time(finding: Finding) -> None:
    start = pd.Timestamp("2031-05-03T18:00:00Z")
    minute = pd.Timedelta("1min")
    done = Manoeuvres(
        (
            Turn("gybe", start + 9 * minute, start + 10 * minute, -80.0, 0, 20.0, 300.0, 150.0, -150.0),
            Turn("full turn", start + minute, start + 3 * minute, 365.0, 1, 10.0, 15.0, 30.0, 35.0),
        ),
        (Leg(start, start + minute, 60.0, 10.0, 2.0, 6.0, 6.5, 40.0),),
        (),
        (Stop(start + 5 * minute, start + 8 * minute, 180.0),),
    )
    frame = day_at_sea(hours=0.5)
    events = pd.DataFrame(
        [
            {"time_utc": start + 7 * minute, "kind": "mark", "text": "<b>buoy</b>", "lat_deg": 50.0, "lon_deg": -3.0},
            {"time_utc": pd.NaT, "kind": "mark", "text": "unplaced", "lat_deg": np.nan, "lon_deg": np.nan},
        ]
    )  # fmt: skip
    jump = {"start_utc": "2031-05-03T18:04:00Z", "end_utc": "2031-05-03T18:06:00Z"}
    finding = replace(finding, evidence={"stretches": [jump], "last_utc": "2031-05-03T18:11:00Z", "n": 3})
    review = review_of(passage_of(frame, events=events), frame, (finding,))
    found = happenings(replace(review, case=replace(review.case, manoeuvres=done)), Dress())
    assert [one.words for one in found] == [
        "Leg of 1 min 00 s on 010°, 6.0 kn through the water",
        "Full turn to starboard, at 18:01:00",
        "The log reads 5.2 % low.",
        "At rest for 3 min 00 s",
        "Mark: <b>buoy</b>",
        "Gybe from 020° to 300°, to port, at 18:09:00",
        "The log reads 5.2 % low.",
    ]
    span = found[2]
    assert (span.end_ms - span.start_ms, found[4].place) == (120_000.0, (50.0, -3.0))


def test_the_corrections_that_the_values_carry_are_named() -> None:
    frame = day_at_sea(hours=0.1)
    estimates = {
        "log_factor": Estimate(1.05, 0.01, "1", True, None),
        "vane_offset_deg": Estimate(-2.34, 0.4, "deg", True, None),
        "compass_constant_deg": Estimate(1.0, 2.0, "deg", False, None),
        "deviation_B_deg": Estimate(3.0, 0.2, "deg", True, None),
    }
    review = review_of(passage_of(frame), frame, calibration=estimates)
    assert corrections(review) == ["log × 1.050", "vane −2.3°", "deviation curve"]
    assert corrections(replace(review, settings=Settings(as_shown=True))) == []
    stuck = Unfit("stw_kn", frame.index[5], frame.index[90], "stuck")
    case = replace(review.case, screened=replace(review.case.screened, unfit=(stuck,)))
    assert corrections(replace(review, case=case))[0] == "STW left out where it is stuck"


def test_a_mark_on_the_plane_is_where_the_plane_says_and_tells_when_the_boat_was_nearest() -> None:
    scene = scene_of(day_at_sea(hours=0.5))
    assert scene.plane is not None and scene.east_nm is not None and scene.north_nm is not None
    east, north = float(scene.east_nm[600]), float(scene.north_nm[600])
    lat, lon = scene.plane.position(east, north)
    found = mark_at(scene, lat, lon)
    assert found is not None
    assert (found.east_nm, found.north_nm) == pytest.approx((east, north), abs=1e-9)
    assert found.time_ms == scene.time_ms[600]
    assert found.position == position_text(lat, lon)
