"""What the Polar page, its section and its table say, without a browser."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from passages import day_at_sea, reviewed
from samples import SAMPLES, reviewed_sample

from analysis import Review, Settings
from analysis.asked import Asked
from analysis.performance import PolarAsked
from analysis.polar_table import PolarTable
from analysis.reading.polar_table import read_polar_table
from app.check import check_json
from app.cli import main
from app.desk import Desk
from app.dress import Dress
from app.pages import polar
from app.report.tree import text_of
from app.sections import SECTIONS
from app.server import create_app, new_desk
from app.units import UNITS
from app.view import View

LOG = SAMPLES / "riggers-case.nmea.gz"


@pytest.fixture(scope="module")
def rigger() -> Review:
    return reviewed_sample("riggers-case")


def said(one: Review, dress: Dress | None = None) -> str:
    return " ".join(text_of(part) for part in polar.layout(View(Desk([]).open(one), dress or Dress())))


def against(one: Review, speed_kn: float) -> Review:
    """The same review held against a table of one speed."""
    angles, winds = np.array([30.0, 180.0]), np.array([6.0, 24.0])
    asked = Asked(polar=PolarAsked(PolarTable(angles, winds, np.full((2, 2), speed_kn))))
    return dataclasses.replace(
        one, settings=Settings(asked=asked), case=dataclasses.replace(one.case, asked=asked)
    )


def test_the_page_shows_the_polar(rigger: Review) -> None:
    text = said(rigger)
    sailed = rigger.case.polar.sailed
    assert sailed is not None
    assert f"{len(sailed.minutes.time_s)} minutes of steady sailing" in text
    assert "Tack against tack" in text and "of her own polar" not in text.split("The passage")[0]
    at = tuple(np.argwhere(np.isfinite(sailed.cells["both"].median_kn))[0])
    assert f"{sailed.cells['both'].median_kn[at]:.2f} ± " in text.replace("  ", " ")


def test_the_readers_units_are_kept(rigger: Review) -> None:
    text = said(rigger, Dress(units=UNITS["metric"]))
    assert "m/s" in text and " kn " not in text.replace("CSV in kn", "")


def test_a_table_is_beaten_or_out_of_reach(rigger: Review) -> None:
    slow, fast = said(against(rigger, 2.0)), said(against(rigger, 15.0))
    assert "The table is beaten at" in slow and "out of reach at" not in slow
    assert "The table is out of reach at" in fast and "beaten at" not in fast
    assert "Against the table:" in fast


@pytest.mark.parametrize("without", ["stw_kn", "awa_deg", "heading_true_deg"])
def test_a_log_without_the_sensor_says_so(without: str) -> None:
    frame = day_at_sea(1.0).drop(columns=[without, "twd_water_deg", "tws_water_kn"])
    text = said(reviewed(frame))
    assert text.startswith("This passage shows no polar: the recording has no")
    assert SECTIONS["polar"].as_json(reviewed(frame))["determined"] is False
    assert said(reviewed(frame.iloc[:0])).startswith("This passage shows no polar")


def test_the_section_says_the_same(rigger: Review) -> None:
    told = json.loads(check_json(rigger))["polar"]
    assert told["determined"] and len(told["both"]["median_kn"]) == len(told["twa_deg"])
    assert len(told["both"]["median_kn"][0]) == len(told["tws_kn"])
    assert {one["upwind"] for one in told["best_angles"]} == {True, False}
    assert told["against"]["imported"] is False
    rows = dict(SECTIONS["polar"].as_rows(rigger))
    assert rows["steady sailing"].startswith(f"{told['minutes']['used']} min")


def test_the_table_is_exported_and_taken_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "polar.csv"
    assert main(["export", str(LOG), "--to", str(target), "--as-polar"]) == 0
    table = read_polar_table(target)
    assert 3 < np.nanmin(table.speed_kn) < np.nanmax(table.speed_kn) < 10
    assert main(["check", str(LOG), "--polar", str(target)]) == 0
    assert "against the table" in capsys.readouterr().out
    assert main(["check", str(LOG), "--polar", str(tmp_path / "none.csv")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert main(["export", str(LOG), "--to", str(tmp_path / "polar.gpx"), "--as-polar"]) == 2


def test_the_page_lets_the_table_be_kept(rigger: Review) -> None:
    desk = new_desk()
    opened = desk.open(rigger)
    client = create_app(desk).server.test_client()
    answer = client.get(f"/passage/{opened.key}/polar.csv")
    assert answer.status_code == 200 and answer.text.startswith("TWA,")
    bare = desk.open(reviewed(day_at_sea(1.0).drop(columns="stw_kn")))
    assert client.get(f"/passage/{bare.key}/polar.csv").status_code == 404
