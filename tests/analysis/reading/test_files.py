"""What may be given as a log, and what is said of what cannot be read."""

import os
import stat
import zipfile
from pathlib import Path

import pytest
from written import fact_ids, read_text, said, seconds, sentence, times

import analysis
from analysis import LogError, read_log

HEADING = sentence("HCHDM,90.0,M")


def rmc(time: str, date: str = "010620") -> str:
    return sentence(f"GPRMC,{time},A,5000.0,N,00100.0,W,5.0,090.0,{date},,,A")


def one_sentence(error: pytest.ExceptionInfo[LogError]) -> str:
    text = str(error.value)
    assert text.endswith((".", "…"))
    assert "\n" not in text
    assert "Traceback" not in text
    return text


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no such file or folder; check the path") as error:
        read_log(tmp_path / "nowhere.log")
    assert str(tmp_path / "nowhere.log") in one_sentence(error)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "the file is empty"),
        (b"\n", "no NMEA 0183 sentence found"),
        (b"timestamp,message\nfoobar\n", "no NMEA 0183 sentence found"),
        (b"price $5,000! and 3 * 4", "no NMEA 0183 sentence found"),
        (bytes(range(256)) * 40, "no NMEA 0183 sentence found"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(100)), "no NMEA 0183 sentence found"),
        (b"\0" * 5000, "no NMEA 0183 sentence found"),
        (b"PK\x03\x04 and then nothing", "zip archive is damaged"),
        (b'{"class":"XXX","text":"U can\'t"}\n', "no NMEA 0183 sentence found"),
    ],
)
def test_a_file_without_a_sentence_is_said_so(content: bytes, says: str, tmp_path: Path) -> None:
    with pytest.raises(LogError, match=says) as error:
        read_text(tmp_path, content)
    assert str(tmp_path / "a.log") in one_sentence(error)


def test_an_empty_folder_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="the folder holds no file") as error:
        read_log(tmp_path)
    assert one_sentence(error)


def test_a_folder_of_hidden_files_holds_none(tmp_path: Path) -> None:
    (tmp_path / ".hidden.log").write_text(HEADING)
    with pytest.raises(LogError, match="the folder holds no file"):
        read_log(tmp_path)


def test_a_folder_without_logs_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("left at dawn")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0" + bytes(100))
    with pytest.raises(LogError, match="no NMEA 0183 sentence found") as error:
        read_log(tmp_path)
    assert one_sentence(error)


def test_what_is_no_log_in_a_folder_is_left_out_and_named(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "b.log").write_text(HEADING)
    (tmp_path / "notes.txt").write_text("left at dawn")
    passage = read_log(tmp_path)
    assert passage.files == ("b.log",)
    assert [fact.text for fact in passage.facts if fact.id == "no-sentence"] == [
        "notes.txt holds no NMEA 0183 sentence and is left out."
    ]


def test_no_path_at_all_is_said_so() -> None:
    with pytest.raises(LogError):
        read_log([])


@pytest.mark.parametrize(
    "error", [PermissionError(13, "Permission denied"), OSError(5, "Input/output error")]
)
def test_a_file_that_cannot_be_opened_is_said_so(
    error: OSError, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.log").write_text(HEADING)

    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(
        LogError, match="not permitted; change" if error.errno == 13 else "cannot be read"
    ) as raised:
        read_log(tmp_path / "a.log")
    assert str(tmp_path / "a.log") in one_sentence(raised)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may read everything"
)
def test_a_file_without_permission_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    path.write_text(HEADING)
    path.chmod(stat.S_IWUSR)
    with pytest.raises(LogError, match="not permitted"):
        read_log(path)


def test_a_folder_without_permission_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "is_dir", refuse)
    with pytest.raises(LogError, match="not permitted"):
        read_log(tmp_path)


def test_a_locked_zip_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.log", HEADING)
    content = bytearray(path.read_bytes())
    entry = content.index(b"PK\x01\x02")
    for flags in (6, entry + 8):
        content[flags] |= 1  # the bit that says a member is encrypted
    path.write_bytes(content)
    with pytest.raises(LogError, match="locked with a password") as error:
        read_log(path)
    assert one_sentence(error)


