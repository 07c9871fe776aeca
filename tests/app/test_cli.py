"""The commands as a user meets them: exit codes, streams, files, and every mistake told in one line."""

import dataclasses
import errno
import io
import json
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest

import analysis
from analysis.errors import LogError
from analysis.invent import SCENARIOS
from analysis.review import Review
from app import cli, opening, server
from app.addresses import address
from app.desk import Desk
from app.lan import Lan
from app.opening import Opener

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine minutes of an invented passage."""
    path = tmp_path_factory.mktemp("logs") / "morning.nmea"
    assert cli.main(["invent", "--scenario", "clean", "--hours", "0.15", "--to", str(path)]) == 0
    return path


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """Run a command that must fail with 2 and one line on stderr; return that line."""
    assert cli.main([str(argument) for argument in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("sternlog: ")
    assert err.count("\n") == 1
    return err


def misused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    with pytest.raises(SystemExit) as stop:
        cli.main([str(argument) for argument in arguments])
    assert stop.value.code == 2
    return capsys.readouterr().err


def run(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "app", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload,no-any-return]


# check


def test_check_tells_on_the_terminal(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", str(log)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Recording\n")
    assert "Not for navigation" in out
    assert err == ""


def test_check_writes_nothing_but_json_to_a_dash(
    log: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert cli.main(["check", "--json", "-", str(log)]) == 0
    out, err = capfdbinary.readouterr()
    check = json.loads(out)
    assert check["log"]["files"] == ["morning.nmea"]
    assert check["log"]["sentences"] > 1000
    assert check["summary"]["duration_h"] == pytest.approx(0.15, abs=0.01)  # nine minutes were asked for
    assert err == b""


def test_check_writes_json_beside_the_text(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "check.json"
    assert cli.main(["check", str(log), "--json", str(target)]) == 0
    assert json.loads(target.read_text("utf-8"))["schema"] == "sternlog.check/1"
    assert "Not for navigation" in capsys.readouterr().out


@pytest.mark.parametrize(("severity", "strict", "code"), [("fault", 1, 1), ("advice", 1, 0), ("fault", 0, 0)])
def test_strict_fails_on_a_fault_alone(
    small_review: Review, monkeypatch: pytest.MonkeyPatch, severity: str, strict: int, code: int
) -> None:
    found = dataclasses.replace(small_review.findings[0], severity=severity)
    judged = dataclasses.replace(small_review, findings=(found,))
    monkeypatch.setattr(analysis, "review", lambda *_: judged)
    assert cli.main(["check", "any.log", *["--strict"] * strict]) == code


def test_the_date_reaches_the_reader(small_review: Review, monkeypatch: pytest.MonkeyPatch) -> None:
    given = []

    def review(logs: list[Path], settings: analysis.Settings) -> Review:
        given.append((logs, settings.date))
        return small_review

    monkeypatch.setattr(analysis, "review", review)
    assert cli.main(["check", "a.log", "b.log", "--date", "2026-06-01"]) == 0
    assert given == [([Path("a.log"), Path("b.log")], pd.Timestamp("2026-06-01").date())]


# review


@dataclass
class Served:
    """What `review` served, and how."""

    desk: Desk
    folder: str
    port: int
    open_browser: bool
    path: str
    lan: Lan | None


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Served]:
    given: list[Served] = []

    def serve(
        desk: Desk, opener: Opener, port: int, open_browser: bool, path: str = "/", lan: Lan | None = None
    ) -> None:
        assert opener.folder is not None
        given.append(Served(desk, opener.folder.name, port, open_browser, path, lan))

    monkeypatch.setattr(server, "serve", serve)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "cache"))
    return given


@pytest.mark.parametrize(
    ("options", "expected"), [([], (0, True)), (["--port", "8123", "--no-browser"], (8123, False))]
)
def test_review_serves_the_passage(
    log: Path, served: list[Served], options: list[str], expected: tuple[int, bool]
) -> None:
    assert cli.main(["review", str(log), *options]) == 0
    (one,) = served
    (opened,) = one.desk.all()
    assert opened.name == log.name
    assert (one.port, one.open_browser) == expected
    assert (one.path, one.lan) == (address(opened.key), None)


def test_review_without_a_log_serves_the_page_that_opens_one(served: list[Served], tmp_path: Path) -> None:
    assert cli.main(["review", "--folder", str(tmp_path)]) == 0
    (one,) = served
    assert (one.path, one.folder, one.desk.all()) == ("/", str(tmp_path.resolve()), [])


def test_review_of_no_folder_is_one_clear_sentence(
    served: list[Served], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["review", "--folder", "no/such/folder"]) == 2
    assert served == []
    assert "no/such/folder: there is no such folder" in capsys.readouterr().err.replace("\\", "/")


def test_review_works_a_log_out_once(
    log: Path, served: list[Served], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert cli.main(["review", str(log)]) == 0
    (_kept,) = (tmp_path / "cache").rglob("*.npz")

    def review(*_: object, **__: object) -> Review:
        raise AssertionError("read again")

    monkeypatch.setattr(opening, "review", review)
    assert cli.main(["review", str(log)]) == 0
    assert served[0].path == served[1].path
    with pytest.raises(AssertionError, match="read again"):
        cli.main(["review", str(log), "--no-cache"])


def test_review_over_the_network_is_asked_for(served: list[Served], tmp_path: Path) -> None:
    for options in (["--lan"], ["--lan", "127.0.0.9"]):
        assert cli.main(["review", "--folder", str(tmp_path), *options]) == 0
    assert [one.lan.host for one in served if one.lan] == ["0.0.0.0", "127.0.0.9"]


# export


@pytest.mark.parametrize("ending", ["csv", "parquet", "gpx", "geojson"])
def test_export_writes_each_format(log: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"out.{ending}"
    assert cli.main(["export", str(log), "--to", str(target)]) == 0
    text = target.read_bytes()
    assert text.count(b"<trkpt") > 500 if ending == "gpx" else len(text) > 10_000


@pytest.mark.parametrize("ending", ["csv", "parquet"])
def test_export_writes_the_readings(log: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"out.{ending}"
    assert cli.main(["export", str(log), "--readings", "--to", str(target)]) == 0
    table = pd.read_csv(target) if ending == "csv" else pd.read_parquet(target)
    assert set(table["channel"]) >= {"lat_deg", "sog_kn", "stw_kn", "awa_deg", "heading_mag_deg"}
    assert table["verified"].all()
    assert table["line"].is_monotonic_increasing


def test_an_export_never_replaces_the_log(
    log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "log.csv"
    own.write_bytes(log.read_bytes())
    for given in (own, tmp_path):
        assert "among the logs given" in refused(capsys, "export", given, "--to", own)
        assert "among the logs given" in refused(capsys, "check", given, "--json", own)
    assert own.read_bytes() == log.read_bytes()


@pytest.mark.parametrize(
    ("name", "said"), [("out.xlsx", "ends in .xlsx"), ("out", "no ending"), ("o.gpx", "")]
)
def test_a_wrong_ending_is_told_before_reading(
    capsys: pytest.CaptureFixture[str], name: str, said: str
) -> None:
    readings = ["--readings"] if name == "o.gpx" else []
    line = refused(capsys, "export", "missing.log", *readings, "--to", name)
    assert said in line
    assert ".csv" in line
    assert "missing.log" not in line


def test_a_missing_folder_is_told_before_reading(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = refused(capsys, "export", "missing.log", "--to", tmp_path / "no" / "out.csv")
    assert "no folder" in line


def test_a_full_disk_leaves_the_old_file(
    log: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "disk is full" in refused(capsys, "export", log, "--to", target)
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
    assert target.read_text() == "old"


# mistakes with logs


@pytest.mark.parametrize("command", [["check"], ["export", "--to", "never.csv"]])
@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "no such file"),
        (b"", "empty"),
        (b"Dear diary, a fine day.\n" * 50, "no NMEA 0183 sentence"),
        (bytes(range(256)) * 200, "no NMEA 0183 sentence"),
    ],
    ids=["missing", "empty", "text", "binary"],
)
def test_a_file_that_is_no_log_is_told(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: list[str],
    content: bytes | None,
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "a.log"
    if content is not None:
        path.write_bytes(content)
    line = refused(capsys, *command, path)
    assert said in line
    assert "a.log" in line
    assert not (tmp_path / "never.csv").exists()


def test_a_folder_without_logs_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert str(tmp_path) in refused(capsys, "check", tmp_path)
    (tmp_path / "letter.txt").write_text("no sentence here\n")
    assert "no NMEA 0183 sentence" in refused(capsys, "check", tmp_path)


def test_a_log_that_may_not_be_read_is_told(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened = Path.open

    def refuse(self: Path, *arguments: object, **options: object) -> object:
        if self.name == log.name:
            raise PermissionError(errno.EACCES, "Permission denied", str(self))
        return opened(self, *arguments, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    assert "not permitted" in refused(capsys, "check", log)


def test_a_log_without_any_date_is_checked_and_sent_to_the_readings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bare.log"
    path.write_bytes(b"$SDDPT,2.4,0.5*54\r\n$SDDPT,2.5,0.5*55\r\n")  # checksums by hand: XOR of the body
    assert cli.main(["check", str(path)]) == 0
    assert "the recording holds no time" in capsys.readouterr().out
    assert "--date" in refused(capsys, "export", path, "--to", tmp_path / "out.csv")
    assert cli.main(["export", str(path), "--readings", "--to", str(tmp_path / "out.csv")]) == 0
    rows = (tmp_path / "out.csv").read_text().splitlines()
    assert ",bare.log,1,SD,DPT,depth_m,2.4,m,true" in rows


# usage


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "COMMAND"),
        (["check"], "LOG"),
        (["check", "a.log", "--date", "1 June"], "YYYY-MM-DD"),
        (["export", "a.log"], "--to"),
        (["review", "a.log", "--port", "70000"], "not a port"),
        (["invent", "--to", "a.log"], "--scenario"),
        (["invent", "--scenario", "clean", "--seed", "-1"], "whole number"),
        (["embark", "a.log"], "embark"),
    ],
)
def test_wrong_usage_exits_with_two(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert said in misused(capsys, *arguments)


def test_help_is_quick() -> None:
    """0.4 s is the limit asked for; the best of five keeps other work on the machine out of it."""
    seconds = []
    for _ in range(5):
        start = time.perf_counter()
        assert run("--help").returncode == 0
        seconds.append(time.perf_counter() - start)
    assert min(seconds) < 0.4


def test_patterns_are_expanded_where_the_shell_does_not(tmp_path: Path) -> None:
    for name in ("b.log", "a.log", "c.txt"):
        (tmp_path / name).touch()
    assert cli._expanded([f"{tmp_path}/*.log"]) == [f"{tmp_path}/a.log", f"{tmp_path}/b.log"]
    assert cli._expanded(["plain.log", f"{tmp_path}/*.nmea"]) == ["plain.log", f"{tmp_path}/*.nmea"]


# invent


def test_invent_lists_every_scenario(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["invent", "--list"]) == 0
    listed = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    assert listed == list(SCENARIOS)


def test_invent_writes_the_truth_beside_the_log(log: Path) -> None:
    truth = json.loads((log.parent / "morning.truth.json").read_text("utf-8"))
    assert truth["scenario"] == "clean"


def test_invent_tells_mistakes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "--to" in refused(capsys, "invent", "--scenario", "clean")
    target = tmp_path / "a.nmea"
    assert "open-passage" in refused(capsys, "invent", "--scenario", "storm", "--to", target)
    assert "hours" in refused(capsys, "invent", "--scenario", "clean", "--hours", "-1", "--to", target)
    assert list(tmp_path.iterdir()) == []


# the streams and the keyboard


def test_an_interruption_is_quiet(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(analysis, "review", interrupted)
    assert cli.main(["check", "any.log"]) == 130
    assert capsys.readouterr() == ("", "")


def test_a_reader_that_leaves_early_is_no_fault() -> None:
    command = (
        f"{sys.executable} -m app check sample_logs/swing-day.nmea.gz --json - | head -c 10; echo $PIPESTATUS"
    )
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.startswith('{"schema":')
    assert done.stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_output_to_a_full_disk_is_told_in_one_line(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with Path("/dev/full").open("w") as full:
        monkeypatch.setattr(sys, "stdout", full)
        assert cli.main(["check", str(log)]) == 2
    assert capsys.readouterr().err == "sternlog: the output: No space left on device.\n"


def test_a_terminal_that_knows_only_ascii_is_no_fault(
    log: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with io.TextIOWrapper(io.BytesIO(), encoding="ascii") as terminal:
        monkeypatch.setattr(sys, "stdout", terminal)
        assert cli.main(["check", str(log)]) == 0
        assert b"Not for navigation" in terminal.buffer.getvalue()
    assert capsys.readouterr().err == ""


def test_a_mistake_shows_no_traceback() -> None:
    done = run("check", "no-such.log")
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr


def test_an_error_of_the_reader_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def unreadable(*_: object) -> None:
        raise LogError("a.log: cannot be read; copy it to this machine.")

    monkeypatch.setattr(analysis, "review", unreadable)
    assert refused(capsys, "check", "a.log") == "sternlog: a.log: cannot be read; copy it to this machine.\n"
