"""Parts of a page that stay as they are: a script lays them, so that they are no components to be kept up.

Whatever changes on a page, every component of it is asked whether it is concerned: the fewer, the quicker.
"""

from typing import Any

import orjson
from dash.development.base_component import Component

PLAIN = "data-plain"
_ATTRIBUTES = {"className": "class", "htmlFor": "for", "tabIndex": "tabindex"}


def plain(parts: Any) -> dict[str, str]:
    """Write html components and texts as the property of the empty component that is to hold them.

    None of them can be part of a callback; a callback may write the property (PLAIN) anew.
    """
    return {PLAIN: written(parts)}


def written(parts: Any) -> str:
    """Write html components and texts as the script reads them: texts, and [tag, attributes, parts]."""
    return orjson.dumps(_parts(parts)).decode()


def _parts(parts: Any) -> list[Any]:
    listed = parts if isinstance(parts, list | tuple) else [parts]
    return [_part(one) if isinstance(one, Component) else str(one) for one in listed if one is not None]


def _part(component: Component) -> list[Any]:
    props = dict(component.to_plotly_json()["props"])
    children = props.pop("children", None)
    attributes = {_ATTRIBUTES.get(name, name): value for name, value in props.items()}
    return [type(component).__name__.lower(), attributes, _parts(children)]
