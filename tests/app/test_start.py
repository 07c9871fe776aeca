"""The page that opens logs: what it says, what it answers, and that it works in a real Chromium."""

import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest
from browsing import heard, leave, served
from flask.testing import FlaskClient
from passages import day_at_sea, desk_with, reviewed
from playwright.sync_api import Browser, Page, expect

from app.addresses import PAGE_TITLES, address
from app.desk import Desk
from app.folder import Folder
from app.opening import Opener
from app.server import HOST, create_app

ROOT = Path(__file__).resolve().parents[2]
LOCAL = {"Host": HOST}
SCRIPT = "<script>window.ran=1</script><img src=x onerror=window.ran=1>"
HOSTILE_NAME = "<img src=x onerror=window.ran=1>.nmea"
PATIENCE_S = 30.0


def closed(sentence: str) -> str:
    """The sentence with its checksum: all characters after the $ exclusive-ored (NMEA 0183)."""
    return f"{sentence}*{reduce(xor, sentence[1:].encode()):02X}\n"


def plain_log(hour: int = 18) -> bytes:
    """Four minutes north at six knots."""
    times = [(second, f"{hour}{second // 60:02d}{second % 60:02d}") for second in range(240)]
    lines = [f"$GPRMC,{time},A,49{51 + s / 600:06.3f},N,00236.000,W,6.0,0.0,030531,," for s, time in times]
    return "".join(map(closed, lines)).encode()


def hostile_log() -> bytes:
    """Script in a text, in a proprietary sentence, as talker, as sensor's name, between the sentences."""
    lines = [
        f"$GPTXT,01,01,02,{SCRIPT}",
        f"$PZZZ1,{SCRIPT}",
        f"$<b><img src=x onerror=window.ran=1>,{SCRIPT}",
        *(f"$IIXDR,A,{heel},D,<img src=x onerror=window.ran=1>,A,{heel},D,HEEL" for heel in range(9)),
        f"$IIXDR,P,1.01{SCRIPT},B,<svg onload=window.ran=1>",
        f"$GPWPL,4951.0,N,00236.0,W,{SCRIPT}",
    ]
    return plain_log() + "".join(map(closed, lines)).encode() + f"{SCRIPT}\n".encode() + plain_log(19)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("start") / "logs"
    (root / "below").mkdir(parents=True)
    (root / "a.nmea").write_bytes(plain_log())
    (root / "b.nmea").write_bytes(plain_log(19))
    (root / "none.log").write_bytes(b"$GPXXX,\n$GPYYY,*ZZ\n")
    (root / "below" / "c.nmea").write_bytes(plain_log(20))
    return root


# what it answers


@pytest.fixture
def client(folder: Path) -> Iterator[FlaskClient]:
    desk = desk_with()
    opener = Opener(desk, folder=Folder(folder))
    yield create_app(desk, opener).server.test_client()
    opener.close()


def state_when_over(client: FlaskClient) -> Any:
    until = time.monotonic() + PATIENCE_S
    while True:
        state = client.get("/open/state", headers=LOCAL).get_json()
        if all(job["over"] for job in state["jobs"]):
            return state
        assert time.monotonic() < until, state
        time.sleep(0.02)


def test_a_log_is_listed_opened_and_closed(client: FlaskClient) -> None:
    listing = client.get("/open/logs", headers=LOCAL).get_json()
    assert {log["name"] for log in listing["logs"]} == {"a.nmea", "b.nmea", "none.log"}
    started = client.post("/open/paths", json={"paths": ["a.nmea"]}, headers=LOCAL).get_json()
    state = state_when_over(client)
    (job,), (passage,) = state["jobs"], state["passages"]
    assert (job["id"], job["address"]) == (started["id"], passage["address"])
    assert (passage["name"], passage["when"]) == ("a.nmea", "2031-05-03 18:00:00 UTC, 3 min 59 s")
    client.post(f"/open/close/{passage['key']}", json={}, headers=LOCAL)
    assert client.get("/open/state", headers=LOCAL).get_json()["passages"] == []


