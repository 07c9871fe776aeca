"""When sentences are due again, and which lie in a stretch. Every expected number is counted by hand."""

import numpy as np
import pytest

from analysis.errors import LogError, SettingError
from analysis.spoken import DAY_S, Pacing, Spoken

EVENING_S = 20_000 * DAY_S + 20 * 3600.0  # 20:00 of a day


def spoken(times: list[float]) -> Spoken:
    """Sentences $0, $1 … at these times, in a text with rubbish between."""
    text = np.frombuffer(b"".join(b"$%d??" % k for k in range(len(times))), dtype=np.uint8)
    start = np.arange(len(times)) * 4
    return Spoken(text, start, start + 2, np.array(times))


def test_lines_are_the_sentences_each_with_its_line_end() -> None:
    five = spoken([0.0, 1.0, 2.0, 3.0, 4.0])
    assert five.lines(1, 4) == b"$1\r\n$2\r\n$3\r\n"
    assert five.lines(4, 5) == b"$4\r\n"  # the text ends before a line end would
    assert b"".join(five.chunks()) == five.lines(0, 5)


def test_sentences_are_due_when_as_much_time_has_gone_by_as_in_the_log() -> None:
    pacing = Pacing(np.array([100.0, 100.0, 101.0, 103.0]), pace=1.0, loop=False)
    assert [pacing.due(s) for s in (0.0, 0.9, 1.0, 2.9, 3.0, 99.0)] == [2, 2, 3, 3, 4, 4]
    assert pacing.wait_s(2, 0.25) == 0.75
    assert pacing.wait_s(3, 5.0) == 0.0
    assert pacing.total == 4


def test_the_pace_shortens_every_wait() -> None:
    pacing = Pacing(np.array([0.0, 8.0]), pace=4.0, loop=False)
    assert [pacing.due(s) for s in (1.9, 2.0)] == [1, 2]
    assert pacing.wait_s(1, 0.5) == 1.5


def test_a_loop_begins_anew_a_second_after_the_end() -> None:
    pacing = Pacing(np.array([10.0, 12.0]), pace=1.0, loop=True)
    assert [pacing.due(s) for s in (0.0, 2.0, 2.9, 3.0, 5.0, 6.0)] == [1, 2, 2, 3, 4, 5]
    assert pacing.wait_s(2, 2.0) == 1.0


def test_without_a_pace_all_is_due_at_once_and_no_time_is_needed() -> None:
    pacing = Pacing(np.array([np.nan, np.nan]), pace=0.0, loop=False)
    assert pacing.due(0.0) == 2
    assert pacing.wait_s(1, 0.0) == 0.0


@pytest.mark.parametrize("pace", [-1.0, np.nan, np.inf])
def test_a_pace_without_meaning_is_refused(pace: float) -> None:
    with pytest.raises(SettingError, match="pace"):
        Pacing(np.array([0.0]), pace, loop=False)


def test_a_log_without_time_or_sentence_cannot_be_paced() -> None:
    with pytest.raises(SettingError, match="--pace 0"):
        Pacing(np.array([np.nan]), 1.0, loop=False)
    with pytest.raises(LogError, match="Not one sentence"):
        Pacing(np.empty(0), 1.0, loop=False)


def test_a_stretch_holds_both_its_ends() -> None:
    hourly = spoken([EVENING_S + 3600.0 * k for k in range(10)])  # 20:00 to 05:00
    cut = hourly.between(EVENING_S + 3600, EVENING_S + 3 * 3600)
    assert cut.lines(0, len(cut)) == b"$1\r\n$2\r\n$3\r\n"
    assert hourly.between(None, None) is hourly


def test_a_time_of_day_is_of_the_day_on_which_the_log_has_it() -> None:
    hourly = spoken([EVENING_S + 3600.0 * k for k in range(10)])
    night = hourly.between(22.5 * 3600, 2 * 3600.0)
    assert night.time_s.tolist() == [EVENING_S + 3600.0 * k for k in (3, 4, 5, 6)]  # 23, 0, 1 and 2 o'clock
    early = hourly.between(19 * 3600.0, 20 * 3600.0)  # before the log began: from its beginning
    assert early.time_s.tolist() == [EVENING_S]


def test_an_empty_stretch_is_refused_and_the_log_s_own_named() -> None:
    hourly = spoken([EVENING_S, EVENING_S + 3600.0])
    with pytest.raises(SettingError, match=r"T20:00:00 to .*T21:00:00 UTC"):
        hourly.between(EVENING_S + 60, EVENING_S + 120)
    with pytest.raises(SettingError, match="no time"):
        spoken([np.nan]).between(0.0, None)
