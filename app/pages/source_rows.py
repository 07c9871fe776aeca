"""The tables of the Sources page: a row a source, its numbers beside those of the one in use."""

from typing import Any

from dash import html

from analysis.agreement import Agreement
from analysis.estimate import SIGMAS_95
from analysis.passage import Source
from analysis.source_table import Beside, Group
from app.dress import Dress
from app.units import Shown
from app.view import View

from .wording import NOTHING, count_text, label_text, time_of_day_text

TITLES = (
    "Source",
    "Use",
    "Readings",
    "Rate",
    "Covers",
    "Noise",
    "Silent",
    "Differs by",
    "Ratio",
    "Late by",
    "Drifts",
)
TIPS = {
    "Covers": "Share of the passage with a fresh reading.",
    "Noise": "One standard deviation from reading to reading.",
    "Silent": "Share of the time it says nothing while the one in use, or the other, speaks.",
    "Differs by": "This source less the one in use, with the 95 % interval; for positions the distance.",
    "Ratio": "This source divided by the one in use, with the 95 % interval.",
    "Late by": "How much later it changes than the one in use.",
    "Drifts": "How the difference changes in an hour.",
}
_LABELS = {"lat_deg": "Position", "heading_true_deg": "Heading", "heading_mag_deg": "Heading"}
_KINDS = {"heading_mag_deg": ", magnetic", "heading_true_deg": ", true"}
_NUMBERED = slice(2, None)


def labelled(channel: str) -> str:
    """Name a quantity as sources are compared by it."""
    return _LABELS.get(channel) or label_text(channel)


def members_table(view: View, group: Group) -> html.Div:
    """Show the sources of a quantity, the one in use first, by what is told of any; another can be taken instead."""
    places = {one.key: place for place, one in enumerate(view.opened.review.passage.sources)}
    compared = next((one.agreement for one in group.members if one.agreement is not None), None)
    numbers = [_numbers(view.dress, one, compared) for one in group.members]
    told = [place for place, texts in enumerate(zip(*numbers, strict=True)) if {*texts} - {NOTHING, ""}]
    rows = [
        html.Tr(
            [
                html.Th(_named(one), scope="row", className="short"),
                html.Td(_action(one, places[one.source.key])),
                *(html.Td(texts[place].replace("-", "−"), className="number") for place in told),
            ],
            className="chosen" if one.used else "",
        )
        for one, texts in zip(group.members, numbers, strict=True)
    ]
    heads = [
        html.Th(
            title,
            scope="col",
            className="number" if title in TITLES[_NUMBERED] else "",
            title=TIPS.get(title),
        )
        for title in (*TITLES[:2], *(TITLES[_NUMBERED][place] for place in told))
    ]
    return html.Div(
        html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)]),
        className="sideways",
        tabIndex=0,
        role="region",
        **{"aria-label": f"Sources of {labelled(group.channel)}"},
    )


def singles_table(singles: tuple[Source, ...]) -> html.Table:
    """Show the sources that are alone."""
    titles = ("Quantity", "Source", "Readings", "Rate", "Covers")
    rows = [
        html.Tr(
            [
                html.Th(label_text(one.key.channel), scope="row"),
                html.Td(one.key.words),
                html.Td(count_text(one.count), className="number"),
                html.Td(_rate(one), className="number"),
                html.Td(_share(one.coverage), className="number"),
            ]
        )
        for one in singles
    ]
    heads = [
        html.Th(title, scope="col", className="number" if title in titles[2:] else "") for title in titles
    ]
    return html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)])


def apart_text(one: Beside, dress: Dress) -> str:
    """Say when a source lay far from the one in use; empty where it did not, or says the same as another."""
    told = one.agreement
    if told is None or told.apart is None or told.repeat:
        return ""
    start, end = (
        time_of_day_text(time.timestamp() * 1000, dress.clock) for time in (told.apart.start, told.apart.end)
    )
    return f"{one.source.key.words} lies far from the one in use from {start} to {end} {dress.clock.name}."


def _named(one: Beside) -> str:
    key = one.source.key
    return f"{key.words}{_KINDS.get(key.channel, '')}"


def _numbers(dress: Dress, one: Beside, first: Agreement | None) -> list[str]:
    source, told = one.source, one.agreement
    head = [count_text(source.count), _rate(source), _share(source.coverage)]
    if one.used:
        if first is None:
            return [*head, *6 * [NOTHING]]
        shown = dress.units.of(first.unit)
        return [*head, _amount(first.noise_first, shown), _share(first.dropouts_first), *4 * [""]]
    if told is None:
        return [*head, *6 * [NOTHING]]
    shown = dress.units.of(told.unit)
    sign = "" if told.channel == "lat_deg" else "+"
    return [
        *head,
        _amount(told.noise_second, shown),
        _share(told.dropouts_second),
        _within(told.bias, told.bias_sd, shown, sign),
        NOTHING if told.scale is None else f"{told.scale:.3f}{_spread(told.scale_sd, 3)}",
        NOTHING if told.lag_s is None else f"{told.lag_s:+.1f}{_spread(told.lag_sd_s, 1)} s",
        NOTHING
        if told.drift_per_h is None
        else f"{_within(told.drift_per_h, told.drift_per_h_sd, shown, '+')}/h",
    ]


def _action(one: Beside, place: int) -> Any:
    if one.used:
        return "in use"
    return html.Button(
        "Use this one instead",
        id={"type": "use-source", "index": place},
        type="button",
        **{"aria-label": f"Use {one.source.key.name} instead"},
    )


def _rate(source: Source) -> str:
    if not source.rate_hz:
        return NOTHING
    return f"{source.rate_hz:.1f} Hz" if source.rate_hz >= 0.95 else f"every {1 / source.rate_hz:.0f} s"


def _share(share: float | None) -> str:
    return NOTHING if share is None else f"{100 * share:.0f} %"


def _decimals(shown: Shown) -> int:
    return 1 if shown.symbol in ("m", "ft") else 2


def _amount(value: float | None, shown: Shown) -> str:
    return NOTHING if value is None else f"{value * shown.factor:.{_decimals(shown)}f}{_unit(shown)}"


def _within(value: float, sd: float | None, shown: Shown, sign: str) -> str:
    decimals = _decimals(shown)
    number = f"{round(value * shown.factor, decimals) + 0.0:{sign}.{decimals}f}"
    return f"{number}{_spread(None if sd is None else sd * shown.factor, decimals)}{_unit(shown)}"


def _spread(sd: float | None, decimals: int) -> str:
    return "" if sd is None else f" ± {max(SIGMAS_95 * sd, 10.0**-decimals):.{decimals}f}"


def _unit(shown: Shown) -> str:
    return shown.symbol if shown.symbol == "°" else f" {shown.symbol}"
