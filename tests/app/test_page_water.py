"""What the Water page says, without a browser."""

import dataclasses
import json
import re
from typing import Any

import pandas as pd
import pytest
from passages import day_at_sea, reviewed, spoken
from samples import SAMPLES, reviewed_sample

from analysis import Estimate, Review
from analysis.calibration.results import Change
from analysis.estimate import Need
from analysis.review import reconsidered
from app.desk import Desk
from app.dress import Dress
from app.pages import marks, water
from app.units import UNITS
from app.view import View

TRUTH = json.loads((SAMPLES / "open-passage.truth.json").read_text("utf-8"))["calibration"]


@pytest.fixture(scope="module")
def passage() -> Review:
    return reviewed_sample("open-passage")


@pytest.fixture(scope="module")
def swing_day() -> Review:
    return reviewed_sample("swing-day")


def view_of(one: Review, **dress: Any) -> View:
    return View(Desk([]).open(one), Dress(**dress))


def said(one: Review, **dress: Any) -> str:
    return spoken(water.layout(view_of(one, **dress)))


def changed(one: Review, change: Change) -> Review:
    calibration = dataclasses.replace(one.case.calibration, changes=(change,))
    return dataclasses.replace(one, case=dataclasses.replace(one.case, calibration=calibration))


def a_change(one: Review, name: str, before: float, after: float, at: pd.Timestamp | None) -> Change:
    start, end = one.frame.index[[0, -1]]
    kind = "drift" if at is None else "step"
    return Change(name, kind, at, before, after, 0.01, "1", start, end)  # type: ignore[arg-type]


def test_the_sentence_holds_what_was_put_into_the_log(passage: Review) -> None:
    text = water.conclusion_text(passage, Dress())
    log = re.search(r"The log reads ([\d.]+) % ± ([\d.]+) % too low", text)
    compass = re.search(r"the compass reads ([\d.]+)° ± ([\d.]+)° too low on average", text)
    assert log
    assert compass
    # true = factor x shown: it shows 1 / factor of the speed. One more of the last digit for the rounding.
    assert abs(float(log[1]) - 100 * (1 - 1 / TRUTH["log_factor"])) <= float(log[2]) + 0.1
    assert abs(float(compass[1]) - TRUTH["compass_constant_deg"]) <= float(compass[2]) + 0.1
    assert "The current set" in text


def test_what_is_not_determined_says_what_to_do(passage: Review) -> None:
    open_one = Estimate(1.0, 0.1, "1", False, Need("Motor to and fro", 20, 0.01))
    text = said(dataclasses.replace(passage, calibration={**passage.calibration, "log_factor": open_one}))
    assert "what the log is off by is not determined" in text
    assert "not determined. Motor to and fro: then ± 2.0 %." in text
    assert "(1.000 ± 0.196)" in text


def test_what_is_set_by_hand_stands_beside_what_the_log_says(passage: Review) -> None:
    text = said(reconsidered(passage, {"log_factor": 1.1}))
    assert "The log is corrected by hand, by a factor of 1.100" in text
    assert "1.100 set by hand (the recording says 1.070 ± 0.00" in text


def test_speeds_come_in_the_reader_s_units(passage: Review) -> None:
    text = said(passage, units=UNITS["metric"])
    assert "m/s on the vector mean" in text
    assert "Ground [m/s]" in text
    assert " kn on" not in text


def test_the_card_holds_the_deviation_that_was_put_in(passage: Review) -> None:
    text = said(passage)
    # On compass east A + B = 3.0 + 1.2 deg, on north A + C = 3.0 - 0.8; variation west is taken off.
    east = re.search(r"090° ([\d.]+)° E ([\d.]+)° (\d{3})° (\d{3})°", text)
    assert east
    wanted = TRUTH["compass_constant_deg"] + TRUTH["deviation_B_deg"]
    assert abs(float(east[1]) - wanted) <= float(east[2]) + 0.1
    assert int(east[3]) == round(90 + float(east[1]))
    assert "Print the card" in text


def test_a_disturbed_compass_gets_two_curves_and_no_card(passage: Review) -> None:
    at = passage.frame.index[9000]
    text = said(changed(passage, a_change(passage, "compass_constant_deg", 0.0, 9.0, at)))
    assert "was disturbed on the way" in text
    assert f"No card: the compass changed at {at:%H:%M:%S} UTC" in text
    assert "Print the card" not in text
    assert f"Compass constant A: from +0.0° to +9.0 ± 0.1°, at {at:%H:%M:%S} UTC." in text


def test_a_log_that_fouls_says_by_how_much(passage: Review) -> None:
    # 1.0 / 1.1 - 1: it shows 9.1 % less at the end than at the start.
    text = said(changed(passage, a_change(passage, "log_factor", 1.0, 1.1, None)))
    assert "and lost 9.1 % on the way" in text
    assert "Log factor: from 1.000 to 1.100 ± 0.020, evenly from" in text


def test_runs_to_and_fro_stand_beside_the_whole_passage(swing_day: Review) -> None:
    text = said(swing_day)
    assert "Set 1: 4 runs" in text
    assert "0.125" in text
    assert "0.375" in text
    assert re.search(
        r"The log's factor comes to 1\.00\d ± 0\.0\d\d \(95 %\)\. The whole passage: 1\.00", text
    )
    assert "Set 3: 2 runs" in text
    assert "no ± is given" in text
    assert "at rest" in text


def test_a_measured_distance_is_worked_out_from_two_positions(swing_day: Review) -> None:
    first = swing_day.case.manoeuvres.runs[0].legs[0]
    rows = swing_day.frame.loc[first.start : first.end, ["lat_deg", "lon_deg"]]
    ends = [f"{rows['lat_deg'].iloc[at]:.5f} {rows['lon_deg'].iloc[at]:.5f}" for at in (60, -60)]
    text = marks.told_text(swing_day, *ends)
    found = re.match(r"(\d) runs between the marks: true speed = ([\d.]+) × shown, ± ([\d.]+)", text)
    assert found, text
    # swing-day's log tells the truth
    assert abs(float(found[2]) - 1) <= float(found[3])
    assert "The whole passage gives 1.00" in text


def test_a_measured_distance_refuses_in_one_sentence(swing_day: Review) -> None:
    assert "'here' is not a position" in marks.told_text(swing_day, "here", "50N 1W")
    assert "it takes two runs at least" in marks.told_text(swing_day, "10N 1W", "11N 1W")


def test_a_passage_without_heading_says_so_and_still_offers_the_marks() -> None:
    text = said(reviewed(day_at_sea(hours=0.2).drop(columns="heading_true_deg")))
    assert "This passage has no heading, so log, compass and current cannot be judged." in text
    assert "A measured distance" in text
