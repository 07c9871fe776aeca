"""A log's own sentences out again: none lost, none changed, each at the time reading gives it."""

import gzip
from pathlib import Path

import numpy as np
import pytest

from analysis.phrasing import with_checksums
from analysis.reading.files import find_files, pieces
from analysis.reading.log import read
from analysis.reading.spoken import spoken_parts
from analysis.spoken import Spoken
from analysis.writing import spooled


def clean_lines(seconds: int = 60, hour: int = 12) -> list[str]:
    bodies = []
    for s in range(seconds):
        clock = f"{hour:02d}{s // 60:02d}{s % 60:02d}.00"
        bodies += [f"GPRMC,{clock},A,5000.{s:04d},N,00100.0000,W,5.0,90.0,010626,,,A", f"HCHDM,{s % 360}.0,M"]
    return with_checksums(bodies)


def written(path: Path, lines: list[str]) -> Path:
    path.write_bytes("".join(f"{line}\r\n" for line in lines).encode())
    return path


def said(spoken: Spoken) -> list[str]:
    return spoken.lines(0, len(spoken)).decode().splitlines()


def test_a_clean_log_comes_back_word_for_word(tmp_path: Path) -> None:
    lines = clean_lines()
    spoken = spooled(spoken_parts([written(tmp_path / "a.log", lines)]))
    assert said(spoken) == lines
    # RMC states 12:00:00 on 2026-06-01, which is 1 780 315 200 s after 1970 (date -u +%s); 60 of them, a second apart
    assert spoken.time_s[::2].tolist() == [1_780_315_200.0 + s for s in range(60)]
    assert np.all(np.diff(spoken.time_s) > 0)
    assert spoken.untimed == 0


def test_the_times_are_those_of_the_readings(tmp_path: Path) -> None:
    log = written(tmp_path / "a.log", clean_lines())
    heading = next(one for key, one in read([log]).series.items() if key.formatter == "HDM")
    assert spooled(spoken_parts([log], without=["RMC"])).time_s.tolist() == heading.time_s.tolist()


def test_damaged_sentences_are_left_out_and_strange_ones_kept(tmp_path: Path) -> None:
    good = clean_lines()
    strange = with_checksums(["PXYZ,1,2", "GPRMC,bad"])
    damaged = [good[20][:-1] + "?", good[31][:12], "$" + good[40][2:]]
    dirty = [
        *good[:30],
        damaged[0],
        *strange,
        "\x00\x01rubbish",
        *good[30:60],
        damaged[1],
        damaged[2],
        *good[60:],
    ]
    assert said(spooled(spoken_parts([written(tmp_path / "a.log", dirty)]))) == [
        *good[:30],
        *strange,
        *good[30:],
    ]


def test_wrappers_and_packing_do_not_matter(tmp_path: Path) -> None:
    lines = clean_lines()
    stamped = "".join(f"2026-06-01T12:00:{k // 2:02d}.{k % 2}00Z {line}\n" for k, line in enumerate(lines))
    (tmp_path / "a.log.gz").write_bytes(gzip.compress(stamped.encode()))
    assert said(spooled(spoken_parts([tmp_path / "a.log.gz"]))) == lines


def test_two_logs_are_joined_in_time_and_a_copy_counts_once(tmp_path: Path) -> None:
    late, early = clean_lines(hour=14), clean_lines(hour=13)
    paths = [
        written(tmp_path / f"{name}.log", lines) for name, lines in (("1", late), ("2", early), ("3", late))
    ]
    assert said(spooled(spoken_parts(paths))) == early + late


def test_a_log_of_many_pieces_loses_nothing_between_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("analysis.reading.files.PIECE_BYTES", 1 << 12)
    lines = clean_lines(1800)
    log = written(tmp_path / "a.log", lines)
    assert len(list(pieces(find_files([log])[0]))) > 10
    assert said(spooled(spoken_parts([log]))) == lines


def test_a_log_without_time_keeps_its_order(tmp_path: Path) -> None:
    lines = with_checksums([f"HCHDM,{k}.0,M" for k in range(9)])
    spoken = spooled(spoken_parts([written(tmp_path / "a.log", lines)]))
    assert said(spoken) == lines
    assert not spoken.timed


def test_formatters_are_left_out_whoever_says_them(tmp_path: Path) -> None:
    lines = clean_lines()
    log = written(tmp_path / "a.log", lines)
    assert said(spooled(spoken_parts([log], without={"HDM", "HDG"}))) == lines[::2]
