"""The Traffic page: who came close and how, how well one's own AIS sent and heard, and what a radar watch misses."""

import math
from typing import Any

import numpy as np
import pandas as pd
from dash import ALL, Dash, Input, Output, callback_context, dcc, html
from dash.exceptions import PreventUpdate

from analysis.estimate import SIGMAS_95
from analysis.traffic import Encounter, Traffic, kind_text
from analysis.traffic.portrait import Portrait, portrait
from app import cautions
from app.desk import Desk
from app.dress import Dress
from app.figures.traffic import foreseen, over_ground, reception_by_bearing, seen_from_boat
from app.sections.traffic import (
    CUT,
    crossing_text,
    nobody_met_text,
    radar_text,
    range_text,
    reception_text,
    side_text,
    stations_text,
    transmission_text,
    watch_text,
)
from app.view import View, Views

from .graph import graph
from .parts import conclusion, panel, table_row, wide_table
from .wording import NOTHING, count_text, passage_time_text

TITLE = "Traffic"
LISTED, ON_PAPER, STATIONS_LISTED, RADAR_LISTED = 20, 8, 400, 40


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the encounters and the chosen one, transmission, reception, radar."""
    told = view.opened.review.case.traffic
    if not (told.heard or len(told.radar)):
        watch = _watch(told, view.dress)
        return [
            conclusion("This recording has no AIS and no radar targets, so nothing can be said of traffic."),
            html.P(
                "It takes VDM sentences of an AIS receiver or transponder (and its VDO for the own transmission), or "
                "TTM or TLL of a radar.",
                className="notice",
            ),
            *([html.Div(watch, className="panels")] if watch else []),
        ]
    first = told.closest(1)
    return [
        conclusion(conclusion_text(told, view.dress)),
        html.P(cautions.TRAFFIC, className="caution"),
        html.Div(
            [
                _encounters(told, view, LISTED, True),
                *([_chosen(told, view, first[0])] if first else []),
                *_rest(told, view),
                _stations(told, view),
            ],
            className="panels",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """Say the same on paper: the closest encounters, the own transponder, reception."""
    told = view.opened.review.case.traffic
    if not (told.heard or len(told.radar)):
        return [html.P("The recording has no AIS and no radar targets.")]
    return [
        conclusion(conclusion_text(told, view.dress)),
        html.P(cautions.TRAFFIC, className="caution"),
        html.Div([_encounters(told, view, ON_PAPER, False), *_rest(told, view)], className="panels"),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the choice of an encounter and of a moment of it."""

    def choose(_clicks: list[int | None]) -> tuple[int, int]:
        if not any(_clicks) or callback_context.triggered_id is None:
            raise PreventUpdate
        return callback_context.triggered_id["index"], 0

    app.callback(
        Output("traffic-visit", "data"),
        Output("traffic-moment", "value"),
        Input({"type": "show-encounter", "index": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(choose)

    def show(visit: int, minutes: float | str | None) -> tuple[Any, ...]:
        view = views()
        if view is None:
            raise PreventUpdate
        told = view.opened.review.case.traffic
        met = next((one for one in told.closest(len(told.met)) if one.visit == visit), None)
        if met is None:
            raise PreventUpdate
        shift = float(minutes or 0)
        seen = _portrait(told, met)
        at = _row(seen, met, shift)
        return (
            encounter_words(met, view),
            moment_text(seen, at, view),
            seen_from_boat(seen, met, at, view.dress),
            over_ground(seen, met, at, view.dress),
            foreseen(seen.forecast, met, told.asked.alarms.cpa_nm, view.dress, view.opened.scene.dated),
        )

    app.callback(
        Output("encounter-words", "children"),
        Output("moment-words", "children"),
        Output("from-boat", "figure"),
        Output("over-ground", "figure"),
        Output("foreseen", "figure"),
        Input("traffic-visit", "data"),
        Input("traffic-moment", "value"),
        prevent_initial_call=True,
    )(show)


def conclusion_text(told: Traffic, dress: Dress) -> str:
    """Say who came closest, and what of the own AIS is known."""
    if not told.heard:
        return f"No AIS in the recording; radar saw {radar_text(told.radar, *_nm(dress))}."
    head = f"{stations_text(len(told.stations))} heard"
    first = told.closest(1)
    if first:
        one = first[0]
        unit, factor = _nm(dress)
        name = told.name_of.get(one.mmsi, "") or str(one.mmsi)
        limit = told.asked.alarms.cpa_nm
        close = int((told.met["range_nm"] <= limit).sum())
        head += f"; the closest met was {name} at {one.range_nm * factor:.2f} {unit}, and "
        head += f"{close or 'none'} came within your {limit * factor:.2g} {unit}"
    else:
        head += f"; {nobody_met_text(told)}"
    own = told.transmission
    tail = (
        "Whether the own transponder sent is not known: the recording has no VDO."
        if not own.mmsis
        else f"The own transponder is seen: {transmission_text(own)}."
    )
    return f"{head}. {tail}"


def encounter_words(one: Encounter, view: View) -> str:
    """Say the chosen encounter in full."""
    told, dress = view.opened.review.case.traffic, view.dress
    unit, factor = _nm(dress)
    kn = dress.units.of("kn")
    name = told.name_of.get(one.mmsi, "") or str(one.mmsi)
    parts = [
        f"{name}, {kind_text(one.kind)}: closest {range_text(one, factor)} {unit} at "
        f"{_clock(one.time_s, view)} {dress.clock.name}",
        side_text(one.relative_deg),
        crossing_text(one, unit, factor),
        f"moving at {one.relative_kn * kn.factor:.1f} {kn.symbol} relative to you"
        if math.isfinite(one.relative_kn)
        else "",
        CUT.get(one.cut, ""),
    ]
    text = ", ".join(part for part in parts if part)
    if math.isfinite(one.aspect_deg):
        text += f"; you lay {side_text(one.aspect_deg).replace('the bow', 'its bow')}"
    if math.isfinite(one.foreseen_s):
        lead = (one.time_s - one.foreseen_s) / 60
        text += f". To be foreseen within your limit {lead:.0f} min before, at {one.foreseen_nm * factor:.1f} {unit}"
    if one.alarms:
        text += f". Your alarm would have gone off {'once' if one.alarms == 1 else f'{one.alarms} times'}"
        text += f", first at {_clock(one.alarm_s, view)}"
    return f"{text}."


def moment_text(seen: Portrait, at: int, view: View) -> str:
    """Say where the target lay at the moment shown."""
    unit, factor = _nm(view.dress)
    place = seen.relative[at]
    clock = _clock(seen.time_s[at], view)
    if not np.isfinite(place):
        return f"{clock}: own position missing"
    bearing = np.degrees(np.angle(place)) % 360
    age = f"{seen.age_s[at]:.0f} s from a report"
    return f"{clock}: {abs(place) * factor:.2f} {unit} on {round(bearing) % 360:03d}°, {age}"


def _clock(time_s: float, view: View) -> str:
    return passage_time_text(1000 * time_s, view.opened.scene, view.dress.clock)


def _nm(dress: Dress) -> tuple[str, float]:
    nm = dress.units.of("nm")
    return nm.symbol, nm.factor


def _portrait(told: Traffic, met: Encounter) -> Portrait:
    return portrait(told.track(met.visit), told.own, met)


def _row(seen: Portrait, met: Encounter, minutes: float) -> int:
    return int(np.argmin(np.abs(seen.time_s - met.time_s - 60 * minutes)))


def _chosen(told: Traffic, view: View, met: Encounter) -> html.Section:
    """The encounter in charts, with a moment of it to be chosen."""
    dress = view.dress
    seen = _portrait(told, met)
    at = _row(seen, met, 0.0)
    ahead = foreseen(seen.forecast, met, told.asked.alarms.cpa_nm, dress, view.opened.scene.dated)
    return panel(
        "The encounter",
        html.P(encounter_words(met, view), id="encounter-words", role="status"),
        html.Label(
            [
                html.Span("Minutes from the closest point"),
                dcc.Input(id="traffic-moment", type="range", min=-40, max=20, step=0.5, value=0),
                html.Output(moment_text(seen, at, view), id="moment-words"),
            ],
            className="moment screen-only",
        ),
        html.Div(
            [
                html.Div(
                    [
                        html.H3("As seen from the boat, north up"),
                        html.Div(
                            graph("from-boat", seen_from_boat(seen, met, at, dress)), className="chart square"
                        ),
                    ]
                ),
                html.Div(
                    [
                        html.H3("Over the ground, north up"),
                        html.Div(
                            graph("over-ground", over_ground(seen, met, at, dress)), className="chart square"
                        ),
                    ]
                ),
            ],
            className="pair",
        ),
        html.H3("The closest approach then to be expected, both keeping on"),
        html.Div(graph("foreseen", ahead), className="chart"),
        html.P(
            "● the boat, ◆ the target, marks every five minutes, dashed the boat's bow, dotted the closest point. "
            "Between reports the target is laid on a smooth curve; for the forecast she is "
            "carried on from her last report, for six minutes at most. The band is 95 %.",
            className="small",
        ),
        dcc.Store(id="traffic-visit", data=met.visit),
        wide=True,
    )


def _encounters(told: Traffic, view: View, most: int, chosen: bool) -> html.Section:
    dress = view.dress
    unit, factor = _nm(dress)
    kn = dress.units.of("kn")
    met = told.closest(most)
    if not met:
        return panel(
            "Closest encounters",
            html.P(f"{nobody_met_text(told).capitalize()}.", className="notice"),
            wide=True,
        )
    numbers = (dress.clock.name, f"Closest [{unit}]", f"Speed [{kn.symbol}]", "Foreseen", "Alarms")
    heads = ["Who", *numbers[:2], "Off the bow", "How", *numbers[2:], *([""] if chosen else [])]
    rows = []
    for number, one in enumerate(met):
        name = told.name_of.get(one.mmsi, "") or str(one.mmsi)
        show = html.Button(
            "Show",
            id={"type": "show-encounter", "index": one.visit},
            type="button",
            **{"aria-label": f"Show {name}, row {number + 1}"},
        )
        cells = [
            name,
            _clock(one.time_s, view),
            range_text(one, factor),
            side_text(one.relative_deg).removesuffix(" off the bow") or NOTHING,
            " ".join(part for part in (crossing_text(one, unit, factor), CUT.get(one.cut, "")) if part)
            or NOTHING,
            f"{one.target_sog_kn * kn.factor:.1f}" if math.isfinite(one.target_sog_kn) else NOTHING,
            f"{(one.time_s - one.foreseen_s) / 60:.0f} min" if math.isfinite(one.foreseen_s) else NOTHING,
            count_text(one.alarms) if one.alarms else NOTHING,
            *([show] if chosen else []),
        ]
        rows.append(table_row(heads, cells, numbers))
    bearing = (
        ""
        if told.heading_of == "heading"
        else " The recording has no heading: the course stands for the bow."
    )
    alarms = told.asked.alarms
    return panel(
        "Closest encounters",
        wide_table(heads, rows, numbers),
        html.P(
            f"{len(told.met)} in all, each stretch in which a station was heard counting once; two that lie still by "
            f"each other do not meet. ± is 95 %. Alarms at {alarms.cpa_nm * factor:.2g} {unit} and "
            f"{alarms.tcpa_min:g} min: a choice (--cpa, --tcpa), not advice. Foreseen: since when, without a break, "
            f"the closest approach expected lay within that.{bearing}",
            className="small",
        ),
        wide=True,
    )


def _rest(told: Traffic, view: View) -> list[Any]:
    return [*_own(told, view), *_reception(told, view), *_radar(told, view), *_watch(told, view.dress)]


def _own(told: Traffic, view: View) -> list[Any]:
    own, dress = told.transmission, view.dress
    if not told.heard:
        return []
    if not own.mmsis:
        return [panel("The own transponder", html.P(own.why, className="notice"))]
    rows: list[tuple[str, str]] = [
        ("Identity", ", ".join(str(one) for one in own.mmsis)),
        ("Name", ", ".join(own.names) or "not recorded"),
        ("Class", own.transponder or NOTHING),
        ("Position reports", count_text(own.reports)),
    ]
    if own.interval_s is not None and own.nominal_s is not None:
        rows.append(("Interval", f"{own.interval_s:.0f} s, {own.nominal_s:.0f} s due (ITU-R M.1371)"))
    if own.without_position:
        rows.append(("Without a position", count_text(own.without_position)))
    if own.offset_m is not None and own.offset_m.value is not None:
        metre = dress.units.of("m")
        spread = (
            ""
            if own.offset_m.sd is None
            else f" ± {max(SIGMAS_95 * own.offset_m.sd * metre.factor, 1.0):.0f}"
        )
        rows.append(
            ("From the GNSS in use", f"{own.offset_m.value * metre.factor:.0f}{spread} {metre.symbol}")
        )
    if own.delay_s is not None and own.delay_s.value is not None and own.delay_s.sd is not None:
        late = f"{own.delay_s.value:+.1f} ± {max(SIGMAS_95 * own.delay_s.sd, 0.1):.1f} s"
        rows.append(("Its position is older by", late))
    rows += [
        (
            "Silent",
            f"from {_clock(start, view)} for {(end - start) / 60:.0f} min",
        )
        for start, end in own.silences[:5]
    ]
    rows += [
        (str(one["kind"]).capitalize(), str(one["text"])) for one in told.notices.head(8).to_dict("records")
    ]
    listed = [part for name, text in rows for part in (html.Dt(name), html.Dd(text))]
    return [
        panel(
            "The own transponder",
            html.Dl(listed),
            *([html.P(own.why, className="small")] if own.why else []),
        )
    ]


def _reception(told: Traffic, view: View) -> list[Any]:
    heard, dress = told.reception, view.dress
    if not heard.stations:
        return []
    unit, factor = _nm(dress)
    kinds = [of for of in ("bow", "true") if (heard.sectors["of"] == of).any()]
    charts = [
        html.Div(
            graph(f"reception-{of}", reception_by_bearing(heard.sectors, of, heard.horizon_nm, dress)),
            className="chart",
        )
        for of in kinds
    ]
    dark = heard.sectors[heard.sectors["shadow"].astype(bool)]
    verdict = (
        "No sector is heard clearly less than the others at the same range."
        if dark.empty
        else f"Heard less (crossed out): {', '.join(f'{int(one):03d}°' for one in dark['middle_deg'])}."
    )
    horizon = (
        f"; {heard.beyond} beyond one and a half times the horizon: ducting, a wrong height or a wrong position"
        if heard.beyond
        else ""
        if heard.horizon_nm
        else ". --aerial-height M adds the radio horizon"
    )
    return [
        panel(
            "How far others were heard",
            html.P(f"{reception_text(heard, unit, factor)}{horizon}. {verdict}"),
            html.Div(charts, className="pair"),
            html.P(
                "Bars: what nine stations of ten stay within. A shadow is told only where, by five visits or more, "
                "clearly fewer messages came in than at the same range elsewhere. Horizons are for aerials at 20 m "
                "on ships and 5 m on small craft. A sector without stations says nothing.",
                className="small",
            ),
            wide=True,
        )
    ]


def _radar(told: Traffic, view: View) -> list[Any]:
    if told.radar.empty:
        return []
    unit, factor = _nm(view.dress)
    names = told.name_of
    numbers = ("From", f"Nearest [{unit}]", f"CPA it told [{unit}]")
    heads = ("Target", *numbers, "AIS beside it")
    rows = []
    for one in told.radar.head(RADAR_LISTED).to_dict("records"):
        beside = names.get(one["mmsi"], "") or str(one["mmsi"]) if one["mmsi"] else "no AIS there"
        cells = [
            f"{one['number']} ({one['source']})",
            _clock(one["start_s"], view),
            _distance(one["nearest_nm"], factor),
            _distance(one["told_cpa_nm"], factor),
            beside,
        ]
        rows.append(table_row(heads, cells, numbers))
    return [
        panel(
            "Radar targets",
            html.P(f"{radar_text(told.radar, unit, factor)}."),
            wide_table(heads, rows, numbers, tall=True),
        )
    ]


def _watch(told: Traffic, dress: Dress) -> list[Any]:
    if told.watch is None:
        return []
    return [
        panel(
            "A radar that sleeps",
            html.P(watch_text(told.watch, *_nm(dress))),
            html.P(
                "A target that comes within detection as a scan ends is seen at the latest when the next one ends. "
                "How fast a target closed is what nine tenths of its reports stay below. "
                "Radar does not detect everything: small craft, rain and sea clutter.",
                className="small",
            ),
        )
    ]


def _distance(value: float, factor: float) -> str:
    return f"{value * factor:.2f}" if math.isfinite(value) else NOTHING


def _stations(told: Traffic, view: View) -> html.Section:
    if told.stations.empty:
        return panel("Everyone heard", html.P("Nobody.", className="notice"), wide=True)
    unit, factor = _nm(view.dress)
    table: pd.DataFrame = told.stations
    reach = (f"Nearest [{unit}]", f"Farthest [{unit}]")
    heads = ("Name", "Identity", "Call sign", "Kind", "Size", "Messages", *reach, "Changed")
    numbers = ("Identity", "Size", "Messages", *reach)
    listed = [
        [
            one["name"] or str(one["mmsi"]),
            str(one["mmsi"]),
            one["call_sign"] or NOTHING,
            ", ".join(part for part in (kind_text(one["kind"]), one["type"]) if part) or NOTHING,
            f"{one['length_m']:.0f} × {one['beam_m']:.0f} m" if one["length_m"] > 0 else NOTHING,
            count_text(one["messages"]),
            _distance(one["nearest_nm"], factor),
            _distance(one["farthest_nm"], factor),
            one["changed"] or NOTHING,
        ]
        for one in table.head(STATIONS_LISTED).to_dict("records")
    ]
    rows = [table_row(heads, cells, numbers) for cells in listed]
    more = len(table) - STATIONS_LISTED
    return panel(
        "Everyone heard",
        html.Details(
            [
                html.Summary(
                    f"{stations_text(len(table))}, {count_text(told.messages)} messages"
                    + (f", {count_text(told.unreadable)} unreadable" if told.unreadable else "")
                ),
                wide_table(heads, rows, numbers, tall=True),
                *([html.P(f"and {count_text(more)} more, in check --json")] if more > 0 else []),
            ]
        ),
        wide=True,
    )
