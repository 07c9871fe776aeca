"""The charts of the Wind page: through time, by angle, across turns, the hypotheses, the evidence on the vane."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from analysis.contrasts import ByAngle, Contrast
from analysis.logged_wind import Hypothesis
from analysis.passage import Floats
from analysis.vectors import wrap_signed_deg
from app.dress import Dress

from .paper import CORRECTED, SHOWN, Figure, named_above, paper, time_axis
from .reduce import bucket_means, packed, unwrap

_MEANS = 240


def difference_through_time(
    time_ms: Floats, differences: dict[str, Floats], dress: Dress, dated: bool
) -> Figure:
    """Draw differences of direction [deg] through time as means; the keys are the names of the lines."""
    styles = {SHOWN: (dress.theme.ground, "dot"), CORRECTED: (dress.theme.boat, "solid")}
    data = []
    for name, difference in differences.items():
        times, means = bucket_means(time_ms, unwrap(difference), _MEANS)
        colour, dash = styles[name]
        data.append(
            _line(times + dress.clock.offset_ms, wrap_signed_deg(means), colour, dash, name)
            | {"hovertemplate": f"%{{y:+.1f}}° at %{{x|%H:%M}}<extra>{name}</extra>"}
        )
    layout = paper(
        dress,
        xaxis=time_axis(dress, float(time_ms[0]), float(time_ms[-1]), dated),
        yaxis={"title": "recorded less recomputed TWD [°]", "zeroline": True},
    )
    return {"data": data, "layout": layout | named_above(dress)}


def difference_by_angle(found: dict[str, ByAngle], dress: Dress) -> Figure:
    """Draw mean differences of direction [deg] by apparent wind angle, with the spread of each sector."""
    styles = {
        SHOWN: (dress.theme.ground, "diamond-open", -0.9),
        CORRECTED: (dress.theme.boat, "circle", 0.9),
    }
    data = []
    for name, one in found.items():
        colour, symbol, aside = styles[name]
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": (one.awa_deg + aside).tolist(),
                "y": one.mean_deg.round(2).tolist(),
                "error_y": {
                    "array": one.sd_deg.round(2).tolist(),
                    "thickness": 1,
                    "width": 0,
                    "color": colour,
                },
                "marker": {"color": colour, "symbol": symbol, "size": 8},
                "hovertemplate": f"AWA %{{x:.0f}}°: %{{y:+.1f}}°<extra>{name}</extra>",
            }
        )
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={"title": "AWA [°], port negative", "range": [-185, 185], "dtick": 45, "zeroline": True},
            yaxis={"title": "recorded less recomputed TWD [°]", "zeroline": True},
        )
        | named_above(dress),
    }


def across_turns_chart(found: Mapping[str, Sequence[Contrast]], dress: Dress) -> Figure:
    """Draw what the true wind direction did across every turn [deg]: it should have stayed."""
    styles = {SHOWN: (dress.theme.ground, "diamond-open"), CORRECTED: (dress.theme.boat, "circle")}
    turns = sorted({one.at: one.kind for contrasts in found.values() for one in contrasts}.items())
    place = {at: number for number, (at, _) in enumerate(turns)}
    data = []
    for name, contrasts in found.items():
        colour, symbol = styles[name]
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": [place[one.at] for one in contrasts],
                "y": [round(one.twd_deg, 2) for one in contrasts],
                "text": [_sides_text(one) for one in contrasts],
                "marker": {
                    "color": colour,
                    "symbol": symbol,
                    "size": 10,
                    "line": {"width": 2, "color": colour},
                },
                "hovertemplate": f"%{{text}}: TWD %{{y:+.1f}}°<extra>{name}</extra>",
            }
        )
    every = -(-len(turns) // 24)
    texts = [f"{dress.clock.at(at.timestamp() * 1000):%H:%M}<br>{kind}" for at, kind in turns]
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={
                "tickvals": list(range(0, len(turns), every)),
                "ticktext": texts[::every],
                "zeroline": False,
            },
            yaxis={"title": "TWD after less before [°]", "zeroline": True},
        )
        | named_above(dress),
    }


def hypotheses_chart(hypotheses: Sequence[Hypothesis], dress: Dress) -> Figure:
    """Draw what each way of working out the true wind leaves unexplained: of the wind [kn], of its direction [°]."""
    kn = dress.units.of("kn")
    told = list(hypotheses)[::-1]
    best = told[-1].id
    left = (
        ([one.left_kn * kn.factor for one in told], "x", f"wind left unexplained [{kn.symbol}]", 2),
        ([one.left_deg for one in told], "x2", "direction left unexplained [°]", 1),
    )
    data = [
        {
            "type": "bar",
            "orientation": "h",
            "x": [round(value, 3) for value in values],
            "y": [_wrapped(one.words, 46) for one in told],
            "xaxis": axis,
            "marker": {
                "color": [dress.theme.boat if one.id == best else dress.theme.rule for one in told],
                "line": {"width": 1, "color": dress.theme.muted},
            },
            "text": [f"{value:.{decimals}f}" for value in values],
            "textposition": "outside",
            "textfont": {"color": dress.theme.ink, "size": dress.px(12)},
            "cliponaxis": False,
            "hoverinfo": "skip",
        }
        for values, axis, _, decimals in left
    ]
    axes = {
        name: {
            "title": title,
            "domain": domain,
            "range": [0, 1.15 * max(values) or 1],
        }
        for (values, _, title, _), name, domain in zip(
            left, ("xaxis", "xaxis2"), ([0, 0.47], [0.53, 1]), strict=True
        )
    }
    return {
        "data": data,
        "layout": paper(
            dress,
            margin={"l": round(dress.px(300)), "r": 24, "t": 8, "b": 44},
            yaxis={"tickfont": {"color": dress.theme.ink, "size": dress.px(13)}, "showgrid": False},
            bargap=0.35,
            **axes,
        ),
    }


def _line(times: Floats, values: Floats, colour: str, dash: str, name: str) -> dict[str, Any]:
    turned = np.flatnonzero(np.abs(np.diff(values)) > 180) + 1
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": packed(np.insert(times, turned, times[turned])),
        "y": packed(np.insert(values, turned, np.nan)),
        "line": {"color": colour, "width": 2, "dash": dash},
    }


def _sides_text(one: Contrast) -> str:
    sides = (
        f"{abs(awa):.0f}° {'stbd' if awa > 0 else 'port'}" for awa in (one.awa_before_deg, one.awa_after_deg)
    )
    return f"{one.kind}, AWA {' to '.join(sides)}"


def _wrapped(text: str, width: int) -> str:
    words, lines = text.split(), [""]
    for word in words:
        if len(lines[-1]) + len(word) > width:
            lines.append("")
        lines[-1] += f"{word} "
    return "<br>".join(line.strip() for line in lines)
