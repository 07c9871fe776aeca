"""What stands around every page: the passage's name, the way to its other pages, how it is shown, the caution."""

from typing import Any

from dash import html

from app import cautions
from app.addresses import PAGE_GROUPS, address
from app.downloads import keep_menu
from app.dress import CLOCKS, TEXT_SIZES, Dress, offset_text, ship_choice
from app.figures.palette import THEMES
from app.units import UNITS
from app.view import View

from .by_hand import by_hand_line
from .plain import plain

SHIP_OFFSETS_MIN = [*range(-12 * 60, 14 * 60 + 1, 60)]


def shell(view: View, page: str, content: list[Any]) -> html.Div:
    """Lay a page out within its frame."""
    opened = view.opened
    return html.Div(
        [
            html.Header(
                [
                    html.A("sternlog", href="/", className="mark", title="Open another recording"),
                    html.H1(opened.name, id="passage-name", title=opened.name),
                    html.P(cautions.SHORT, className="caution", id="caution"),
                    keep_menu(opened.key),
                    wishes_menu(view.dress),
                    _ways(opened.key, page),
                    *by_hand_line(opened),
                ]
            ),
            html.Main(content),
        ],
        className=f"page page-{page or 'passage'}",
    )


def _ways(key: str, page: str) -> html.Nav:
    """Lead to the pages, group by group."""
    return html.Nav(
        [
            html.Div(
                [
                    html.Span(group, className="ways-name"),
                    html.Div([_way(key, name, title, name == page) for name, title in pages.items()]),
                ],
                role="group",
                className="ways",
                **{"aria-label": group},
            )
            for group, pages in PAGE_GROUPS.items()
            if pages
        ],
        **{"aria-label": "Pages of this passage"},
    )


def _way(key: str, name: str, title: str, current: bool) -> html.A:
    marks = {"aria-current": "page"} if current else {}
    return html.A(title, href=address(key, name), **marks)


def wishes_menu(dress: Dress) -> html.Details:
    """Offer the light, the clock, the units and the size of the text; a script keeps the choice in a cookie."""
    return html.Details(
        [
            html.Summary("Display"),
            html.Div(
                className="wishes",
                **plain(
                    [
                        _choice(
                            "theme",
                            "Light",
                            {n: theme.label for n, theme in THEMES.items()},
                            dress.theme_name,
                        ),
                        _choice("clock", "Time", _clocks(), dress.clock_choice),
                        _choice(
                            "units",
                            "Units",
                            {n: units.label for n, units in UNITS.items()},
                            _units_name(dress),
                        ),
                        _choice("text", "Text", {n: f"{n} %" for n in TEXT_SIZES}, _text_name(dress)),
                    ]
                ),
            ),
        ],
        id="wishes",
        className="menu-button",
    )


def _choice(cookie: str, label: str, options: dict[str, str], chosen: str) -> html.Label:
    return html.Label(
        [
            html.Span(label),
            html.Select(
                [
                    html.Option(text, value=name, **({"selected": "selected"} if name == chosen else {}))
                    for name, text in options.items()
                ],
                id=f"wish-{cookie}",
                **{"data-cookie": cookie},
            ),
        ]
    )


def _clocks() -> dict[str, str]:
    ship = {ship_choice(offset): f"Ship's time, {offset_text(offset)}" for offset in SHIP_OFFSETS_MIN}
    return CLOCKS | ship


def _units_name(dress: Dress) -> str:
    return next(name for name, units in UNITS.items() if units is dress.units)


def _text_name(dress: Dress) -> str:
    return next(name for name, size in TEXT_SIZES.items() if size == dress.text)