def test_files_are_sent_in_slices(client: FlaskClient) -> None:
    content = plain_log()
    files = [{"name": "a.nmea", "bytes": len(content)}]
    job = client.post("/open/sent", json={"files": files}, headers=LOCAL).get_json()
    for start in range(0, len(content), 5000):
        part = content[start : start + 5000]
        reply = client.post(f"/open/sent/{job['id']}/0?from={start}", data=part, headers=LOCAL)
        assert reply.get_json() == {"bytes": start + len(part)}
    assert [one["name"] for one in state_when_over(client)["passages"]] == ["a.nmea"]
    late = client.post(f"/open/sent/{job['id']}/0?from=0", data=b"1", headers=LOCAL)
    assert (late.status_code, late.get_json()) == (409, {"error": "This file is not awaited; drop it again."})


@pytest.mark.parametrize(
    "path", ["..", "../other", "/etc", "below/../..", ".", "%2e%2e", "%2e%2e%2f", "a.nmea%00"]
)
def test_no_way_leads_out_of_the_folder(client: FlaskClient, path: str) -> None:
    reply = client.get(f"/open/logs?in={path}", headers=LOCAL)
    if path == ".":
        assert reply.get_json()["path"] == ""
    else:
        assert reply.status_code == 409
        assert "is not among the recordings of" in reply.get_json()["error"]
    assert client.post("/open/paths", json={"paths": [f"{path}/x"]}, headers=LOCAL).status_code == 409


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/open/paths", None),
        ("/open/paths", []),
        ("/open/paths", {"paths": "a.nmea"}),
        ("/open/paths", {"paths": [1]}),
        ("/open/sent", {"files": [{"name": "a", "bytes": "many"}]}),
        ("/open/sent", {"files": ["a"]}),
        ("/open/sent", {"files": [{"name": "a", "bytes": None}]}),
    ],
)
def test_nonsense_is_refused(client: FlaskClient, path: str, body: Any) -> None:
    assert client.post(path, json=body, headers=LOCAL).status_code == 400