def test_a_damaged_zip_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.log", HEADING * 100)
    path.write_bytes(path.read_bytes()[:-30])
    with pytest.raises(LogError, match="zip archive is damaged"):
        read_log(path)


@pytest.mark.parametrize("as_text", [True, False])
def test_one_path_may_stand_alone(as_text: bool, tmp_path: Path) -> None:
    (tmp_path / "a.log").write_text(HEADING)
    path = tmp_path / "a.log"
    assert read_log(str(path) if as_text else path).counts.sentences == 1


def test_the_same_file_twice_is_read_once(tmp_path: Path) -> None:
    (tmp_path / "a.log").write_text(HEADING)
    (tmp_path / "copy.log").write_text(HEADING)
    passage = read_log([tmp_path / "a.log", tmp_path / "a.log", tmp_path / "copy.log"])
    assert passage.files == ("a.log",)
    assert passage.counts.sentences == 1
    assert [fact.text for fact in passage.facts if fact.id == "same-file"] == [
        "a.log is given twice and is read once.",
        "copy.log holds the same as a.log and is read once.",
    ]


def test_files_are_joined_in_time_whatever_their_order(tmp_path: Path) -> None:
    hours = {"first.log": "080000", "second.log": "090000", "third.log": "100000"}
    for name, time in hours.items():
        lines = [rmc(f"{time[:5]}{second}.00") for second in range(3)]
        (tmp_path / name).write_text("\r\n".join(lines))
    passage = read_log([tmp_path / name for name in ("third.log", "first.log", "second.log")])
    (speed,) = (one for key, one in passage.series.items() if key.channel == "sog_kn")
    starts = [seconds(f"2020-06-01T{hour}:00:00") for hour in ("08", "09", "10")]
    assert speed.time_s.tolist() == [start + second for start in starts for second in range(3)]
    assert passage.files == ("third.log", "first.log", "second.log")
    assert speed.file.tolist() == [1, 1, 1, 2, 2, 2, 0, 0, 0]
    assert speed.line.tolist() == [1, 2, 3] * 3
    assert [(gap.start_s, gap.end_s) for gap in passage.gaps] == [
        (starts[0] + 2, starts[1]),
        (starts[1] + 2, starts[2]),
    ]


def test_a_passage_over_two_files_counts_both(tmp_path: Path) -> None:
    (tmp_path / "a.log").write_bytes(f"{rmc('080000.00')}\r\n$HCHDM,1.0,M*00\r\n".encode())
    (tmp_path / "b.log").write_bytes(f"{HEADING}\r\n{rmc('080001.00')}\r\n$HCHDM,1.0,M*00\r\n".encode())
    counts = read_log(tmp_path).counts
    assert counts.bytes == sum(path.stat().st_size for path in tmp_path.iterdir())
    assert (counts.lines, counts.sentences, counts.accepted) == (5, 5, 3)
    assert counts.rejected == {"checksum": 2}
    assert counts.first_lines == {"checksum": ("a.log:2", "b.log:3")}


def test_progress_adds_up_to_the_bytes_read(tmp_path: Path) -> None:
    for name in ("a.log", "b.log"):
        (tmp_path / name).write_bytes(f"{name} {HEADING}\r\n".encode() * 1000)
    steps: list[int] = []
    passage = read_log(tmp_path, progress=steps.append)
    assert sum(steps) == passage.counts.bytes > 0


def test_a_log_without_any_time_still_says_what_it_heard(tmp_path: Path) -> None:
    passage = read_text(tmp_path, HEADING)
    assert said(passage) == {"HCHDM heading_mag_deg": [90.0]}
    assert passage.frame.empty
    assert {"no-time", "no-position", "no-wind"} <= fact_ids(passage)
    assert passage.time_basis == "none"


def test_a_name_with_odd_characters_is_no_hindrance(tmp_path: Path) -> None:
    passage = read_text(tmp_path, rmc("080000.00"), "Törn, Tag 1 (Süd).log")
    assert passage.files == ("Törn, Tag 1 (Süd).log",)
    assert times(passage, "sog_kn") == [seconds("2020-06-01T08:00:00")]


def test_review_says_the_same_of_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no such file"):
        analysis.review(tmp_path / "nowhere.log")
