"""The figures as data: what is drawn, what is kept, what never is."""

import base64
import importlib.util
import io
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import orjson
import pandas as pd
import pytest
from passages import day_at_sea

from analysis.channels import CHANNELS
from app.dress import Clock, Dress
from app.figures.arrows import ACROSS, arrows_of
from app.figures.coastline import Region, cut, unpack
from app.figures.palette import THEMES, style_sheet
from app.figures.reduce import bucket_directions, bucket_means, extremes, fold, packed, unwrap
from app.figures.rows import placed_rows, rows_of
from app.figures.scales import SAME, blend, round_step, scale_of, tick_texts
from app.figures.scene import scene_of
from app.figures.strips import strips_figure
from app.figures.track import coast_near, extreme_rows, graticule, track_box, track_figure, track_stretch
from app.units import UNITS

DAY = THEMES["day"]
DRESS = Dress()
ROOT = Path(__file__).parents[2]


def unpacked(wrapped: dict[str, str]) -> np.ndarray:
    return np.frombuffer(base64.b64decode(wrapped["bdata"]), dtype=wrapped["dtype"]).astype(float)


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


# reduction


def test_extremes_keep_a_lone_spike_of_each_sign() -> None:
    values = np.zeros(86_400)
    values[12_345], values[54_321] = 9.0, -7.0
    keep = extremes(values, 1000)
    assert {12_345, 54_321} <= set(keep)
    assert len(keep) <= 2 * 1000


def test_extremes_never_choose_a_missing_value_where_there_is_one() -> None:
    values = np.tile([np.nan, 1.0, 2.0, 3.0], 1000)
    kept = values[extremes(values, 100)]
    assert np.nanmin(kept) == 1.0
    assert np.nanmax(kept) == 3.0
    assert np.isfinite(kept).all()


def test_no_line_crosses_a_gap_longer_than_half_a_bucket() -> None:
    values = np.random.default_rng(5).normal(size=10_000)
    for start in range(4_000, 4_010):
        for length in (6, 8, 11, 25):
            gapped = values.copy()
            gapped[start : start + length] = np.nan
            gapped[start - 2] = np.nan
            keep = extremes(gapped, 1000)
            before, after = keep[keep < start], keep[keep >= start + length]
            ends = [at[np.isfinite(gapped[at])] for at in (before, after)]
            between = keep[(keep > ends[0][-1]) & (keep < ends[1][0])]
            assert np.isnan(gapped[between]).any(), (start, length)


def test_means_average_runs_and_keep_gaps() -> None:
    # By hand: runs of two seconds; the third run has lost one of its two values, which is half and too many.
    times, means = bucket_means(np.arange(6.0), np.array([1.0, 3.0, 5.0, 5.0, np.nan, 7.0]), 3)
    assert times.tolist() == [0.5, 2.5, 4.5]
    np.testing.assert_allclose(means, [2.0, 5.0, np.nan])


def test_few_values_are_all_kept() -> None:
    assert extremes(np.arange(1500.0), 1000).tolist() == list(range(1500))


def test_a_turn_through_north_runs_to_the_edge_and_starts_at_the_other() -> None:
    # 350 to 010 in 2 s: half way, at 1 s, the line stands on 360 and starts again on 0.
    times, angles = fold(np.array([0.0, 2000.0]), unwrap(np.array([350.0, 10.0])), 0.0)
    assert times.tolist() == [0.0, 1000.0, 1000.0, 1000.0, 2000.0]
    np.testing.assert_allclose(angles, [350.0, 360.0, np.nan, 0.0, 10.0])


def test_no_direction_line_crosses_the_paper() -> None:
    rng = np.random.default_rng(3)
    wandering = np.cumsum(rng.normal(0, 8, 50_000)) % 360
    continuous = unwrap(wandering)
    keep = extremes(continuous)
    _, folded = fold(keep.astype(float), continuous[keep], 0.0)
    rise = np.abs(np.diff(folded))
    # A stroke is a move within a bucket of 50 steps; across the seam it is broken instead.
    within = np.abs(np.diff(continuous[keep])).max()
    assert np.nanmax(rise) <= within
    assert np.nanmin(folded) >= 0
    assert np.nanmax(folded) <= 360


