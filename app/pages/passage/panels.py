"""The panels below the passage: what the log says of itself, the account of its sentences, its sources."""

from collections.abc import Mapping

import numpy as np
from dash import html

from analysis.channels import CHANNELS
from analysis.passage import Counts, Passage, Series, Source
from app.figures.scene import Scene
from app.pages.parts import panel
from app.pages.wording import NOTHING, count_text, duration_text, fact_text, label_text, value_text

from .columns import cursor_channels, reading_cells


def log_panel(passage: Passage, missing: list[str]) -> html.Section:
    """Show the files, where the time comes from, the facts, the gaps, and what the log has not."""
    gap_s = sum(gap.end_s - gap.start_s for gap in passage.gaps)
    rows = [
        ("Files", ", ".join(passage.files)),
        ("Time from", passage.time_basis or NOTHING),
        ("Silences", f"{len(passage.gaps)}, together {duration_text(gap_s)}" if passage.gaps else "none"),
    ]
    return panel(
        "The recording itself",
        html.Dl([part for term, text in rows for part in (html.Dt(term), html.Dd(text))]),
        html.H3("Noticed while reading"),
        _list(
            [
                _ON_SCREEN.get(fact.id, fact_text(fact.text))
                for fact in passage.facts
                if not missing or fact.id not in _SAID_BELOW
            ]
            or ["Nothing out of the ordinary."]
        ),
        *([html.H3("Not in this recording", id="not-in-log"), _list(missing)] if missing else []),
    )


_ON_SCREEN = {
    "no-date": "The date is unknown: the recording has the time of day alone. Give the date with --date YYYY-MM-DD."
}
_SAID_BELOW = ("no-position", "no-ground-motion", "no-wind", "no-heading", "no-water-speed")


def more_panel(scene: Scene) -> html.Section | None:
    """Show the channels at the cursor that are neither drawn nor sides of the triangle."""
    rest = cursor_channels(scene)
    return panel("Also at the cursor", html.Dl(reading_cells(rest), className="cells")) if rest else None


def account_panel(counts: Counts) -> html.Section:
    """Show what became of every sentence; the parts add up to the whole."""
    rows = [
        _account_row("Accepted", counts.accepted, ""),
        *_reasons("Rejected", counts.rejected, counts.first_lines),
        *_reasons("Ignored", counts.ignored, counts.first_lines),
    ]
    total = _account_row("Sentences", counts.sentences, f"in {count_text(counts.lines)} lines")
    apart = [
        f"{label_text(channel)}: {count_text(count)} outside what is physically possible"
        for channel, count in counts.out_of_range.items()
        if count
    ]
    strangers = [f"{name}: {count_text(count)}" for name, count in counts.unknown_formatters.items()]
    return panel(
        "Every sentence accounted for",
        html.Table([html.Tbody(rows), html.Tfoot(total)], className="account"),
        *([html.H3("Readings kept out"), _list(apart)] if apart else []),
        *([html.H3("Sentences not known here"), html.P(", ".join(strangers))] if strangers else []),
    )


def sources_panel(passage: Passage) -> html.Section:
    """Show every source of every channel with the range of its readings, the chosen one marked."""
    order = {name: place for place, name in enumerate(CHANNELS)}
    ranked = sorted(
        passage.sources, key=lambda s: (order.get(s.key.channel, len(order)), not s.chosen, -s.count)
    )
    head = html.Tr(
        [
            html.Th(text, scope="col", className=kind)
            for text, kind in (
                ("Quantity", ""),
                ("From", ""),
                ("Readings", "number"),
                ("Lowest", "number"),
                ("Highest", "number"),
                ("Rate", "number"),
                ("Coverage", "number"),
                ("Used", "short"),
            )
        ]
    )
    return panel(
        "Sources",
        html.Div(
            html.Table(
                [
                    html.Thead(head),
                    html.Tbody([_source_row(source, passage.series.get(source.key)) for source in ranked]),
                ]
            ),
            className="scroll",
            tabIndex=0,
        )
        if ranked
        else html.P("No source gave a reading."),
    )


def _source_row(source: Source, series: Series | None) -> html.Tr:
    key = source.key
    return html.Tr(
        [
            html.Td(label_text(key.channel)),
            html.Td(key.words),
            html.Td(count_text(source.count), className="number"),
            *(html.Td(text, className="number") for text in _range_texts(series)),
            html.Td(
                f"{source.rate_hz:.3g} Hz" if source.rate_hz is not None else NOTHING, className="number"
            ),
            html.Td(f"{source.coverage:.1%}" if source.coverage is not None else NOTHING, className="number"),
            html.Td("used" if source.chosen else "", className="short"),
        ],
        className="chosen" if source.chosen else "",
    )


def _reasons(
    title: str, reasons: Mapping[str, int], first_lines: Mapping[str, tuple[str, ...]]
) -> list[html.Tr]:
    found = [
        _account_row(f"{title}: {reason}", count, _first(first_lines.get(reason, ())))
        for reason, count in reasons.items()
        if count
    ]
    return found or [_account_row(title, 0, "")]


def _first(lines: tuple[str, ...]) -> str:
    return f"first at {', '.join(lines[:3])}" if lines else ""


def _account_row(name: str, count: int, remark: str) -> html.Tr:
    return html.Tr(
        [
            html.Th(name, scope="row"),
            html.Td(count_text(count), className="number"),
            html.Td(remark, className="remark"),
        ]
    )


def _range_texts(series: Series | None) -> tuple[str, str]:
    """Write the lowest and highest reading; directions and positions have none."""
    channel = CHANNELS.get(series.key.channel) if series is not None else None
    if series is None or not len(series.value) or (channel and channel.kind in ("direction", "position")):
        return "", ""
    ends = float(np.nanmin(series.value)), float(np.nanmax(series.value))
    texts = [value_text(channel.name, end) if channel else f"{end:.6g} {series.unit}" for end in ends]
    return texts[0], texts[1]


def _list(texts: list[str]) -> html.Ul:
    return html.Ul([html.Li(text) for text in texts])
