"""The check's JSON contract and its terminal text."""

import dataclasses
import json
from typing import Any

import pytest
from passages import review_of

from analysis import Estimate, Finding, Review
from app.check import CAUTION, check_json, check_text


def parsed(review: Review) -> dict[str, Any]:
    return dict(json.loads(check_json(review), parse_constant=lambda name: pytest.fail(f"{name} is no JSON")))


def test_json_has_the_keys_of_the_contract(small_review: Review) -> None:
    check = parsed(small_review)
    assert list(check) == ["schema", "log", "sources", "summary", "calibration", "current", "findings"]
    assert check["schema"] == "sternlog.check/1"
    assert set(check["log"]) == {
        "files", "bytes", "lines", "sentences", "accepted", "rejected", "ignored", "out_of_range",
        "start_utc", "end_utc", "gaps", "time_basis", "notes",
    }  # fmt: skip
    assert set(check["sources"][0]) == {
        "channel", "talker", "formatter", "instance", "count", "rate_hz", "coverage", "chosen",
    }  # fmt: skip
    assert set(check["calibration"]["log_factor"]) == {"value", "sd", "unit", "determined", "needs"}
    assert set(check["findings"][0]) == {field.name for field in dataclasses.fields(Finding)}


def test_json_tells_the_log(small_review: Review) -> None:
    log = parsed(small_review)["log"]
    assert log["rejected"] == {"checksum": 2, "malformed": 1, "implausible": 0}
    assert log["sentences"] == log["accepted"] + sum(log["rejected"].values()) + sum(log["ignored"].values())
    assert (log["start_utc"], log["end_utc"]) == ("2026-06-01T08:00:00.000Z", "2026-06-01T08:00:09.000Z")
    assert log["gaps"] == [{"start_utc": "2026-06-01T08:00:04.000Z", "end_utc": "2026-06-01T08:00:06.000Z"}]
    assert log["notes"] == ["one-date: The date comes from RMC."]


def test_what_is_not_a_number_is_null(small_review: Review) -> None:
    check = parsed(small_review)
    assert check["summary"]["max_tws_kn"] is None
    assert check["findings"][0]["sd"] is None
    assert check["sources"][1]["rate_hz"] is None
    assert check["calibration"]["vane_offset_deg"]["value"] is None
    assert check["current"] == {"mean_set_deg": 61.4, "mean_drift_kn": 0.83, "mean_drift_sd_kn": None}


def test_a_log_without_time_has_no_start(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, frame=small_review.frame.iloc[:0])
    review = review_of(passage, passage.frame)
    assert parsed(review)["log"]["start_utc"] is None
    assert "the log holds no time" in check_text(review)


def test_text_tells_everything_that_was_not_used(small_review: Review) -> None:
    text = check_text(small_review)
    for said in (
        "accepted  20 of 24",
        "rejected  2 checksum, first at morning.log:7, morning.log:9",
        "ignored   1 proprietary",
        "kept out  1 impossible STW",
        "unknown   PXYZ 1",
        "GNSS time in RMC",
        "The date comes from RMC.",
    ):
        assert said in text


def test_text_marks_the_sources_used(small_review: Review) -> None:
    lines = check_text(small_review).splitlines()
    assert any(line.split() == ["*", "SOG", "GP", "RMC", "10", "1", "Hz", "100%"] for line in lines)
    assert any(line.split() == ["STW", "II", "VHW", "10"] for line in lines)


def test_text_says_what_is_not_determined_once(small_review: Review) -> None:
    text = check_text(small_review)
    assert "log factor      × 1.052 ± 0.008" in text  # 1.96 one-sigmas
    assert "not determined  vane offset, upwash (Gybe twice)" in text
    assert "max SOG  4.50 kn at 2026-06-01 08:00:09 UTC" in text
    assert "max TWS  not known" in text
    assert "setting 061 at 0.83 kn" in text


def test_text_ends_with_findings_worst_first_and_the_caution(small_review: Review, finding: Finding) -> None:
    note = dataclasses.replace(finding, severity="note", title="A note.")
    text = check_text(dataclasses.replace(small_review, findings=(note, finding)))
    assert text.index("FAULT: The log reads 5.2 % low.") < text.index("NOTE: A note.")
    assert "do: Enter 1.05 as the log's factor." in text
    assert " ".join(text.split("Caution\n")[1].split()) == CAUTION
    assert "Not for navigation" in CAUTION


@pytest.mark.parametrize(
    ("estimate", "said"),
    [
        (Estimate(-0.0126, 0.31, "deg", True), "+0.0° ± 0.6°"),
        (Estimate(3.0318, 0.0463, "deg", True), "+3.0° ± 0.1°"),
        (Estimate(0.482, 0.061, "kn", True), "+0.48 kn ± 0.12 kn"),
        (Estimate(1.05, 0.0, "1", True), "× 1.050, set by hand"),
        (Estimate(-4.0, 0.0, "deg", True), "-4°, set by hand"),
    ],
)
def test_a_correction_is_said_as_it_is_entered(small_review: Review, estimate: Estimate, said: str) -> None:
    review = dataclasses.replace(small_review, calibration={"vane_offset_deg": estimate})
    assert f"vane offset  {said}\n" in check_text(review)


def test_a_current_within_its_uncertainty_has_no_direction(small_review: Review) -> None:
    current = {"mean_set_deg": 77.0, "mean_drift_kn": 0.01, "mean_drift_sd_kn": 0.16}
    text = check_text(dataclasses.replace(small_review, current=current))
    assert "none that can be told: 0.01 kn ± 0.31 kn" in text
    assert "setting" not in text


def test_a_quiet_log_says_so(small_review: Review) -> None:
    assert "Findings\n  none" in check_text(dataclasses.replace(small_review, findings=()))


def test_text_lets_no_control_character_of_a_log_through(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, files=("evil\x1b[2J.log",))
    text = check_text(review_of(passage, passage.frame))
    assert "\x1b" not in text
    assert "evil?[2J.log" in text


def test_no_line_is_wider_than_a_hundred(small_review: Review, finding: Finding) -> None:
    long = dataclasses.replace(finding, title="word " * 100, action="word " * 100)
    text = check_text(dataclasses.replace(small_review, findings=(long,)))
    assert max(map(len, text.splitlines())) <= 100
