"""Every pair of sources: what the comparison tells, from sources made with known differences."""

import numpy as np
import pytest
from boat import Boat, motion, passage_of, positions, rest, told

from analysis.agreement import compare_sources


def pair(passage, channel):
    found = [one for one in compare_sources(passage) if one.channel == channel]
    assert len(found) == 1, found
    return found[0]


def name(key):
    return key.talker + key.formatter


def test_one_source_of_each_is_nothing_to_compare(small_passage) -> None:
    assert compare_sources(passage_of(rest(Boat(0.5)), small_passage)) == ()
    assert compare_sources(small_passage) == ()


def test_a_second_log_is_told_by_its_scale_lag_noise_and_drift(small_passage) -> None:
    boat = Boat()
    late = np.interp(boat.t - 2, boat.t, boat.stw)
    second = 1.1 * late + 0.05 * boat.t / 3600 + boat.noise(0.1)
    one = pair(
        passage_of([*rest(boat), told("stw_kn", "II", "VHW", second, decimals=2)], small_passage), "stw_kn"
    )
    first, sign = one.first, 1
    if name(first) == "IIVHW":
        sign = -1
    assert not one.repeat and one.disagrees
    scale, scale_sd = (one.scale, one.scale_sd) if sign == 1 else (1 / one.scale, one.scale_sd)
    # the drift of 0.05 kn per hour over two hours adds 0.05 kn in the mean to about 6 kn
    assert scale == pytest.approx(1.1 + 0.05 / 6, abs=max(3 * scale_sd, 0.002))
    assert one.lag_s == pytest.approx(
        sign * 1.7, abs=0.3
    )  # 2 s less the 0.3 s the first comes later in the second
    assert sign * one.drift_per_h == pytest.approx(0.05, abs=3 * one.drift_per_h_sd)
    noise = {name(one.first): one.noise_first, name(one.second): one.noise_second}
    assert 0.05 <= noise["VWVHW"] < noise["IIVHW"] < 0.15  # 0.05 and 0.1 kn, and the boat's own surging
    assert name(one.trusted) == "VWVHW" and "motion over the ground" in one.why


def test_a_bias_is_covered_by_its_deviation(small_passage) -> None:
    off = []
    for seed in range(12):
        boat = Boat(1.0, seed)
        wandering = boat.wander(0.8, 300)  # one that lasts for five minutes costs the most
        series = [*rest(boat), told("water_temp_c", "SD", "MTW", 15 + 0 * boat.t, every_s=2, decimals=2)]
        series.append(told("water_temp_c", "YX", "MTW", 15.4 + wandering, every_s=2, decimals=2))
        one = pair(passage_of(series, small_passage), "water_temp_c")
        bias = one.bias if name(one.first) == "SDMTW" else -one.bias
        off.append((bias - 0.4) / one.bias_sd)
    assert np.mean(np.abs(off) < 1.96) >= 0.75


@pytest.mark.parametrize("decimals", [0, 1, 2])
def test_a_repeat_is_known_by_its_values_however_rounded(small_passage, decimals) -> None:
    boat = Boat(0.5)
    shown = boat.stw + boat.noise(0.05)
    series = [one for one in rest(boat) if one.key.channel != "stw_kn"]
    series.append(told("stw_kn", "VW", "VHW", shown, 0.3, decimals=2))
    series.append(told("stw_kn", "II", "VBW", shown, 0.8, every_s=2, decimals=decimals))
    one = pair(passage_of(series, small_passage), "stw_kn")
    assert one.repeat and not one.disagrees and one.trusted is None


def test_two_sentences_of_one_receiver_are_one_instrument(small_passage) -> None:
    boat = Boat(0.5)
    rounded = told("sog_kn", "GP", "VTG", np.abs(boat.ground) + boat.noise(0.05), 0.05)
    found = compare_sources(
        passage_of([*rest(boat), rounded, *positions(boat, formatter="GGA")], small_passage)
    )
    assert {one.channel for one in found} == {"sog_kn", "lat_deg"}
    assert all(one.repeat and not one.disagrees for one in found)


def test_two_good_sensors_agree_and_are_no_repeat(small_passage) -> None:
    boat = Boat(1.0)
    second = [
        told("stw_kn", "II", "VHW", boat.stw + boat.noise(0.1), decimals=2),
        told("heading_true_deg", "GN", "HDT", boat.heading + 0.4 + boat.noise(0.5), 0.6),
        told("awa_deg", "II", "MWV", boat.awa + 2 + boat.noise(1), 0.5),
        told("depth_m", "II", "DPT", boat.depth - 2.3 + boat.noise(0.1), 0.5),
        *positions(boat, "GN", north_m=8),
        *motion(boat, "GN"),
    ]
    found = compare_sources(passage_of([*rest(boat), *second], small_passage))
    assert {one.channel for one in found} == {
        "stw_kn", "heading_true_deg", "awa_deg", "depth_m", "lat_deg", "sog_kn", "cog_deg",
    }  # fmt: skip
    assert not any(one.repeat or one.disagrees for one in found)


