"""Logs on their way to the desk: by path or sent, from the cache, watched, broken off, refused in one sentence."""

import io
import threading
import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import pytest
from passages import desk_with

from analysis.errors import LogError
from analysis.review import Review
from app import opening
from app.cache import Cache
from app.desk import Desk
from app.folder import Folder
from app.opening import Job, Opener
from app.server import new_desk

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 30.0
LINES = "".join(
    f"$GPRMC,18{second // 60:02d}{second % 60:02d},A,49{51 + second / 600:06.3f},N,00236.000,W,6.0,0.0,030531,,\n"
    for second in range(240)
).encode()


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    root = tmp_path / "logs"
    root.mkdir()
    (root / "a.nmea").write_bytes(LINES)
    (root / "b.nmea").write_bytes(LINES.replace(b"$GPRMC,18", b"$GPRMC,19"))
    (root / "none.txt").write_bytes(b"nothing\n")
    return Folder(root)


@pytest.fixture
def desk() -> Desk:
    return desk_with()


@pytest.fixture
def opener(desk: Desk, folder: Folder) -> Iterator[Opener]:
    made = Opener(desk, folder=folder)
    yield made
    made.close()


def ended(job: Job) -> Job:
    until = time.monotonic() + PATIENCE_S
    while not job.over:
        assert time.monotonic() < until, job
        time.sleep(0.01)
    return job


def sent(opener: Opener, files: dict[str, bytes], step: int = 4096) -> Job:
    job = opener.expect([(name, len(content)) for name, content in files.items()])
    for number, content in enumerate(files.values()):
        for start in range(0, len(content), step):
            part = io.BytesIO(content[start : start + step])
            assert opener.receive(job.id, number, start, part) == min(start + step, len(content))
    return job


def test_logs_are_opened_by_path_alone_or_as_one_passage(opener: Opener, desk: Desk) -> None:
    one, both = ended(opener.open_paths(["a.nmea"])), ended(opener.open_paths(["a.nmea", "b.nmea"]))
    assert [job.error for job in (one, both)] == ["", ""]
    assert [desk.find(job.key).name for job in (one, both)] == ["a.nmea", "a.nmea and 1 more"]  # type: ignore[union-attr]
    assert both.name == "a.nmea and 1 more"


def test_a_path_that_leads_out_is_refused(opener: Opener) -> None:
    for paths in ([], ["../x"], ["a.nmea", "/etc/passwd"]):
        with pytest.raises(LogError):
            opener.open_paths(paths)
    assert opener.jobs() == []


def test_files_sent_are_the_passage_of_the_same_files_by_path(opener: Opener, desk: Desk) -> None:
    key = ended(opener.open_paths(["a.nmea"])).key
    job = ended(sent(opener, {"a.nmea": LINES}))
    assert job.key == key
    assert len(desk.all()) == 1
    assert not [path for path in job.files if path.exists()]


def test_files_sent_are_kept_once_while_their_passage_may_ask_for_them(opener: Opener) -> None:
    first, second = (ended(sent(opener, {"a.nmea": LINES})) for _ in range(2))
    assert opener.files(first.key) == first.files
    assert first.files[0].read_bytes() == LINES
    assert not second.files[0].exists()


def test_names_sent_lead_nowhere(opener: Opener) -> None:
    names = [
        "../../x.nmea",
        "/etc/x.nmea",
        "..\\x.nmea",
        "C:x.nmea",
        ".x.nmea",
        "..",
        "",
        "a\0b\n.nmea",
        "y" * 400,
    ]
    job = opener.expect([(name, 1) for name in names])
    base = job.files[0].parents[1]
    assert all(path.parent.parent == base and path.is_file() for path in job.files)
    kept = ["x.nmea", "x.nmea", "x.nmea", "C_x.nmea", "x.nmea", "log", "log", "a_b_.nmea", "y" * 120]
    assert [path.name for path in job.files] == kept


def test_what_does_not_follow_on_is_refused(opener: Opener) -> None:
    job = opener.expect([("a.nmea", 10)])
    opener.receive(job.id, 0, 0, io.BytesIO(b"12345"))
    for start, content, why in (
        (0, b"1", "wrong order"),
        (6, b"1", "wrong order"),
        (5, b"123456", "changed"),
    ):
        with pytest.raises(LogError, match=why):
            opener.receive(job.id, 0, start, io.BytesIO(content))
    for which, number in ((job.id, 1), (job.id, -1), ("none", 0)):
        with pytest.raises(LogError, match="not awaited"):
            opener.receive(which, number, 0, io.BytesIO(b"1"))


