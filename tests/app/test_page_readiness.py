"""The readiness sheet: on the page, in the check, on one sheet of paper."""

import json
import subprocess
from pathlib import Path

import pytest
from passages import day_at_sea, reviewed, spoken
from samples import SAMPLES, reviewed_sample

from analysis import Review
from app.check import check_json
from app.cli import main
from app.desk import Desk
from app.dress import Clock, Dress
from app.pages import readiness
from app.sections import readiness as section
from app.view import View

OPEN = SAMPLES / "open-passage.nmea.gz"


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


def said(one: Review, dress: Dress | None = None) -> str:
    return spoken(readiness.layout(View(Desk([]).open(one), dress or Dress())))


def test_the_sheet_tells_each_instrument_and_leaves_room_to_sign(passage: Review) -> None:
    text = said(passage)
    # the log under-reads by 7 %, vane and compass are off (the truth file of the sample)
    assert "Off: log, compass and wind vane." in text
    assert "Verified on 12 May 2026, right within ±" in text
    assert "Hold a thermometer in a bucket" in text
    assert "Checked, signed" in text


def test_the_day_is_the_readers(passage: Review) -> None:
    # the log ends on 12 May at 12:25 UTC: half a day on it is the 13th
    assert "13 May 2026" in said(passage, Dress(clock=Clock(14 * 60, "UTC+14")))


def test_a_log_of_little_says_what_it_lacks() -> None:
    text = said(reviewed(day_at_sea(1.0)[["lat_deg", "lon_deg", "sog_kn"]]))
    assert text.count("No such sensor in the recording.") >= 8


def test_the_check_has_it(passage: Review) -> None:
    told = json.loads(check_json(passage))["readiness"]
    states = {one["instrument"]: one["state"] for one in told["instruments"]}
    assert states["log"] == "off"
    assert states["water temperature"] == "not known"
    assert all(one["text"] for one in told["instruments"])
    assert any(name == "off" and "wind vane" in text for name, text in section.as_rows(passage))


def test_the_sheet_as_html_holds_the_sheet_alone(tmp_path: Path) -> None:
    target = tmp_path / "sheet.html"
    assert main(["report", str(OPEN), "--to", str(target), "--sheet"]) == 0
    text = target.read_text("utf-8")
    assert "Readiness sheet" in text
    assert "How this was worked out" not in text


@pytest.mark.paper
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_sheet_is_one_page(paper: str, tmp_path: Path) -> None:
    target = tmp_path / "sheet.pdf"
    assert main(["report", str(OPEN), "--to", str(target), "--paper", paper, "--sheet"]) == 0
    told = subprocess.run(["pdfinfo", target], capture_output=True, text=True, check=True).stdout
    pages = next(line for line in told.splitlines() if line.startswith("Pages"))
    assert pages.split()[-1] == "1"
