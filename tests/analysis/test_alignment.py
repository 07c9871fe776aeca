"""Alignment to whole seconds: bridging, ages, circles, and the choice of sources."""

from collections.abc import Sequence

import numpy as np
import pytest

from analysis.alignment import Aligned, align
from analysis.channels import CHANNELS
from analysis.errors import SettingError
from analysis.passage import Gap, Series, SourceKey

START = 1_780_000_000.0


def series(
    channel: str,
    time_s: Sequence[float] | np.ndarray,
    value: Sequence[float] | np.ndarray,
    source: tuple[str, str, str] = ("II", "XXX", ""),
    verified: bool = True,
) -> Series:
    count = len(time_s)
    return Series.alone(
        key=SourceKey(channel, *source),
        unit=CHANNELS[channel].unit if channel in CHANNELS else "",
        time_s=START + np.asarray(time_s, dtype=np.float64),
        value=np.asarray(value, dtype=np.float64),
        verified=np.full(count, verified),
        line=np.arange(1, count + 1),
        file=np.zeros(count, dtype=np.int64),
    )


def aligned(
    *parts: Series, gaps: Sequence[Gap] = (), choices: dict[str, tuple[str, str, str]] | None = None
) -> Aligned:
    return align({one.key: one for one in parts}, gaps, choices)


def column(result: Aligned, name: str) -> np.ndarray:
    return result.frame[name].to_numpy()


def chosen(result: Aligned, channel: str) -> tuple[str, str, str]:
    (key,) = [one.key for one in result.sources if one.chosen and one.key.channel == channel]
    return key.talker, key.formatter, key.instance


def seconds(result: Aligned) -> list[float]:
    return (result.frame.index.as_unit("ns").asi8 / 1e9 - START).tolist()


def test_the_base_is_every_whole_second_from_first_to_last_reading() -> None:
    result = aligned(series("depth_m", [0.4, 1.4, 2.4, 3.6], [1, 2, 3, 4]))
    assert seconds(result) == [0, 1, 2, 3, 4]
    assert str(result.frame.index.tz) == "UTC"
    assert result.frame.index.name == "time_utc"
    assert list(result.age) == list(result.frame) == ["depth_m"]


def test_scalars_lie_on_the_line_between_their_neighbours() -> None:
    time_s = np.arange(0, 20, 1.25)
    result = aligned(series("depth_m", time_s, 10 + 2 * time_s))
    np.testing.assert_allclose(column(result, "depth_m")[:19], 10 + 2 * np.arange(19.0), atol=1e-9)


def test_every_value_knows_its_age() -> None:
    result = aligned(series("depth_m", [0, 2, 4, 6.3, 8], [1, 2, 3, 4, 5]))
    wanted = [0, 1, 0, 1, 0, 1, 0.3, 0.7, 0]  # seconds to the nearest reading, by hand
    np.testing.assert_allclose(result.age["depth_m"], wanted, atol=1e-6)


@pytest.mark.parametrize(
    ("period_s", "gap_s", "bridged"),
    [
        (1, 4, True),
        (1, 5, False),
        (2, 8, True),
        (2, 9, False),
        (3, 10, True),
        (3, 12, False),
        (0.1, 2, False),
    ],
)
def test_nothing_crosses_more_than_four_periods_or_ten_seconds(
    period_s: float, gap_s: float, bridged: bool
) -> None:
    """The rule of the alignment: 4 periods of the source's own, at most 10 s."""
    before = np.arange(0, 60 + 1e-9, period_s)
    time_s = np.concatenate([before, before + 60 + gap_s])
    result = aligned(series("depth_m", time_s, time_s))
    inside = np.arange(61, 60 + int(gap_s))
    values = column(result, "depth_m")[inside]
    if bridged:
        np.testing.assert_allclose(values, inside, atol=1e-6)
    else:
        assert np.isnan(values[1:-1]).all()
        assert np.isnan(result.age["depth_m"].to_numpy()[inside[1:-1]]).all()
    np.testing.assert_allclose(column(result, "depth_m")[1:60], np.arange(1, 60), atol=0.06)


def test_a_source_that_comes_every_ten_seconds_and_a_little_late_is_whole() -> None:
    rng = np.random.default_rng(1)
    time_s = np.arange(0, 600, 10.0) + rng.uniform(0, 0.4, 60)
    result = aligned(series("air_pressure_hpa", time_s, np.full(60, 1013.0)))
    assert np.isfinite(column(result, "air_pressure_hpa")[1:591]).all()


