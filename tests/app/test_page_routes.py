"""What the Routes page and the check say of marks, legs and laylines, without a browser."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from passages import day_at_sea, reviewed
from samples import reviewed_sample

from analysis import Review, Settings
from analysis.asked import Asked
from analysis.phrasing import with_checksums
from analysis.review import asked_again
from analysis.routes import Mark, RoutesAsked
from app.check import check_json
from app.cli import main
from app.desk import Desk
from app.dress import Dress
from app.figures.routes import route_figure
from app.pages import routes
from app.report.tree import text_of
from app.sections import routes as section
from app.units import UNITS
from app.view import View

BELL, FAR = Mark("BELL <b>", 38.75, -28.75), Mark("FAR", 47.0, -5.0)


def asking(one: Review, **wishes: object) -> Review:
    return asked_again(one, dataclasses.replace(Asked(), routes=RoutesAsked(**wishes)))


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


@pytest.fixture(scope="module")
def routed(passage: Review) -> Review:
    return asking(passage, marks=(BELL, FAR), latitude_limit_deg=45.0)


def view_of(one: Review, dress: Dress | None = None) -> View:
    return View(Desk([]).open(one), dress or Dress())


def said(one: Review, dress: Dress | None = None) -> str:
    return " ".join(text_of(part) for part in routes.layout(view_of(one, dress)))


def test_legs_and_laylines_are_said(routed: Review) -> None:
    text = said(routed)
    assert "Marks given: 1 leg" in text and "by geodesics" in text
    assert "BELL <b> bears" in text and "Laylines over the ground" in text
    assert "Starboard tack" in text and "± from the wind to come" in text
    assert "an end lies beyond" in text  # FAR at 47 N, beyond 45


def test_units_are_the_readers(routed: Review) -> None:
    metric = said(routed, Dress(units=UNITS["metric"]))
    assert "Geodesic [km]" in metric and " m/s" in metric and " nm" not in metric


def test_without_a_mark_the_page_says_how_to_give_one(passage: Review) -> None:
    text = said(passage)
    assert "No mark is known" in text and "Type one or drop a GPX file below" in text
    assert "Add this mark" in str(routes.layout(view_of(passage)))
    assert section.as_rows(passage) == []
    assert section.as_json(passage)["laylines"] == []


def test_without_wind_legs_stay_and_laylines_say_what_is_missing() -> None:
    frame = day_at_sea(1.0).drop(columns=["twd_water_deg", "awa_deg", "aws_kn"])
    text = said(asking(reviewed(frame), marks=(Mark("A", 50.0, -3.0), Mark("B", 50.5, -4.0))))
    assert "the recording has no true wind over the water" in text
    assert "A to B" in text


def test_an_empty_log_has_the_legs_of_its_marks_only() -> None:
    text = said(asking(reviewed(pd.DataFrame()), marks=(BELL, FAR)))
    assert "BELL <b> to FAR" in text and "no position, so no layline" in text
    assert "One mark" in said(asking(reviewed(pd.DataFrame()), marks=(BELL,)))


def test_the_figure_draws_fans_and_texts_are_no_tags(routed: Review) -> None:
    one, opened = routed.case.routes, view_of(routed).opened
    last = float(opened.scene.time_ms[-1]) / 1000
    now = one.laylines(BELL, last)
    assert now is not None and now.laylines
    legs = [leg for routed_legs in one.routes for leg in routed_legs.legs]
    figure = route_figure(opened.scene, [], Dress(), legs, one.marks, now, 40.0)
    fans = [trace for trace in figure["data"] if trace.get("fillcolor", "").startswith("rgba")]
    assert len(fans) == 2
    words = json.dumps(figure, default=lambda value: np.asarray(value).tolist())
    assert "<b>" not in words and "&lt;b&gt;" in words
    assert "rhumb line" in words


def test_steps_move_the_moment(routed: Review) -> None:
    view = view_of(routed)
    last = float(view.opened.scene.time_ms[-1]) / 1000
    assert routes._moved(view, last, "route-less") == last - 60
    assert routes._moved(view, last, "route-more") == last
    turn = routes._moved(view, last, "route-turn-before")
    assert turn in [one.start.timestamp() for one in routed.case.manoeuvres.turns]
    before = routes._moved(view, turn, "route-turn-before")
    assert before < turn and routes._moved(view, before, "route-turn-after") == turn


@pytest.mark.parametrize("text", ["north", "95", "0"])
def test_a_latitude_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(routes.SettingError, match="from 1 to 89"):
        routes._limit_deg(text)


def test_a_latitude_may_be_written_as_people_do() -> None:
    assert routes._limit_deg("-55,5°") == 55.5 and routes._limit_deg(" ") is None


def test_the_desk_asks_again_and_keeps_what_was_corrected(passage: Review) -> None:
    desk = Desk([])
    opened = desk.open(passage)
    desk.correct(opened.key, {"log_factor": 1.05})
    asked = dataclasses.replace(Asked(), routes=RoutesAsked(marks=(BELL,)))
    again = desk.ask(opened.key, asked)
    assert again.review.settings.corrections == {"log_factor": 1.05}
    assert again.review.case.routes.marks == again.found.case.routes.marks == (BELL,)
    assert {one.id for one in again.found.findings} == {one.id for one in passage.findings}


def test_the_check_tells_legs_and_laylines(routed: Review) -> None:
    told = json.loads(check_json(routed))["routes"]
    (route,) = told["routes"]
    (leg,) = route["legs"]
    assert leg["rhumb_nm"] > leg["geodesic_nm"] and leg["beyond_limit"] is True
    assert len(told["laylines"]) > 3
    last = told["laylines"][-1]
    assert last["mark"] == "BELL <b>" and last["state"] != "not determined"
    for line in last["laylines"]:
        assert 0 <= line["bearing_deg"] < 360 and line["bearing_deg_sd"] > 0
    rows = section.as_rows(routed)
    assert rows[0][0] == "BELL <b> to FAR" and "rhumb line" in rows[0][1]
    assert rows[-2][0].startswith("at the end, to BELL") and "laylines" in rows[-2][1]
    assert rows[-1] == ("caution", told["caution"])


def test_options_reach_the_passage(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log, route = tmp_path / "a.nmea", tmp_path / "r.gpx"
    bodies = [f"GPRMC,1200{second:02d},A,5000.000,N,00100.000,W,5.0,090.0,030626,," for second in range(9)]
    log.write_text("\r\n".join(with_checksums(bodies, start="$")))
    route.write_text('<gpx><rte><rtept lat="50" lon="-1"/><rtept lat="51" lon="-2"/></rte></gpx>')
    code = main(
        ["check", str(log), "--mark", "BELL=50.1N,1.25W", "--route", str(route), "--latitude-limit", "60"]
    )
    out = capsys.readouterr().out
    assert code == 0 and "Start to BELL" in out and "1 to 2" in out
    for wrong in (["--mark", "50.1N,1.25W"], ["--mark", "A=95N,1W"], ["--latitude-limit", "99"]):
        with pytest.raises(SystemExit) as error:
            main(["check", str(log), *wrong])
        assert error.value.code == 2
    assert main(["check", str(log), "--route", str(tmp_path / "none.gpx")]) == 2


def test_marks_given_are_part_of_the_settings() -> None:
    assert Settings().asked.routes == RoutesAsked()
