"""What `sternlog check` says: the terminal text, and the JSON of schema sternlog.check/1."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import orjson

from analysis.channels import CHANNELS
from analysis.findings import SEVERITIES

if TYPE_CHECKING:
    from analysis import Estimate, Finding, Passage, Review

SCHEMA = "sternlog.check/1"
CAUTION = (
    "Not for navigation. Keep a proper lookout. Confirm every figure at sea, in safe water, before you enter "
    "a correction; licensed practice and local rules come first."
)
_CURRENT = ("mean_set_deg", "mean_drift_kn", "mean_drift_sd_kn")
_REJECTED = ("checksum", "malformed", "implausible")
_ACRONYMS = {"sog", "cog", "stw", "awa", "aws", "twa", "tws", "twd", "vmg"}
_UNITS = {"kn": "kn", "nm": "nm", "deg": "deg", "h": "h", "hpa": "hPa", "m": "m", "c": "degC", "s": "s"}
_PLAIN_UNITS = {"1": "", "deg": "°", "deg kn2/deg": ""}
_DECIMALS = {"1": 3, "kn": 2}
_WIDTH = 100


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
        "calibration": {
            name: {
                "value": one.value,
                "sd": one.sd,
                "unit": one.unit,
                "determined": one.determined,
                "needs": one.needs,
            }
            for name, one in review.calibration.items()
        },
        "current": {**dict.fromkeys(_CURRENT), **review.current},
        "findings": [asdict(finding) for finding in review.findings],
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
        "start_utc": start and _iso(start),
        "end_utc": end and _iso(end),
        "gaps": [
            {"start_utc": _iso(_utc(gap.start_s)), "end_utc": _iso(_utc(gap.end_s))} for gap in passage.gaps
        ],
        "time_basis": passage.time_basis,
        "notes": [f"{fact.id}: {fact.text}" for fact in passage.facts],
    }


def check_text(review: Review) -> str:
    """Say the check to a tired reader: the log first, the findings last, a caution at the end."""
    parts = [
        ("Log", _log_lines(review.passage)),
        ("Sentences", _account_lines(review.passage)),
        ("Sources (* is used)", _source_lines(review.passage)),
        ("Summary", _summary_lines(review.summary)),
        ("Corrections, ± at 95 %", _calibration_lines(review.calibration)),
        ("Current in the mean", _current_lines(review.current)),
        ("Findings", _finding_lines(review.findings)),
        ("Caution", textwrap.wrap(CAUTION, _WIDTH - 2)),
    ]
    text = "\n\n".join(
        "\n".join([title, *(f"  {line}" for line in lines)]) for title, lines in parts if lines
    )
    return "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in text)


def _log_lines(passage: Passage) -> list[str]:
    counts = passage.counts
    start, end = _span(passage)
    rows = [
        ("files", ", ".join(passage.files)),
        ("size", f"{counts.bytes:,} bytes, {counts.lines:,} lines"),
        ("time", f"{_clock(start)} to {_clock(end)} UTC" if start and end else "the log holds no time"),
        ("time basis", passage.time_basis),
        *(
            ("gap", f"{_clock(_utc(gap.start_s))} to {_clock(_utc(gap.end_s))} UTC")
            for gap in passage.gaps[:5]
        ),
    ]
    if len(passage.gaps) > 5:
        rows.append(("", f"and {len(passage.gaps) - 5} more gaps"))
    rows += [("note", fact.text) for fact in passage.facts]
    return _named(rows)


def _account_lines(passage: Passage) -> list[str]:
    counts = passage.counts
    rows = [("accepted", f"{counts.accepted:,} of {counts.sentences:,}")]
    for verdict, reasons in (("rejected", counts.rejected), ("ignored", counts.ignored)):
        for reason, count in reasons.items():
            where = ", ".join(counts.first_lines.get(reason, ()))
            rows.append((verdict, f"{count:,} {reason}" + (f", first at {where}" if where else "")))
    rows += [
        ("kept out", f"{count:,} impossible {_label(name)}") for name, count in counts.out_of_range.items()
    ]
    if counts.unknown_formatters:
        known = (f"{name} {count:,}" for name, count in counts.unknown_formatters.items())
        rows.append(("unknown", ", ".join(known)))
    return _named(rows)


def _source_lines(passage: Passage) -> list[str]:
    rows = [("", "channel", "source", "readings", "rate", "coverage")]
    for source in passage.sources:
        key = source.key
        rows.append(
            (
                "*" if source.chosen else "",
                _label(key.channel),
                " ".join(word for word in (key.talker, key.formatter, key.instance) if word),
                f"{source.count:,}",
                "" if source.rate_hz is None else f"{source.rate_hz:.2g} Hz",
                "" if source.coverage is None else f"{source.coverage:.0%}",
            )
        )
    return _columns(rows) if len(rows) > 1 else ["none"]


def _summary_lines(summary: Mapping[str, float | str | None]) -> list[str]:
    rows = []
    for name, value in summary.items():
        if name.endswith("_utc"):
            continue
        words, unit = _words_and_unit(name)
        when = summary.get(name.removesuffix(name.split("_")[-1]) + "utc")
        at = f" at {_clock(datetime.fromisoformat(when))} UTC" if isinstance(when, str) else ""
        rows.append((words, _with_unit(value, unit) + at))
    return _named(rows)


def _calibration_lines(calibration: Mapping[str, Estimate]) -> list[str]:
    rows = []
    open_for: dict[str, list[str]] = {}
    for name, one in calibration.items():
        words = _words_and_unit(name)[0]
        if one.determined and one.value is not None:
            rows.append((words, _corrected(one)))
        else:
            open_for.setdefault(one.needs or "", []).append(words)
    for needs, names in open_for.items():
        rows.append(("not determined", ", ".join(names) + (f" ({needs.rstrip('.')})" if needs else "")))
    return _named(rows)


def _corrected(one: Estimate) -> str:
    """Write a correction as it is to be entered, with what it may be off by at 95 %."""
    value = one.value or 0.0
    unit = _PLAIN_UNITS.get(one.unit, f" {one.unit}")
    if not one.sd:
        return (f"× {value:.3f}" if one.unit == "1" else f"{value:+g}{unit}") + ", set by hand"
    spread = 1.96 * one.sd
    decimals = min(max(1 - math.floor(math.log10(spread)), 0), _DECIMALS.get(one.unit, 1))
    lead = "× " if one.unit == "1" else ""
    sign = "+" if one.unit in ("deg", "hPa", "kn") else ""
    return f"{lead}{round(value, decimals) + 0.0:{sign}.{decimals}f}{unit} ± {spread:.{decimals}f}{unit}"


def _current_lines(current: Mapping[str, float | None]) -> list[str]:
    set_deg, drift_kn, sd_kn = (current.get(name) for name in _CURRENT)
    if set_deg is None or drift_kn is None:
        return ["not determined"]
    spread = f" ± {1.96 * sd_kn:.2f} kn" if sd_kn is not None else ""
    if sd_kn is not None and drift_kn < 1.96 * sd_kn:
        return [f"none that can be told: {drift_kn:.2f} kn{spread}"]
    return [f"setting {round(set_deg) % 360:03d} at {drift_kn:.2f} kn{spread}"]


def _finding_lines(findings: Iterable[Finding]) -> list[str]:
    lines: list[str] = []
    for finding in sorted(findings, key=lambda one: SEVERITIES.index(one.severity)):
        lines += textwrap.wrap(
            f"{finding.severity.upper()}: {finding.title}", _WIDTH - 2, subsequent_indent="  "
        )
        for label, text in (("do", finding.action), ("verify", finding.verify), ("caution", finding.caution)):
            if text:
                lines += textwrap.wrap(f"  {label}: {text}", _WIDTH - 2, subsequent_indent="    ")
    return lines or ["none"]


def _named(rows: Iterable[tuple[str, str]]) -> list[str]:
    """Lay out names and texts as two columns, the name given once, long texts wrapped."""
    rows = list(rows)
    width = max((len(name) for name, _ in rows), default=0)
    lines: list[str] = []
    before = None
    for name, text in rows:
        shown = "" if name == before else name
        wrapped = textwrap.wrap(text, max(30, _WIDTH - width - 4), break_on_hyphens=False) or [""]
        lines.append(f"{shown:<{width}}  {wrapped[0]}".rstrip())
        lines += [f"{'':<{width}}  {rest}" for rest in wrapped[1:]]
        before = name
    return lines


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            f"{cell:>{width}}" if place >= 3 else f"{cell:<{width}}"
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _label(channel: str) -> str:
    return CHANNELS[channel].label if channel in CHANNELS else channel


def _words_and_unit(name: str) -> tuple[str, str]:
    """Split a key such as max_sog_kn into words for a reader ("max SOG") and its unit ("kn")."""
    words = name.split("_")
    unit = _UNITS.get(words[-1], "") if len(words) > 1 else ""
    if unit:
        words = words[:-1]
    return " ".join(word.upper() if word in _ACRONYMS else word for word in words), unit


def _with_unit(value: float | str | None, unit: str) -> str:
    if value is None or value != value:
        return "not known"
    return value if isinstance(value, str) else f"{value:,.2f} {unit}".rstrip()


def _span(passage: Passage) -> tuple[datetime | None, datetime | None]:
    index = passage.frame.index
    return (index[0].to_pydatetime(), index[-1].to_pydatetime()) if len(index) else (None, None)


def _utc(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _iso(time: datetime) -> str:
    return time.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _clock(time: datetime) -> str:
    return f"{time:%Y-%m-%d %H:%M:%S}"


def _plain(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, tuple):
        return list(value)
    raise TypeError(f"{type(value).__name__} has no place in the check's JSON")