def test_a_source_that_comes_in_bursts_is_bridged_by_its_mean_period() -> None:
    """Two sensors under one address, both every 5 s: the median step is the 0.05 s between the two."""
    time_s = np.sort(np.concatenate([np.arange(0, 300, 5.0), np.arange(0, 300, 5.0) + 0.05, [300.0, 300.05]]))
    result = aligned(series("water_temp_c", time_s, np.full(len(time_s), 18.0)))
    assert np.isfinite(column(result, "water_temp_c")[:300]).all()


def test_a_lone_reading_stands_at_its_second_alone() -> None:
    result = aligned(series("depth_m", [0, 1, 2, 3, 4, 5], range(6)), series("water_temp_c", [2.3], [18.0]))
    assert np.flatnonzero(np.isfinite(column(result, "water_temp_c"))).tolist() == [2]


def test_directions_take_the_shorter_arc() -> None:
    result = aligned(series("cog_deg", [0, 2, 4, 6], [350, 10, 350, 20]))
    np.testing.assert_allclose(column(result, "cog_deg"), [350, 0, 10, 0, 350, 5, 20], atol=1e-9)
    assert ((column(result, "cog_deg") >= 0) & (column(result, "cog_deg") < 360)).all()


def test_signed_angles_pass_through_the_stern() -> None:
    result = aligned(series("awa_deg", [0, 2, 4], [170, -170, 174]))
    np.testing.assert_allclose(column(result, "awa_deg"), [170, 180, -170, -178, 174], atol=1e-9)


def test_longitude_crosses_the_antimeridian() -> None:
    result = aligned(
        series("lon_deg", [0, 2, 4], [179.999, -179.999, 179.998]),
        series("lat_deg", [0, 2, 4], [10, 10.002, 10.004]),
    )
    np.testing.assert_allclose(
        column(result, "lon_deg")[[0, 2, 3, 4]], [179.999, -179.999, 179.9995, 179.998], atol=1e-9
    )
    assert abs(column(result, "lon_deg")[1]) == pytest.approx(180, abs=1e-9)
    np.testing.assert_allclose(column(result, "lat_deg"), [10, 10.001, 10.002, 10.003, 10.004], atol=1e-12)


def test_readings_at_whole_seconds_are_kept_to_the_last_digit() -> None:
    rng = np.random.default_rng(2)
    for channel, value in (
        ("cog_deg", np.round(rng.uniform(0, 359.9, 500), 1)),
        ("stw_kn", rng.uniform(0, 9, 500)),
    ):
        got = column(aligned(series(channel, np.arange(500), value)), channel)
        np.testing.assert_allclose(got, value, rtol=0, atol=1e-10)


def test_ten_readings_a_second_are_averaged() -> None:
    """The mean of the readings from half a second before to just under half a second after."""
    time_s = np.arange(0, 60, 0.1) + 0.02
    value = np.where(np.arange(600) % 2 == 0, 4.0, 6.0)
    values = column(aligned(series("stw_kn", time_s, value)), "stw_kn")
    np.testing.assert_allclose(values[1:-1], 5.0, atol=1e-9)
    turning = column(aligned(series("heading_mag_deg", time_s, (350 + 10 * time_s) % 360)), "heading_mag_deg")
    error = (turning[1:-1] - (350 + 10 * np.arange(1, 60)[: len(turning) - 2]) + 180) % 360 - 180
    assert (
        np.abs(error).max() <= 10 * 0.03 + 1e-6
    )  # ten readings centred 0.03 s before the second, at 10 deg/s


def test_a_silence_beyond_six_hours_is_shortened_to_its_ends() -> None:
    for hours, whole in ((5.9, True), (6.1, False), (20.0, False)):
        late = hours * 3600
        time_s = np.concatenate([np.arange(0, 61), late + np.arange(60, 121)])
        result = aligned(series("depth_m", time_s, time_s), gaps=[Gap(START + 60, START + 60 + late)])
        assert (len(result.frame) == late + 121) is whole
        assert len(result.frame) <= late + 121
        if not whole:
            assert 122 <= len(result.frame) <= 126
            assert np.isnan(column(result, "depth_m")).sum() == len(result.frame) - 122
        (source,) = result.sources
        assert source.coverage == 1.0  # a silence of the whole log is no fault of the source


def test_no_reading_is_nan_and_no_time_is_no_row() -> None:
    unplaced = series("depth_m", [np.nan, np.nan], [1, 2])
    result = aligned(unplaced)
    assert result.frame.empty
    (source,) = result.sources
    assert (source.count, source.rate_hz, source.coverage, source.chosen) == (2, None, None, False)
    result = aligned(unplaced, series("stw_kn", [0, 1, 2], [5, 5, 6]))
    assert list(result.frame) == ["stw_kn"]


