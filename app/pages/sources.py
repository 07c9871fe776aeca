"""The Sources page: every source of a quantity beside the one in use, and another chosen in its place."""

from typing import Any

import pandas as pd
from dash import ALL, ClientsideFunction, Dash, Input, Output, callback_context, dcc, html
from dash.exceptions import PreventUpdate

from analysis.differences import difference
from analysis.errors import SternlogError
from analysis.findings.telling import listed
from analysis.passage import Source, SourceKey, column
from analysis.profiles import by_heading, by_size
from analysis.review import Review
from analysis.source_table import Group, chosen_instead, groups_of, singles_of
from analysis.spread import spread_of
from app.desk import Desk
from app.dress import Dress
from app.figures.sources import MOST, differences_by, differences_through_time
from app.units import Shown
from app.view import View, Views

from .graph import graph
from .parts import conclusion, panel, term
from .source_rows import apart_text, labelled, members_table, singles_table
from .wording import duration_text, value_text

TITLE = "Sources"
DISAGREE = ("sources-disagree", "sounders-disagree")
ANGLES = ("heading_true_deg", "cog_deg", "awa_deg")
WIND = {"TWD": ("twd_water_deg", "twd_ground_deg"), "TWS": ("tws_water_kn", "tws_ground_kn")}
TAKEN_UP = {
    "log_factor": ("log factor", "", 3),
    "compass_constant_deg": ("compass constant", "°", 1),
    "vane_offset_deg": ("vane offset", "°", 1),
    "wind_speed_factor": ("wind-speed factor", "", 3),
}
BY_SIZE = ("stw_kn", "sog_kn", "aws_kn", "awa_deg", "depth_m")


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, every quantity with several sources, the stand-in, the rest."""
    return [conclusion(conclusion_text(view.opened.review)), _changing(view), _main(view)]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the choice of another source."""

    def use(_clicks: list[int | None], back: int | None) -> str:
        view, pressed = views(), callback_context.triggered_id
        if view is None or not any([*_clicks, back]):
            raise PreventUpdate
        before = view.opened.review
        try:
            if pressed == "use-own":
                after = desk.use_sources(view.opened.key, {}).review
                what = "Back to the program's own choice"
            else:
                key = before.passage.sources[pressed["index"]].key
                after = desk.use_sources(view.opened.key, chosen_instead(before.settings.sources, key)).review
                what = f"{labelled(key.channel)} is now taken from {key.words}"
        except SternlogError as error:
            return str(error)
        return f"{what}: {changed_text(before, after, view.dress)}"

    app.callback(
        Output("sources-told", "data"),
        Input({"type": "use-source", "index": ALL}, "n_clicks"),
        Input("use-own", "n_clicks"),
        prevent_initial_call=True,
        running=[(Output("working", "hidden"), False, True)],
    )(use)
    app.clientside_callback(
        ClientsideFunction("sources", "tell"), Output("told", "children"), Input("sources-told", "data")
    )


def conclusion_text(review: Review) -> str:
    """Say whether the sources agree, and which to trust."""
    told = [one.title for one in review.findings if one.id in DISAGREE]
    groups = [one for one in groups_of(review.case) if one.instruments]
    if told:
        return " ".join(told)
    names = [labelled(one.channel) for one in groups]
    apart = [labelled(one.channel) for one in groups if one.disagrees]
    if apart:
        return f"The sources of {listed(apart)} differ by more than their accuracy allows."
    if names:
        return f"Where the recording has more than one instrument ({listed(names)}) they agree within their accuracy."
    if not review.passage.sources:
        return "The recording has no readings, so there is no source to compare."
    return (
        "No quantity comes from two instruments that could be compared, so none is checked against another."
    )