def test_another_site_can_neither_open_nor_send(client: FlaskClient) -> None:
    for path in ("/open/paths", "/open/sent", "/open/sent/x/0", "/open/stop/x", "/open/close/x"):
        for headers in ({"Origin": "http://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}):
            reply = client.post(path, json={"paths": ["a.nmea"]}, headers={**LOCAL, **headers})
            assert reply.status_code == 403
    assert client.get("/open/state", headers=LOCAL).get_json()["jobs"] == []


def test_without_a_folder_there_is_no_list() -> None:
    client = create_app(desk_with()).server.test_client()
    assert client.get("/open/logs", headers=LOCAL).status_code == 404


def test_an_address_that_is_not_open_says_so() -> None:
    desk = desk_with(reviewed(day_at_sea(hours=0.05)))
    client = create_app(desk).server.test_client()
    said = "The passage of this address is not open"
    for page in PAGE_TITLES:
        layout = client.get(f"{address('0' * 20, page)}_dash-layout", headers=LOCAL).get_data(as_text=True)
        assert said in layout
        assert "drop-logs" in layout
    for path in ("/_dash-layout", f"{address(desk.all()[0].key)}_dash-layout"):
        assert said not in client.get(path, headers=LOCAL).get_data(as_text=True)


# in a real browser


@dataclass
class Visit:
    page: Page
    root: str
    desk: Desk
    complaints: list[str]


@pytest.fixture(scope="module")
def reader(browser: Browser, folder: Path) -> Iterator[Visit]:
    """A tab for all visits: scripts that a tab knows are not compiled again."""
    desk = desk_with()
    with (
        closing(Opener(desk, folder=Folder(folder))) as opener,
        served(create_app(desk, opener)) as root,
        browser.new_context() as context,
    ):
        page = context.new_page()
        made = Visit(page, root, desk, heard(page, root))
        page.on("dialog", lambda dialog: made.complaints.append(dialog.message))
        yield made


@pytest.fixture
def visit(reader: Visit) -> Iterator[Visit]:
    """A visit to an empty desk; at its end nothing may have complained or been asked of others."""
    for opened in reader.desk.all():
        reader.desk.close(opened.key)
    leave(reader.page, reader.root)
    reader.complaints.clear()
    reader.page.goto(reader.root)
    yield reader
    assert reader.complaints == []


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


@pytest.mark.browser
def test_logs_of_the_folder_are_opened_by_the_keyboard_and_together(visit: Visit) -> None:
    page = visit.page
    page.get_by_role("button", name="a.nmea", exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/passage/*/")
    expect(page.locator("#passage-name")).to_have_text("a.nmea")
    page.get_by_role("link", name="sternlog").click()
    expect(page.locator("#passages a")).to_have_text("a.nmea")
    press(page, "below")
    expect(page.locator("#logs button")).to_have_text(["c.nmea"])
    press(page, "One folder up")
    page.get_by_role("checkbox", name="Pick a.nmea").check()
    page.get_by_role("checkbox", name="Pick b.nmea").check()
    press(page, "Open these 2 as one passage")
    expect(page.locator("#passage-name")).to_have_text("a.nmea and 1 more")


@pytest.mark.browser
def test_files_are_dropped_and_an_error_is_one_sentence(visit: Visit) -> None:
    page = visit.page
    expect(page.locator("#files")).to_be_attached()
    page.locator("#files").set_input_files({"name": "none.txt", "mimeType": "", "buffer": b"nothing\n"})
    expect(page.locator("#jobs .failed")).to_contain_text("none.txt: no NMEA 0183 sentence found")
    press(page, "Dismiss")
    expect(page.locator("#under-way")).to_be_hidden()
    page.evaluate(
        """text => {
            const transfer = new DataTransfer();
            transfer.items.add(new File([text], "dropped.nmea"));
            for (const type of ["dragover", "drop"]) {
                const given = { dataTransfer: transfer, bubbles: true, cancelable: true };
                document.body.dispatchEvent(new DragEvent(type, given));
            }
        }""",
        plain_log().decode(),
    )
    page.wait_for_url("**/passage/*/")
    expect(page.locator("#passage-name")).to_have_text("dropped.nmea")


@pytest.mark.browser
def test_cancel_stops_what_is_sent(visit: Visit) -> None:
    page = visit.page
    expect(page.locator("#files")).to_be_attached()
    page.evaluate("document.getElementById('opening').dataset.slice = 512")
    page.locator("#files").set_input_files({"name": "a.nmea", "mimeType": "", "buffer": plain_log() * 40})
    expect(page.locator("#jobs .stage")).to_contain_text("Receiving")
    press(page, "Cancel")
    expect(page.locator("#under-way")).to_be_hidden()
    page.wait_for_timeout(500)
    expect(page.locator("#trouble")).to_be_hidden()
    assert page.url == f"{visit.root}/"


@pytest.mark.browser
def test_a_log_that_holds_script_does_nothing(visit: Visit, folder: Path) -> None:
    page = visit.page
    (folder / HOSTILE_NAME).write_bytes(hostile_log())
    page.reload()
    press(page, HOSTILE_NAME)
    page.wait_for_url("**/passage/*/")
    path = page.url
    expect(page.locator("main").first).to_contain_text("<img src=x onerror=window.ran=1>")
    for name in PAGE_TITLES:
        page.goto(path + (f"{name}/" if name else ""))
        expect(page.locator("#passage-name")).to_have_text(HOSTILE_NAME)
        page.wait_for_load_state("networkidle")
        assert page.evaluate("window.ran") is None
        assert page.locator("img[src=x], svg[onload], main script").count() == 0
    page.goto(visit.root)
    expect(page.locator("#passages a")).to_have_text(HOSTILE_NAME)
    assert page.evaluate("window.ran") is None
    (folder / HOSTILE_NAME).unlink()
