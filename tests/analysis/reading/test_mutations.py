"""A hundred thousand damaged lines among good ones: nothing raises, and nothing false comes out."""

import re
from collections.abc import Callable
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest

from analysis import read_log
from analysis.passage import Passage
from analysis.phrasing import with_checksums

MUTATED = 100_000
GOOD_EACH = 3  # good lines for each damaged one: a source keeps its name for sending checksums
_SUMMED = re.compile(rb"[$!]([ \"#%-)+-~]*)\* ?([0-9A-Fa-f]{1,2})")

RANGES = ((0, 59.9), (0, 59.9), (0, 9.9), (0, 359.9), (5, 35), (0, 50))
GOOD = (
    "GPRMC,%(t)s.00,A,33%(a)07.4f,N,020%(b)07.4f,W,%(c).2f,%(d).1f,030626,4.7,W,A",
    "GPGGA,%(t)s.00,33%(a)07.4f,N,020%(b)07.4f,W,1,09,0.94,%(c).1f,M,51.2,M,,",
    "GPVTG,%(d).1f,T,,M,%(c).2f,N,,K,A",
    "HCHDG,%(d).1f,,,4.7,W",
    "VWVHW,%(d).1f,T,,M,%(c).2f,N,,K",
    "WIMWV,%(d).1f,R,%(e).1f,N,A",
    "SDDPT,%(f).1f,0.4",
    "IIXDR,A,%(e).1f,D,HEEL,C,%(e).2f,C,AIRTEMP,P,1.01%(a)02.0f,B,BARO",
)

Line = bytes
Rng = np.random.Generator
INTACT, DAMAGED, BY_CHANCE = range(3)


def flip_bits(line: Line, other: Line, rng: Rng) -> Line:
    damaged = bytearray(line)
    for _ in range(int(rng.integers(1, 4))):
        damaged[int(rng.integers(len(damaged)))] ^= 1 << int(rng.integers(8))
    return bytes(damaged)


def cut(line: Line, other: Line, rng: Rng) -> Line:
    at = int(rng.integers(1, len(line)))
    return line[at:] if rng.random() < 0.5 else line[:at]


def join(line: Line, other: Line, rng: Rng) -> Line:
    return line[: int(rng.integers(1, len(line)))] + other[int(rng.integers(len(other))) :]


def insert(line: Line, other: Line, rng: Rng) -> Line:
    at = int(rng.integers(len(line)))
    return line[:at] + rng.bytes(int(rng.integers(1, 5))) + line[at:]


def delete(line: Line, other: Line, rng: Rng) -> Line:
    at = int(rng.integers(len(line)))
    return line[:at] + line[at + int(rng.integers(1, 6)) :]


def repeat(line: Line, other: Line, rng: Rng) -> Line:
    a, b = np.sort(rng.integers(0, len(line) + 1, 2)).tolist()
    return line[:b] + line[a:b] + line[b:]


def zero(line: Line, other: Line, rng: Rng) -> Line:
    at, count = int(rng.integers(len(line))), int(rng.integers(1, 30))
    return line[:at] + bytes(count) + line[at + (count if rng.random() < 0.5 else 0) :]


def raise_bytes(line: Line, other: Line, rng: Rng) -> Line:
    at = int(rng.integers(len(line)))
    high = rng.integers(128, 256, int(rng.integers(1, 6)), dtype=np.uint8).tobytes()
    return line[:at] + high + line[at + len(high) :]


MUTATIONS: tuple[Callable[[Line, Line, Rng], Line], ...] = (
    flip_bits, cut, join, insert, delete, repeat, zero, raise_bytes,
)  # fmt: skip


def good_lines() -> list[Line]:
    """Ten hours of eight sentences a second, no value like its neighbours."""
    seconds = MUTATED * GOOD_EACH // len(GOOD)
    rng = np.random.default_rng(3)
    columns = [rng.uniform(low, high, seconds).tolist() for low, high in RANGES]
    clocks = [f"{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}" for s in range(10, 10 + seconds)]
    bodies = [
        sentence % {"t": clock, **dict(zip("abcdef", row, strict=True))}
        for clock, *row in zip(clocks, *columns, strict=True)
        for sentence in GOOD
    ]
    return [line.encode("ascii") for line in with_checksums(bodies)]


