"""A log sent again: in time, whole, to many at once, over TCP and UDP, and only where it may go."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest

from analysis import read_log
from analysis.errors import SettingError
from analysis.invent import invent
from analysis.phrasing import with_checksums
from analysis.reading.spoken import spoken_parts
from analysis.spoken import Pacing, Spoken
from analysis.writing import spooled
from analysis.writing.invention import write_invention
from app import cli
from app.resend import ResendError, Sending, TcpSender, send_udp

ROOT = Path(__file__).resolve().parents[2]
Got = TypeVar("Got")
LATE_S = 0.25  # a busy machine of two cores; nothing is ever early


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six minutes of an invented passage."""
    path = tmp_path_factory.mktemp("log") / "morning.nmea"
    write_invention(invent("clean", 1, 0.1), path)
    return path


def sending(times: list[float], pace: float = 1.0, loop: bool = False, filler: str = "") -> Sending:
    """Numbered sentences at these times."""
    lines = with_checksums([f"U1TXT,{k}{filler}" for k in range(len(times))])
    end = np.cumsum([len(line) for line in lines])
    text = np.frombuffer("".join(lines).encode(), dtype=np.uint8)
    spoken = Spoken(text, end - [len(line) for line in lines], end, np.array(times))
    return Sending(spoken, Pacing(spoken.time_s, pace, loop))


def whole(what: Sending) -> bytes:
    return what.spoken.lines(0, len(what.spoken))


def quiet(_: str) -> None:
    pass


@contextmanager
def sender(what: Sending) -> Iterator[tuple[TcpSender, threading.Thread]]:
    """A sender at work in a thread of its own; it must have ended when the block ends."""
    tcp = TcpSender(what, 0, None)
    thread = threading.Thread(target=tcp.run, args=(quiet,), daemon=True)
    thread.start()
    yield tcp, thread
    thread.join(timeout=10)
    assert not thread.is_alive()


def connected(tcp: TcpSender, receive_bytes: int | None = None) -> socket.socket:
    client = socket.socket()
    if receive_bytes:
        client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_bytes)
    client.settimeout(10)
    client.connect((tcp.address, tcp.port))
    return client


def same(got: bytes, wanted: bytes) -> bool:
    """Whether they are equal, asked so that millions of bytes are not laid side by side when they are not."""
    return got == wanted


def everything(client: socket.socket) -> bytes:
    with closing(client):
        return b"".join(iter(lambda: client.recv(65536), b""))


def in_background(work: Callable[[], Got]) -> tuple[threading.Thread, list[Got]]:
    got: list[Got] = []
    thread = threading.Thread(target=lambda: got.append(work()), daemon=True)
    thread.start()
    return thread, got


# TCP


def test_a_client_gets_the_whole_log_word_for_word() -> None:
    what = sending([0.001 * k for k in range(5000)], pace=0)
    with sender(what) as (tcp, _):
        assert same(everything(connected(tcp)), whole(what))


def test_sentences_come_in_time_and_never_early() -> None:
    what = sending([100.0, 100.2, 100.2, 101.0], pace=2)
    with sender(what) as (tcp, _), closing(connected(tcp)) as client, client.makefile("rb") as stream:
        begun = time.monotonic()
        came_s = [time.monotonic() - begun for _ in stream]
    due_s = [0.0, 0.1, 0.1, 0.5]  # half of what lies between in the log
    assert all(due - 0.02 <= came <= due + LATE_S for came, due in zip(came_s, due_s, strict=True))


def test_a_slow_client_loses_nothing_and_holds_nobody_up() -> None:
    """6 MB, more than the sockets of both ends hold; the slow one reads nothing until the quick ones are done."""
    what = sending([0.0] * 60_000, pace=0, filler="," + "x" * 85)
    assert len(whole(what)) > 5_000_000
    with sender(what) as (tcp, thread):
        slow = connected(tcp, receive_bytes=65536)
        quick = [in_background(lambda: everything(connected(tcp))) for _ in range(3)]
        for reader, _ in quick:
            reader.join(timeout=10)
        assert all(got and same(got[0], whole(what)) for _, got in quick)
        assert thread.is_alive()  # the slow one still has nearly all before it
        assert same(everything(slow), whole(what))


def test_a_slow_client_costs_no_memory() -> None:
    """What waits for a client is held as a number, and no more than some hundred sentences as bytes."""
    what = sending([0.0] * 60_000, pace=0, filler="," + "x" * 85)
    with sender(what) as (tcp, _):
        slow = connected(tcp, receive_bytes=65536)
        time.sleep(0.5)
        (client,) = tcp._clients
        assert client.number < 50_000
        assert len(client.held) < 100_000
        assert same(everything(slow), whole(what))


def test_a_client_that_goes_does_not_disturb_the_others() -> None:
    what = sending([0.01 * k for k in range(60)])
    with sender(what) as (tcp, _):
        staying = connected(tcp)
        going = connected(tcp)
        going.recv(1)
        going.close()
        assert everything(staying) == whole(what)


