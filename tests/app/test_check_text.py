"""What `check` says on the terminal."""

import dataclasses

import pytest
from passages import review_of

from analysis import Estimate, Finding, Review
from analysis.estimate import Need
from app.cautions import FULL
from app.check_text import OPPOSITE, check_text


def with_estimates(review: Review, **estimates: Estimate) -> Review:
    """The review with other estimates, of a log that has every channel they are of."""
    frame = review.passage.frame.assign(stw_kn=5.0, awa_deg=40.0, aws_kn=12.0, heading_true_deg=90.0)
    passage = dataclasses.replace(review.passage, frame=frame)
    return review_of(passage, frame, calibration=estimates)


def test_it_tells_everything_that_was_not_used(small_review: Review) -> None:
    text = check_text(small_review)
    for said in (
        "accepted  20 of 24",
        "rejected  2 checksum, first in lines 7, 9",
        "ignored   1 proprietary",
        "kept out  1 impossible STW",
        "unknown   PXYZ 1",
        "GNSS time in RMC",
        "The date comes from RMC.",
    ):
        assert said in text


def test_lines_of_several_files_are_named_by_their_file(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, files=("morning.log", "noon.log"))
    assert "first in morning.log:7, morning.log:9" in check_text(review_of(passage, passage.frame))


def test_a_sentence_is_one_line_with_what_is_not_used_in_brackets(small_review: Review) -> None:
    lines = [line.split() for line in check_text(small_review).splitlines()]
    assert ["GP", "RMC", "1", "Hz", "100%", "SOG"] in lines
    assert ["II", "VHW", "10", "×", "(STW)"] in lines


def test_a_fact_that_is_a_finding_is_said_once(small_review: Review, finding: Finding) -> None:
    told = dataclasses.replace(
        finding, severity="note", title="The date comes from RMC.", evidence={"fact": "one-date"}
    )
    assert check_text(dataclasses.replace(small_review, findings=(told,))).count("The date comes") == 1


def test_the_summary_is_a_table_of_what_is_known(small_review: Review) -> None:
    lines = [line.split() for line in check_text(small_review).splitlines()]
    assert ["SOG", "4.5", "kn", "08:00:09"] in lines
    assert not any(line[:1] == ["TWS"] for line in lines)
    assert "sets 061° at 0.83 kn" in check_text(small_review)


@pytest.mark.parametrize(
    ("name", "estimate", "said"),
    [
        ("log_factor", Estimate(1.052, 0.004, "1", True), "log factor  × 1.052 ± 0.008  log: multiply"),
        ("vane_offset_deg", Estimate(3.0318, 0.0463, "deg", True), "vane offset  +3.0° ± 0.1°  vane, + to"),
        ("vane_offset_deg", Estimate(-0.0126, 0.31, "deg", True), "vane offset  +0.0° ± 0.6°  nothing"),
        ("log_zero_offset_kn", Estimate(0.482, 0.061, "kn", True), "log zero  +0.48 ± 0.12 kn  log: add"),
        ("log_factor", Estimate(1.05, 0.0, "1", True), "log factor  × 1.050, set by hand"),
        ("vane_offset_deg", Estimate(-4.0, 0.0, "deg", True), "vane offset  -4°, set by hand"),
        ("stw_lag_s", Estimate(1.7, 0.41, "s", True), "log lag  1.7 ± 0.8 s  behind"),
    ],
)  # ± is 1.96 one-sigmas
def test_a_correction_is_said_as_it_is_entered_and_where(
    small_review: Review, name: str, estimate: Estimate, said: str
) -> None:
    assert said in check_text(with_estimates(small_review, **{name: estimate}))


def test_the_opposite_sign_is_spoken_of_where_an_offset_is_entered(small_review: Review) -> None:
    vane = with_estimates(small_review, vane_offset_deg=Estimate(3.0, 0.1, "deg", True))
    log = with_estimates(small_review, log_factor=Estimate(1.1, 0.01, "1", True))
    assert OPPOSITE in check_text(vane)
    assert OPPOSITE not in check_text(log)