def passes_by_chance(line: Line, whole: set[bytes]) -> bool:
    """Whether a damaged line holds a sentence whose XOR is right though it is none of the good ones.

    No reader can tell such a sentence from a true one: one in 256 random changes passes an eight-bit sum.
    """
    return any(
        body not in whole and reduce(xor, body, 0) == int(stated, 16)
        for body, stated in _SUMMED.findall(line)
    )


def read(data: bytes, folder: Path) -> Passage:
    path = folder / "log.nmea"
    path.write_bytes(data)
    return read_log(path)


def test_damaged_lines_say_nothing_false(tmp_path: Path) -> None:
    """A reading counts as true where a good line that its own line was made from gives the same."""
    rng = np.random.default_rng(7)
    good = good_lines()
    whole = {line[1:-3] for line in good}
    series = read(b"\r\n".join([*good, b""]), tmp_path).series
    truth = {key: np.full(len(good), np.nan) for key in series}
    for key, one in series.items():
        truth[key][one.line - 1] = one.value
    by_name = {key[:3]: values for key, values in truth.items()}
    assert len(by_name) == len(truth)

    log: list[bytes] = []
    made_from: list[tuple[int, int]] = []
    kinds: list[int] = []
    for index, line in enumerate(good):
        log.append(line)
        made_from.append((index, index))
        kinds.append(INTACT)
        if index % GOOD_EACH == 0:
            other = int(rng.integers(len(good)))
            mutate = MUTATIONS[index // GOOD_EACH % len(MUTATIONS)]
            mutant = mutate(line, good[other], rng)
            kind = BY_CHANCE if passes_by_chance(mutant, whole) else DAMAGED
            parts = re.split(rb"\r\n|\r|\n", mutant)
            log += parts
            made_from += [(index, other)] * len(parts)
            kinds += [kind] * len(parts)
    origin, kind_of = np.array(made_from), np.array(kinds)
    assert (kind_of != INTACT).sum() >= MUTATED
    assert (kind_of == BY_CHANCE).sum() < 0.015 * MUTATED  # 1 in 256, and repairs of one bit by another

    passage = read(b"\r\n".join([*log, b""]), tmp_path)
    false: list[tuple[object, bytes]] = []
    missing = {key[:3]: ~np.isnan(values) for key, values in truth.items()}
    for key, one in passage.series.items():
        row = one.line.astype(np.int64) - 1
        values = by_name.get(key[:3], np.full(len(good), np.nan))
        true = (one.value[:, None] == values[origin[row]]).any(axis=1)
        wrong = np.flatnonzero(~true & (kind_of[row] != BY_CHANCE))
        false += [((key, one.value[k]), log[row[k]]) for k in wrong]
        intact = true & (kind_of[row] == INTACT)
        if key[:3] in missing:
            missing[key[:3]][origin[row[intact], 0]] = False
    assert not false, f"{len(false)} readings, such as {false[:20]}"
    lost = {name: good[int(np.argmax(at))] for name, at in missing.items() if at.any()}
    assert not lost, f"good lines that went unread: {lost}"
    counts = passage.counts
    assert counts.accepted + sum(counts.rejected.values()) + sum(counts.ignored.values()) == counts.sentences


def test_lines_are_numbered_alike_with_and_without_a_last_line_end(tmp_path: Path) -> None:
    good = good_lines()[:8]
    for end in (b"\r\n", b""):
        passage = read(b"\r\n".join(good) + end, tmp_path)
        assert sorted({line for one in passage.series.values() for line in one.line.tolist()}) == list(
            range(1, 9)
        )
        assert passage.counts.lines == 8


@pytest.mark.parametrize("seed", range(40))
def test_rubbish_never_raises_anything_but_a_clear_error(seed: int, tmp_path: Path) -> None:
    """Random structure bytes alone, with no good line to lean on."""
    from analysis import SternlogError

    rng = np.random.default_rng(seed)
    alphabet = np.frombuffer(b"$!*,\r\n\0\\\"' \t0123456789.-AGPRMCHDWVX\xff\xfe", dtype=np.uint8)
    try:
        read(rng.choice(alphabet, 4000).tobytes(), tmp_path)
    except SternlogError as error:
        assert "\n" not in str(error)
