"""Whether an engine turns, by hand."""

from types import SimpleNamespace

import numpy as np

from analysis.engine import engine_running, told_by_shaft
from analysis.passage import SourceKey


def speaking(**series):
    """A passage of sources: channel_instance -> (times, values)."""
    return SimpleNamespace(
        series={
            SourceKey(name.rpartition("_")[0], "II", "RPM", name[-1]): SimpleNamespace(
                time_s=np.array(time_s, dtype=float), value=np.array(value, dtype=float)
            )
            for name, (time_s, value) in series.items()
        }
    )


def test_none_speaks():
    assert engine_running(speaking(), np.arange(5.0)) is None
    assert engine_running(speaking(stw_kn_1=([0], [6])), np.arange(5.0)) is None


def test_a_reading_counts_for_a_minute_and_the_next_overrules_it():
    times = np.array([0.0, 10, 69, 71, 100, 130])
    running = engine_running(speaking(engine_rpm_1=([10, 90], [1800, 0])), times)
    np.testing.assert_array_equal(running, [False, True, True, False, False, False])


def test_either_engine_and_a_shaft_astern_count():
    passage = speaking(engine_rpm_1=([0], [0]), engine_rpm_2=([20], [900]))
    np.testing.assert_array_equal(engine_running(passage, np.array([0.0, 25, 81])), [0, 1, 0])
    assert not told_by_shaft(passage)
    passage = speaking(shaft_rpm_1=([40], [-300]))
    np.testing.assert_array_equal(engine_running(passage, np.array([0.0, 95, 101])), [0, 1, 0])
    assert told_by_shaft(passage)


def test_a_shaft_that_turns_while_the_engine_stands_is_turned_by_the_propeller():
    passage = speaking(engine_rpm_1=([0, 50], [0, 0]), shaft_rpm_1=([0, 50], [120, 120]))
    np.testing.assert_array_equal(engine_running(passage, np.array([10.0, 60])), [0, 0])
    assert not told_by_shaft(passage)
