"""The bar that plays the passage: play, pace, step, jump; the clock; and the list of keys."""

from dash import html

from app.pages.plain import plain
from app.pages.wording import NOTHING

PACES = (1, 2, 5, 20, 60, 300, 1200, 3600)
FIRST_PACE = 60
JUMPS = {"any": "anything", "manoeuvre": "manoeuvre", "finding": "finding", "mark": "mark"}
KEYS = (
    ("Space", "play or pause"),
    ("← →", "step back or on; with Shift ten times as far"),
    ("Home End", "to the start or the end"),
    ("− +", "slower or faster"),
    (", .", "to what happened before or next, of the kind chosen"),
    ("M", "next manoeuvre; with Shift the one before"),
    ("F", "next finding; with Shift the one before"),
    ("K", "next mark; with Shift the one before"),
    ("P", "place a mark of your own at the boat"),
    ("H", "hold the cursor or let it go"),
    ("T", "turn the triangle: heading up or north up"),
    ("W", "the whole passage"),
    ("Esc", "let go, close"),
    ("?", "this list"),
)


def replay_bar(placed: bool) -> html.Section:
    """Make the bar; ``placed`` says whether there is a position."""
    return html.Section(
        [
            html.Div(
                [
                    _button("before", "|◂", "What happened before (comma)"),
                    _button("back", "◂", "Step back (left arrow)"),
                    _button("play", "Play", "Play or pause (space)"),
                    _button("on", "▸", "Step on (right arrow)"),
                    _button("next", "▸|", "What happened next (full stop)"),
                ],
                className="buttons",
            ),
            html.Label(["jump to", _select("jump", JUMPS, "any")]),
            html.Label(
                ["pace", _select("pace", {str(pace): f"{pace} ×" for pace in PACES}, str(FIRST_PACE))]
            ),
            html.Div(
                [
                    html.Span(NOTHING, id="clock"),
                    *([html.Span(NOTHING, **{"data-channel": "position"})] if placed else []),
                    html.Span(id="held"),
                ],
                className="clock",
            ),
            html.Button("Keys ?", id="keys-open"),
            _keys(),
        ],
        className="replay",
        **{"aria-label": "Replay"},
    )


def _button(name: str, text: str, title: str) -> html.Button:
    return html.Button(text, id=f"replay-{name}", title=title, **{"aria-label": title})


def _select(name: str, options: dict[str, str], chosen: str) -> html.Select:
    return html.Select(
        [
            html.Option(text, value=value, **({"selected": "selected"} if value == chosen else {}))
            for value, text in options.items()
        ],
        id=f"replay-{name}",
    )


def _keys() -> html.Dialog:
    rows = [html.Div([html.Dt(key), html.Dd(text)]) for key, text in KEYS]
    return html.Dialog(
        [
            html.H2("Keys"),
            html.Dl(className="keys", **plain(rows)),
            html.Div(
                [
                    html.Button("Turn letter keys off", id="keys-letters"),
                    html.Button("Close", id="keys-close"),
                ],
                className="bar",
            ),
        ],
        id="keys",
        **{"aria-label": "Keys"},
    )