# strips


@pytest.fixture(scope="module")
def day() -> Any:
    return scene_of(day_at_sea())


def test_strips_share_one_time_axis_and_each_row_has_its_own_domain(day: Any) -> None:
    figure = strips_figure(day, DRESS)
    rows = placed_rows(day)
    domains = [axis["domain"] for name, axis in sorted(figure["layout"].items()) if name.startswith("yaxis")]
    assert {trace["xaxis"] for trace in figure["data"]} == {"x"}
    assert len(domains) == len(rows) == 8
    tops = sorted(domains, reverse=True)
    assert all(below[1] < above[0] for above, below in pairwise(tops))
    assert tops[0][1] == 1.0
    assert tops[-1][0] == pytest.approx(0.0, abs=1e-9)


def test_strips_say_how_many_values_they_show(day: Any) -> None:
    meta = strips_figure(day, DRESS)["layout"]["meta"]
    rows = [trace.column for place in placed_rows(day) for trace in place.traces]
    assert meta["total"] == sum(int(np.isfinite(day.columns[name]).sum()) for name in rows)
    assert 0 < meta["shown"] <= 2 * 600 * len(rows)


def test_a_short_span_shows_every_value(day: Any) -> None:
    start = day.time_ms[1000]
    meta = strips_figure(day, DRESS, (start, start + 600_000))["layout"]["meta"]
    assert meta["shown"] == meta["total"]


def test_starboard_and_port_are_drawn_apart(day: Any) -> None:
    green, red = (
        [unpacked(t["y"]) for t in strips_figure(day, DRESS)["data"] if t["line"].get("color") == colour]
        for colour in (DAY.starboard, DAY.port)
    )
    assert np.nanmin(green[0]) > 0
    assert np.nanmax(red[0]) < 0


def test_the_lost_hour_of_gnss_is_a_gap_in_the_line(day: Any) -> None:
    speeds = [trace for trace in strips_figure(day, DRESS)["data"] if trace["yaxis"] == "y"]
    sog = next(trace for trace in speeds if trace["line"].get("color") == DAY.ground)
    times, values = unpacked(sog["x"]), unpacked(sog["y"])
    lost = day.time_ms[np.isnan(day.columns["sog_kn"])]
    assert not np.isfinite(values[(times >= lost[0]) & (times <= lost[-1])]).any()
    assert np.isnan(values[(times >= lost[0]) & (times <= lost[-1])]).any()


def test_lonely_values_are_dots_and_a_hole_in_the_time_base_is_not_bridged() -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn"]]
    sparse = frame.copy()
    sparse.loc[sparse.index.second % 10 != 0, "stw_kn"] = np.nan
    assert strips_figure(scene_of(sparse), DRESS)["data"][0]["mode"] == "markers"
    split = frame.drop(frame.index[100:200])
    assert np.isnan(unpacked(strips_figure(scene_of(split), DRESS)["data"][0]["y"])).sum() == 1


def titles(*channels: str) -> list[str]:
    scene = scene_of(day_at_sea(hours=0.1)[list(channels)])
    return [place.row.title for place in placed_rows(scene)]


def test_rows_without_data_are_left_out() -> None:
    assert titles("awa_deg") == ["Apparent wind angle"]
    assert placed_rows(scene_of(day_at_sea(hours=0.1).iloc[:0])) == []
    assert placed_rows(scene_of(pd.DataFrame())) == []


def test_depth_and_heel_have_strips_where_there_are_few_others(day: Any) -> None:
    assert titles("depth_m") == ["Depth"]
    assert titles("stw_kn", "depth_m", "heel_deg") == ["Speed", "Depth", "Heel"]
    main = ("stw_kn", "heading_true_deg", "awa_deg", "aws_kn", "set_deg")
    assert titles(*main, "depth_m", "heel_deg")[5:] == ["Depth"]
    assert len(placed_rows(day)) == 8


