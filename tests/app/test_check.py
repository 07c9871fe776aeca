"""The check's JSON contract."""

import dataclasses
import json
from typing import Any

import pytest
from passages import review_of

from analysis import Finding, Review
from app.check import check_json
from app.sections import SECTIONS


def parsed(review: Review) -> dict[str, Any]:
    return dict(json.loads(check_json(review), parse_constant=lambda name: pytest.fail(f"{name} is no JSON")))


def test_json_has_the_keys_of_the_contract(small_review: Review) -> None:
    check = parsed(small_review)
    contract = ["schema", "log", "sources", "summary", "calibration", "current", "findings"]
    assert list(check) == [*contract, *SECTIONS]
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
    assert check["calibration"]["vane_offset_deg"]["needs"] == "Gybe twice."
    assert check["current"] == {"mean_set_deg": 61.4, "mean_drift_kn": 0.83, "mean_drift_sd_kn": None}


def test_a_log_without_time_has_no_start(small_review: Review) -> None:
    passage = dataclasses.replace(small_review.passage, frame=small_review.frame.iloc[:0])
    review = review_of(passage, passage.frame)
    assert parsed(review)["log"]["start_utc"] is None
