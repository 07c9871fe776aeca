"""One passage in many wrappings is one passage: the same readings, the same aligned frame."""

import gzip
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis import Passage, read_log
from analysis.invent import Invention, invent
from analysis.passage import Series, SourceKey

# An RMC states its time, so its readings stand where they stand whatever wraps them.
STATED = ["lat_deg", "lon_deg", "sog_kn", "cog_deg"]
SLACK_S = 0.5
ROUNDING = 1e-9


@cache
def passage() -> Invention:
    return invent("clean", seed=5, hours=1 / 3)


def bare(folder: Path) -> list[Path]:
    return [saved(folder / "log.nmea", passage().log_bytes("bare"))]


def saved(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def stamped(style: str) -> Callable[[Path], list[Path]]:
    return lambda folder: [saved(folder / "log.txt", passage().log_bytes(style))]  # type: ignore[arg-type]


def zipped(folder: Path) -> list[Path]:
    return [saved(folder / "log.nmea.gz", gzip.compress(passage().log_bytes("bare")))]


def in_utf16(folder: Path) -> list[Path]:
    return [saved(folder / "log.nmea", passage().log_bytes("bare").decode("ascii").encode("utf-16"))]


def thirds() -> dict[str, int]:
    """Names of three files and the lines before each: cut anywhere in a second, names not in order of time."""
    count = len(passage().lines)
    return {"c.nmea": 0, "a.nmea": count // 3 + 5, "b.nmea": 2 * count // 3 + 11}


def in_three_files(folder: Path) -> list[Path]:
    lines = passage().log_bytes("bare").splitlines(keepends=True)
    cuts = [*thirds().values(), len(lines)]
    for name, (first, last) in zip(thirds(), pairwise(cuts), strict=True):
        saved(folder / name, b"".join(lines[first:last]))
    return [folder]


WRAPPINGS: dict[str, Callable[[Path], list[Path]]] = {
    "iso": stamped("iso"),
    "tag": stamped("tag"),
    "csv": stamped("csv"),
    "gzip": zipped,
    "utf-16": in_utf16,
    "three files": in_three_files,
}
BYTE_FOR_BYTE = {"gzip", "utf-16"}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Passage:
    return read_log(bare(tmp_path_factory.mktemp("bare")))


@pytest.fixture(scope="module", params=WRAPPINGS)
def wrapped(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Passage]:
    return request.param, read_log(WRAPPINGS[request.param](tmp_path_factory.mktemp("wrapped")))


def key_without_device(key: SourceKey) -> tuple[str, str, str, str]:
    """A TAG block names a device: the instance carries it before a transducer's name."""
    return (*key[:3], key.instance.removeprefix("DEV").strip())


def test_the_account_is_the_same(plain: Passage, wrapped: tuple[str, Passage]) -> None:
    name, other = wrapped
    header = name == "csv"
    assert other.counts.sentences == other.counts.accepted == plain.counts.accepted == len(passage().lines)
    assert other.counts.lines == plain.counts.lines + header


def test_readings_are_the_same_within_half_a_second(plain: Passage, wrapped: tuple[str, Passage]) -> None:
    _, other = wrapped
    assert [key_without_device(key) for key in other.series] == [tuple(key) for key in plain.series]
    for key, one, here in zip(plain.series, plain.series.values(), other.series.values(), strict=True):
        assert here.value.tolist() == one.value.tolist(), key
        assert here.verified.all()
        assert np.abs(here.time_s - one.time_s).max() <= 0.5, key


def test_times_of_arrival_are_the_true_ones(plain: Passage, wrapped: tuple[str, Passage]) -> None:
    """Where the recorder stamps to the millisecond, sentences stand where they were sent, to the GNSS delay."""
    name, other = wrapped
    before = np.array([thirds().get(file, 0) for file in other.files])
    limit_s = 0.1 if name in ("iso", "csv") else SLACK_S  # GNSS sentences follow their second by up to 0.09 s
    for key, one in other.series.items():
        true_s = passage().time_s[before[one.file] + one.line - 1 - (name == "csv")]
        assert np.abs(one.time_s - true_s).max() <= limit_s, key


def test_frames_are_the_same(plain: Passage, wrapped: tuple[str, Passage]) -> None:
    name, other = wrapped
    pd.testing.assert_index_equal(other.frame.index, plain.frame.index)
    assert list(other.frame) == list(plain.frame)
    chosen = {source.key.channel: plain.series[source.key] for source in plain.sources if source.chosen}
    base_s = plain.frame.index.as_unit("ns").asi8 / 1e9
    for column in plain.frame:
        mine, bares = other.frame[column].to_numpy(), plain.frame[column].to_numpy()
        if name in BYTE_FOR_BYTE or column in STATED:
            np.testing.assert_array_equal(mine, bares, err_msg=column)
        elif column not in ("heading_true_deg", "variation_deg"):
            low, high = reachable(chosen[column], base_s)
            turned = (mine - low + ROUNDING) % 360 + low if column.endswith("_deg") else mine
            known = ~np.isnan(mine)
            assert (turned >= low - ROUNDING)[known].all(), column
            assert (turned <= high + 2 * ROUNDING)[known].all(), column
            assert np.mean(known != ~np.isnan(bares)) < 0.01, column
    true_deg = (other.frame["heading_mag_deg"] + other.frame["variation_deg"]) % 360
    np.testing.assert_allclose(other.frame["heading_true_deg"], true_deg, atol=1e-9)


def reachable(one: Series, base_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest value a source can have at each base time if each of its times is off by half a second.

    An aligned value lies between readings no further away than the source's longest step, or is a mean of those
    within half a second.
    """
    directional = one.unit == "deg"
    value = np.rad2deg(np.unwrap(np.deg2rad(one.value))) if directional else one.value
    reach_s = max(float(np.diff(one.time_s).max()), 0.5) + 2 * SLACK_S
    first = np.searchsorted(one.time_s, base_s - reach_s)
    last = np.searchsorted(one.time_s, base_s + reach_s, side="right")
    spans = [value[a:b] if b > a else np.array([np.nan]) for a, b in zip(first, last, strict=True)]
    return np.array([span.min() for span in spans]), np.array([span.max() for span in spans])