def test_a_client_that_talks_is_not_heard() -> None:
    what = sending([0.0, 0.3])
    with sender(what) as (tcp, _):
        client = connected(tcp)
        client.sendall(b"?WATCH\r\n" * 1000)
        client.shutdown(socket.SHUT_WR)
        assert everything(client) == whole(what)


def test_who_comes_late_joins_where_the_log_then_is() -> None:
    what = sending([0.0, 0.1, 0.6, 0.7])
    with sender(what) as (tcp, _):
        early = connected(tcp)
        first, got = in_background(lambda: everything(early))
        time.sleep(0.35)
        assert everything(connected(tcp)) == what.spoken.lines(2, 4)
        first.join(timeout=5)
        assert got == [whole(what)]


def test_a_loop_begins_anew() -> None:
    what = sending([0.0, 0.1], pace=10, loop=True)
    tcp = TcpSender(what, 0, None)
    threading.Thread(target=tcp.run, args=(quiet,), daemon=True).start()
    with closing(connected(tcp)) as client, client.makefile("rb") as stream:
        told = b"".join(stream.readline() for _ in range(6))
    assert told == whole(what) * 3


def test_it_listens_on_this_machine_alone_unless_told_otherwise() -> None:
    tcp = TcpSender(sending([0.0]), 0, None)
    assert tcp.address == "127.0.0.1"
    with pytest.raises(ResendError, match="cannot be used"):
        TcpSender(sending([0.0]), tcp.port, None)
    with pytest.raises(ResendError, match="cannot be used"):
        TcpSender(sending([0.0]), 0, "192.0.2.1")  # RFC 5737: an address for documents, nobody's
    tcp._close()


# UDP


def test_udp_comes_a_datagram_a_sentence_in_time() -> None:
    what = sending([50.0, 50.3, 50.3, 51.2], pace=3)
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as ear:
        ear.bind(("127.0.0.1", 0))
        ear.settimeout(5)
        begun = time.monotonic()
        thread = threading.Thread(target=send_udp, args=(what, ear.getsockname(), None, quiet), daemon=True)
        thread.start()
        came = [(ear.recv(2048), time.monotonic() - begun) for _ in range(4)]
        thread.join(timeout=5)
        assert not thread.is_alive()
    assert b"".join(line for line, _ in came) == whole(what)
    due_s = [0.0, 0.1, 0.1, 0.4]  # a third of what lies between in the log
    assert all(due <= at <= due + LATE_S for (_, at), due in zip(came, due_s, strict=True))