def test_what_is_never_negative_has_no_room_below_zero() -> None:
    frame = day_at_sea(hours=0.1)[["sog_kn"]] * 0.0
    low, high = strips_figure(scene_of(frame), DRESS)["layout"]["yaxis"]["range"]
    assert -0.1 < low < 0 < high
    frame["sog_kn"] = np.linspace(6, 8, len(frame))
    low, high = strips_figure(scene_of(frame), DRESS)["layout"]["yaxis"]["range"]
    assert low < 6 < 8 < high


def test_depth_grows_downward() -> None:
    high, low = strips_figure(scene_of(day_at_sea(hours=0.1)[["depth_m"]]), DRESS)["layout"]["yaxis"]["range"]
    assert high > low


def test_lines_that_cover_one_another_are_drawn_as_means_over_faint_extremes(day: Any) -> None:
    """The line as logged comes last, and a slow offset of 9 degrees shows in the means."""
    figure = strips_figure(day, DRESS)
    wind = [trace for trace in figure["data"] if trace["yaxis"] == "y5"]
    faint, bold = wind[:3], wind[3:]
    assert all(trace["opacity"] < 0.5 for trace in faint)
    assert [trace["line"]["color"] for trace in bold] == [DAY.boat, DAY.ground, DAY.logged]
    over_ground, logged = (unpacked(trace["y"]) for trace in bold[1:])
    # The invented wind: over ground is the wind + 2 degrees, as logged + 9.
    both = np.isfinite(over_ground) & np.isfinite(logged)
    assert both.sum() > 100
    assert np.median((logged - over_ground)[both]) == pytest.approx(7.0, abs=0.5)
    assert figure["layout"]["meta"]["mean"] == 86_400 / 120


def test_means_do_not_cross_a_hole_in_the_time_base() -> None:
    frame = day_at_sea(hours=1)[["twd_water_deg", "twd_ground_deg"]]
    split = scene_of(frame.drop(frame.index[1000:2000]))
    bold = strips_figure(split, DRESS)["data"][2]
    times, values = unpacked(bold["x"]), unpacked(bold["y"])
    inside = (times > split.time_ms[999]) & (times < split.time_ms[1000])
    before, after = (
        np.flatnonzero(times <= split.time_ms[999])[-1],
        np.flatnonzero(times >= split.time_ms[1000])[0],
    )
    assert np.isnan(values[before : after + 1]).any()
    assert not np.isfinite(values[inside]).any()