def test_what_one_manoeuvre_would_tell_is_said_together(small_review: Review) -> None:
    swing = "Motor 8 legs of 3 min each (24 min in all)"
    review = with_estimates(
        small_review,
        deviation_B_deg=Estimate(0.1, 2.0, "deg", False, Need(swing, 24, 0.25)),
        vane_offset_deg=Estimate(None, None, "deg", False, Need("Gybe twice")),
        deviation_C_deg=Estimate(0.1, 2.0, "deg", False, Need(swing, 24, 0.5)),
        barometer_offset_hpa=Estimate(None, None, "hPa", False, Need("Log the air pressure")),
    )
    text = check_text(review)
    assert f"  {swing}: then deviation B ± 0.5°, deviation C ± 1.0°.\n  Gybe twice: then vane offset." in text
    assert "Log the air pressure" not in text  # of an instrument that the log does not hold nothing is asked
    assert "none determined" in text


def test_the_note_on_what_stays_open_is_not_said_twice(small_review: Review, finding: Finding) -> None:
    note = dataclasses.replace(
        finding, id="not-determined", severity="note", title="This passage cannot tell."
    )
    assert "cannot tell" not in check_text(dataclasses.replace(small_review, findings=(note,)))


def test_it_ends_with_the_findings_worst_first_and_the_caution(
    small_review: Review, finding: Finding
) -> None:
    note = dataclasses.replace(finding, severity="note", title="A note.")
    text = check_text(dataclasses.replace(small_review, findings=(note, finding)))
    assert text.index("FAULT: The log reads 5.2 % low.") < text.index("NOTE: A note.")
    assert text.count("do: Enter 1.05 as the log's factor.") == 2
    assert text.count("verify: Sail a reciprocal run.") == 1  # of a note only what to do
    assert " ".join(text.split("Caution\n")[1].split()) == FULL
    assert "Not for navigation" in FULL


def test_a_current_within_its_uncertainty_has_no_direction(small_review: Review) -> None:
    current = {"mean_set_deg": 77.0, "mean_drift_kn": 0.01, "mean_drift_sd_kn": 0.16}
    text = check_text(dataclasses.replace(small_review, current=current))
    assert "none that can be told: 0.01 ± 0.31 kn" in text
    assert "sets" not in text


def test_a_quiet_log_says_so(small_review: Review) -> None:
    assert "Findings\n  none" in check_text(dataclasses.replace(small_review, findings=()))


def test_a_log_without_time_says_so(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, frame=small_review.frame.iloc[:0])
    assert "the recording holds no time" in check_text(review_of(passage, passage.frame))


def test_no_control_character_of_a_log_comes_through(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, files=("evil\x1b[2J.log",))
    text = check_text(review_of(passage, passage.frame))
    assert "\x1b" not in text
    assert "evil?[2J.log" in text


@pytest.mark.parametrize(("asked", "widest"), [(100, 100), (80, 80), (300, 100), (10, 60)])
def test_no_line_is_wider_than_the_page(
    small_review: Review, finding: Finding, asked: int, widest: int
) -> None:
    long = dataclasses.replace(finding, title="word " * 100, action="word " * 100)
    text = check_text(dataclasses.replace(small_review, findings=(long,)), asked)
    assert widest - 10 < max(map(len, text.splitlines())) <= widest


def test_no_number_is_parted_from_its_sign_and_unit(small_review: Review, finding: Finding) -> None:
    for fill in range(60, 90):
        long = dataclasses.replace(finding, title="x" * fill + " factor ± 0.5 % of 12 kn.")
        lines = check_text(dataclasses.replace(small_review, findings=(long,))).splitlines()
        assert any("± 0.5 %" in line for line in lines)
        assert any("12 kn" in line for line in lines)