def test_udp_goes_nowhere_else_unless_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_socket(*_: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", no_socket)
    for elsewhere in ("192.0.2.1", "255.255.255.255", "0.0.0.0", "2001:db8::1"):
        with pytest.raises(SettingError, match="not this machine"):
            send_udp(sending([0.0]), (elsewhere, 10110), None, quiet)


def test_udp_says_which_address_does_not_fit() -> None:
    with pytest.raises(ResendError, match="no address of this machine"):
        send_udp(sending([0.0]), ("127.0.0.1", 10110), "192.0.2.1", quiet)
    with pytest.raises(ResendError, match="no address known"):
        send_udp(sending([0.0]), ("nowhere.invalid", 10110), None, quiet)


# the command


@contextmanager
def command(*arguments: object) -> Iterator[int]:
    """The command at work, until it ends by itself; the TCP port it sends on."""
    port = free_port()
    line = ["resend", *map(str, arguments), "--tcp", str(port)]
    thread, code = in_background(lambda: cli.main(line))
    yield port
    thread.join(timeout=20)
    assert code == [0]


def free_port() -> int:
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


def reached(port: int) -> socket.socket:
    """A connection to a port that may not be open yet."""
    for _ in range(400):
        with suppress(ConnectionRefusedError):
            return socket.create_connection(("127.0.0.1", port), timeout=10)
        time.sleep(0.05)
    raise AssertionError(f"nobody listens on port {port}")


def received(port: int) -> list[str]:
    return everything(reached(port)).decode().splitlines()


def test_the_command_sends_the_log_and_ends(log: Path) -> None:
    with command(log, "--pace", 0) as port:
        assert same("\n".join(received(port)).encode(), log.read_bytes().replace(b"\r\n", b"\n").strip())


def test_a_stretch_is_sent(log: Path) -> None:
    with command(log, "--pace", 0, "--start", "08:01:00", "--end", "2026-06-03T08:02") as port:
        fixes = [line for line in received(port) if line.startswith("$GPRMC")]
    # The scenario begins on 2026-06-03 at 08:00; both ends belong to the stretch: 61 seconds.
    assert [fix.split(",")[1] for fix in fixes] == [f"0801{s:02d}.00" for s in range(60)] + ["080200.00"]


def test_corrected_values_take_the_place_of_the_log_s_own(log: Path) -> None:
    with command(log, "--pace", 0, "--corrected", "--set", "log_factor=2") as port:
        lines = received(port)
    said = {line[1:6] for line in lines}
    assert {"GPRMC", "U1VHW", "U1HDT", "U1MWV", "U1MWD"} <= said
    assert not said & {"VWVHW", "HCHDG", "WIMWV", "WIMWD"}
    own = [float(line.split(",")[5]) for line in log.read_text("ascii").splitlines() if "VHW" in line]
    corrected = [float(line.split(",")[5]) for line in lines if "VHW" in line]
    # 0.02: the frame stands on whole seconds, between readings
    assert np.median(corrected) == pytest.approx(2 * np.median(own), rel=0.02)


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal")
def test_ctrl_c_ends_it_without_a_word_too_many(log: Path) -> None:
    port = free_port()
    line = [sys.executable, "-m", "app", "resend", str(log), "--tcp", str(port)]
    with (
        subprocess.Popen(
            line, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        ) as process,
        closing(reached(port)) as client,
    ):
        client.recv(1)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
    assert process.returncode == 0
    assert out.endswith("Ended.\n")
    assert err == ""


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    assert cli.main(["resend", *map(str, arguments)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("sternlog: ")
    assert err.count("\n") == 1
    return err


def test_mistakes_are_told_in_a_line(log: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "pace" in refused(capsys, log, "--tcp", 0, "--pace", -1)
    assert "the recording runs from" in refused(
        capsys, log, "--tcp", 0, "--start", "2020-01-01T00:00", "--end", "2020-01-02"
    )
    timeless = tmp_path / "timeless.log"
    timeless.write_text("\r\n".join(with_checksums(["HCHDM,10.0,M"] * 3)))
    assert "--pace 0" in refused(capsys, timeless, "--tcp", 0)
    with pytest.raises(SystemExit):
        cli.main(["resend", str(log)])
    with pytest.raises(SystemExit):
        cli.main(["resend", str(log), "--tcp", "0", "--start", "noon"])


def test_leaving_this_machine_needs_a_host_and_is_cautioned(
    log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["resend", str(log), "--udp", "192.0.2.1:10110"]) == 2
    assert "not this machine" in capsys.readouterr().err
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as ear:
        ear.bind(("127.0.0.1", 0))
        to = f"127.0.0.1:{ear.getsockname()[1]}"
        assert cli.main(["resend", str(log), "--udp", to, "--host", "127.0.0.1", "--pace", "0"]) == 0
    assert "never let it reach" in capsys.readouterr().err.lower()


# gpsd


@pytest.fixture(scope="session")
def gpsd() -> str:
    """The path of a gpsd; skips where there is none."""
    path = shutil.which("gpsd", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if path is None:
        pytest.skip("no gpsd found; install the package gpsd")
    return path


def reports(gpsd: str, port: int, count: int) -> list[dict[str, float | str]]:
    """The first position reports of a gpsd that listens to the port."""
    own = free_port()
    daemon = subprocess.Popen(
        [gpsd, "-N", "-n", "-b", "-S", str(own), f"tcp://127.0.0.1:{port}"], stderr=subprocess.DEVNULL
    )
    try:
        with closing(reached(own)) as client, client.makefile("r") as told:
            client.sendall(b'?WATCH={"enable":true,"json":true};\n')
            found = []
            while len(found) < count:
                report = json.loads(told.readline())
                if report["class"] == "TPV" and "speed" in report:
                    found.append(report)
        return found
    finally:
        daemon.terminate()
        daemon.wait(timeout=10)


@pytest.mark.gpsd
@pytest.mark.parametrize("exported", [False, True], ids=["the log", "its corrected sentences"])
def test_gpsd_reports_the_log_s_position_and_speed(
    gpsd: str, log: Path, tmp_path: Path, exported: bool
) -> None:
    frame = read_log(log).frame
    if exported:
        assert cli.main(["export", str(log), "--to", str(tmp_path / "out.nmea")]) == 0
        log = tmp_path / "out.nmea"
    spoken = spooled(spoken_parts([log])).between(None, 8 * 3600.0 + 25)
    with sender(Sending(spoken, Pacing(spoken.time_s, 10.0, loop=False))) as (tcp, _):
        found = reports(gpsd, tcp.port, 15)
    for report in found:
        row = frame.loc[report["time"]]
        # Half of the last digit of RMC: 0.0001 minutes and 0.01 kn; gpsd rounds the m/s to 0.001.
        assert report["lat"] == pytest.approx(row["lat_deg"], abs=0.00005 / 60 + 1e-9)
        assert report["lon"] == pytest.approx(row["lon_deg"], abs=0.00005 / 60 + 1e-9)
        assert float(report["speed"]) == pytest.approx(
            row["sog_kn"] * 1852 / 3600, abs=0.005 * 1852 / 3600 + 0.0005
        )