def test_a_band_is_95_percent_about_the_means_and_ends_at_zero_speed(day: Any) -> None:
    figure = strips_figure(day, DRESS)
    (band,) = [trace for trace in figure["data"] if trace.get("fill") == "toself"]
    values = unpacked(band["y"])
    at = np.flatnonzero(np.isnan(values))[0]
    low, high = values[: at // 2], values[at // 2 : at][::-1]
    # The invented drift has a one-sigma of 0.2 kn throughout: 0.392 either way, as far as there is current.
    wide = low > 0
    assert wide.any()
    assert (low >= 0).all()
    np.testing.assert_allclose((high - low)[wide], 2 * 1.96 * 0.2, atol=1e-4)
    assert figure["layout"]["meta"]["banded"] is True


def test_what_was_before_correction_is_a_thin_dashed_line_beside() -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn", "awa_deg"]]
    for name in ("stw_kn", "awa_deg"):
        frame[f"{name}_shown"] = frame[name] * 0.9
    scene = scene_of(frame)
    assert [[trace.name for trace in place.traces] for place in placed_rows(scene)] == [
        ["water", "as shown"],
        ["AWA", "as shown"],
    ]
    data = strips_figure(scene, DRESS)["data"]
    dashed = [trace for trace in data if trace["line"]["dash"] == "4px,3px"]
    assert {trace["line"]["color"] for trace in dashed} == {DAY.ink}
    shown = next(trace for trace in dashed if trace["yaxis"] == "y")
    np.testing.assert_allclose(unpacked(shown["y"]), 0.9 * frame["stw_kn"], rtol=1e-6)


def test_strips_can_be_chosen_from_every_channel_and_nonsense_gives_the_usual_ones(day: Any) -> None:
    keys = [row.key for row in rows_of(day)]
    assert keys[0] == "stw_kn"
    assert {"heel_deg", "depth_m"} <= set(keys)
    assert not {"lat_deg", "lon_deg"} & set(keys)
    chosen = placed_rows(day, ("heel_deg", "stw_kn"))
    assert [place.row.key for place in chosen] == ["stw_kn", "heel_deg"]
    assert placed_rows(day, ("<script>",)) == placed_rows(day)


def test_strips_are_drawn_by_the_reader_s_clock_and_in_the_reader_s_units() -> None:
    scene = scene_of(day_at_sea(hours=0.1)[["stw_kn"]])
    dress = Dress(clock=Clock(120, "ship's time"), units=UNITS["metric"])
    (line,) = strips_figure(scene, dress)["data"]
    assert unpacked(line["x"])[0] == scene.time_ms[0] + 2 * 3_600_000
    # 1 kn is 1852 m in 3600 s.
    np.testing.assert_allclose(unpacked(line["y"]), scene.columns["stw_kn"] * 1852 / 3600, rtol=1e-6)


def test_means_of_directions_do_not_drift_around_the_circle() -> None:
    """A set of 090 with a scatter of 60 degrees: the means stay within a few degrees of it."""
    rng = np.random.default_rng(2)
    noisy = (90 + rng.normal(0, 60, 48_000)) % 360
    _, means = bucket_directions(np.arange(48_000.0), noisy, 120)
    # 400 values each: 60 / sqrt(400) = 3 degrees of one sigma.
    assert np.abs(means - 90).max() < 15


@pytest.mark.parametrize("spread", np.geomspace(0.1, 40, 30))
def test_every_strip_has_two_ticks_or_more(spread: float) -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn", "cog_deg", "set_deg", "aws_kn"]]
    for name in frame:
        frame[name] = 5.3 + np.linspace(0, spread, len(frame))
    layout = strips_figure(scene_of(frame), DRESS)["layout"]
    for name in ("yaxis", "yaxis2", "yaxis3", "yaxis4"):
        texts = layout[name]["ticktext"]
        assert 2 <= len(texts) == len(set(texts)) <= 6


def test_without_a_date_the_time_axis_shows_none(day: Any) -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn"]]
    for dated in (True, False):
        stops = strips_figure(scene_of(frame, dated), DRESS)["layout"]["xaxis"]["tickformatstops"]
        assert any("%d" in stop["value"] for stop in stops) is dated


# track


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("channel", ["sog_kn", "cog_deg", "awa_deg", None])
def test_a_track_is_drawn_in_every_theme_and_kind(day: Any, theme: str, channel: str | None) -> None:
    figure = track_figure(day, [], Dress(theme), channel)
    orjson.dumps(figure, option=orjson.OPT_SERIALIZE_NUMPY)
    assert figure["layout"]["yaxis"]["scaleanchor"] == "x"
    assert not any("geo" in key or "map" in key for key in figure["layout"])
    assert figure["layout"]["meta"]["shown"] <= 1500
    assert figure["layout"]["meta"]["total"] == int(np.isfinite(day.columns["lat_deg"]).sum())


def test_the_classes_of_a_track_together_are_the_track_without_its_gap(day: Any) -> None:
    figure = track_figure(day, [], DRESS, "sog_kn")
    scale = scale_of(CHANNELS["sog_kn"], day.columns["sog_kn"], DAY)
    lines = [trace for trace in figure["data"] if trace.get("line", {}).get("color") in scale.colours]
    pieces = sum(np.isfinite(np.diff(unpacked(trace["x"]))).sum() for trace in lines)
    # n points make n - 1 pieces, less the one over the hour without GNSS.
    assert pieces == figure["layout"]["meta"]["shown"] - 2


def test_a_stretch_runs_from_end_to_end_of_its_span_and_breaks_at_gaps(day: Any) -> None:
    span = (float(day.time_ms[100]), float(day.time_ms[43_200]))
    stretch = track_stretch(day, span)
    assert 200 <= len(stretch) <= 302
    assert None not in stretch
    assert day.east_nm is not None
    assert stretch[0] is not None
    assert stretch[-1] is not None
    assert [stretch[0][0], stretch[-1][0]] == pytest.approx(day.east_nm[[100, 43_200]], abs=1e-5)
    # The hour without GNSS lies in the second half of the day.
    assert track_stretch(day, (0.0, 1e15)).count(None) == 1
    assert track_stretch(day, (0.0, 1.0)) == []


@pytest.mark.parametrize("period_s", [15, 30, 120])
def test_fixes_far_apart_are_joined_and_their_gaps_are_not(period_s: int) -> None:
    frame = day_at_sea(hours=2)[["lat_deg", "lon_deg", "sog_kn"]]
    frame[np.arange(len(frame)) % period_s != 0] = np.nan
    frame.iloc[3000:5000] = np.nan
    scene = scene_of(frame)
    casing = next(
        trace
        for trace in track_figure(scene, [], DRESS, "sog_kn")["data"]
        if trace["mode"] == "lines" and trace["line"]["width"] > 4
    )
    fixes = int(frame["lat_deg"].notna().sum())
    # n fixes make n - 1 pieces, less the one over the gap.
    assert np.isfinite(np.diff(unpacked(casing["x"]))).sum() == fixes - 2


def test_a_position_far_from_all_others_is_a_dot() -> None:
    frame = day_at_sea(hours=1)[["lat_deg", "lon_deg"]]
    frame.iloc[200:1000] = np.nan
    frame.iloc[1001:2000] = np.nan
    dots = [
        trace
        for trace in track_figure(scene_of(frame), [], DRESS, None)["data"]
        if trace["mode"] == "markers"
    ]
    assert [len(unpacked(trace["x"])) for trace in dots] == [1]


def test_graticule_names_whole_minutes_east_and_north() -> None:
    scene = scene_of(day_at_sea(hours=0.1))
    assert scene.plane is not None
    ticks = graticule(scene.plane, (-3.0, -3.0, 3.0, 3.0))
    texts = ticks["yaxis"]["ticktext"]
    assert all(text.endswith("′N") for text in texts)
    # Parallels two minutes apart stand two nautical miles apart on the plane.
    assert np.diff(ticks["yaxis"]["tickvals"]) == pytest.approx(2.0)
    assert "49°50′N" in texts


def test_a_track_across_the_antimeridian_stays_in_one_piece() -> None:
    frame = day_at_sea(hours=1)[["lat_deg", "lon_deg"]]
    frame["lon_deg"] = (np.linspace(179.9, 180.1, len(frame)) + 180) % 360 - 180
    scene = scene_of(frame)
    assert scene.east_nm is not None
    # 0.2 degrees of longitude at 49.85 N: 0.2 x 60 x cos(49.85) = 7.74 nm (hand calculation).
    assert np.ptp(scene.east_nm) == pytest.approx(7.74, abs=0.06)


def test_arrows_are_means_over_stretches_and_closer_the_closer_one_looks(day: Any) -> None:
    whole = track_box(day)
    far = arrows_of(day, whole)
    assert 8 <= len(far.east_nm) <= ACROSS**2
    west, south, east, north = whole
    near = arrows_of(day, (west, south, (west + east) / 2, (south + north) / 2))
    inside = (far.east_nm < (west + east) / 2) & (far.north_nm < (south + north) / 2)
    assert len(near.east_nm) > inside.sum()
    # The invented wind over the ground blows from 260 give or take 15, at 14 give or take 4 and 0.7.
    assert np.nanmin(far.wind_deg) > 240
    assert np.nanmax(far.wind_deg) < 280
    assert np.nanmax(np.abs(far.wind_kn - 14)) < 5
    assert len(arrows_of(day, (900.0, 900.0, 901.0, 901.0)).east_nm) == 0


def test_extremes_stand_where_the_boat_was_and_a_direction_has_none(day: Any) -> None:
    rows = extreme_rows(day, "sog_kn")
    assert rows is not None
    values = day.columns["sog_kn"]
    assert [values[row] for row in rows] == [np.nanmin(values), np.nanmax(values)]
    assert extreme_rows(day, "cog_deg") is None


# scales


def test_a_ring_has_no_seam_and_north_is_one_class() -> None:
    scale = scale_of(CHANNELS["cog_deg"], np.array([0.0]), DAY)
    first, last, east = scale.classes(np.array([2.0, 358.0, 90.0]))
    assert scale.colours[first] == scale.colours[last]
    assert scale.colours[east] != scale.colours[first]
    assert scale.classes(np.array([np.nan])).tolist() == [-1]


def test_a_ramp_lies_between_round_bounds_and_keeps_the_outermost() -> None:
    scale = scale_of(CHANNELS["sog_kn"], np.linspace(4.1, 8.3, 500), DAY)
    assert scale.bounds[0] <= 4.2
    assert scale.bounds[-1] >= 8.2
    assert len(scale.colours) == len(scale.bounds) - 1
    assert scale.classes(np.array([0.0, 99.0])).tolist() == [0, len(scale.colours) - 1]


@pytest.mark.parametrize(("value", "text"), [(0.0, "0"), (-3.0, "-3"), (1013.2, "1013.2")])
def test_a_constant_channel_has_one_class_and_says_so(value: float, text: str) -> None:
    values = np.full(9, value)
    values[4] += SAME * abs(value) / 3
    for name in ("sog_kn", "air_pressure_hpa"):
        scale = scale_of(CHANNELS[name], values, DAY)
        assert len(scale.colours) == 1
        assert scale.tick_texts == (f"{text} throughout",)
        assert set(scale.classes(values)) == {0}
    assert (np.diff(scale_of(CHANNELS["heel_deg"], values, DAY).bounds) > 0).all()


def test_a_channel_that_is_nearly_always_one_value_is_not_called_constant() -> None:
    values = np.zeros(1000)
    values[500] = 6.0
    assert len(scale_of(CHANNELS["stw_kn"], values, DAY).colours) > 1


@pytest.mark.parametrize(("low", "high"), [(5.0, 5.001), (1013.20, 1013.29), (0.0, 6.0), (100.0, 250_000.0)])
def test_the_ticks_of_a_legend_differ(low: float, high: float) -> None:
    texts = scale_of(CHANNELS["sog_kn"], np.linspace(low, high, 100), DAY).tick_texts
    assert len(texts) == len(set(texts)) >= 2


def test_ticks_have_the_decimals_of_their_step() -> None:
    assert tick_texts(np.array([0.0, 0.05, 0.1]), 0.05) == ("0.00", "0.05", "0.10")
    assert tick_texts(np.array([-20.0, 0.0]), 20.0) == ("-20", "0")


def test_round_steps() -> None:
    # By hand: 7 in 3 parts is 2.33, so 5; 0.6 in 3 parts is 0.2.
    assert round_step(7.0, 3) == 5.0
    assert round_step(0.6, 3) == pytest.approx(0.2)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_text_and_lines_stand_out(theme: Any) -> None:
    """WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for lines (1.4.11)."""
    for back in (theme.page, theme.panel):
        assert min(contrast(text, back) for text in (theme.ink, theme.muted, theme.accent)) >= 4.5
    lines = (theme.boat, theme.ground, theme.starboard, theme.port, theme.logged)
    assert min(contrast(line, theme.sea) for line in lines) >= 3.0
    # What goes under the coloured track, so that its palest class stands out too.
    assert contrast(theme.muted, theme.sea) >= 3.0


def lab(colour: str) -> np.ndarray:
    """CIE 1976 L*a*b*, D65: sRGB matrix of IEC 61966-2-1."""
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    matrix = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    x, y, z = (np.array(matrix) @ linear) / (0.9505, 1.0, 1.089)
    f = [np.cbrt(part) if part > 0.008856 else 7.787 * part + 16 / 116 for part in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_opposite_directions_never_look_alike(theme: Any) -> None:
    """A distance of 20 in CIE 1976 is plainly visible side by side: common practice, no source."""
    ring = [lab(colour) for colour in blend(theme.ring, 25)[:-1]]
    assert min(np.linalg.norm(ring[at] - ring[at + 12]) for at in range(12)) > 20
    north_south, east_west = ((ring[at], ring[at + 12]) for at in (0, 6))
    assert np.linalg.norm(east_west[0] - east_west[1]) > 40
    assert np.linalg.norm(north_south[0] - north_south[1]) > 40


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_a_ramp_gets_steadily_lighter_or_darker(theme: Any) -> None:
    steps = np.diff([luminance(colour) for colour in blend(theme.ramp, 9)])
    assert (steps > 0).all() or (steps < 0).all()


def test_the_style_sheet_has_every_theme() -> None:
    assert all(f'[data-theme="{name}"]' in style_sheet() for name in THEMES)


# coastline


def test_topojson_is_packed_with_reversed_and_joined_arcs() -> None:
    # By hand: scale 2, origin (10, 20). Arc 0: (0,0) (1,0) (1,1); arc 1: (0,0) (0,1) (1,1).
    topology = {
        "type": "Topology",
        "transform": {"scale": [2, 2], "translate": [10, 20]},
        "arcs": [[[0, 0], [1, 0], [0, 1]], [[0, 0], [0, 1], [1, 0]]],
        "objects": {
            "land": {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "arcs": [[0, ~1]]}]}
        },
    }
    spec = importlib.util.spec_from_file_location("pack_coastline", ROOT / ".ci" / "pack_coastline.py")
    assert spec is not None
    assert spec.loader is not None
    packing = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(packing)
    archive = io.BytesIO()
    np.savez_compressed(archive, **packing.pack(orjson.dumps(topology)))
    (ring,) = unpack(archive.getvalue())
    assert ring.tolist() == [[10, 20], [12, 20], [12, 22], [10, 22], [10, 20]]


