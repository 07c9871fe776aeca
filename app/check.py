"""What `sternlog check` writes as JSON, of schema sternlog.check/1."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Any

import orjson

from app.sections import SECTIONS
from app.sections.values import estimate_object, iso

if TYPE_CHECKING:
    from analysis import Passage, Review

SCHEMA = "sternlog.check/1"
_CURRENT = ("mean_set_deg", "mean_drift_kn", "mean_drift_sd_kn")
_REJECTED = ("checksum", "malformed", "implausible")


def check_json(review: Review) -> bytes:
    """Encode the check as one JSON object; a number that is not finite becomes null."""
    return orjson.dumps(check_object(review), default=_plain, option=orjson.OPT_SERIALIZE_NUMPY)


def check_object(review: Review) -> dict[str, Any]:
    """Arrange a review by the check's contract."""
    return {
        "schema": SCHEMA,
        "log": _log(review.passage),
        "sources": [
            {
                **source.key._asdict(),
                "count": source.count,
                "rate_hz": source.rate_hz,
                "coverage": source.coverage,
                "chosen": source.chosen,
            }
            for source in review.passage.sources
        ],
        "summary": dict(review.summary),
        "calibration": {name: estimate_object(one) for name, one in review.calibration.items()},
        "current": {**dict.fromkeys(_CURRENT), **review.current},
        "findings": [asdict(finding) for finding in review.findings],
        **{key: section.as_json(review) for key, section in SECTIONS.items()},
    }


def _log(passage: Passage) -> dict[str, Any]:
    counts = passage.counts
    start, end = _span(passage)
    return {
        "files": list(passage.files),
        "bytes": counts.bytes,
        "lines": counts.lines,
        "sentences": counts.sentences,
        "accepted": counts.accepted,
        "rejected": {**dict.fromkeys(_REJECTED, 0), **counts.rejected},
        "ignored": dict(counts.ignored),
        "out_of_range": dict(counts.out_of_range),
        "start_utc": start and iso(start),
        "end_utc": end and iso(end),
        "gaps": [{"start_utc": iso(gap.start_s), "end_utc": iso(gap.end_s)} for gap in passage.gaps],
        "time_basis": passage.time_basis,
        "notes": [f"{fact.id}: {fact.text}" for fact in passage.facts],
    }


def _span(passage: Passage) -> tuple[datetime | None, datetime | None]:
    index = passage.frame.index
    return (index[0].to_pydatetime(), index[-1].to_pydatetime()) if len(index) else (None, None)


def _plain(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, tuple):
        return list(value)
    raise TypeError(f"{type(value).__name__} has no place in the check's JSON")