def changed_text(before: Review, after: Review, dress: Dress) -> str:
    """Say what a change of sources did to the mean wind and current, as shown and once corrected."""
    parts = []
    for label, names in WIND.items():
        shown = [_mean_text(one.frame_as_shown, names, dress) for one in (before, after)]
        corrected = [_mean_text(one.frame, names, dress) for one in (before, after)]
        if any(shown):
            parts.append(f"mean {label} {_from_to(*shown)} as shown, {_from_to(*corrected)} corrected")
    currents = [_current_text(one, dress) for one in (before, after)]
    if any(currents):
        parts.append(f"mean current {_from_to(*currents)}")
    for name, (label, unit, decimals) in TAKEN_UP.items():
        pair = [_correction_text(one, name, unit, decimals) for one in (before, after)]
        if pair[0] != pair[1]:
            parts.append(f"{label} {_from_to(*pair)}")
    return f"{'; '.join(parts)}." if parts else "there is no wind and no current to change."


def _mean_text(frame: pd.DataFrame, names: tuple[str, str], dress: Dress) -> str:
    found = next((one for name in names if (one := spread_of(frame, name))), None)
    return "" if found is None else value_text(found.channel, found.mean, units=dress.units)


def _current_text(review: Review, dress: Dress) -> str:
    toward, drift = review.current.get("mean_set_deg"), review.current.get("mean_drift_kn")
    if toward is None or drift is None:
        return ""
    kn = dress.units.of("kn")
    return f"{round(toward) % 360:03d}° at {drift * kn.factor:.2f} {kn.symbol}"


def _correction_text(review: Review, name: str, unit: str, decimals: int) -> str:
    one = review.calibration.get(name)
    if one is None or one.value is None or not one.determined:
        return "not determined"
    return f"{round(one.value, decimals) + 0.0:.{decimals}f}{unit}"


def _from_to(before: str, after: str) -> str:
    if before == after:
        return f"still {before}"
    return f"{before or 'unknown'} → {after or 'unknown'}"


def _changing(view: View) -> html.Div:
    chosen = view.opened.review.settings.sources
    names = [
        f"{labelled(channel)} from {SourceKey(channel, *choice).words}" for channel, choice in chosen.items()
    ]
    return html.Div(
        [
            html.P(
                "Working the passage out again from the source you chose…",
                id="working",
                hidden=True,
                role="status",
            ),
            html.P("", id="told", role="status"),
            html.Div(
                [
                    html.Span(f"Chosen by hand: {listed(names)}." if names else ""),
                    html.Button("Back to the program's own choice", id="use-own", type="button"),
                ],
                hidden=not names,
                className="by-hand",
            ),
            dcc.Store(id="sources-told"),
        ],
        className="changing screen-only",
    )


def _main(view: View) -> html.Div:
    review = view.opened.review
    groups = groups_of(review.case)
    first = [one for one in groups if one.instruments]
    rest = [one for one in groups if not one.instruments]
    return html.Div(
        [
            *(_several(view, one) for one in first),
            *([_heard_twice(view, rest)] if rest else []),
            _stand_in(view),
            _alone(view),
        ],
        className="panels",
    )


def _several(view: View, group: Group) -> html.Section:
    """A quantity that several instruments tell."""
    verdict = "They agree within what their published accuracy allows."
    if group.disagrees:
        verdict = group.why
    if group.trusted is not None:
        verdict = f"Trust {group.trusted.words}: {group.why}."
        if not any(one.used and one.source.key == group.trusted for one in group.members):
            verdict += " It is not the one in use."
    return panel(
        labelled(group.channel),
        html.P(verdict, className="verdict"),
        members_table(view, group),
        *(html.P(text) for one in group.members if (text := apart_text(one, view.dress))),
        *(
            html.P(
                f"Two instruments speak by turns as {one.first._replace(instance='').words}; they lie "
                f"{abs(one.bias):.2f} {view.dress.units.of(one.unit).symbol} apart. {one.why}"
            )
            for one in group.parted
        ),
        _charts(view, group),
        wide=True,
    )


