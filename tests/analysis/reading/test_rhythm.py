"""Regular sentences that do not all come. The logs are made here, so the losses are known."""

from pathlib import Path

import numpy as np
import pytest
from written import read_text, sentence

from analysis.passage import Fact, Passage

SECONDS = 600


def written(at_s: np.ndarray) -> str:
    """A GNSS sentence a second for ten minutes, and a log's sentence at each of the moments ``at_s``."""
    lines = [
        (second, f"GPRMC,12{second // 60:02d}{second % 60:02d}.00,A,5000.0,N,00100.0,W,5.0,090.0,010626,,")
        for second in range(SECONDS)
    ]
    lines += [(at, "IIVHW,,,,,5.0,N,,") for at in at_s.tolist()]
    return "".join(
        f"2026-06-01T12:{int(at) // 60:02d}:{at % 60:06.3f}Z {sentence(body)}\r\n"
        for at, body in sorted(lines)
    )


def missing(passage: Passage) -> list[Fact]:
    return [fact for fact in passage.facts if fact.id == "sentences-missing"]


def steady(period_s: float) -> np.ndarray:
    return np.arange(0.3, SECONDS - 5, period_s)


def test_a_full_log_misses_nothing(tmp_path: Path) -> None:
    assert missing(read_text(tmp_path, written(steady(1.0)))) == []


@pytest.mark.parametrize(("share", "period_s"), [(0.05, 1.0), (0.3, 1.0), (0.3, 0.5), (0.1, 2.5)])
def test_what_is_missing_is_counted(tmp_path: Path, share: float, period_s: float) -> None:
    at_s = steady(period_s)
    came = np.random.default_rng(4).random(len(at_s)) > share
    came[[0, -1]] = True
    (fact,) = missing(read_text(tmp_path, written(at_s[came])))
    assert fact.numbers["formatter"] == "VHW"
    assert fact.numbers["missing"] == pytest.approx(int((~came).sum()), abs=3)
    assert fact.numbers["due"] == pytest.approx(len(at_s), abs=3)


def test_of_a_fast_sentence_at_an_uneven_pace_the_spread_of_counts_tells(tmp_path: Path) -> None:
    rng = np.random.default_rng(6)
    at_s = steady(0.2) + rng.uniform(-0.08, 0.08, len(steady(0.2)))
    came = rng.random(len(at_s)) > 0.35
    assert missing(read_text(tmp_path, written(at_s))) == []
    (fact,) = missing(read_text(tmp_path, written(at_s[came])))
    lost = int((~came).sum())
    assert fact.numbers["missing"] == pytest.approx(
        lost, rel=0.6
    )  # 58 counts: one-sigma of a fifth of the variance


def test_a_rate_that_beats_with_the_second_misses_nothing(tmp_path: Path) -> None:
    at_s = np.unique(np.floor(steady(1.2))) + 0.3
    assert missing(read_text(tmp_path, written(at_s))) == []


def test_sentences_without_a_pace_miss_nothing(tmp_path: Path) -> None:
    at_s = np.sort(np.random.default_rng(5).uniform(0, SECONDS, SECONDS))
    assert missing(read_text(tmp_path, written(at_s))) == []
