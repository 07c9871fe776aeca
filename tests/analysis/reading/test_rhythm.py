"""Regular sentences that do not all come. The logs are made here, so the losses are known."""

from pathlib import Path

import numpy as np
import pytest
from written import read_text, sentence

from analysis.passage import Fact, Passage


def written(kept: np.ndarray, period_s: float = 1.0) -> str:
    """A GNSS sentence a second, and a log sentence each ``period_s`` of which only those ``kept`` came."""
    lines = [(float(s), f"GPRMC,{clock(s)}.00,A,5000.0,N,00100.0,W,5.0,090.0,010626,,") for s in range(600)]
    lines += [
        (at + 0.3, "IIVHW,,,,,5.0,N,,")
        for at, came in zip(period_s * np.arange(len(kept)), kept, strict=True)
        if came
    ]
    return "".join(f"{clock_stamp(at)} {sentence(body)}\r\n" for at, body in sorted(lines))


def clock(second: int) -> str:
    return f"12{second // 60:02d}{second % 60:02d}"


def clock_stamp(second: float) -> str:
    return f"2026-06-01T12:{int(second) // 60:02d}:{second % 60:06.3f}Z"


def missing(passage: Passage) -> list[Fact]:
    return [fact for fact in passage.facts if fact.id == "sentences-missing"]


def test_a_full_log_misses_nothing(tmp_path: Path) -> None:
    assert missing(read_text(tmp_path, written(np.ones(600, dtype=bool)))) == []


@pytest.mark.parametrize(("share", "period_s"), [(0.05, 1.0), (0.3, 1.0), (0.3, 0.5), (0.1, 2.5)])
def test_what_is_missing_is_counted(tmp_path: Path, share: float, period_s: float) -> None:
    rng = np.random.default_rng(4)
    kept = rng.random(int(590 / period_s)) > share
    kept[[0, -1]] = True
    (fact,) = missing(read_text(tmp_path, written(kept, period_s)))
    assert fact.numbers["formatter"] == "VHW"
    assert fact.numbers["missing"] == pytest.approx(int((~kept).sum()), abs=3)
    assert fact.numbers["due"] == pytest.approx(len(kept), abs=3)


def test_a_rate_that_beats_with_the_second_misses_nothing(tmp_path: Path) -> None:
    seconds = np.unique(np.floor(1.2 * np.arange(490)))
    kept = np.isin(np.arange(590), seconds)
    assert missing(read_text(tmp_path, written(kept))) == []


def test_sentences_without_a_pace_miss_nothing(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    kept = rng.random(5900) < 0.1
    assert missing(read_text(tmp_path, written(kept, 0.1))) == []
