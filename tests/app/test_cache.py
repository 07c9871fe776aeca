"""What is kept on disk: found again by content, private, bounded, and never trusted when damaged."""

import os
from dataclasses import replace
from pathlib import Path

import pytest
from passages import day_at_sea, passage_of, reviewed
from test_packing import assert_same

from analysis import Settings
from analysis.review import Review
from app import cache as cache_module
from app.cache import Cache, cache_folder, content_key

KEY = "0123456789abcdef0123"
LINE = "$GPRMC,180000,A,4951.00,N,00236.00,W,6.0,255.0,030531,,*24\n"


@pytest.fixture(scope="module")
def small() -> Review:
    frame = day_at_sea(hours=0.1)
    return reviewed(frame, counts=replace(passage_of(frame).counts, bytes=20_000))


def test_what_is_kept_is_found(tmp_path: Path, small: Review) -> None:
    cache = Cache(tmp_path / "a" / "b")
    assert cache.load(KEY) is None
    cache.keep(KEY, small)
    found = cache.load(KEY)
    assert found is not None
    assert_same(small, found)
    assert cache.load("f" * 20) is None


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps the user's folders private by other means")
def test_nobody_else_can_read_it(tmp_path: Path, small: Review) -> None:
    folder = tmp_path / "kept"
    Cache(folder).keep(KEY, small)
    (entry,) = folder.iterdir()
    assert (folder.stat().st_mode & 0o777, entry.stat().st_mode & 0o777) == (0o700, 0o600)


def test_a_damaged_entry_is_as_none_and_is_written_anew(tmp_path: Path, small: Review) -> None:
    cache = Cache(tmp_path)
    cache.keep(KEY, small)
    (entry,) = tmp_path.iterdir()
    entry.write_bytes(entry.read_bytes()[:-1000])
    assert cache.load(KEY) is None
    cache.keep(KEY, small)
    assert cache.load(KEY) is not None


def test_what_another_version_worked_out_is_not_taken(
    tmp_path: Path, small: Review, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = Cache(tmp_path)
    cache.keep(KEY, small)
    monkeypatch.setattr(cache_module, "_program", lambda: "another")
    assert cache.load(KEY) is None


def test_the_longest_unused_go_first(tmp_path: Path, small: Review) -> None:
    keys = [f"{number:020x}" for number in range(3)]
    Cache(tmp_path).keep(keys[0], small)
    (entry,) = tmp_path.iterdir()
    cache = Cache(tmp_path, limit_bytes=2 * entry.stat().st_size + 1000)
    cache.keep(keys[1], small)
    for age_s, key in ((100, keys[0]), (50, keys[1])):
        (path,) = tmp_path.glob(f"{key}*")
        os.utime(path, (path.stat().st_mtime - age_s,) * 2)
    assert cache.load(keys[0]) is not None  # used: now younger than the second
    cache.keep(keys[2], small)
    assert [cache.load(key) is not None for key in keys] == [True, False, True]


def test_a_log_larger_than_the_limit_is_not_kept(tmp_path: Path, small: Review) -> None:
    Cache(tmp_path, limit_bytes=small.passage.counts.bytes - 1).keep(KEY, small)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_no_error(tmp_path: Path, small: Review) -> None:
    (tmp_path / "file").write_text("in the way")
    cache = Cache(tmp_path / "file" / "kept")
    cache.keep(KEY, small)
    assert cache.load(KEY) is None


def test_a_key_is_of_names_bytes_and_settings(tmp_path: Path) -> None:
    logs = [tmp_path / "a" / "one.nmea", tmp_path / "b" / "one.nmea", tmp_path / "b" / "two.nmea"]
    for log in logs:
        log.parent.mkdir(exist_ok=True)
        log.write_text(LINE)
    key = content_key([logs[0]], Settings())
    assert content_key([logs[1]], Settings()) == key
    assert content_key([logs[2]], Settings()) != key
    assert content_key([logs[0], logs[2]], Settings()) != key
    assert content_key([logs[0]], Settings(corrections={"log_factor": 1.1})) != key
    beside = content_key([logs[0]], Settings(company=logs[2]))
    assert beside != key
    logs[2].write_text(LINE * 2)
    assert content_key([logs[0]], Settings(company=logs[2])) != beside
    logs[0].write_text(LINE.replace("6.0", "6.1"))
    assert content_key([logs[0]], Settings()) != key


def test_the_folder_is_the_one_the_system_names(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(cache_module.sys, "platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "sternlog" / "passages"
    monkeypatch.setenv(
        "XDG_CACHE_HOME", "not/absolute"
    )  # to be ignored, says the XDG base directory specification
    assert cache_folder() == Path.home() / ".cache" / "sternlog" / "passages"
    monkeypatch.setattr(cache_module.sys, "platform", "darwin")
    assert cache_folder() == Path.home() / "Library" / "Caches" / "sternlog" / "passages"
    monkeypatch.setattr(cache_module.sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path))
    assert cache_folder() == tmp_path / "sternlog" / "passages"