def test_the_coastline_knows_land_from_sea() -> None:
    """From memory: Newport in the middle of the Isle of Wight is land, 50.0 N 2.0 W is sea."""
    rings = unpack((ROOT / "assets" / "land-10m.npz").read_bytes())

    def inside(lat: float, lon: float) -> bool:
        crossings = 0
        for ring in rings:
            (x, y), (x_after, y_after) = ring[:-1].T, ring[1:].T
            over = (y > lat) != (y_after > lat)
            at = x[over] + (lat - y[over]) / (y_after[over] - y[over]) * (x_after[over] - x[over])
            crossings += int((at > lon).sum())
        return crossings % 2 == 1

    assert inside(50.69, -1.29)
    assert not inside(50.0, -2.0)


def test_a_square_is_cut_to_its_corner() -> None:
    square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0], [0.0, 0.0]])
    (piece,) = cut([square], Region(3.0, 3.0, 9.0, 9.0))
    assert {tuple(point) for point in piece} == {(3.0, 3.0), (4.0, 3.0), (4.0, 4.0), (3.0, 4.0)}
    assert cut([square], Region(10.0, 10.0, 11.0, 11.0)) == []


def test_land_beyond_the_antimeridian_is_found() -> None:
    square = np.array([[-180.0, 0.0], [-179.0, 0.0], [-179.0, 1.0], [-180.0, 1.0], [-180.0, 0.0]])
    (piece,) = cut([square], Region(179.5, -1.0, 181.5, 2.0))
    assert piece[:, 0].min() == 180.0
    assert piece[:, 0].max() == 181.0


def test_a_track_too_short_for_the_coastline_has_none(day: Any) -> None:
    everywhere = [np.array([[-90.0, 0.0], [90.0, 0.0], [90.0, 89.0], [-90.0, 89.0], [-90.0, 0.0]])]
    assert coast_near(scene_of(day_at_sea(hours=0.1)), everywhere) == []
    assert len(coast_near(day, everywhere)) == 1


def test_packed_arrays_are_plotlys_binary_form() -> None:
    assert packed(np.array([1.0, np.nan])) == {"dtype": "f8", "bdata": "AAAAAAAA8D8AAAAAAAD4fw=="}
