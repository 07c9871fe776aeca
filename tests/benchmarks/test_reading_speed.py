"""How fast and how lean logs are read. Run on demand: pytest -m benchmark -s tests/benchmarks"""

import datetime
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache
from itertools import accumulate, islice
from pathlib import Path

import numpy as np
import pynmea2
import pytest

from analysis import read_log
from analysis.invent import SCENARIOS, invent
from analysis.reading.files import LogFile, pieces
from analysis.reading.pieces import read_piece
from analysis.reading.sources import WORKERS

pytestmark = pytest.mark.benchmark

ROOT = Path(__file__).resolve().parents[2]
FIRST_DAY = datetime.date(2026, 6, 3)
TIME_FIELD = {"RMC": 1, "GGA": 1, "ZDA": 1, "GLL": 5}
DATE_FIELD = {"RMC": (9, "%d%m%y"), "ZDA": (2, "%d,%m,%Y")}
HEX = np.frombuffer(b"0123456789ABCDEF", dtype=np.uint8)

COMPARED, PARSED = 1_500_000, 150_000  # the plain loop reads the first tenth: its time grows with the lines
FEW, MANY = 100_000, 10_000_000
LARGE_BYTES = 1 << 30
DAY_SENTENCES = 1_500_000


class Hour:
    """The first hour of an invented passage, which can be told again at any later hour, checksums right."""

    def __init__(self) -> None:
        plan = replace(SCENARIOS["clean"], start_utc=f"{FIRST_DAY}T00:00:00")
        lines = invent(plan, seed=1, hours=1).lines
        self.sentences = len(lines)
        text = "".join(f"{line}\r\n" for line in lines)
        self.bytes = np.frombuffer(text.encode("ascii"), dtype=np.uint8)
        self.hour_at: list[int] = []
        self.date_at: dict[str, list[int]] = {formatter: [] for formatter in DATE_FIELD}
        self.star_at: dict[str, list[int]] = {formatter: [] for formatter in TIME_FIELD}
        starts = accumulate((len(line) + 2 for line in lines), initial=0)
        for line, start in zip(lines, starts, strict=False):
            formatter = line[3:6]
            if formatter in TIME_FIELD:
                commas = [start + k for k, byte in enumerate(line) if byte == ","]
                self.hour_at.append(commas[TIME_FIELD[formatter] - 1] + 1)
                self.star_at[formatter].append(start + line.index("*"))
                if formatter in DATE_FIELD:
                    self.date_at[formatter].append(commas[DATE_FIELD[formatter][0] - 1] + 1)

    def told_at(self, hour: int) -> bytes:
        told = self.bytes.copy()
        day = FIRST_DAY + datetime.timedelta(days=hour // 24)
        of_day = f"{hour % 24:02d}"
        self._write(told, self.hour_at, of_day)
        for formatter, stars in self.star_at.items():
            change = _xor("00") ^ _xor(of_day)
            if formatter in DATE_FIELD:
                layout = DATE_FIELD[formatter][1]
                self._write(told, self.date_at[formatter], f"{day:{layout}}")
                change ^= _xor(f"{FIRST_DAY:{layout}}") ^ _xor(f"{day:{layout}}")
            at = np.array(stars)
            value = np.searchsorted(HEX, told[at + 1]) * 16 + np.searchsorted(HEX, told[at + 2]) ^ change
            told[at + 1], told[at + 2] = HEX[value >> 4], HEX[value & 15]
        return told.tobytes()

    @staticmethod
    def _write(told: np.ndarray, places: list[int], text: str) -> None:
        at = np.array(places)
        for k, byte in enumerate(text.encode("ascii")):
            told[at + k] = byte


def _xor(text: str) -> int:
    return int(np.bitwise_xor.reduce(np.frombuffer(text.encode("ascii"), dtype=np.uint8)))


@cache
def one_hour() -> Hour:
    return Hour()


def hours(sentences: int) -> Iterator[bytes]:
    """Whole lines of about so many sentences, hour after hour."""
    whole, rest = divmod(sentences, one_hour().sentences)
    yield from (one_hour().told_at(k) for k in range(whole))
    if rest:
        yield b"".join(one_hour().told_at(whole).splitlines(keepends=True)[:rest])


def written(folder: Path, sentences: int) -> Path:
    path = folder / f"{sentences}.nmea"
    with path.open("wb") as stream:
        stream.writelines(hours(sentences))
    return path


def seconds(task: Callable[[], object], times: int = 3) -> float:
    """The shortest of several runs."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        task()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def measured(code: str) -> tuple[float, float]:
    """Wall time [s] and peak memory [GB] of Python code in a process of its own, as the process itself tells.

    What the parent learns of a child's peak is no use: it counts the parent's own memory at the fork.
    """
    status = "pathlib.Path('/proc/self/status').read_text()"
    tell = rf"; import re, pathlib; print(re.search(r'VmHWM:\s*(\d+)', {status})[1])"
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code + tell], cwd=ROOT, capture_output=True, check=True, text=True
    )
    return time.perf_counter() - begun, int(done.stdout.split()[-1]) * 1024 / 1e9


def parse(path: Path, lines: int) -> int:
    with path.open(encoding="ascii") as stream:
        return sum(pynmea2.parse(line, check=True) is not None for line in islice(stream, lines))


def decoded(path: Path) -> int:
    """Decode all pieces as reading does, side by side."""
    with ThreadPoolExecutor(WORKERS) as pool:
        return sum(len(piece.line) for piece in pool.map(read_piece, pieces(LogFile(path.name, path))))


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """A log, read once so that everything is loaded, and what a plain loop over pynmea2 takes for it."""
    path = written(tmp_path_factory.mktemp("compared"), COMPARED)
    assert read_log(path).counts.accepted == COMPARED
    return path, seconds(lambda: parse(path, PARSED), times=1) * COMPARED / PARSED


def test_reading_a_log_against_a_plain_loop(compared: tuple[Path, float]) -> None:
    path, plain_s = compared
    taken_s = seconds(lambda: read_log(path))
    print(
        f"\nread_log: {COMPARED / taken_s:,.0f} sentences/s, {plain_s / taken_s:.1f} x a plain loop", end=""
    )
    assert plain_s / taken_s >= 15


def test_decoding_alone_against_a_plain_loop(compared: tuple[Path, float]) -> None:
    path, plain_s = compared
    taken_s = seconds(lambda: decoded(path))
    print(
        f"\ndecoding: {COMPARED / taken_s:,.0f} sentences/s, {plain_s / taken_s:.1f} x a plain loop", end=""
    )
    assert plain_s / taken_s >= 20


def test_time_grows_with_the_log_and_no_faster(tmp_path: Path) -> None:
    few, many = written(tmp_path, FEW), written(tmp_path, MANY)
    read_log(few)
    growth = seconds(lambda: read_log(many), times=1) / seconds(lambda: read_log(few)) * FEW / MANY
    print(f"\nfrom {FEW:,} to {MANY:,} sentences the time of one grows {growth:.2f} x", end="")
    assert growth <= 1.1


def test_memory_of_a_large_log(tmp_path: Path) -> None:
    path = tmp_path / "large.nmea"
    size = 0
    with path.open("wb") as stream:
        for hour in range(100_000):
            if size >= LARGE_BYTES:
                break
            size += stream.write(one_hour().told_at(hour))
    taken_s, peak_gb = measured(f"from analysis import read_log; read_log({str(path)!r})")
    print(f"\n{size / 1e9:.2f} GB are read in {taken_s:.0f} s and {peak_gb:.2f} GB of memory", end="")
    assert peak_gb < 3


def test_checking_a_day(tmp_path: Path) -> None:
    path = written(tmp_path, DAY_SENTENCES)
    check = "from app.cli import main; assert main(['check', {path!r}]) == 0".format
    measured(check(path=str(written(tmp_path, 1000))))
    taken_s, peak_gb = measured(check(path=str(path)))
    print(f"\ncheck of {DAY_SENTENCES:,} sentences: {taken_s:.1f} s, {peak_gb:.2f} GB", end="")
    assert taken_s <= 6
    assert peak_gb <= 1.2
