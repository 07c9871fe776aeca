"""Sending again from the page: to this machine alone, started by it alone, and stopped again."""

import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from analysis.errors import SettingError
from app.addresses import address
from app.desk import Desk
from app.guard import HOST
from app.lan import Lan
from app.opening import Opener
from app.resending import Resender, loopback_port
from app.server import create_app

LOG = "".join(
    f"$GPRMC,1200{second:02d}.00,A,5000.000,N,00100.000,W,5.0,090.0,010631,,,A\r\n"
    f"$VWVHW,,T,,M,{4 + second / 100:.2f},N,,K\r\n"
    for second in range(20)
)


@pytest.fixture
def opener(tmp_path: Path) -> Iterator[Opener]:
    made = Opener(Desk([]))
    yield made
    made.close()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "short.nmea"
    path.write_text(LOG)
    return path


@pytest.fixture
def page(opener: Opener, log: Path) -> str:
    return f"{address(opener.open_now([log]).key)}send/"


@pytest.fixture
def client(opener: Opener, page: str) -> FlaskClient:
    return create_app(opener._desk, opener).server.test_client()


def post(client: FlaskClient, path: str, **asked: Any) -> Any:
    wish = {"way": "udp", "port": "127.0.0.1:10110", "pace": "1"} | asked
    return client.post(path, json=wish, headers={"Host": HOST})


def state(client: FlaskClient, page: str) -> Any:
    return client.get(f"{page}state", headers={"Host": HOST}).json


def ended(client: FlaskClient, page: str) -> str:
    for _ in range(400):
        if not (told := state(client, page))["running"]:
            return str(told["words"])
        time.sleep(0.05)
    raise AssertionError("it goes on")


@pytest.mark.parametrize("text", ["10110", ":10110", "127.0.0.1:10110", "localhost:10110", "[::1]:10110"])
def test_this_machine_is_named_in_many_ways(text: str) -> None:
    assert loopback_port(text) == 10110


@pytest.mark.parametrize(
    "text", ["", "192.0.2.7:10110", "boat.example:10110", "127.0.0.1:", "0", "70000", "1e3"]
)
def test_another_machine_or_no_port_is_refused(text: str) -> None:
    with pytest.raises(SettingError):
        loopback_port(text)


def test_every_sentence_comes_by_udp_as_it_was_logged(client: FlaskClient, page: str) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.bind((HOST, 0))
        ear.settimeout(20)
        assert post(client, f"{page}start", port=str(ear.getsockname()[1]), pace="0").status_code == 200
        heard = b"".join(ear.recv(200) for _ in range(40))
    assert heard == LOG.encode()
    assert ended(client, page).startswith("All of it is sent.")


def test_only_a_part_by_the_reader_s_clock(client: FlaskClient, page: str) -> None:
    client.set_cookie("clock", "ship+120", domain=HOST)
    part = {"from": "2031-06-01 14:00:05", "until": "2031-06-01 14:00:06"}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.bind((HOST, 0))
        ear.settimeout(20)
        post(client, f"{page}start", port=str(ear.getsockname()[1]), pace="0", **part)
        assert b"120005.00" in ear.recv(200)
    ended(client, page)


def test_over_tcp_it_goes_on_until_stopped(client: FlaskClient, page: str) -> None:
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port = probe.getsockname()[1]
    post(client, f"{page}start", way="tcp", port=str(port), loop="yes")
    for _ in range(400):
        if "first client" in state(client, page)["words"]:
            break
        time.sleep(0.05)
    with socket.create_connection((HOST, port), timeout=20) as ear:
        assert ear.recv(1000).startswith(b"$GPRMC,120000.00")
        told = state(client, page)
        assert told["running"] and "1 connected" in told["words"] and "Now at 12:00:0" in told["words"]
        client.post(f"{page}stop", headers={"Host": HOST})
        assert ended(client, page).startswith("Stopped.")


@pytest.mark.parametrize("what", ["start", "stop"])
def test_another_machine_may_not_start_or_stop_it(opener: Opener, page: str, what: str) -> None:
    client = create_app(opener._desk, opener, None).server.test_client()
    stranger = {"REMOTE_ADDR": "192.0.2.9"}
    asked = {"json": {"way": "udp", "port": "10110", "pace": "1"}, "headers": {"Host": HOST}}
    assert client.post(f"{page}{what}", environ_base=stranger, **asked).status_code == 403
    assert client.get(f"{page}state", environ_base=stranger, headers={"Host": HOST}).json["running"] is False


def test_in_a_network_a_guest_with_a_pass_may_not_either(opener: Opener, page: str) -> None:
    lan = Lan("192.0.2.5")
    client = create_app(opener._desk, opener, lan).server.test_client()
    lan.port = 80
    token = lan.invitation("192.0.2.5").rpartition("=")[2]
    guest = {"environ_base": {"REMOTE_ADDR": "192.0.2.9"}, "headers": {"Host": "192.0.2.5"}}
    assert client.get(f"/enter?token={token}", **guest).status_code == 200
    client.set_cookie("sternlog-pass", lan._pass, domain="192.0.2.5")
    assert client.get(f"{page}state", **guest).status_code == 200
    assert client.post(f"{page}start", json={}, **guest).status_code == 403


def test_another_site_may_not_start_it(client: FlaskClient, page: str) -> None:
    asked = {"way": "udp", "port": "10110", "pace": "1"}
    headers = {"Host": HOST, "Origin": "http://elsewhere.example"}
    assert client.post(f"{page}start", json=asked, headers=headers).status_code == 403


@pytest.mark.parametrize(
    "asked", [{"way": "fax"}, {"pace": "7"}, {"port": "192.0.2.7:1"}, {"from": "yesterday"}]
)
def test_a_wish_that_makes_no_sense_is_refused_in_words(
    client: FlaskClient, page: str, asked: dict[str, str]
) -> None:
    reply = post(client, f"{page}start", **asked)
    assert reply.status_code == 409 and reply.json["words"].endswith(".")


def test_without_the_file_the_corrected_values_can_still_be_sent(
    client: FlaskClient, page: str, log: Path
) -> None:
    log.unlink()
    refused = post(client, f"{page}start")
    assert refused.status_code == 409 and "not at hand" in refused.json["words"]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear:
        ear.bind((HOST, 0))
        ear.settimeout(20)
        port = str(ear.getsockname()[1])
        assert post(client, f"{page}start", port=port, pace="0", corrected="yes").status_code == 200
        assert ear.recv(200).startswith(b"$")
    ended(client, page)


def test_a_new_sending_stops_the_one_before(client: FlaskClient, page: str) -> None:
    post(client, f"{page}start", loop="yes")
    post(client, f"{page}start", pace="0", port="10111")
    assert ended(client, page).startswith("All of it is sent.")


def test_nothing_is_sent_at_first() -> None:
    assert not Resender().state().running