def test_magnetic_and_true_headings_compare_through_the_variation(small_passage) -> None:
    boat = Boat()
    second = told("heading_true_deg", "GN", "HDT", boat.heading + 6 + boat.noise(0.5))
    one = pair(passage_of([*rest(boat), second], small_passage), "heading_true_deg")
    assert abs(one.bias) == pytest.approx(6, abs=0.3)
    assert name(one.trusted) == "HCHDG"


def test_positions_are_compared_in_metres(small_passage) -> None:
    boat = Boat(1.0)
    one = pair(passage_of([*rest(boat), *positions(boat, "GN", north_m=150)], small_passage), "lat_deg")
    assert one.unit == "m" and one.bias == pytest.approx(150, abs=1) and one.disagrees


def test_sog_is_judged_by_the_distance_between_positions(small_passage) -> None:
    boat = Boat(1.0)
    one = next(
        one
        for one in compare_sources(passage_of([*rest(boat), *motion(boat, "GN", factor=1.15)], small_passage))
        if one.channel == "sog_kn"
    )
    assert one.disagrees and name(one.trusted) == "GPRMC" and "between positions" in one.why


def test_a_constant_between_two_sounders_is_a_setting_a_factor_is_not(small_passage) -> None:
    boat = Boat()
    keel = told("depth_m", "II", "DPT", boat.depth - 1.9 + boat.noise(0.1), 0.5)
    assert not pair(passage_of([*rest(boat), keel], small_passage), "depth_m").disagrees
    fast = told("depth_m", "II", "DPT", 1.15 * boat.depth + boat.noise(0.1), 0.5)
    one = pair(passage_of([*rest(boat), fast], small_passage), "depth_m")
    assert one.disagrees and max(one.scale, 1 / one.scale) == pytest.approx(
        1.15, abs=3 * one.scale_sd + 0.005
    )


def test_a_stretch_far_apart_is_found_where_the_whole_agrees(small_passage) -> None:
    boat = Boat()
    stuck = np.where((boat.t > 3000) & (boat.t < 4500), 0.0, boat.stw + boat.noise(0.05))
    one = pair(
        passage_of([*rest(boat), told("stw_kn", "II", "VHW", stuck, decimals=2)], small_passage), "stw_kn"
    )
    assert one.apart is not None
    length_s = (one.apart.end - one.apart.start).total_seconds()
    assert length_s == pytest.approx(1500, abs=90) and abs(one.apart.difference) > 4


def test_silence_is_counted(small_passage) -> None:
    boat = Boat(1.0)
    second = told("stw_kn", "II", "VHW", boat.stw + boat.noise(0.05), decimals=2)
    kept = (np.arange(len(second.value)) < 900) | (np.arange(len(second.value)) >= 1800)
    gappy = type(second).alone(
        second.key, "", second.time_s[kept], second.value[kept], second.verified[kept], second.line[kept],
        second.file[kept],
    )  # fmt: skip
    one = pair(passage_of([*rest(boat), gappy], small_passage), "stw_kn")
    silent = {name(one.first): one.dropouts_first, name(one.second): one.dropouts_second}
    assert silent["IIVHW"] == pytest.approx(0.25, abs=0.01) and silent["VWVHW"] < 0.01


@pytest.mark.parametrize("channel", ["heading_true_deg", "lat_deg"])
def test_two_instruments_under_one_name_are_told_apart(small_passage, channel) -> None:
    boat = Boat(1.0)
    series = {one.key: one for one in rest(boat)}
    if channel == "lat_deg":
        mixed = [merged(a, b) for a, b in zip(positions(boat), positions(boat, north_m=250), strict=True)]
    else:
        heading = boat.heading - 3
        shown = [told("heading_mag_deg", "HC", "HDG", heading + off + boat.noise(0.3)) for off in (0, 9)]
        mixed = [merged(*shown)]
    series |= {one.key: one for one in mixed}
    one = pair(passage_of(series.values(), small_passage), channel)
    assert not one.repeat and one.disagrees
    assert {one.first.instance, one.second.instance} == {"1 of 2", "2 of 2"}
    assert abs(one.bias) == pytest.approx(250 if channel == "lat_deg" else 9, rel=0.05)


def merged(first, second):
    """Two sources that speak by turns, the second half a second after the first; a few readings lost."""
    time_s = np.concatenate((first.time_s, second.time_s + 0.5))
    order = np.argsort(time_s)
    order = np.delete(order, np.arange(50, len(order), 333))
    value = np.concatenate((first.value, second.value))
    zeros = np.zeros(len(order))
    return type(first).alone(
        first.key, "", time_s[order], value[order], zeros == 0, np.arange(len(order), dtype=np.int32),
        zeros.astype(np.int16),
    )  # fmt: skip


def test_what_torn_sentences_name_is_no_instrument(small_passage) -> None:
    boat = Boat(0.5)
    whole = told("air_pressure_hpa", "II", "XDR", 1016 + 0 * boat.t, every_s=2, instance="BARO")
    torn = told("air_pressure_hpa", "II", "XDR", 1000 + 0 * boat.t, 0.7, every_s=10)
    unverified = torn.alone(
        torn.key, "", torn.time_s, torn.value, torn.verified & False, torn.line, torn.file
    )  # fmt: skip
    assert compare_sources(passage_of([*rest(boat), whole, unverified], small_passage)) == ()
