"""What the Traffic page and the check say of traffic, without a browser."""

import argparse
import json
from pathlib import Path

import pandas as pd
import pytest
from passages import spoken, whole_day
from simulator.traffic import Vessel, sailed

from analysis import Review, SettingError, Settings, review
from analysis.asked import Asked
from analysis.traffic import Alarms, AskedTraffic, RadarWatch
from app import asking
from app.check import check_json
from app.desk import Desk
from app.dress import Clock, Dress
from app.pages import traffic
from app.sections import traffic as section
from app.units import UNITS
from app.view import View

HOUR = 3600.0
OWN = Vessel(legs=((HOUR, 0.0, 6.0),), fix_m=5.0)
CROSSING = Vessel(name="GREY HERON", east_nm=4.0, north_nm=3.5, legs=((HOUR, 270.0, 8.0),), fix_m=5.0)
MINE = Vessel(mmsi=200000099, name="TARNWHISTLE", kind="B", legs=OWN.legs, every_s=30.0, fix_m=5.0)


@pytest.fixture(scope="module")
def met(tmp_path_factory: pytest.TempPathFactory) -> Review:
    log = tmp_path_factory.mktemp("traffic") / "met.nmea"
    log.write_text("\r\n".join(sailed(OWN, [CROSSING], 3, vdo=MINE).lines) + "\r\n")
    asked = AskedTraffic(Alarms(0.8, 15.0), 16.0, RadarWatch(10, 1))
    return review(log, Settings(asked=Asked(traffic=asked)))


def said(one: Review, dress: Dress | None = None) -> str:
    return spoken(traffic.layout(View(Desk([]).open(one), dress or Dress())))


def test_the_encounter_is_told_in_words(met: Review) -> None:
    """Half a mile ahead at right angles, 8 kn against 6: 0.5 x 0.8 = 0.4 nm."""
    text = said(met)
    assert "the closest met was GREY HERON at 0.40 nm, and 1 came within your 0.8 nm" in text
    assert "ahead" in text
    assert "AIS does not show every vessel" in text
    assert "class B CS, a report every 30 s, 30 s due" in text
    assert "10 + 1 = 11 min unseen at most" in text


def test_what_is_not_known_of_an_encounter_is_left_out(met: Review) -> None:
    vague = met.case.traffic.closest(1)[0]._replace(
        range_nm=1.25, range_sd_nm=float("nan"), relative_kn=float("nan")
    )
    words = traffic.encounter_words(vague, View(Desk([]).open(met), Dress()))
    assert "closest 1.25 nm at" in words
    assert "nan" not in words
    assert "relative to you" not in words


def test_times_have_their_day_where_the_passage_has_two(met: Review) -> None:
    """The hour from 17:46 UTC is over midnight six hours farther east; half an hour into it she was closest."""
    assert "17 Mar" not in said(met)
    assert "at 18 Mar 00:" in said(met, Dress(clock=Clock(360, "ship's time (UTC+6)")))


def test_units_and_clock_are_the_readers(met: Review) -> None:
    text = said(met, Dress(units=UNITS["metric"], clock=Clock(120, "ship's time (UTC+2)")))
    assert "at 0.74 km" in text  # 0.4 x 1.852
    assert "your 1.5 km" in text
    assert "ship's time (UTC+2)" in text
    assert " nm" not in text.replace("1 nm is", "")


def test_a_log_without_ais_says_so() -> None:
    assert "no AIS and no radar targets" in said(whole_day())
    assert section.as_rows(whole_day()) == []
    assert section.as_json(whole_day()) == {"why": "no AIS and no radar targets in the recording"}


def test_the_json_holds_stations_encounters_and_the_own_transponder(met: Review) -> None:
    told = json.loads(check_json(met))["traffic"]
    assert told["cpa_limit_nm"] == 0.8
    assert [one["name"] for one in told["stations"]] == ["GREY HERON"]
    assert told["encounters"][0]["range_nm"] == pytest.approx(0.4, abs=0.02)
    assert told["encounters"][0]["alarm_utc"].endswith("Z")
    assert told["own_transmission"]["known"] is True
    assert told["own_transmission"]["class"] == "B CS"
    assert told["reception"]["radio_horizon_nm"]["A"] == pytest.approx(18.9, abs=0.05)  # 2.23 (4 + sqrt 20)
    assert told["radar_watch"]["limit_kn"] == pytest.approx(4 / 11 * 60)


def test_without_an_own_position_it_is_said_what_is_missing(tmp_path: Path) -> None:
    log = tmp_path / "no_gnss.nmea"
    lines = sailed(OWN, [CROSSING], 3, vdo=MINE).lines
    log.write_text("\r\n".join(line for line in lines if "RMC" not in line) + "\r\n")
    one, unknown = review(log), "who came close is not known"
    assert ("encounters", f"{unknown}: the recording has no own position") in section.as_rows(one)
    assert f"1 station heard; {unknown}: the recording has no own position." in said(one)
    assert "the recording has no time, so the interval of the own reports is not known" in said(one)


def test_bearings_that_were_not_turned_are_said() -> None:
    radar = pd.DataFrame({"mmsi": [0, 200000001], "nearest_nm": [2.5, 1.0], "unturned": [60, 61]})
    assert section.radar_text(radar).endswith(
        "121 bearings off the bow not turned, the heading then not known"
    )


def test_the_terminal_says_it_in_a_few_rows(met: Review) -> None:
    rows = section.as_rows(met)
    assert len(rows) <= 8
    assert rows[0] == ("heard", f"1 station in {met.case.traffic.messages:,} messages")
    assert any("GREY HERON class A at 0.40" in text for _, text in rows)


def test_paper_keeps_the_same_conclusion(met: Review) -> None:
    view = View(Desk([]).open(met), Dress())
    text = spoken(traffic.on_paper(view))
    assert "GREY HERON" in text
    assert "Show" not in text


def parsed(*options: str) -> Asked:
    parser = argparse.ArgumentParser()
    asking.add_options(parser)
    return asking.asked(parser.parse_args(options))


def test_the_options_are_put_together() -> None:
    options = (
        "--cpa",
        "0.5",
        "--tcpa",
        "12",
        "--aerial-height",
        "17",
        "--radar-watch",
        "20/2",
        "--radar-range",
        "8",
    )
    told = parsed(*options).traffic
    assert told == AskedTraffic(Alarms(0.5, 12.0), 17.0, RadarWatch(20, 2, 8, 2))
    assert parsed().traffic == AskedTraffic()


def test_options_without_meaning_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parsed("--radar-watch", "often")
    assert "minutes asleep, a stroke and minutes scanning" in capsys.readouterr().err
    with pytest.raises(SettingError):
        parsed("--radar-watch", "10/1", "--guard-range", "9")
    with pytest.raises(SettingError):
        parsed("--cpa", "0")
