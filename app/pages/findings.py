"""The Findings page: every instrument at a glance, each finding with its evidence, and what-if."""

import math
from typing import Any

from dash import ALL, Dash, Input, Output, callback_context, dcc, html
from dash.exceptions import PreventUpdate

from analysis.correction import beyond, neutral, remaining
from analysis.estimate import SIGMAS_95
from analysis.findings import Finding
from analysis.findings.telling import listed
from analysis.review import Review
from analysis.verdicts import Verdict, verdicts
from app.desk import Desk
from app.view import View, Views

from .by_hand import register_by_hand
from .corrections import CORRECTIONS, WAYS, number_text, within_text
from .evidence import evidence_of
from .parts import conclusion, panel
from .severity import SEVERITY
from .whatif import register_whatif, whatif_panel

TITLE = "Findings"
_ASHORE = ("barometer",)  # no passage tells of it without a station's pressure
_LEVELLED = ("log-fouling", "compass-disturbed")
_LEVELLED_TEXT = (
    "Every page shows the passage freed of this change, each moment by what held then; what-if gives the mean. "
    "Your instruments are as they were."
)
_NUMBERLESS = ("methods-disagree", "not-determined", "true-wind-reference")
_TOGETHER = {
    "nothing found": "Nothing in the recording speaks against it.",
    "not recorded": "The recording has no reading of it.",
}
_WORDS = {"wrong": "Wrong", "off": "Off", "not told": "Cannot be told", "in order": "In order"}


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the instruments, the findings, what-if."""
    return [
        *_body(view),
        whatif_panel(view),
        dcc.Store(id="by-hand-findings"),
    ]


def on_paper(view: View) -> list[Any]:
    """Lay the page out for a report: nothing to try."""
    return _body(view)


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire what-if, and setting a correction aside or applying it."""
    register_by_hand(app, views, desk)
    register_whatif(app, views, desk)

    def change(_clicks: list[int | None]) -> bool:
        view, pressed = views(), callback_context.triggered_id
        if view is None or not any(_clicks):
            raise PreventUpdate
        names = CORRECTIONS[pressed["finding"]]
        kept = {
            name: value
            for name, value in view.opened.review.settings.corrections.items()
            if name not in names
        }
        aside = {name: neutral(name) for name in names} if pressed["do"] == "aside" else {}
        desk.correct(view.opened.key, kept | aside)
        return True

    app.callback(
        Output("by-hand-findings", "data"),
        Input({"type": "correction", "finding": ALL, "do": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(change)


def conclusion_text(review: Review) -> str:
    """Say the gravest finding, which other instruments to look at, and which cannot be judged."""
    told = _verdicts(review)
    said = [one for one in told if one.findings]
    unknown = [
        one.instrument
        for one in told
        if one.word == "not told" and not one.findings and one.instrument not in _ASHORE
    ]
    open_text = f" Of the {listed(unknown)} this passage cannot tell." if unknown else ""
    if not said:
        if all(one.word == "not recorded" for one in told):
            return "The recording has no readings of any instrument, so there is nothing to judge."
        return f"No instrument was found wrong.{open_text}"
    others = [f"the {one.instrument}" for one in said[1:]]
    also = f" Look also at {listed(others)}." if others else ""
    return f"{review.findings[said[0].findings[0]].title}{also}{open_text}"


def _body(view: View) -> list[Any]:
    review = view.opened.review
    cards = [_card(view, one, number) for number, one in enumerate(review.findings)]
    if not cards:
        cards = [
            html.P(
                "No finding: nothing recorded speaks against an instrument. What cannot be told is listed above.",
                className="notice",
            )
        ]
    return [
        conclusion(conclusion_text(review)),
        panel(
            "Every instrument at a glance",
            _glance(review),
            html.P(
                "± is the 95 % interval: of twenty such numbers one may lie outside it.",
                className="small",
            ),
            html.P(
                ["What if a correction were another? ", html.A("Try it below", href="#what-if"), "."],
                className="small screen-only",
            ),
            wide=True,
        ),
        html.Div(cards, className="cards"),
    ]


def _verdicts(review: Review) -> tuple[Verdict, ...]:
    by_hand = beyond(review.case.screened.mistakes, review.settings.corrections)
    left = remaining(review.case.calibration.estimates, by_hand)
    if review.case.rudder is not None:
        left["rudder_offset_deg"] = review.case.rudder.judged
    logged = sorted({source.key.channel for source in review.passage.sources})
    return verdicts(review.findings, left, logged)


def _glance(review: Review) -> html.Table:
    told = _verdicts(review)
    rows = [
        html.Tr(
            [
                html.Th(f"{one.instrument[0].upper()}{one.instrument[1:]}", scope="row"),
                html.Td(
                    html.Span(
                        _WORDS.get(one.word, one.word.capitalize()),
                        className=f"word {one.word.replace(' ', '-')}",
                    )
                ),
                html.Td(_why(review, one)),
            ]
        )
        for one in told
        if one.word not in _TOGETHER
    ]
    for word, why in _TOGETHER.items():
        alike = [one.instrument for one in told if one.word == word]
        if alike:
            names = listed(alike)
            label = html.Span(word.capitalize(), className=f"word {word.replace(' ', '-')}")
            name = html.Th(f"{names[0].upper()}{names[1:]}", scope="row")
            rows.append(html.Tr([name, html.Td(label), html.Td(why)]))
    return html.Table(html.Tbody(rows), className="glance")


def _why(review: Review, one: Verdict) -> Any:
    if one.findings:
        links: list[Any] = []
        for number in one.findings:
            links += [html.A(review.findings[number].title, href=f"#finding-{number}"), " "]
        return links
    if one.within is not None:
        most, unit = (100 * one.within, "%") if one.unit == "1" else (one.within, one.unit)
        size = f"{math.ceil(10 * most) / 10:.1f} {unit}"
        return f"Off by no more than {size.replace(' deg', '°')} (95 %)."
    return f"To tell: {one.needs}" if one.needs else "This passage does not tell."


def _card(view: View, finding: Finding, number: int) -> html.Section:
    word, meaning = SEVERITY[finding.severity]
    told = [
        (title, text)
        for title, text in (
            ("Do", finding.action),
            ("Verify at sea", finding.verify),
            ("Caution", finding.caution),
        )
        if text
    ]
    return html.Section(
        [
            html.Div(
                [
                    html.Span(word, className=f"severity {finding.severity}", title=meaning),
                    html.Span(finding.subject, className="subject"),
                    html.Span(_measured(finding), className="measured"),
                ],
                className="card-head",
            ),
            html.H2(finding.title),
            html.Div(
                [
                    html.Div(
                        [
                            html.Dl(
                                [part for title, text in told for part in (html.Dt(title), html.Dd(text))]
                            ),
                            *_applied(view, finding),
                        ],
                        className="say",
                    ),
                    html.Div(evidence_of(view, finding, number), className="show"),
                ],
                className="card-body",
            ),
        ],
        className=f"panel card {finding.severity}",
        id=f"finding-{number}",
    )


def _measured(finding: Finding) -> str:
    """The number of a finding with its ± at 95 %, where it has both."""
    if finding.value is None or finding.id in _NUMBERLESS:
        return ""
    names = CORRECTIONS.get(finding.id, ())
    spread = SIGMAS_95 * (finding.sd or 0.0)
    if spread != spread:
        return ""
    if len(names) == 1:
        text = f"Correction {number_text(names[0], finding.value, spread)}"
        return f"{text} {within_text(names[0], spread)}" if spread else text
    if not spread or finding.unit == "1":
        return ""
    unit = {"deg": "°", "": ""}.get(finding.unit, f" {finding.unit}")
    decimals = 2 if finding.unit == "kn" else 1
    return f"{finding.value:+.{decimals}f}{unit} ± {spread:.{decimals}f}{unit}".replace("-", "−")


def _applied(view: View, finding: Finding) -> list[Any]:
    """Say whether the finding's correction is applied, and offer the other."""
    names = CORRECTIONS.get(finding.id, ())
    review = view.opened.review
    if finding.id in _LEVELLED and not review.settings.as_shown:
        return [html.P(_LEVELLED_TEXT, className="applied")]
    if not names or not finding.determined or review.settings.as_shown:
        return []
    by_hand = [name for name in names if name in review.settings.corrections]
    if not by_hand:
        state, do, text = (
            "Applied: every page shows the passage with this correction. Your instruments are as they were.",
            "aside",
            "Set it aside",
        )
    elif all(review.settings.corrections[name] == neutral(name) for name in by_hand):
        state, do, text = (
            "Set aside: every page shows the passage without this correction.",
            "apply",
            "Apply it",
        )
    else:
        numbers = ", ".join(
            f"{WAYS[name].label} {number_text(name, review.settings.corrections[name])}" for name in by_hand
        )
        state = f"By hand: {numbers}. What is said here is what that leaves."
        do, text = "apply", "Take what the recording says"
    return [
        html.P(
            [
                html.Span(state),
                html.Button(text, id={"type": "correction", "finding": finding.id, "do": do}, type="button"),
            ],
            className="applied",
        )
    ]
