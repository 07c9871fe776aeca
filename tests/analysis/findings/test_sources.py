"""What is said of sources that disagree, of late sensors and of a silent log."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "agreement"))

from boat import Boat, motion, passage_of, positions, rest, told

from analysis.agreement import check_headings, compare_sources, stand_in, weigh
from analysis.calibration import Calibration
from analysis.calibration.results import Change
from analysis.estimate import Estimate
from analysis.findings import log, sources
from analysis.findings.case import Case
from analysis.manoeuvres import find_manoeuvres
from analysis.screening import Screened


def case_of(passage, **estimates):
    known = {name: Estimate(value, sd, unit, True) for name, (value, sd, unit) in estimates.items()}
    calibration = Calibration(known, None, (), (), 0)
    agreement = compare_sources(passage)
    return Case(
        passage=passage,
        screened=Screened(passage.frame),
        manoeuvres=find_manoeuvres(passage.frame),
        calibration=calibration,
        agreement=weigh(agreement, passage, known),
        headings=check_headings(passage, calibration, agreement),
        stand_in=stand_in(passage.frame),
        logged_wind=None,
        frame=passage.frame,
    )


def found_in(case):
    return [*sources.receivers_disagree(case), *sources.sources_disagree(case)]


SECOND = {
    "log": lambda boat: [told("stw_kn", "YX", "VHW", 1.1 * boat.stw + boat.noise(0.1), decimals=2)],
    "compass": lambda boat: [told("heading_true_deg", "YX", "HDT", boat.heading + 7 + boat.noise(0.5))],
    "wind": lambda boat: [told("awa_deg", "YX", "MWV", boat.awa - 11 + boat.noise(1))],
    "GNSS": lambda boat: positions(boat, "YX", north_m=-300),
    "echo sounder": lambda boat: [told("depth_m", "YX", "DPT", 1.2 * boat.depth + boat.noise(0.1))],
}
SAID = {
    "log": "YXVHW (transducer) shows 1.1",
    "compass": "YXHDT (transducer) shows 7.",
    "wind": "YXMWV (transducer) shows 11° (± 1.0°) less than WIMWV",
    "GNSS": "stands 300 m",
    "echo sounder": "what SDDPT (echo sounder) shows",
}


@pytest.mark.parametrize("subject", list(SECOND))
def test_a_second_instrument_that_is_off_is_found_and_nothing_else(small_passage, subject) -> None:
    boat = Boat(seed=3)
    series = [*rest(boat), *SECOND[subject](boat)]
    found = found_in(case_of(passage_of(series, small_passage)))
    assert len(found) == 1
    one = found[0]
    assert one.id == ("sounders-disagree" if subject == "echo sounder" else "sources-disagree")
    assert one.subject == subject and one.severity in ("fault", "advice") and one.determined
    assert SAID[subject] in one.title and one.title.endswith(".")
    assert one.action and one.verify and one.caution and one.evidence["allowed"] > 0
    if subject in ("log", "compass"):
        assert not str(one.evidence["trusted"]).startswith("YX")
    assert all(value is None or isinstance(value, float | int | str) for value in one.evidence.values())


@pytest.mark.parametrize("seed", range(4))
def test_second_instruments_within_their_accuracy_are_not_worth_a_word(small_passage, seed) -> None:
    boat = Boat(seed=seed)
    late = np.interp(boat.t - 3, boat.t, boat.stw)
    good = [
        told("stw_kn", "II", "VHW", 1.01 * late + boat.noise(0.1), every_s=3),
        told(
            "heading_true_deg", "GN", "HDT", boat.heading + 0.6 * np.sin(boat.heading / 57) + boat.noise(0.5)
        ),
        told("heading_mag_deg", "VW", "VHW", boat.heading - 3 + boat.noise(0.3), 0.3, decimals=0),
        told("awa_deg", "II", "MWV", boat.awa - 3 + boat.noise(2), decimals=0),
        told("aws_kn", "II", "MWV", 1.05 * boat.aws + boat.noise(0.5), decimals=0),
        told("depth_m", "II", "DPT", boat.depth + 2.4 + boat.noise(0.1)),
        *positions(boat, "GN", north_m=12, sd_m=2),
        *motion(boat, "GN"),
    ]
    assert found_in(case_of(passage_of([*rest(boat), *good], small_passage))) == []


def test_headings_that_differ_by_the_variation_are_left_to_the_rules_on_the_heading(small_passage) -> None:
    boat = Boat()
    unlabelled = told("heading_true_deg", "HC", "HDT", boat.heading - 3 + boat.noise(0.3), 0.1)
    assert found_in(case_of(passage_of([*rest(boat), unlabelled], small_passage))) == []


def test_the_calibration_tells_which_vane_to_trust(small_passage) -> None:
    boat = Boat()
    unjudged = [one for one in rest(boat) if one.key.channel != "heading_mag_deg"]  # no heading, no true wind
    passage = passage_of([*unjudged, *SECOND["wind"](boat)], small_passage)
    used = next(one.key for one in passage.sources if one.chosen and one.key.channel == "awa_deg")
    # true = shown + offset: WIMWV shows the truth, YXMWV 11 deg less
    offset = 0.0 if used.talker == "WI" else 11.0
    [one] = found_in(case_of(passage, vane_offset_deg=(offset, 1.0, "deg")))
    assert one.evidence["trusted"] == "WIMWV" and "calibration" in one.action


def test_a_log_in_use_that_is_the_wrong_one_is_told_once_with_what_it_is_off_by(small_passage) -> None:
    boat = Boat(seed=3)
    passage = passage_of([*rest(boat), *SECOND["log"](boat)], small_passage)
    used = next(one.key for one in passage.sources if one.chosen and one.key.channel == "stw_kn")
    assert used.talker == "VW"
    # YXVHW shows 1.1 times what VWVHW shows; that one is made the wrong one by its factor
    case = case_of(passage, log_factor=(1.15, 0.004, "1"))
    [one] = found_in(case)
    # of 1.15 times what VWVHW shows, YXVHW with 1.1 times lacks 1.15 / 1.1
    assert one.evidence["trusted"] == "YXVHW" and one.evidence["untrusted_is_in_use"]
    assert one.evidence["first_needs"] == pytest.approx(1.15 / 1.1, rel=0.002)
    # 1 - 1 / 1.15 = 13.0 %, beyond the 10 % that make a fault of a log
    assert "VWVHW reads 13.0 % (± 0.6 %) too low" in one.title and one.severity == "fault"
    assert "true = shown × 1.150" in one.action
    assert list(log.log_factor(case)) == []


def test_a_log_in_use_that_is_the_better_one_is_judged_by_itself_too(small_passage) -> None:
    boat = Boat(seed=3)
    passage = passage_of([*rest(boat), *SECOND["log"](boat)], small_passage)
    # VWVHW reads 5 % too high, YXVHW with its 1.1 times 15 %
    case = case_of(passage, log_factor=(1 / 1.05, 0.004, "1"))
    assert [one.evidence["trusted"] for one in found_in(case)] == ["VWVHW"]
    assert [one.id for one in log.log_factor(case)] == ["log-over-reading"]


def test_a_cause_that_is_known_comes_before_the_disagreement_it_makes(small_passage) -> None:
    boat = Boat(seed=3)
    case = case_of(
        passage_of([*rest(boat), *SECOND["compass"](boat)], small_passage),
        compass_constant_deg=(7.0, 0.3, "deg"),
    )
    [apart] = found_in(case)
    assert apart.severity == "fault" and "HCHDG reads 7.0° (± 0.6°) too low" in apart.title
    at, end = case.frame.index[[3600, -1]]
    step = Change("compass_constant_deg", "step", at, 0.0, 14.0, 0.3, "deg", case.frame.index[0], end)
    disturbed = replace(case, calibration=replace(case.calibration, changes=(step,)))
    [apart] = found_in(disturbed)
    assert apart.severity == "advice"


def test_a_stretch_apart_is_told_with_its_times(small_passage) -> None:
    boat = Boat()
    stuck = np.where((boat.t > 3000) & (boat.t < 4500), 0.0, boat.stw + boat.noise(0.05))
    [one] = found_in(case_of(passage_of([*rest(boat), told("stw_kn", "YX", "VHW", stuck)], small_passage)))
    assert one.severity == "advice" and " UTC to " in one.title
    assert one.evidence["apart_from_utc"] < one.evidence["apart_to_utc"]


@pytest.mark.parametrize(
    ("name", "lag", "severity"),
    [
        ("heading_lag_s", (1.5, 0.3, "s"), None),
        ("heading_lag_s", (3.6, 0.3, "s"), "note"),
        ("heading_lag_s", (6.0, 0.3, "s"), "advice"),
        ("awa_lag_s", (8.0, 0.5, "s"), "note"),
        ("stw_lag_s", (3.0, 0.5, "s"), None),
    ],
)
def test_a_late_sensor_is_advice_only_where_the_pilot_would_feel_it(
    small_passage, name, lag, severity
) -> None:
    found = list(sources.sensor_lag(case_of(small_passage, **{name: lag})))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert f"{lag[0]:.1f} s (± " in one.title


def test_sog_in_place_of_a_silent_log_says_what_it_costs(small_passage) -> None:
    boat = Boat(1.0)
    silent = passage_of([one for one in rest(boat) if one.key.channel != "stw_kn"], small_passage)
    [one] = sources.gnss_for_log(case_of(silent))
    assert one.severity == "note" and "urrent goes unseen" in one.action and "over the ground" in one.action
    assert list(sources.gnss_for_log(case_of(passage_of(rest(boat), small_passage)))) == []