def _charts(view: View, group: Group) -> html.Div | None:
    """How each other instrument differs from the one in use, through time and by what tells."""
    review, scene, dress = view.opened.review, view.opened.scene, view.dress
    used = group.members[0]
    others = [one for one in group.members[1:] if one.agreement is not None and not one.agreement.repeat][
        :MOST
    ]
    found = {
        f"{one.source.key.name} less {used.source.key.name}": got
        for one in others
        if (got := difference(review.passage, used.source.key, one.source.key)) is not None
    }
    if not found or not len(scene.time_ms):
        return None
    unit = "m" if group.channel == "lat_deg" else others[0].agreement.unit if others[0].agreement else ""
    shown = dress.units.of(unit)
    through = differences_through_time(
        scene.time_ms,
        {name: one.difference for name, one in found.items()},
        group.channel in ANGLES,
        shown,
        dress,
        scene.dated,
    )
    charts = [_chart(f"through-{group.channel}", through)]
    if group.channel == "heading_true_deg":
        profiles = {name: by_heading(one.first, one.difference) for name, one in found.items()}
        figure = differences_by(profiles, "heading", True, Shown("°", 0), shown, dress)
        charts.append(_chart(f"by-{group.channel}", figure))
    elif group.channel in BY_SIZE:
        profiles = {name: by_size(one.first, one.difference) for name, one in found.items()}
        title = f"{labelled(group.channel)} by {used.source.key.name}"
        figure = differences_by(profiles, title, False, dress.units.of_channel(group.channel), shown, dress)
        charts.append(_chart(f"by-{group.channel}", figure))
    elif group.channel == "cog_deg":
        heading = column(review.frame, "heading_true_deg")
        profiles = {name: by_heading(heading, one.difference) for name, one in found.items()}
        figure = differences_by(profiles, "heading", True, Shown("°", 0), shown, dress)
        charts.append(_chart(f"by-{group.channel}", figure))
    return html.Div(charts, className="pair")


def _chart(name: str, figure: dict[str, Any]) -> html.Div:
    return html.Div(graph(name, figure), className="chart")


def _heard_twice(view: View, groups: list[Group]) -> html.Section:
    return panel(
        "One instrument, heard in several sentences",
        html.P(
            "The same readings under several names, or too few to compare. The fuller and better "
            "vouched for is in use; another one matters only where it drops out less.",
            className="small",
        ),
        *(
            html.Details(
                [
                    html.Summary(f"{labelled(one.channel)}: {'; '.join(_names(one))}"),
                    members_table(view, one),
                ],
            )
            for one in groups
        ),
        wide=True,
    )


def _names(group: Group) -> list[str]:
    return [one.source.key.words + (", in use" if one.used else "") for one in group.members]


def _stand_in(view: View) -> html.Section:
    review, dress = view.opened.review, view.dress
    told = review.case.stand_in
    kn = dress.units.of("kn")
    title = "GNSS speed in place of the log"
    head = [term("SOG"), " can stand in for a log that is dead, at a price. "]
    if told is not None:
        silent, under_way = duration_text(told.silent_s), duration_text(told.under_way_s)
        state = (
            "The recording has no speed through the water at all. "
            if told.absent
            else f"The log is silent for {silent} of {under_way} under way. "
        )
        return panel(title, html.P([*head, state, told.words]))
    if not {"stw_kn", "sog_kn"} <= set(view.opened.scene.columns):
        return panel(
            title, html.P("The recording has no SOG, or the boat was not under way.", className="notice")
        )
    drift = spread_of(review.frame, "drift_kn")
    cost = (
        ""
        if drift is None
        else (
            f"Here it would leave a current of {drift.mean * kn.factor:.1f} {kn.symbol} on average unseen, up to "
            f"{drift.highest * kn.factor:.1f} {kn.symbol}, and put as much onto the true wind."
        )
    )
    return panel(title, html.P([*head, f"The log speaks throughout, so it is not needed. {cost}"]))


def _alone(view: View) -> html.Section:
    singles: tuple[Source, ...] = singles_of(view.opened.review.passage)
    if not singles:
        return panel("Quantities with one source", html.P("There are none.", className="notice"))
    return panel(
        "Quantities with one source", html.Div(singles_table(singles), className="scroll", tabIndex=0)
    )
