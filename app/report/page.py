"""Write components as one HTML file that opens anywhere: style, font and drawing code within it."""

import base64
import html as markup
import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import plotly.io

from app.figures.palette import style_sheet

from .tree import children_of, kind_of, props_of

_VOID = {"Br", "Hr", "Img", "Col"}
_RENAMED = {
    "className": "class",
    "htmlFor": "for",
    "tabIndex": "tabindex",
    "colSpan": "colspan",
    "rowSpan": "rowspan",
}
_DROPPED = {"n_clicks", "n_clicks_timestamp", "disable_n_clicks", "key", "loading_state", "setProps", "href"}
_SHEETS = (
    "shell",
    "passage",
    "findings",
    "sheet",
    "readiness",
    "steering",
    "water",
    "wind",
    "sources",
    "report",
)
_DRAW = """
for (const [id, figure] of Object.entries(JSON.parse(document.getElementById("figures").textContent)))
  Plotly.newPlot(id, figure.data, figure.layout, {displayModeBar: false, responsive: true});
"""
_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; font-src data:; img-src data:"
)


def page_text(title: str, content: Sequence[Any], assets: Path) -> str:
    """Write the file's text: everything from a log is text in it, never markup."""
    figures: dict[str, Any] = {}
    body = "".join(_element(one, figures) for one in content)
    drawings = json.dumps(json.loads(plotly.io.json.to_json_plotly(figures))).replace("<", "\\u003c")
    script = next(assets.glob("plotly-basic-*.min.js")).read_text("utf-8").replace("</script", "<\\/script")
    return (
        '<!DOCTYPE html>\n<html lang="en" data-theme="day"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{markup.escape(title)}</title><style>{style_sheet()}\n{_style(assets)}</style></head>"
        f'<body class="report"><div class="page">{body}</div>'
        f'<script type="application/json" id="figures">{drawings}</script>'
        f"<script>{script}</script><script>{_DRAW}</script></body></html>\n"
    )


def _style(assets: Path) -> str:
    sheets = [(assets / f"{name}.css").read_text("utf-8") for name in _SHEETS]
    return re.sub(
        r'url\("([^":]+)"\)', lambda named: f'url("{_packed(assets / named[1])}")', "\n".join(sheets)
    )


def _packed(path: Path) -> str:
    kind = {".woff2": "font/woff2", ".svg": "image/svg+xml"}[path.suffix]
    return f"data:{kind};base64,{base64.b64encode(path.read_bytes()).decode()}"


def _element(node: Any, figures: dict[str, Any]) -> str:
    kind = kind_of(node)
    if not kind:
        return markup.escape(str(node))
    props = props_of(node)
    if kind == "Graph":
        figures[props["id"]] = props["figure"]
        return f'<div id="{markup.escape(props["id"])}" class="graph"></div>'
    name = {"A": "span"}.get(kind, kind.lower())
    opening = f"<{name}{_attributes(props)}>"
    if kind in _VOID:
        return opening
    return f"{opening}{''.join(_element(child, figures) for child in children_of(node))}</{name}>"


def _attributes(props: dict[str, Any]) -> str:
    parts = []
    for name, value in props.items():
        if name in _DROPPED or value is None or value is False:
            continue
        text = (
            "; ".join(f"{_dashed(key)}: {one}" for key, one in value.items())
            if name == "style"
            else str(value)
        )
        parts.append(f' {_RENAMED.get(name, name.lower())}="{markup.escape(text)}"')
    return "".join(parts)


def _dashed(name: str) -> str:
    return "".join(f"-{letter.lower()}" if letter.isupper() else letter for letter in name)
