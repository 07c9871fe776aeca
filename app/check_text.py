"""What `sternlog check` says on the terminal: the log first, the findings last, a caution at the end."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95
from analysis.findings import SEVERITIES
from app import cautions
from app.sections import SECTIONS

if TYPE_CHECKING:
    from analysis import Estimate, Finding, Passage, Review
    from analysis.estimate import Need
    from analysis.passage import Source

WIDEST, NARROWEST = 100, 60
SAID_ABOVE = "not-determined"  # the finding that says what stands under its own heading here


class _Correction(NamedTuple):
    """What a correction is called, the channel it is of, and where it goes."""

    name: str
    channel: str
    use: str


_OFFSET = "enter as its offset"
OPPOSITE = "An instrument that asks by how much it reads high takes the opposite offset."
_DEVIATION = "deviation card: × {} of the compass heading"
_LATE = "behind the boat's own motion"
CORRECTIONS = {
    "log_factor": _Correction("log factor", "stw_kn", "log: multiply its calibration by this"),
    "log_zero_offset_kn": _Correction("log zero", "stw_kn", "log: add, after the factor"),
    "compass_constant_deg": _Correction("compass A", "heading_true_deg", f"compass: {_OFFSET}"),
    "deviation_B_deg": _Correction("deviation B", "heading_true_deg", _DEVIATION.format("sine")),
    "deviation_C_deg": _Correction("deviation C", "heading_true_deg", _DEVIATION.format("cosine")),
    "deviation_D_deg": _Correction("deviation D", "heading_true_deg", _DEVIATION.format("sine of twice")),
    "deviation_E_deg": _Correction("deviation E", "heading_true_deg", _DEVIATION.format("cosine of twice")),
    "leeway_coefficient": _Correction("leeway", "stw_kn", "leeway° = this × heel° / STW²"),
    "vane_offset_deg": _Correction("vane offset", "awa_deg", f"vane, + to starboard: {_OFFSET}"),
    "wind_speed_factor": _Correction("wind speed", "aws_kn", "anemometer: multiply its calibration by this"),
    "upwash_deg": _Correction("upwash", "awa_deg", "widens AWA at 30°, less further aft"),
    "barometer_offset_hpa": _Correction("barometer", "air_pressure_hpa", f"barometer: {_OFFSET}"),
    "heading_lag_s": _Correction("compass lag", "heading_true_deg", _LATE),
    "awa_lag_s": _Correction("vane lag", "awa_deg", _LATE),
    "stw_lag_s": _Correction("log lag", "stw_kn", _LATE),
}
_ENTERED = ("1", "deg", "kn", "hPa")  # units of what corrects an instrument
_UNITS = {"1": "", "deg": "°", "deg kn2/deg": " kn²"}
_DECIMALS = {"1": 3, "kn": 2}
_SUMMARY = {
    "sog_kn": "SOG",
    "stw_kn": "STW",
    "aws_kn": "AWS",
    "tws_kn": "TWS over the water",
    "tws_ground_kn": "TWS over the ground",
    "drift_kn": "current",
    "depth_m": "depth",
}


def check_text(review: Review, width: int = WIDEST) -> str:
    """Say the check to a tired reader, in lines of at most ``width``, itself held to what can be read."""
    page = _Page(max(NARROWEST, min(width, WIDEST)))
    logged = {str(name) for name in review.passage.frame}
    open_for = _needs(review.calibration, logged)
    parts = [
        ("Recording", page.log(review.passage, {str(one.evidence.get("fact")) for one in review.findings})),
        ("Sentences", page.account(review.passage)),
        ("Sources (in brackets: also sent, not used)", page.sources(review.passage.sources)),
        ("Summary", page.summary(review.summary, _on_one_day(review.passage))),
        (
            "Corrections: true speed = factor × shown, true angle = shown + offset; ± at 95 %",
            page.corrections(review.calibration),
        ),
        ("Not determined, and what would tell", page.needs(open_for)),
        ("Current in the mean", page.current(review.current)),
        *((one.TITLE, page.section(one.as_rows(review))) for one in SECTIONS.values()),
        ("Findings", page.findings(review.findings)),
        ("Caution", page.wrapped(cautions.FULL)),
    ]
    text = "\n\n".join(
        "\n".join([*page.wrapped(title, inside=False), *(f"  {line}" for line in lines)])
        for title, lines in parts
        if lines
    )
    return "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in text)


class _Page(NamedTuple):
    """The sections, each as lines of a page so wide."""

    width: int

    def wrapped(self, text: str, hanging: str = "", inside: bool = True) -> list[str]:
        return _wrapped(text, self.width - 2 * inside, hanging)

    def table(self, rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
        """Lay rows out in columns, those in ``right`` to the right, the last one wrapped within itself."""
        rows = list(rows)
        widths = [max(map(len, column)) for column in zip(*(row[:-1] for row in rows), strict=True)]
        lines = []
        for row in rows:
            lead = "".join(
                f"{cell:>{size}}  " if place in right else f"{cell:<{size}}  "
                for place, (cell, size) in enumerate(zip(row[:-1], widths, strict=True))
            )
            room = max(20, self.width - 2 - len(lead))
            first, *rest = _wrapped(row[-1], room) or [""]
            lines += [f"{lead}{first}".rstrip(), *(" " * len(lead) + more for more in rest)]
        return lines

    def log(self, passage: Passage, found: set[str]) -> list[str]:
        """Say what was read, and what of it is not told as a finding."""
        counts = passage.counts
        rows = [
            ("files", ", ".join(passage.files)),
            ("size", f"{counts.bytes:,} bytes, {counts.lines:,} lines"),
            ("time", _span_text(passage)),
            ("time basis", passage.time_basis),
            *(("gap", f"{_clock(gap.start_s)} to {_clock(gap.end_s)} UTC") for gap in passage.gaps[:5]),
        ]
        if len(passage.gaps) > 5:
            rows.append(("gap", f"and {len(passage.gaps) - 5} more"))
        return self.table(
            _named_once([*rows, *(("note", fact.text) for fact in passage.facts if fact.id not in found)])
        )

    def account(self, passage: Passage) -> list[str]:
        """Say what became of the sentences."""
        counts = passage.counts
        rows = [("accepted", f"{counts.accepted:,} of {counts.sentences:,}")]
        for verdict, reasons in (("rejected", counts.rejected), ("ignored", counts.ignored)):
            for reason, count in reasons.items():
                where = _places(counts.first_lines.get(reason, ()), len(passage.files) == 1)
                rows.append((verdict, f"{count:,} {reason}{where}"))
        rows += [
            ("kept out", f"{count:,} impossible {_label(name)}")
            for name, count in counts.out_of_range.items()
        ]
        if counts.unknown_formatters:
            known = (f"{name} {count:,}" for name, count in counts.unknown_formatters.items())
            rows.append(("unknown", ", ".join(known)))
        return self.table(_named_once(rows))

    def sources(self, sources: Sequence[Source]) -> list[str]:
        """Say what each sentence of each talker gives, alike in rate and coverage on one line."""
        groups: dict[tuple[str, str, str], list[Source]] = {}
        for one in sources:
            name = " ".join(word for word in (one.key.talker, one.key.formatter, one.key.instance) if word)
            rate = f"{one.count:,} ×" if one.rate_hz is None else f"{one.rate_hz:.2g} Hz"
            coverage = "" if one.coverage is None else f"{one.coverage:.0%}"
            groups.setdefault((name, rate, coverage), []).append(one)
        rows = [(*key, _given(group)) for key, group in sorted(groups.items(), key=lambda item: item[0][0])]
        return self.table(_named_once(rows), right=(1, 2)) if rows else ["none"]

    def summary(self, summary: Mapping[str, float | str | None], one_day: bool) -> list[str]:
        """Say how far and how long, and the mean and greatest values; times without the date within ``one_day``."""
        distances = [
            f"{summary[name]:.2f} {words}"
            for name, words in (
                ("distance_over_ground_nm", "nm over the ground"),
                ("distance_through_water_nm", "nm through the water"),
                ("duration_h", "h"),
            )
            if _known(summary.get(name))
        ]
        rows = [("", "mean", "max", "at UTC")]
        for name, words in _SUMMARY.items():
            mean, most = summary.get(f"mean_{name}"), summary.get(f"max_{name}")
            if _known(most):
                quantity, unit = name.rsplit("_", 1)
                when = str(summary.get(f"max_{quantity}_utc") or "")[11 if one_day else 0 : 19]
                told = f"{mean:.1f} {unit}" if _known(mean) else ""
                rows.append((words, told, f"{most:.1f} {unit}", when.replace("T", " ")))
        lines = self.table(rows, right=(1, 2)) if len(rows) > 1 else []
        return [*([", ".join(distances)] if distances else []), *lines] or ["nothing is known"]

    def corrections(self, calibration: Mapping[str, Estimate]) -> list[str]:
        """Say every determined correction as it is entered, and where it goes."""
        rows = [
            (_words(name), correction_text(one), _use(name, one))
            for name, one in calibration.items()
            if one.determined and one.value is not None
        ]
        if not rows:
            return ["none determined"]
        offsets = any(row[-1].endswith(_OFFSET) for row in rows)
        return [*self.table(rows), *(self.wrapped(OPPOSITE) if offsets else [])]

    def needs(self, open_for: Mapping[tuple[str, bool], Sequence[tuple[str, Estimate, Need]]]) -> list[str]:
        """Say for each manoeuvre what it would tell, and how surely."""
        lines: list[str] = []
        for told in open_for.values():
            expected = [" ".join((_words(name), *one.expected)) for name, one, _ in told]
            lines += self.wrapped(told[0][2].sentence(*expected), "  ")
        return lines

    def current(self, current: Mapping[str, float | None]) -> list[str]:
        """Say the mean current, with a direction only where it is more than its uncertainty."""
        set_deg, drift_kn, sd_kn = (
            current.get(name) for name in ("mean_set_deg", "mean_drift_kn", "mean_drift_sd_kn")
        )
        if set_deg is None or drift_kn is None:
            return ["not determined"]
        told = f"{drift_kn:.2f} kn" if sd_kn is None else f"{drift_kn:.2f} ± {SIGMAS_95 * sd_kn:.2f} kn"
        if sd_kn is not None and drift_kn < SIGMAS_95 * sd_kn:
            return [f"none that can be told: {told}"]
        return [f"sets {round(set_deg) % 360:03d}° at {told}"]

    def section(self, rows: Sequence[Sequence[str]]) -> list[str]:
        """Say a part beside the instruments."""
        return self.table(rows) if rows else []

    def findings(self, findings: Sequence[Finding]) -> list[str]:
        """Say the findings, the gravest first; of a note only what it says and what to do."""
        lines: list[str] = []
        for finding in sorted(findings, key=lambda one: SEVERITIES.index(one.severity)):
            if finding.id == SAID_ABOVE:
                continue
            lines += self.wrapped(f"{finding.severity.upper()}: {finding.title}", "  ")
            more = [("do", finding.action)]
            if finding.severity != "note":
                more += [("verify", finding.verify), ("caution", finding.caution)]
            for label, text in more:
                if text:
                    lines += self.wrapped(f"  {label}: {text}", "    ")
        return lines or ["none"]


def correction_text(one: Estimate) -> str:
    """Write a correction as it is to be entered, with what it may be off by at 95 %."""
    value = one.value or 0.0
    unit = _UNITS.get(one.unit, f" {one.unit}")
    if not one.sd:
        return (f"× {value:.3f}" if one.unit == "1" else f"{value:+g}{unit}") + ", set by hand"
    spread = SIGMAS_95 * one.sd
    decimals = min(max(1 - math.floor(math.log10(spread)), 0), _DECIMALS.get(one.unit, 1))
    lead = "× " if one.unit == "1" else ""
    sign = "+" if one.unit in ("deg", "hPa", "kn") else ""
    joint = unit if unit == "°" else ""
    return f"{lead}{round(value, decimals) + 0.0:{sign}.{decimals}f}{joint} ± {spread:.{decimals}f}{unit}"


def _use(name: str, one: Estimate) -> str:
    """Where a correction goes, unless it may as well be none."""
    if one.value is None or one.sd is None or name not in CORRECTIONS:
        return ""
    neutral = 1.0 if one.unit == "1" else 0.0
    within = abs(one.value - neutral) <= SIGMAS_95 * one.sd
    if within and one.unit in _ENTERED:
        return "nothing to enter"
    return CORRECTIONS[name].use


def _needs(
    calibration: Mapping[str, Estimate], logged: set[str]
) -> dict[tuple[str, bool], list[tuple[str, Estimate, Need]]]:
    """What stays open of the instruments in the log, by the manoeuvre that would tell."""
    groups: dict[tuple[str, bool], list[tuple[str, Estimate, Need]]] = {}
    for name, one in calibration.items():
        there = name not in CORRECTIONS or CORRECTIONS[name].channel in logged
        if not one.determined and one.need is not None and there:
            key = (one.need.manoeuvre, one.need.enough)
            groups.setdefault(key, []).append((name, one, one.need))
    return groups


def _given(sources: Iterable[Source]) -> str:
    """Name the quantities of one sentence, those that are not used in brackets."""
    used = [_label(one.key.channel) for one in sources if one.chosen]
    unused = [_label(one.key.channel) for one in sources if not one.chosen]
    return " ".join(["; ".join(used), f"({'; '.join(unused)})" if unused else ""]).strip()


def _places(lines: Sequence[str], one_file: bool) -> str:
    if not lines:
        return ""
    if one_file:
        numbers = [line.rsplit(":", 1)[-1] for line in lines]
        return f", first in line{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"
    return f", first in {', '.join(lines)}"


def _named_once(rows: Iterable[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Leave out a name that stands in the row above."""
    named, before = [], None
    for name, *rest in rows:
        named.append(("" if name == before else name, *rest))
        before = name
    return named


