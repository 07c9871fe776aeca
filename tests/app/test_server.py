"""The server's own manners: whom it answers, what it sends along, what it does on a taken port."""

import socket
from pathlib import Path

import pandas as pd
import pytest
from flask.testing import FlaskClient
from passages import day_at_sea, reviewed
from plotly.offline import get_plotlyjs_version

from analysis.passage import Fact
from app.server import HOST, ServeError, create_app, serve


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(reviewed(day_at_sea(hours=0.2))).server.test_client()


def test_another_host_name_is_refused(client: FlaskClient) -> None:
    assert client.get("/", headers={"Host": "127.0.0.1:9999"}).status_code == 200
    assert client.get("/", headers={"Host": "rebound.example"}).status_code == 400
    assert client.get("/at?time_ms=0", headers={"Host": "rebound.example"}).status_code == 400


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
    assert client.post("/at", headers=headers).status_code == 405


def test_every_answer_carries_the_guards(client: FlaskClient) -> None:
    for path in ("/", "/at?time_ms=0", "/assets/passage.css"):
        with client.get(path, headers={"Host": HOST}) as reply:
            headers = reply.headers
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "unsafe-eval" not in headers["Content-Security-Policy"]
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_nonsense_is_refused_by_the_moments(client: FlaskClient) -> None:
    for query in ("", "?time_ms=nan", "?time_ms=later", "?east_nm=1", "?east_nm=inf&north_nm=0"):
        assert client.get(f"/at{query}", headers={"Host": HOST}).status_code == 400


def test_a_log_without_time_has_no_moments() -> None:
    client = create_app(reviewed(day_at_sea(hours=0.1).iloc[:0])).server.test_client()
    assert client.get("/at?time_ms=0", headers={"Host": HOST}).status_code == 404


def test_a_log_without_a_date_is_shown_without_one() -> None:
    fact = Fact("no-date", "The log has no date; times are on 1970-01-01.")
    frame = day_at_sea(hours=0.1)
    frame.index = pd.date_range("1970-01-01 18:00", periods=len(frame), freq="s", tz="UTC")
    client = create_app(reviewed(frame, facts=(fact,))).server.test_client()
    assert "1970" not in client.get("/_dash-layout", headers={"Host": HOST}).get_data(as_text=True)
    moment = client.get("/at?time_ms=64800000", headers={"Host": HOST}).get_json()
    assert (moment["clock"], moment["time_of_day"]) == ("18:00:00 UTC", "18:00:00")


def test_the_theme_of_the_last_visit_is_drawn_at_once(client: FlaskClient) -> None:
    client.set_cookie("theme", "dusk", domain=HOST)
    layout = client.get("/_dash-layout", headers={"Host": HOST}).get_data(as_text=True)
    assert '"value":"dusk"' in layout
    client.set_cookie("theme", "<script>", domain=HOST)
    assert "<script>" not in client.get("/_dash-layout", headers={"Host": HOST}).get_data(as_text=True)


def test_a_taken_port_is_one_clear_sentence() -> None:
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(ServeError, match=rf"Port {port} on 127.0.0.1 cannot be used.*--port"):
            serve(reviewed(day_at_sea(hours=0.01)), port, open_browser=False)


@pytest.mark.parametrize("port", [-1, 65_536, 70_000])
def test_a_port_that_does_not_exist_is_one_clear_sentence(port: int) -> None:
    with pytest.raises(ServeError, match=f"There is no port {port}; name one from 1 to 65535"):
        serve(reviewed(day_at_sea(hours=0.01)), port, open_browser=False)


def test_nothing_private_lies_among_the_assets() -> None:
    assets = Path(__file__).parents[2] / "assets"
    assert not [path for path in assets.rglob("*") if path.is_symlink() or path.name.startswith(".")]


def test_the_drawing_code_served_is_of_the_pinned_version() -> None:
    """The small bundle stands in for the whole one that plotly brings; both must be the same release."""
    version = get_plotlyjs_version()
    script = Path(__file__).parents[2] / "assets" / f"plotly-basic-{version}.min.js"
    assert f"plotly.js (basic - minified) v{version}" in script.read_text("utf-8")[:200]