def test_rate_and_coverage() -> None:
    half = np.concatenate([np.arange(0, 100.0), np.arange(200, 300.0)])
    result = aligned(series("stw_kn", np.arange(0, 300.0), half_and_half(300)), series("depth_m", half, half))
    by_channel = {one.key.channel: one for one in result.sources}
    assert by_channel["stw_kn"].rate_hz == pytest.approx(1.0)
    assert by_channel["stw_kn"].coverage == pytest.approx(1.0)
    assert by_channel["depth_m"].rate_hz == pytest.approx(1.0)
    assert by_channel["depth_m"].coverage == pytest.approx(2 / 3, abs=0.02)


def half_and_half(count: int) -> np.ndarray:
    return np.where(np.arange(count) % 2, 5.0, 6.0)


FULL = np.arange(0, 300.0)


def test_the_fuller_source_is_chosen() -> None:
    sparse = series("stw_kn", np.arange(0, 100.0), half_and_half(100), ("VW", "VHW", ""))
    full = series("stw_kn", FULL, half_and_half(300), ("VD", "VBW", ""))
    assert chosen(aligned(sparse, full), "stw_kn") == ("VD", "VBW", "")


def test_the_checked_source_is_chosen_before_the_preferred_sentence() -> None:
    bare = series("stw_kn", FULL, half_and_half(300), ("VW", "VHW", ""), verified=False)
    checked = series("stw_kn", FULL, half_and_half(300), ("VD", "VBW", ""))
    assert chosen(aligned(bare, checked), "stw_kn") == ("VD", "VBW", "")


def test_the_preferred_sentence_is_chosen_among_the_like() -> None:
    vhw = series("stw_kn", FULL, half_and_half(300), ("VW", "VHW", ""))
    vbw = series("stw_kn", np.arange(0, 300, 0.5), half_and_half(600), ("VD", "VBW", ""))
    assert chosen(aligned(vbw, vhw), "stw_kn") == ("VW", "VHW", "")


def test_the_faster_source_is_chosen_where_all_else_is_alike() -> None:
    slow = series("heading_mag_deg", FULL, half_and_half(300), ("HC", "HDG", "a"))
    fast = series("heading_mag_deg", np.arange(0, 300, 0.2), half_and_half(1500), ("HC", "HDG", "b"))
    assert chosen(aligned(slow, fast), "heading_mag_deg") == ("HC", "HDG", "b")


def test_a_stuck_source_loses_to_a_live_one() -> None:
    stuck = series("stw_kn", FULL, np.zeros(300), ("VW", "VHW", ""))
    live = series("stw_kn", FULL[::2], half_and_half(150), ("VD", "VBW", ""))
    assert chosen(aligned(stuck, live), "stw_kn") == ("VD", "VBW", "")
    assert chosen(aligned(stuck), "stw_kn") == ("VW", "VHW", "")


def two_vanes() -> list[Series]:
    return [
        series(channel, FULL, half_and_half(300) * scale, source)
        for source, scale in ((("WI", "MWV", ""), 1.0), (("II", "VWR", ""), 2.0))
        for channel in ("awa_deg", "aws_kn")
    ]


def test_values_that_belong_together_come_from_one_sentence() -> None:
    *_, slow = two_vanes()
    faster = series("aws_kn", np.arange(0, 300, 0.1), half_and_half(3000), slow.key[1:])
    result = aligned(*two_vanes()[:3], faster)
    assert chosen(result, "awa_deg") == chosen(result, "aws_kn") == ("WI", "MWV", "")


def test_the_user_overrules_the_choice() -> None:
    result = aligned(*two_vanes(), choices={"awa_deg": ("II", "VWR", "")})
    assert chosen(result, "awa_deg") == chosen(result, "aws_kn") == ("II", "VWR", "")
    result = aligned(*two_vanes(), choices={"awa_deg": ("II", "VWR", ""), "aws_kn": ("WI", "MWV", "")})
    assert chosen(result, "awa_deg") == ("II", "VWR", "")
    assert chosen(result, "aws_kn") == ("WI", "MWV", "")


@pytest.mark.parametrize("channel", ["awa_deg", "depth_m", "xdr:Probe"])
def test_a_choice_the_log_does_not_have_is_a_clear_error(channel: str) -> None:
    probe = series("xdr:Probe", FULL, FULL, ("II", "XDR", "Probe"))
    wanted = ("II", "XDR", "Probe") if channel.startswith("xdr") else ("ZZ", "MWV", "")
    with pytest.raises(SettingError, match=channel):
        aligned(*two_vanes(), probe, choices={channel: wanted})


def test_targets_and_unknown_transducers_stay_out_of_the_frame() -> None:
    result = aligned(
        series("target_range_nm", FULL, FULL / 10),
        series("xdr:Probe", FULL, FULL),
        series("depth_m", FULL, FULL),
    )
    assert list(result.frame) == ["depth_m"]
    assert len(result.sources) == 3
