"""The server's own manners: whom it answers, what it sends along, what it does on a taken port."""

import re
import socket
from pathlib import Path

import pandas as pd
import pytest
from flask.testing import FlaskClient
from passages import day_at_sea, desk_with, reviewed
from plotly.offline import get_plotlyjs_version

from analysis.passage import Fact
from app.addresses import address
from app.desk import Desk
from app.opening import Opener
from app.server import HOST, ServeError, create_app, serve

LOCAL = {"Host": HOST}


@pytest.fixture(scope="module")
def desk() -> Desk:
    return desk_with(reviewed(day_at_sea(hours=0.2)))


@pytest.fixture(scope="module")
def client(desk: Desk) -> FlaskClient:
    return create_app(desk).server.test_client()


@pytest.fixture(scope="module")
def page(desk: Desk) -> str:
    return address(desk.all()[0].key)


def test_another_host_name_is_refused(client: FlaskClient, page: str) -> None:
    for path in ("/", page, f"{page}_dash-layout"):
        assert client.get(path, headers={"Host": "127.0.0.1:9999"}).status_code == 200
        assert client.get(path, headers={"Host": "rebound.example"}).status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_post_from_another_site_is_refused(client: FlaskClient, headers: dict[str, str]) -> None:
    reply = client.post("/_dash-update-component", json={}, headers={"Host": "127.0.0.1:8000", **headers})
    assert reply.status_code == 403


def test_a_post_of_the_page_itself_is_let_through(client: FlaskClient) -> None:
    headers = {"Host": "127.0.0.1:8000", "Origin": "http://127.0.0.1:8000"}
    assert client.post("/_dash-layout", headers=headers).status_code == 405


def test_every_answer_carries_the_guards(client: FlaskClient, page: str) -> None:
    for path in ("/", page, f"{page}_dash-layout", "/assets/passage.css", "/no-such-thing"):
        with client.get(path, headers=LOCAL) as reply:
            headers = reply.headers
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "unsafe-eval" not in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_a_browser_keeps_an_asset_whose_address_tells_its_version_and_nothing_else(
    client: FlaskClient, page: str
) -> None:
    def kept(path: str) -> bool:
        with client.get(path, headers=LOCAL) as reply:
            return "immutable" in reply.headers.get("Cache-Control", "")

    assets = re.findall(r'"(/assets/[^"]+)"', client.get(page, headers=LOCAL).get_data(as_text=True))
    assert len(assets) > 20
    assert all(map(kept, assets))
    unversioned = [asset.partition("?")[0] for asset in assets]
    assert not any(
        map(kept, (page, f"{page}_dash-layout?m=1", "/assets/no-such-thing.css?m=1", *unversioned))
    )


def test_each_page_asks_below_its_own_address(client: FlaskClient, page: str) -> None:
    for path in ("/", page, f"{page}water/"):
        shown = client.get(path, headers=LOCAL).get_data(as_text=True)
        assert f'"requests_pathname_prefix":"{path}"'.replace("/", "\\u002f") in shown


def test_an_address_without_its_last_stroke_leads_to_the_page(client: FlaskClient, page: str) -> None:
    reply = client.get(f"{page}water?a=1", headers=LOCAL)
    assert (reply.status_code, reply.headers["Location"]) == (308, f"{page}water/?a=1")


def test_a_log_without_a_date_is_shown_without_one() -> None:
    fact = Fact("no-date", "The log has no date; times are on 1970-01-01.")
    frame = day_at_sea(hours=0.1)
    frame.index = pd.date_range("1970-01-01 18:00", periods=len(frame), freq="s", tz="UTC")
    desk = desk_with(reviewed(frame, facts=(fact,)))
    path = f"{address(desk.all()[0].key)}_dash-layout"
    shown = create_app(desk).server.test_client().get(path, headers=LOCAL).get_data(as_text=True)
    assert "18:00" in shown
    assert not re.search(r"\b1970\b", shown)


def test_the_light_of_the_last_visit_is_drawn_at_once(client: FlaskClient, page: str) -> None:
    client.set_cookie("theme", "dusk", domain=HOST)
    assert '<html lang="en" data-theme="dusk"' in client.get(page, headers=LOCAL).get_data(as_text=True)
    client.set_cookie("theme", "<script>alert(1)</script>", domain=HOST)
    for path in (page, f"{page}_dash-layout"):
        assert "alert(1)" not in client.get(path, headers=LOCAL).get_data(as_text=True)
    client.delete_cookie("theme", domain=HOST)


def test_a_taken_port_is_one_clear_sentence(desk: Desk) -> None:
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ServeError, match=rf"Port {port} on 127.0.0.1 cannot be used.*--port"):
            serve(desk, Opener(desk), port, open_browser=False)


@pytest.mark.parametrize("port", [-1, 65_536, 70_000])
def test_a_port_that_does_not_exist_is_one_clear_sentence(desk: Desk, port: int) -> None:
    with pytest.raises(ServeError, match=f"There is no port {port}; name one from 1 to 65535"):
        serve(desk, Opener(desk), port, open_browser=False)


def test_nothing_private_lies_among_the_assets() -> None:
    assets = Path(__file__).parents[2] / "assets"
    assert not [path for path in assets.rglob("*") if path.is_symlink() or path.name.startswith(".")]


def test_the_drawing_code_served_is_of_the_pinned_version() -> None:
    """The small bundle stands in for the whole one that plotly brings; both must be the same release."""
    version = get_plotlyjs_version()
    script = Path(__file__).parents[2] / "assets" / f"plotly-basic-{version}.min.js"
    assert f"plotly.js (basic - minified) v{version}" in script.read_text("utf-8")[:200]
