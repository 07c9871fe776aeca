"""The evidence of a finding: the chart that shows it best, or the numbers where no chart tells more."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd
from dash import html

from analysis.channels import CHANNELS
from analysis.contrasts import across_turns
from analysis.deviation_card import card_of, swung
from analysis.differences import difference
from analysis.evidence_words import evidence_rows
from analysis.findings import Finding
from analysis.passage import Floats, column
from analysis.profiles import by_heading, by_size
from analysis.signature import LeftOver, deviation_seen, left_over
from app.figures.deviation import Seen, deviation_chart
from app.figures.evidence import Marked, evidence_chart, profile_chart, series_chart, step_chart
from app.figures.paper import CORRECTED, SHOWN, Figure
from app.figures.sources import differences_through_time
from app.figures.water import left_over_by_heading, left_over_through_time
from app.figures.wind import across_turns_chart, hypotheses_chart
from app.units import Shown
from app.view import View

from .graph import graph
from .wording import label_text

RANKED = 4
FEW = 8
_DEGREES = Shown("°", 1)
_OF_WIND = {
    "vane-offset": ("vane_offset_deg", "°"),
    "wind-speed-factor": ("wind_speed_factor", "factor"),
    "upwash": ("upwash_deg", "°"),
}
_CHANNEL = {
    "log-stuck": "stw_kn",
    "vane-stuck": "awa_deg",
    "wind-speed-stuck": "aws_kn",
    "compass-stuck": "heading_true_deg",
    "position-frozen": "sog_kn",
    "heel-stuck": "heel_deg",
    "barometer-stuck": "air_pressure_hpa",
    "depth-stuck": "depth_m",
    "wind-drop-outs": "aws_kn",
    "gnss-jumps": "sog_kn",
    "log-unit": "stw_kn",
    "sog-unit": "sog_kn",
    "wind-speed-unit": "aws_kn",
    "vane-mirrored": "awa_deg",
    "vane-reversed": "awa_deg",
    "heel-sign": "heel_deg",
    "heel-zero": "heel_deg",
    "leeway-sign": "leeway_deg",
    "barometer-spikes": "air_pressure_hpa",
    "barometer-offset": "air_pressure_hpa",
    "barometer-scale": "air_pressure_hpa",
    "barometer-jump": "air_pressure_hpa",
    "depth-spikes": "depth_m",
    "depth-offset": "depth_m",
    "water-temperature": "water_temp_c",
    "gnss-speed-for-log": "stw_kn",
}
_SILENT = {
    "GNSS receiver": "sog_kn",
    "compass": "heading_true_deg",
    "log": "stw_kn",
    "wind instrument": "awa_deg",
}
_REASONS = {"wind-drop-outs": "drop-out", "gnss-jumps": "jump"}
_LEAST_WINDOW_MS = 600_000.0
_Drawn = tuple[Figure, str]


def evidence_of(view: View, finding: Finding, number: int) -> list[Any]:
    """Show what a finding rests on; ``number`` tells its graphs apart."""
    drawn = _drawn(view, finding)
    shown: list[Any] = [
        html.Figure(
            [
                html.Div(
                    graph(f"evidence-{number}-{place}", figure),
                    className="chart high" if "yaxis2" in figure["layout"] else "chart",
                ),
                html.Figcaption(caption, className="small"),
            ]
        )
        for place, (figure, caption) in enumerate(drawn)
    ]
    if finding.id == "not-determined":
        return [_open_list(finding)] if len(finding.evidence) > 1 else []  # one stands in its action already
    rows = evidence_rows(finding.evidence)
    if not rows:
        return shown
    table = html.Table(
        html.Tbody([html.Tr([html.Th(row.name, scope="row"), html.Td(row.text)]) for row in rows]),
        className="numbers",
    )
    if not shown and len(rows) <= FEW:
        return [table]
    return [*shown, html.Details([html.Summary("The numbers"), table], className="screen-only")]


def _open_list(finding: Finding) -> html.Table:
    names = {
        "log_factor": "Log",
        "compass_constant_deg": "Compass",
        "vane_offset_deg": "Wind vane",
        "wind_speed_factor": "Wind speed",
    }
    rows = [
        html.Tr([html.Th(names.get(name, name), scope="row"), html.Td(str(needs))])
        for name, needs in finding.evidence.items()
    ]
    return html.Table(html.Tbody(rows), className="numbers")


def _drawn(view: View, finding: Finding) -> list[_Drawn]:
    if not len(view.opened.scene.time_ms):
        return []
    if finding.id in _OF_WIND:
        return _wind(view, *_OF_WIND[finding.id])
    if finding.id == "cog-frozen":
        label = CHANNELS["sog_kn"].label
        return _series(view, finding, "sog_kn" if finding.evidence.get("channel") == label else "cog_deg")
    if finding.id == "instrument-silent":
        return _series(view, finding, _SILENT[finding.subject])
    if finding.id in _CHANNEL:
        return _series(view, finding, _CHANNEL[finding.id])
    make = _MADE.get(finding.id)
    return make(view, finding) if make is not None else []


def _left(view: View) -> dict[str, LeftOver]:
    review = view.opened.review
    current = review.case.calibration.current
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    if current is None or not all("drift_kn" in frame for frame in frames.values()):
        return {}
    turning = review.case.manoeuvres.turning
    return {name: left_over(frame, current, turning) for name, frame in frames.items()}


def _headings(view: View) -> dict[str, Floats]:
    review = view.opened.review
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    return {name: column(frame, "heading_true_deg") for name, frame in frames.items()}


def _along(view: View, finding: Finding) -> list[_Drawn]:
    return _by_heading(
        view,
        {name: one.along_kn for name, one in _left(view).items()},
        "false current ahead",
        "What the log adds to the current, ahead of the bow on every heading. A log in order lies on "
        "zero; one that reads low makes a current that always pushes.",
    )


def _along_speed(view: View, finding: Finding) -> list[_Drawn]:
    review, kn = view.opened.review, view.dress.units.of("kn")
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    profiles = {
        name: by_size(column(frames[name], "stw_kn"), one.along_kn) for name, one in _left(view).items()
    }
    if not profiles:
        return []
    figure = profile_chart(profiles, "STW", kn, "false current ahead", kn, view.dress)
    return [
        (figure, "What the log adds to the current, by speed: a zero offset adds the same at every speed.")
    ]


def _across(view: View, finding: Finding) -> list[_Drawn]:
    return _by_heading(
        view,
        {name: one.across_kn for name, one in _left(view).items()},
        "false current to starboard",
        "What the compass adds to the current, to starboard on every heading. A compass in order lies on "
        "zero; one that reads low makes a current that always sets to starboard.",
    )


def _by_heading(view: View, parts_kn: Mapping[str, Floats], what: str, words: str) -> list[_Drawn]:
    if not parts_kn:
        return []
    headings, kn = _headings(view), view.dress.units.of("kn")
    profiles = {name: by_heading(headings[name], part_kn) for name, part_kn in parts_kn.items()}
    return [(profile_chart(profiles, "heading", Shown("°", 0), what, kn, view.dress), words)]


def _turning(view: View, finding: Finding) -> list[_Drawn]:
    headings, left = _headings(view), _left(view)
    if not left:
        return []
    profiles = {
        name: (by_heading(headings[name], one.along_kn), by_heading(headings[name], one.across_kn))
        for name, one in left.items()
    }
    return [
        (
            left_over_by_heading(profiles, view.dress),
            "The part of the current that keeps to the boat, not to the sea, on each heading.",
        )
    ]


def _fouling(view: View, finding: Finding) -> list[_Drawn]:
    left, scene = _left(view), view.opened.scene
    if not left:
        return []
    figure = left_over_through_time(scene.time_ms, left, view.dress, scene.dated)
    return [
        (figure, "A false current ahead that grows through the passage is a log that reads less and less.")
    ]


def _deviation(view: View, finding: Finding) -> list[_Drawn]:
    review = view.opened.review
    calibration = review.case.calibration
    compass, seen = deviation_seen(review.frame_as_shown, calibration, review.case.manoeuvres.turning)
    card = card_of(calibration, calibration.estimates)
    points = by_heading(compass, seen)
    figure = deviation_chart([Seen("", card, points)], swung(calibration.evidence), view.dress)
    return [(figure, "The deviation on each heading: a compass in order lies near zero all round.")]


def _disturbed(view: View, finding: Finding) -> list[_Drawn]:
    step = finding.evidence.get("step")
    if not isinstance(step, list):
        return []
    figure = step_chart([row["compass_deg"] for row in step], [row["change_deg"] for row in step], view.dress)
    return [(figure, "By how much the compass turned on each heading when it was disturbed.")]


def _wind(view: View, name: str, unit: str) -> list[_Drawn]:
    review = view.opened.review
    case = review.case
    drawn: list[_Drawn] = []
    found = [one for one in case.calibration.evidence if one.subject == name]
    if found:
        drawn.append(
            (
                evidence_chart(found, case.calibration.estimates[name], unit, view.dress),
                "Independent lines of evidence, each with its 95 % interval, and what they say together.",
            )
        )
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    if all("twd_water_deg" in frame for frame in frames.values()):
        contrasts = {key: across_turns(frame, case.manoeuvres, "water") for key, frame in frames.items()}
        if any(contrasts.values()):
            drawn.append(
                (
                    across_turns_chart(contrasts, view.dress),
                    "What the true wind direction did across each turn: a right wind stays, but for its own shifts.",
                )
            )
    return drawn


def _true_wind(view: View, finding: Finding) -> list[_Drawn]:
    wind = view.opened.review.case.logged_wind
    if wind is None:
        return []
    figure = hypotheses_chart(wind.hypotheses[:RANKED], view.dress)
    return [(figure, "How the display may work out its true wind, and what each way leaves unexplained.")]


def _sources(view: View, finding: Finding) -> list[_Drawn]:
    passage, scene = view.opened.review.passage, view.opened.scene
    channel = str(finding.evidence.get("channel"))
    channels = ("heading_true_deg", "heading_mag_deg") if channel == "heading_true_deg" else (channel,)
    told = {one.key.name: one.key for one in reversed(passage.sources) if one.key.channel in channels}
    first, second = (str(finding.evidence.get(which)) for which in ("first", "second"))
    found = difference(passage, told[first], told[second]) if {first, second} <= set(told) else None
    if found is None:
        return []
    name = f"{second} less {first}"
    figure = differences_through_time(
        scene.time_ms,
        {name: found.difference},
        CHANNELS[channel].kind in ("direction", "signed_angle"),
        view.dress.units.of("m" if channel == "lat_deg" else CHANNELS[channel].unit),
        view.dress,
        scene.dated,
    )
    return [(figure, f"{label_text(channel)}: {name}. Two instruments in order lie near zero.")]


def _series(view: View, finding: Finding, channel: str) -> list[_Drawn]:
    """A channel as recorded, what is wrong with it marked, and as corrected where that differs."""
    review, scene = view.opened.review, view.opened.scene
    shown = column(review.passage.frame, channel)
    if not np.isfinite(shown).any():
        return []
    lines = {SHOWN: shown}
    corrected = column(review.frame, channel)
    marked = _left_out(view, finding) or _marks(finding, scene.time_ms)
    if not marked and np.nanmax(np.abs(corrected - shown), initial=0.0) > 0:
        lines[CORRECTED] = corrected
    first, last = _window(scene.time_ms, marked)
    rows = slice(*np.searchsorted(scene.time_ms, (first, last + 1)).tolist())
    cut = {name: values[rows] for name, values in lines.items()}
    if not any(np.isfinite(values).any() for values in cut.values()):
        cut, rows = lines, slice(None)
    figure = series_chart(scene.time_ms[rows], cut, channel, marked, view.dress, scene.dated)
    words = " What is wrong is shaded." if marked else ""
    near = " Around the longest stretch." if last - first < scene.time_ms[-1] - scene.time_ms[0] else ""
    return [(figure, f"{CHANNELS[channel].label} as recorded.{words}{near}")]


def _left_out(view: View, finding: Finding) -> list[Marked]:
    """All that the screening left out for the reason of a finding, of which its evidence lists the first."""
    reason = _REASONS.get(finding.id, "stuck" if finding.id in _CHANNEL and "stuck" in finding.id else "")
    channels = ("lat_deg", "sog_kn") if finding.id == "gnss-jumps" else (_CHANNEL.get(finding.id, ""),)
    return [
        Marked(one.start.timestamp() * 1000, one.end.timestamp() * 1000)
        for one in view.opened.review.case.screened.unfit
        if one.reason == reason and one.channel in channels
    ]


def _marks(finding: Finding, time_ms: Floats) -> list[Marked]:
    told: list[tuple[object, object]] = []
    for key in ("stretches", "jumps"):
        listed = finding.evidence.get(key)
        if isinstance(listed, list):
            told += [
                (one.get("start_utc") or one.get("time_utc"), one.get("end_utc") or one.get("time_utc"))
                for one in listed
            ]
    if "last_utc" in finding.evidence:
        told.append((finding.evidence["last_utc"], None))
    return [Marked(_ms(start), _ms(end) if end else float(time_ms[-1])) for start, end in told if start]


def _ms(time: object) -> float:
    return float(pd.Timestamp(str(time)).timestamp() * 1000)


def _window(time_ms: Floats, marked: list[Marked]) -> tuple[float, float]:
    """The whole passage, or about the longest stretch where that would be but a stroke in it."""
    first, last = float(time_ms[0]), float(time_ms[-1])
    longest = max(marked, key=lambda one: one.end_ms - one.start_ms, default=None)
    if longest is None or longest.end_ms - longest.start_ms > (last - first) / 20:
        return first, last
    room = max(2 * (longest.end_ms - longest.start_ms), _LEAST_WINDOW_MS)
    return max(first, longest.start_ms - room), min(last, longest.end_ms + room)


_MADE: dict[str, Callable[[View, Finding], list[_Drawn]]] = {
    "log-under-reading": _along,
    "log-over-reading": _along,
    "log-zero-offset": _along_speed,
    "log-fouling": _fouling,
    "compass-constant": _across,
    "compass-deviation": _deviation,
    "compass-disturbed": _disturbed,
    "variation-wrong": _across,
    "heading-magnetic-as-true": _across,
    "variation-applied-twice": _across,
    "deviation-field-ignored": _deviation,
    "current-turns-with-boat": _turning,
    "true-wind-reference": _true_wind,
    "sources-disagree": _sources,
    "sounders-disagree": _sources,
}
