"""The barometer against a reference, on pressures made here: the offset put in is the one to find."""

import numpy as np
import pandas as pd
import pytest

from analysis.calibration.barometer import check_barometer, station_pressure_hpa
from analysis.calibration.steps import find_sudden
from analysis.reading.pressure import PressureReference

START = pd.Timestamp("2026-06-01T08:00Z")


def sea_level_hpa(hours):
    """Weather: 1005 hPa, 3 hPa up and down in a day, and a steady fall of 0.6 hPa/h."""
    return 1005 + 3 * np.sin(hours / 4) - 0.6 * hours


def frame_of(hours=6.0, offset_hpa=0.0, noise_hpa=0.05, height_m=0.0, scale=1.0, seed=1):
    """A barometer at ``height_m`` that needs ``offset_hpa`` to be right, and shows ``scale`` of the change."""
    rng = np.random.default_rng(seed)
    seconds = np.arange(int(3600 * hours))
    true = station_pressure_hpa(sea_level_hpa(seconds / 3600), height_m)
    shown = (
        true.mean()
        + scale * (true - true.mean())
        - offset_hpa
        + noise_hpa * rng.standard_normal(len(seconds))
    )
    index = START + pd.to_timedelta(seconds, unit="s")
    return pd.DataFrame({"air_pressure_hpa": np.round(shown, 1)}, index=index)


def table(hours, error_hpa=0.0, sd_hpa=0.5):
    hours = np.asarray(hours, dtype=float)
    return PressureReference(
        START + pd.to_timedelta(hours, unit="h"), sea_level_hpa(hours) + error_hpa, sd_hpa
    )


def test_an_offset_is_found_to_the_reference_s_own_error():
    one = check_barometer(frame_of(offset_hpa=2.3), table(range(7))).offset
    assert one.determined
    assert one.value == pytest.approx(2.3, abs=0.05)  # linear between hours: the curve bends by 0.02 hPa
    assert one.sd == pytest.approx(0.5, rel=0.02)


@pytest.mark.parametrize("height_m", [2.0, 20.0])
def test_a_sensor_above_the_sea_is_compared_at_its_height(height_m):
    frame = frame_of(offset_hpa=-1.0, height_m=height_m)
    assert check_barometer(frame, table(range(7)), height_m).offset.value == pytest.approx(-1.0, abs=0.05)
    at_the_sea = check_barometer(frame, table(range(7))).offset.value
    assert at_the_sea == pytest.approx(-1.0 + 0.12 * height_m, abs=0.1)  # 0.12 hPa a metre, ISA


def test_a_single_pressure_with_a_time_is_compared_around_it():
    check = check_barometer(frame_of(offset_hpa=1.2), table([3.0]))
    assert check.offset.determined
    assert check.offset.value == pytest.approx(1.2, abs=0.15)
    assert check.hours <= 1.3


def test_a_single_pressure_without_a_time_knows_less_where_the_pressure_changed():
    steady = PressureReference(None, np.array([1005.0]))
    calm = check_barometer(frame_of(0.5), steady).offset
    changing = check_barometer(frame_of(24.0), steady).offset
    assert calm.determined and calm.sd < 0.6
    assert not changing.determined and changing.sd > 3 and changing.needs


def test_scatter_with_memory_widens_the_interval():
    """A barometer that wanders by 1 hPa in an hour: 95 % intervals of the offset hold it in most of 60 passages."""
    rng = np.random.default_rng(3)
    held = []
    for seed in range(60):
        frame = frame_of(8.0, offset_hpa=1.0, seed=seed)
        wander = np.interp(np.arange(len(frame)), np.arange(0, 36001, 1800), rng.normal(0, 1.0, 21))
        frame["air_pressure_hpa"] += wander
        one = check_barometer(frame, table(range(9), sd_hpa=0.0)).offset
        held.append(abs(one.value - 1.0) < 1.96 * one.sd)
    assert 0.85 <= np.mean(held) <= 0.99


def test_the_share_of_the_change_is_told_where_there_was_enough():
    check = check_barometer(frame_of(12.0, scale=0.7), table(range(13)))
    assert abs(check.scale - 0.7) < max(3 * check.scale_sd, 0.01)
    assert check_barometer(frame_of(2.0), table(range(3))).scale is None


@pytest.mark.parametrize(
    ("frame", "reference"),
    [
        (frame_of(), None),
        (frame_of(), table([40.0, 41.0])),
        (frame_of(0.05), table(range(7))),
        (frame_of().rename(columns={"air_pressure_hpa": "depth_m"}), table(range(7))),
        (frame_of() * np.nan, table(range(7))),
    ],
)
def test_nothing_to_compare_says_what_would_help(frame, reference):
    one = check_barometer(frame, reference).offset
    assert (one.value, one.sd, one.determined) == (None, None, False)
    assert one.needs


# --- steps -------------------------------------------------------------------------------------------------------


def noisy(n=2000, sd=0.1, seed=5):
    return np.arange(n, dtype=float), 10 + sd * np.random.default_rng(seed).standard_normal(n)


def test_a_step_is_found_with_its_time_and_size():
    time_s, value = noisy()
    value[900:] -= 3.0
    ((at_s, size, sd),) = find_sudden(time_s, value, 2.0).steps
    assert at_s == pytest.approx(900, abs=6)
    assert abs(size + 3.0) < 3 * sd
    assert sd < 0.05


def test_spikes_trends_and_smaller_steps_are_no_steps():
    time_s, value = noisy()
    value[[300, 800]] += 5.0
    value += time_s / 100
    value[1200:] += 1.0
    sudden = find_sudden(time_s, value, 2.0)
    assert (sudden.steps, sudden.spikes) == ((), 2)


def test_a_step_across_a_silence_is_none():
    time_s, value = noisy()
    value[900:] -= 3.0
    time_s[900:] += 600
    assert find_sudden(time_s, value, 2.0).steps == ()


def test_slow_readings_are_judged_too():
    time_s, value = noisy(400)
    value[200:] += 5.0
    assert len(find_sudden(10 * time_s, value, 2.0).steps) == 1
    assert find_sudden(time_s[:4], value[:4], 2.0).steps == ()
