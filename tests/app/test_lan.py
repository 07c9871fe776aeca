"""Use over the network: nobody in without the one-time address, which works once."""

import io
import re

import pytest
from flask.testing import FlaskClient
from passages import day_at_sea, desk_with, reviewed

from app.addresses import address
from app.desk import Desk
from app.lan import ENTER, PASS, Lan, own_addresses
from app.server import HOST, create_app

LAN_HOST = "192.168.77.5"  # never asked: the test client has no network
HEADERS = {"Host": f"{LAN_HOST}:8123"}


@pytest.fixture(scope="module")
def desk() -> Desk:
    return desk_with(reviewed(day_at_sea(hours=0.1)))


@pytest.fixture
def lan() -> Lan:
    made = Lan(LAN_HOST)
    made.port = 8123
    return made


@pytest.fixture
def client(desk: Desk, lan: Lan) -> FlaskClient:
    return create_app(desk, lan=lan).server.test_client()


def path_of(invitation: str) -> str:
    assert invitation.startswith(f"http://{LAN_HOST}:8123{ENTER}?token=")
    return invitation.removeprefix(f"http://{LAN_HOST}:8123")


def test_nobody_is_answered_without_the_cookie(client: FlaskClient, desk: Desk) -> None:
    page = address(desk.all()[0].key)
    for path in (
        "/",
        page,
        f"{page}_dash-layout",
        f"{page}enter",
        "/open/state",
        "/assets/start.js",
        "/nothing",
    ):
        for headers in (HEADERS, {"Host": HOST}):
            assert client.get(path, headers=headers).status_code == 403, path
    for path in ("/open/sent", "/open/paths", "/_dash-update-component"):
        assert client.post(path, json={}, headers=HEADERS).status_code == 403, path
    client.set_cookie(PASS, "x" * 43, domain=LAN_HOST)
    assert client.get("/", headers=HEADERS).status_code == 403


def test_the_one_time_address_works_once(client: FlaskClient, lan: Lan) -> None:
    path = path_of(lan.invitation(LAN_HOST))
    entered = client.get(path, headers=HEADERS)
    assert entered.status_code == 200
    cookie = entered.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert 'url=/"' in entered.get_data(as_text=True)
    assert client.get("/", headers=HEADERS).status_code == 200
    client.delete_cookie(PASS, domain=LAN_HOST)
    again = client.get(path, headers=HEADERS)
    assert again.status_code == 403
    assert "Set-Cookie" not in again.headers
    assert client.get("/", headers=HEADERS).status_code == 403


@pytest.mark.parametrize("query", ["", "?token=", "?token=x", "?token=é", "?tok=1"])
def test_a_wrong_token_is_refused(client: FlaskClient, lan: Lan, query: str) -> None:
    lan.invitation(LAN_HOST)
    reply = client.get(f"{ENTER}{query}", headers=HEADERS)
    assert (reply.status_code, reply.headers.get("Set-Cookie")) == (403, None)


def test_looking_ahead_does_not_spend_it(client: FlaskClient, lan: Lan) -> None:
    path = path_of(lan.invitation(LAN_HOST))
    assert client.head(path, headers=HEADERS).status_code == 403
    assert client.get(path, headers={**HEADERS, "Sec-Purpose": "prefetch"}).status_code == 403
    assert client.get(path, headers=HEADERS).status_code == 200


def test_only_this_machines_own_addresses_are_its_names(client: FlaskClient, lan: Lan) -> None:
    entered = client.get(path_of(lan.invitation(LAN_HOST)), headers=HEADERS)
    bearer = client.application.test_client(use_cookies=False)
    cookie = {"Cookie": entered.headers["Set-Cookie"].split(";")[0]}
    assert bearer.get("/", headers={**HEADERS, **cookie}).status_code == 200
    for host in ("192.168.77.6:8123", "boat.example:8123", f"{LAN_HOST}.example"):
        assert bearer.get("/", headers={"Host": host, **cookie}).status_code == 400, host


def test_a_post_from_another_site_is_refused_there_too(client: FlaskClient, lan: Lan) -> None:
    client.get(path_of(lan.invitation(LAN_HOST)), headers=HEADERS)
    own, other = f"http://{LAN_HOST}:8123", "http://192.168.77.6:8123"
    for origin, status in ((own, 200), (other, 403), ("null", 403)):
        reply = client.post("/open/stop/none", headers={**HEADERS, "Origin": origin})
        assert reply.status_code == status, origin


def test_the_next_device_is_invited_when_one_has_come(
    client: FlaskClient, lan: Lan, capsys: pytest.CaptureFixture[str]
) -> None:
    lan.announce()
    first = capsys.readouterr().out
    (token,) = re.findall(r"token=(\S+)", first)
    assert len(re.findall("[█▀▄ ]{20,}", first)) >= 15  # the code, drawn in half blocks
    assert client.get(f"{ENTER}?token={token}", headers=HEADERS).status_code == 200
    (following,) = re.findall(r"token=(\S+)", capsys.readouterr().out)
    assert following != token


def test_a_terminal_that_cannot_draw_the_code_has_the_address(lan: Lan) -> None:
    raw = io.BytesIO()
    with io.TextIOWrapper(raw, encoding="ascii") as stream:
        lan.announce(stream)
        stream.flush()
        assert raw.getvalue().count(b"\n") == 1


def test_the_own_addresses_are_addresses() -> None:
    found = own_addresses()
    assert found
    assert all(re.fullmatch(r"\d+\.\d+\.\d+\.\d+", one) for one in found)
    assert len(set(found)) == len(found)
