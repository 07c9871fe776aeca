"""The Water page: what log and compass are off by, and what of the current was never in the sea."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from dash import ClientsideFunction, Dash, Input, html

from analysis.calibration import Evidence
from analysis.calibration.results import Change
from analysis.calibration.water import DEVIATION
from analysis.deviation_card import card_of, worst
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.telling import listed
from analysis.passage import column
from analysis.profiles import by_heading
from analysis.review import Review
from analysis.signature import left_over
from app.desk import Desk
from app.dress import Dress
from app.figures.evidence import evidence_chart
from app.figures.paper import CORRECTED, SHOWN
from app.figures.water import (
    current_through_time,
    left_over_by_heading,
    left_over_through_time,
)
from app.view import View, Views

from .deviation import deviation_panels
from .graph import graph
from .marks import marks_panel, register_marks
from .parts import conclusion, panel, term
from .runs import runs_panel
from .wording import NOTHING, duration_text, time_of_day_text

TITLE = "Water"
LISTED = 12


class _Way(NamedTuple):
    """How a correction is written."""

    label: str
    unit: str
    decimals: int
    signed: bool = False

    def text(self, value: float, sd: float | None = None) -> str:
        """Write a value, with its 95 % interval where its one-sigma is given."""
        least = 10.0**-self.decimals
        number = f"{round(value, self.decimals) + 0.0:{'+' if self.signed else ''}.{self.decimals}f}"
        spread = "" if sd is None else f" ± {max(SIGMAS_95 * sd, least):.{self.decimals}f}"
        return f"{number}{spread}{self.unit}".replace("-", "−")


CORRECTIONS = {
    "log_factor": _Way("Log factor", "", 3),
    "log_zero_offset_kn": _Way("Log zero", " kn", 2, True),
    "compass_constant_deg": _Way("Compass constant A", "°", 1, True),
    **{name: _Way(f"Deviation {name.split('_')[1]}", "°", 1, True) for name in DEVIATION[1:]},
    "leeway_coefficient": _Way("Leeway coefficient", " kn²", 1),
    "stw_lag_s": _Way("The log comes late by", " s", 1),
    "heading_lag_s": _Way("The compass comes late by", " s", 1),
}
OPTIONAL = ("log_zero_offset_kn",)
NEEDED = {
    ("stw_kn",): "speed through the water",
    ("heading_true_deg",): "heading",
    ("sog_kn", "cog_deg"): "speed and course over the ground",
}
REASONS = {
    "log missing": "no log",
    "missing": "heading, SOG or COG missing",
    "slow": "too slow for the log",
}


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the corrections, and the charts that show why."""
    columns = view.opened.scene.columns
    lacking = [text for names, text in NEEDED.items() if not set(names) <= set(columns)]
    review = view.opened.review
    if lacking:
        runs = (
            [html.Div(marks_panel(view), className="panels")] if {"lat_deg", "stw_kn"} <= set(columns) else []
        )
        return [
            conclusion(
                f"This passage has no {listed(lacking)}, so log, compass and current cannot be judged."
            ),
            html.P(
                "It takes VHW (or VBW) for the log, HDG or HDT for the heading, RMC or VTG for SOG and COG.",
                className="notice",
            ),
            *runs,
        ]
    return [
        conclusion(conclusion_text(review, view.dress)),
        html.Div(
            [
                _corrections(review),
                _evidence(view),
                *_current(view),
                *deviation_panels(view),
                runs_panel(view),
                marks_panel(view),
                _left_out(view),
            ],
            className="panels",
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the measured distance and the printing of the card."""
    register_marks(app, views)
    app.clientside_callback(
        ClientsideFunction("water", "print"), Input("print-card", "n_clicks"), prevent_initial_call=True
    )


def conclusion_text(review: Review, dress: Dress) -> str:
    """Say what log, compass and current come to."""
    parts = [text for text in (_log_text(review), _compass_text(review)) if text]
    unknown = [
        word
        for name, word in (("log_factor", "log"), ("compass_constant_deg", "compass"))
        if not review.calibration[name].determined
    ]
    if unknown:
        parts.append(
            f"what the {listed(unknown)} {'is' if len(unknown) == 1 else 'are'} off by is not determined"
        )
    first = "; ".join(parts)
    receivers = any(one.id == "sources-disagree" and one.subject == "GNSS" for one in review.findings)
    caution = (
        " The GNSS receivers disagree, and all of this rests on the one in use: see Sources."
        if receivers
        else ""
    )
    return f"{first[0].upper()}{first[1:]}. {_current_text(review, dress)}{caution}"


def _log_text(review: Review) -> str:
    one = review.calibration["log_factor"]
    if not one.determined or one.value is None or one.sd is None:
        return ""
    if "log_factor" in review.settings.corrections:
        return f"the log is corrected by hand, by a factor of {one.value:.3f}"
    off, spread = 100 * (1 / one.value - 1), 100 * SIGMAS_95 * one.sd / one.value**2
    changed = next((one for one in review.case.calibration.changes if one.name == "log_factor"), None)
    tail = ""
    if changed is not None:
        share = 100 * (changed.before / changed.after - 1)
        tail = f", and {'lost' if share < 0 else 'gained'} {abs(share):.1f} % on the way"
    if abs(off) <= spread:
        return f"the log is right within {_at_least(spread)} %{tail}"
    return f"the log reads {abs(off):.1f} % ± {_at_least(spread)} % too {'low' if off < 0 else 'high'}{tail}"


def _compass_text(review: Review) -> str:
    one = review.calibration["compass_constant_deg"]
    if not one.determined or one.value is None or one.sd is None:
        return ""
    if "compass_constant_deg" in review.settings.corrections:
        return f"the compass is corrected by hand, by {one.value:+.1f}°"
    spread = SIGMAS_95 * one.sd
    if abs(one.value) <= spread:
        text = f"the compass has no constant error beyond {_at_least(spread)}°"
    else:
        sense = "low" if one.value > 0 else "high"
        text = f"the compass reads {abs(one.value):.1f}° ± {_at_least(spread)}° too {sense} on average"
    if any(change.name in DEVIATION for change in review.case.calibration.changes):
        return f"{text}, and was disturbed on the way"
    card = card_of(review.case.calibration, review.calibration)
    if card is None:
        return text
    heading, off, sd = worst(card)
    if abs(off) <= SIGMAS_95 * sd or abs(off) < 0.5:
        return text
    return f"{text} and deviates from that by {off:+.1f}° ± {_at_least(SIGMAS_95 * sd)}° on {heading:03.0f}°"


def _current_text(review: Review, dress: Dress) -> str:
    current = review.case.calibration.current
    if current is None:
        return "The boat was not under way long enough to judge the current."
    if not current.determined:
        return "The current is not told apart from errors of log and compass."
    set_deg, drift_kn, sd_kn = current.mean()
    kn = dress.units.of("kn")
    text = f"current set {round(set_deg) % 360:03d}° at {drift_kn * kn.factor:.2f} ± "
    text += f"{max(SIGMAS_95 * sd_kn * kn.factor, 0.01):.2f} {kn.symbol} on the vector mean"
    low, high = (f"{kn.factor * one:.1f}" for one in (current.drift_kn.min(), current.drift_kn.max()))
    return f"The {text}" + ("." if low == high else f", its drift between {low} and {high} {kn.symbol}.")


def _corrections(review: Review) -> html.Section:
    shown = [name for name in CORRECTIONS if name in review.calibration or name not in OPTIONAL]
    return panel(
        "What to correct",
        html.P(
            [
                "True ",
                term("STW"),
                " = factor × shown; magnetic = compass + ",
                term("deviation"),
                ". ± is the 95 % interval.",
            ],
            className="small",
        ),
        html.Table(html.Tbody([_row(review, name) for name in shown])),
    )


def _row(review: Review, name: str) -> html.Tr:
    way = CORRECTIONS[name]
    one = review.calibration.get(name, Estimate(None, None, "", False))
    if name in review.settings.corrections and one.value is not None:
        found = review.case.calibration.estimates.get(name)
        says = (
            ""
            if found is None or found.value is None
            else f" (the recording says {way.text(found.value, found.sd)})"
        )
        return _cells(way.label, way.text(one.value), f"set by hand{says}")
    value = NOTHING if one.value is None or one.sd is None else way.text(one.value, one.sd)
    if one.determined:
        return _cells(way.label, value, "determined")
    same = name in DEVIATION[2:] and not review.calibration[DEVIATION[1]].determined
    needs = "not determined, as B" if same else f"not determined. {one.needs or ''}".strip()
    return _cells(way.label, value if value == NOTHING else f"({value})", needs)


def _cells(label: str, value: str, words: str) -> html.Tr:
    return html.Tr(
        [html.Th(label, scope="row"), html.Td(value, className="number"), html.Td(words, className="words")]
    )


def _evidence(view: View) -> html.Section:
    calibration = view.opened.review.case.calibration
    children: list[Any] = []
    for name, unit in (("log_factor", ""), ("compass_constant_deg", "°")):
        told = _numbered(
            [one for one in calibration.evidence if one.subject == name and one.name != "joint estimate"]
        )
        estimate = calibration.estimates[name]
        if estimate.value is None and not told:
            continue
        figure = evidence_chart(told, estimate, unit or "factor", view.dress)
        children += [
            html.H3(CORRECTIONS[name].label),
            html.Div(
                graph(f"evidence-{name}", figure),
                className="chart",
                style={"height": f"{4.5 + 2.1 * (len(told) + 1)}rem"},
            ),
        ]
    if not children:
        children = [
            html.P("The boat was not under way long enough to judge log or compass.", className="notice")
        ]
    return panel("One estimate, and the methods beside it", *children)


def _numbered(evidence: Sequence[Evidence]) -> list[Evidence]:
    names = [one.name for one in evidence]
    return [
        replace(one, name=f"{one.name} {names[: place + 1].count(one.name)}")
        if names.count(one.name) > 1
        else one
        for place, one in enumerate(evidence)
    ]


def _current(view: View) -> list[html.Section]:
    review, scene, dress = view.opened.review, view.opened.scene, view.dress
    current = review.case.calibration.current
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    if not {"stw_kn_shown", "heading_true_deg_shown", "leeway_deg"} & set(review.frame):
        del frames[CORRECTED]
    if current is None or not all("drift_kn" in frame for frame in frames.values()):
        text = "The boat was not under way long enough, with all of log, heading, SOG and COG, to find a current."
        return [panel("The current", html.P(text, className="notice"), wide=True)]
    derived = {name: (column(frame, "set_deg"), column(frame, "drift_kn")) for name, frame in frames.items()}
    through = panel(
        "The current through time",
        html.P(
            [
                term("set", "Set"),
                " and ",
                term("drift"),
                ", from each second as shown and as corrected, against the current estimated from the whole passage. "
                + (
                    "A false current jumps when the boat turns; a real one does not."
                    if current.determined
                    else "The courses sailed do not tell it apart from errors of log and compass: see the band."
                ),
            ],
            className="small",
        ),
        html.Div(
            graph("current", current_through_time(scene.time_ms, derived, current, dress, scene.dated)),
            className="chart high",
        ),
        wide=True,
    )
    if not current.determined:
        needs = review.case.calibration.estimates["log_factor"].needs or ""
        return [
            through,
            panel(
                "The part that turns with the boat",
                html.P(f"Not determined on the courses sailed. {needs}", className="notice"),
                wide=True,
            ),
        ]
    parts = {
        name: left_over(frame, current, review.case.manoeuvres.turning) for name, frame in frames.items()
    }
    headings = {name: column(frame, "heading_true_deg") for name, frame in frames.items()}
    profiles = {
        name: (by_heading(headings[name], one.along_kn), by_heading(headings[name], one.across_kn))
        for name, one in parts.items()
    }
    return [
        through,
        panel(
            "What turns with the boat, by heading",
            html.P(
                "The current of each second less the estimated one. Left over along the heading on every course: the "
                "log. Left over to starboard or port: the compass, or leeway. In order, all lies on zero.",
                className="small",
            ),
            html.Div(graph("left-heading", left_over_by_heading(profiles, dress)), className="chart high"),
        ),
        panel(
            "The same through time",
            html.P(
                "A part that grows is a log that fouls; a step across is a compass that something was put beside.",
                className="small",
            ),
            html.Div(
                graph("left-time", left_over_through_time(scene.time_ms, parts, dress, scene.dated)),
                className="chart high",
            ),
        ),
    ]


def _left_out(view: View) -> html.Section:
    calibration, dress = view.opened.review.case.calibration, view.dress
    changes = [html.Li(_change_text(one, dress)) for one in calibration.changes] or [
        html.Li("Log and compass did not change measurably during the passage.")
    ]
    spans = [
        html.Li(
            f"{time_of_day_text(one.start.timestamp() * 1000, dress.clock)} to "
            f"{time_of_day_text(one.end.timestamp() * 1000, dress.clock)} "
            f"({duration_text((one.end - one.start).total_seconds())}): {REASONS.get(one.reason, one.reason)}"
        )
        for one in calibration.excluded
    ]
    more = [html.Li(f"and {len(spans) - LISTED} more")] if len(spans) > LISTED else []
    lost = [
        f"{duration_text(20 * count)} {REASONS.get(reason, reason)}"
        for reason, count in calibration.rejected.items()
    ]
    used = f"{duration_text(20 * calibration.used)} of steady sailing were used"
    return panel(
        "What changed, and what was left out",
        html.Ul(changes),
        html.H3("Left out of the estimate"),
        html.P(f"{used}; not used: {', '.join(lost)}." if lost else f"{used}, all there is."),
        html.Ul([*spans[:LISTED], *more]) if spans else None,
    )


def _change_text(change: Change, dress: Dress) -> str:
    way = CORRECTIONS[change.name]
    if change.at is not None:
        when = f"at {time_of_day_text(change.at.timestamp() * 1000, dress.clock)}"
    else:
        start, end = (
            time_of_day_text(one.timestamp() * 1000, dress.clock) for one in (change.start, change.end)
        )
        when = f"evenly from {start} to {end}"
    values = f"from {way.text(change.before)} to {way.text(change.after, change.sd)}"
    return f"{way.label}: {values}, {when} {dress.clock.name}."


def _at_least(spread: float) -> str:
    return f"{max(spread, 0.1):.1f}"
