"""The folder on offer: its logs, and nothing outside it."""

import os
from pathlib import Path

import pytest

from analysis.errors import LogError
from app import folder as folder_module
from app.folder import Folder

SENTENCE = b"$GPRMC,180000,A,4951.00,N,00236.00,W,6.0,255.0,030531,,\r\n"
OUTSIDE = [
    "..",
    "../outside.nmea",
    "sub/../../outside.nmea",
    "/etc/passwd",
    "sub/../../chosen/../outside.nmea",
    ".hidden.nmea",
    ".git/config",
    "sub/.hidden/log.nmea",
    "not-there.nmea",
    "morning.nmea/x",
    "a\0b",
    "x" * 5000,
]


@pytest.fixture
def chosen(tmp_path: Path) -> Path:
    root = tmp_path / "chosen"
    (root / "sub" / ".hidden").mkdir(parents=True)
    (root / ".git").mkdir()
    for name in ("morning.nmea", ".hidden.nmea", "sub/.hidden/log.nmea", "sub/evening.txt", ".git/config"):
        (root / name).write_bytes(b"# a first line\n" + SENTENCE)
    (root / "packed.nmea.gz").write_bytes(b"\x1f\x8b")
    (root / "wide.log").write_bytes(b"\xff\xfe" + SENTENCE.decode().encode("utf-16-le"))
    (root / "notes.txt").write_text("Bought $5, then !PAID, home.")
    (tmp_path / "outside.nmea").write_bytes(SENTENCE)
    return root


def test_logs_are_listed_the_newest_first(chosen: Path) -> None:
    for age, name in enumerate(("wide.log", "morning.nmea", "packed.nmea.gz")):
        os.utime(chosen / name, (1e9 - age, 1e9 - age))
    listing = Folder(chosen).listing()
    assert [log.name for log in listing.logs] == ["wide.log", "morning.nmea", "packed.nmea.gz"]
    assert (listing.logs[1].bytes, listing.logs[1].modified_ms) == (len(SENTENCE) + 15, (1e9 - 1) * 1000)
    assert [one.path for one in listing.folders] == ["sub"]
    assert (listing.above, listing.cut) == (None, False)


def test_a_folder_below_leads_back_up(chosen: Path) -> None:
    listing = Folder(chosen).listing("sub")
    assert [(log.name, log.path) for log in listing.logs] == [("evening.txt", "sub/evening.txt")]
    assert (listing.path, listing.above, listing.folders) == ("sub", "", ())
    assert Folder(chosen).inside("sub/evening.txt") == (chosen / "sub" / "evening.txt").resolve()


@pytest.mark.parametrize("path", OUTSIDE)
def test_what_lies_outside_or_is_hidden_is_refused(chosen: Path, path: str) -> None:
    with pytest.raises(LogError, match="is not among the recordings of"):
        Folder(chosen).inside(path)


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege there")
def test_a_link_that_leads_out_is_neither_listed_nor_opened(chosen: Path) -> None:
    (chosen / "link.nmea").symlink_to(chosen.parent / "outside.nmea")
    (chosen / "way-out").symlink_to(chosen.parent)
    (chosen / "inside.nmea").symlink_to(chosen / "morning.nmea")
    listing = Folder(chosen).listing()
    assert {log.name for log in listing.logs} == {"morning.nmea", "inside.nmea", "packed.nmea.gz", "wide.log"}
    assert [one.name for one in listing.folders] == ["sub"]
    for path in ("link.nmea", "way-out", "way-out/outside.nmea"):
        with pytest.raises(LogError):
            Folder(chosen).inside(path)


def test_a_folder_too_full_says_so(chosen: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder_module, "MOST", 2)
    listing = Folder(chosen).listing()
    assert listing.cut
    assert len(listing.logs) + len(listing.folders) <= 2


def test_no_folder_is_one_clear_sentence(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="there is no such folder; check the path"):
        Folder(tmp_path / "none")