def _words(name: str) -> str:
    return CORRECTIONS[name].name if name in CORRECTIONS else name


def _label(channel: str) -> str:
    return CHANNELS[channel].label if channel in CHANNELS else channel


def _known(value: float | str | None) -> bool:
    return isinstance(value, int | float) and math.isfinite(value)


def _span_text(passage: Passage) -> str:
    index = passage.frame.index
    if not len(index):
        return "the recording holds no time"
    start, end = f"{index[0]:%Y-%m-%d %H:%M:%S}", f"{index[-1]:%Y-%m-%d %H:%M:%S}"
    return f"{start} to {end[11:] if _on_one_day(passage) else end} UTC"


def _on_one_day(passage: Passage) -> bool:
    index = passage.frame.index
    return len(index) > 0 and index[0].date() == index[-1].date()


def _wrapped(text: str, width: int, hanging: str = "") -> list[str]:
    """Wrap a text, never between ± and its number or a number and its unit."""
    joined = re.sub(r"(?<=±) | (?=±)|(?<=\d) (?=(?:%|kn|kn²|hPa|min|s|h|nm)(?:\W|$))", "\u00a0", text)
    lines = textwrap.wrap(joined, width, subsequent_indent=hanging, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]


def _clock(seconds: float) -> str:
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M:%S}"