def test_a_file_sent_never_lies_in_memory(opener: Opener) -> None:
    size = 64 << 20

    class Endless(io.RawIOBase):
        left = size

        def read(self, count: int = -1) -> bytes:
            count = min(count, self.left)
            self.left -= count
            return bytes(count)

    job = opener.expect([("large.nmea", size + 1)])
    tracemalloc.start()
    try:
        assert opener.receive(job.id, 0, 0, Endless()) == size  # type: ignore[arg-type]
        assert tracemalloc.get_traced_memory()[1] < 1 << 20
    finally:
        tracemalloc.stop()


def test_what_is_no_log_is_refused_in_one_sentence_without_folders(opener: Opener, folder: Folder) -> None:
    jobs = [ended(opener.open_paths(["none.txt"])), ended(sent(opener, {"none.txt": b"nothing\n", "e": b""}))]
    assert jobs[0].error.startswith("none.txt: no NMEA 0183 sentence found")
    assert jobs[1].error.startswith("none.txt, e: no NMEA 0183 sentence found")


def test_reading_is_broken_off(opener: Opener, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    begun, go_on, outcome = threading.Event(), threading.Event(), []
    whole = opening.review

    def review(*given: object, **watched: object) -> Review:
        begun.set()
        assert go_on.wait(PATIENCE_S)
        try:
            return whole(*given, **watched)  # type: ignore[arg-type]
        except Exception as error:
            outcome.append(type(error).__name__)
            raise

    monkeypatch.setattr(opening, "review", review)
    job = opener.open_paths(["a.nmea"])
    assert begun.wait(PATIENCE_S)
    opener.break_off(job.id)
    go_on.set()
    ended(opener.open_paths(["b.nmea"]))  # runs after it
    assert outcome == ["_BrokenOffError"]
    assert (job.key, job.error) == ("", "")
    assert [opened.name for opened in desk.all()] == ["b.nmea"]


@pytest.mark.parametrize("step", ["screening", "calibrating", "correcting", "judging"])
def test_each_step_after_reading_can_be_broken_off(
    opener: Opener, desk: Desk, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def tell(job: Job | None, stage: str) -> None:
        assert job is not None
        if stage == opening._STEPS[step]:
            job.broken_off.set()
        whole(job, stage)

    whole = opening._tell
    monkeypatch.setattr(opening, "_tell", tell)
    job = ended(opener.open_paths(["a.nmea"]))
    ended_after = ended(opener.open_paths(["none.txt"]))
    assert (job.key, job.error, desk.all()) == ("", "", [])
    assert ended_after.error


def test_progress_comes_to_the_whole(opener: Opener, folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[str, int, int | None]] = []

    def tell(job: Job | None, stage: str) -> None:
        assert job is not None
        seen.append((job.stage, job.done_bytes, job.total_bytes))
        whole(job, stage)

    whole = opening._tell
    monkeypatch.setattr(opening, "_tell", tell)
    ended(opener.open_paths(["a.nmea", "b.nmea"]))
    total = 2 * len(LINES)
    assert ("Reading", total, total) in seen


def test_sending_is_broken_off_and_leaves_nothing(opener: Opener) -> None:
    job = opener.expect([("a.nmea", 10)])
    opener.receive(job.id, 0, 0, io.BytesIO(b"12345"))
    opener.break_off(job.id)
    assert not job.files[0].exists()
    with pytest.raises(LogError, match="not awaited"):
        opener.receive(job.id, 0, 5, io.BytesIO(b"12345"))


def test_closing_leaves_nothing(desk: Desk) -> None:
    opener = Opener(desk)
    job = opener.expect([("a.nmea", 10)])
    place = job.files[0].parents[2]
    assert place.is_dir()
    opener.close()
    assert not place.exists()


def test_a_mistake_of_ours_is_told_as_such(
    opener: Opener, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def review(*_: object, **__: object) -> Review:
        raise ZeroDivisionError

    monkeypatch.setattr(opening, "review", review)
    job = ended(opener.open_paths(["a.nmea"]))
    assert job.error == "a.nmea could not be worked out (ZeroDivisionError), by a mistake of ours."
    assert "ZeroDivisionError" in caplog.text


def test_an_address_outlives_the_program(
    folder: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache = Cache(tmp_path / "kept")
    opener = Opener(new_desk(cache), folder=folder, cache=cache)
    key = ended(opener.open_paths(["a.nmea"])).key
    opener.close()

    def review(*_: object, **__: object) -> Review:
        raise AssertionError("read again")

    monkeypatch.setattr(opening, "review", review)
    later = new_desk(Cache(tmp_path / "kept"))
    found = later.find(key)
    assert found is not None
    assert found.name == "a.nmea"
    assert later.find(key) is found
    again = Opener(new_desk(), folder=folder, cache=cache)
    assert ended(again.open_paths(["a.nmea"])).key == key
    again.close()
    assert new_desk().find(key) is None
