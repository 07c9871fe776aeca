"""The figures as data: what is drawn, what is kept, what never is."""

import base64
from itertools import pairwise
from typing import Any

import numpy as np
import orjson
import pandas as pd
import pytest
from passages import day_at_sea

from analysis.channels import CHANNELS
from app.figures.coastline import Region, cut, decode
from app.figures.palette import THEMES, style_sheet
from app.figures.reduce import extremes, fold, packed, unwrap
from app.figures.scales import blend, round_step, scale_of
from app.figures.scene import scene_of
from app.figures.strips import placed_rows, strips_figure
from app.figures.track import coast_near, graticule, track_figure

DAY = THEMES["day"]


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


def test_a_gap_longer_than_a_bucket_leaves_a_missing_point_inside_it() -> None:
    values = np.arange(10_000.0)
    for start in (4_000, 4_005, 4_009):
        gapped = values.copy()
        gapped[start : start + 11] = np.nan
        keep = extremes(gapped, 1000)
        assert any(start <= at < start + 11 for at in keep)


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
    figure = strips_figure(day, DAY)
    rows = placed_rows(day)
    domains = [axis["domain"] for name, axis in sorted(figure["layout"].items()) if name.startswith("yaxis")]
    assert {trace["xaxis"] for trace in figure["data"]} == {"x"}
    assert len(domains) == len(rows) == 8
    tops = sorted(domains, reverse=True)
    assert all(below[1] < above[0] for above, below in pairwise(tops))
    assert tops[0][1] == 1.0
    assert tops[-1][0] == pytest.approx(0.0, abs=1e-9)


def test_strips_say_how_many_values_they_show(day: Any) -> None:
    meta = strips_figure(day, DAY)["layout"]["meta"]
    rows = [trace.channel for place in placed_rows(day) for trace in place.traces]
    assert meta["total"] == sum(int(np.isfinite(day.columns[name]).sum()) for name in rows)
    assert 0 < meta["shown"] <= 3 * 1000 * len(rows)


def test_a_short_span_shows_every_value(day: Any) -> None:
    start = day.time_ms[1000]
    meta = strips_figure(day, DAY, (start, start + 600_000))["layout"]["meta"]
    assert meta["shown"] == meta["total"]


def test_starboard_and_port_are_drawn_apart(day: Any) -> None:
    green, red = (
        [unpacked(t["y"]) for t in strips_figure(day, DAY)["data"] if t["line"]["color"] == colour]
        for colour in (DAY.starboard, DAY.port)
    )
    assert np.nanmin(green[0]) > 0
    assert np.nanmax(red[0]) < 0


def test_the_lost_hour_of_gnss_is_a_gap_in_the_line(day: Any) -> None:
    speeds = [trace for trace in strips_figure(day, DAY)["data"] if trace["yaxis"] == "y"]
    sog = next(trace for trace in speeds if trace["line"]["color"] == DAY.ground)
    times, values = unpacked(sog["x"]), unpacked(sog["y"])
    lost = day.time_ms[np.isnan(day.columns["sog_kn"])]
    assert not np.isfinite(values[(times >= lost[0]) & (times <= lost[-1])]).any()
    assert np.isnan(values[(times >= lost[0]) & (times <= lost[-1])]).any()


def test_lonely_values_are_dots_and_a_hole_in_the_time_base_is_not_bridged() -> None:
    frame = day_at_sea(hours=0.1)[["stw_kn"]]
    sparse = frame.copy()
    sparse.loc[sparse.index.second % 10 != 0, "stw_kn"] = np.nan
    assert strips_figure(scene_of(sparse), DAY)["data"][0]["mode"] == "markers"
    split = frame.drop(frame.index[100:200])
    assert np.isnan(unpacked(strips_figure(scene_of(split), DAY)["data"][0]["y"])).sum() == 1


def test_rows_without_data_are_left_out() -> None:
    scene = scene_of(day_at_sea(hours=0.1)[["awa_deg", "depth_m"]])
    assert [place.row.title for place in placed_rows(scene)] == ["Apparent wind angle"]
    assert placed_rows(scene_of(day_at_sea(hours=0.1).iloc[:0])) == []
    assert placed_rows(scene_of(pd.DataFrame())) == []


# track


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("channel", ["sog_kn", "cog_deg", "awa_deg", None])
def test_a_track_is_drawn_in_every_theme_and_kind(day: Any, theme: str, channel: str | None) -> None:
    figure = track_figure(day, [], THEMES[theme], channel)
    orjson.dumps(figure, option=orjson.OPT_SERIALIZE_NUMPY)
    assert figure["layout"]["yaxis"]["scaleanchor"] == "x"
    assert not any("geo" in key or "map" in key for key in figure["layout"])
    assert figure["layout"]["meta"]["shown"] <= 1500
    assert figure["layout"]["meta"]["total"] == int(np.isfinite(day.columns["lat_deg"]).sum())


def test_the_classes_of_a_track_together_are_the_track_without_its_gap(day: Any) -> None:
    figure = track_figure(day, [], DAY, "sog_kn")
    lines = [trace for trace in figure["data"] if trace["mode"] == "lines"]
    pieces = sum(np.isfinite(np.diff(unpacked(trace["x"]))).sum() for trace in lines)
    # n points make n - 1 pieces, less the one over the hour without GNSS.
    assert pieces == figure["layout"]["meta"]["shown"] - 2


def test_a_span_lies_beneath_its_part_of_the_track(day: Any) -> None:
    span = (float(day.time_ms[0]), float(day.time_ms[43_200]))
    under = track_figure(day, [], DAY, "sog_kn", span)["data"][0]
    assert under["line"]["color"] == DAY.accent
    points = np.isfinite(unpacked(under["x"])).sum()
    everywhere = track_figure(day, [], DAY, "sog_kn", (0.0, 1e15))["layout"]["meta"]["shown"]
    # The first half of the day, and the hour without GNSS lies in the second: 43201 of 82945 positions.
    assert points == pytest.approx(everywhere * 43_201 / 82_945, abs=1)


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


@pytest.mark.parametrize("value", [0.0, -3.0, 1013.2])
def test_a_constant_channel_has_a_scale(value: float) -> None:
    for name in ("sog_kn", "heel_deg", "air_pressure_hpa"):
        scale = scale_of(CHANNELS[name], np.full(9, value), DAY)
        assert (np.diff(scale.bounds) > 0).all()


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


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_a_ramp_gets_steadily_lighter_or_darker(theme: Any) -> None:
    steps = np.diff([luminance(colour) for colour in blend(theme.ramp, 9)])
    assert (steps > 0).all() or (steps < 0).all()


def test_the_style_sheet_has_every_theme() -> None:
    assert all(f'[data-theme="{name}"]' in style_sheet() for name in THEMES)


# coastline


def test_topojson_is_decoded_with_reversed_and_joined_arcs() -> None:
    # By hand: scale 2, origin (10, 20). Arc 0: (0,0) (1,0) (1,1); arc 1: (0,0) (0,1) (1,1).
    topology = {
        "type": "Topology",
        "transform": {"scale": [2, 2], "translate": [10, 20]},
        "arcs": [[[0, 0], [1, 0], [0, 1]], [[0, 0], [0, 1], [1, 0]]],
        "objects": {
            "land": {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "arcs": [[0, ~1]]}]}
        },
    }
    (ring,) = decode(orjson.dumps(topology))
    assert ring.tolist() == [[10, 20], [12, 20], [12, 22], [10, 22], [10, 20]]


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
