"""Read a page's components as a plain tree, so that a page laid out once can be shown on paper too."""

from collections.abc import Iterator
from typing import Any

from dash.development.base_component import Component

ON_SCREEN_ONLY = "screen-only"
_CONTROLS = {
    *("Store", "Dropdown", "RadioItems", "Checklist", "Input", "Slider", "Interval", "Location", "Upload"),
    *("Button", "Select", "Nav", "Download"),
}


def kind_of(node: Any) -> str:
    """Name a component: ``H2``, ``Graph``; empty for text."""
    return type(node).__name__ if isinstance(node, Component) else ""


def props_of(node: Component) -> dict[str, Any]:
    """Give a component's properties but its children."""
    props: dict[str, Any] = node.to_plotly_json()["props"]
    return {name: value for name, value in props.items() if name != "children"}


def children_of(node: Any) -> Iterator[Any]:
    """Give what a component holds that belongs on paper: text, numbers as text, and components but controls."""
    held = getattr(node, "children", None)
    for child in held if isinstance(held, list | tuple) else [held]:
        if child is None or not belongs(child):
            continue
        yield child if isinstance(child, Component) else str(child)


def belongs(node: Any) -> bool:
    """Tell whether a component belongs on paper: neither a control, nor hidden, nor for the screen only."""
    if not isinstance(node, Component):
        return node is not None
    classes = str(getattr(node, "className", "") or "").split()
    return (
        kind_of(node) not in _CONTROLS
        and ON_SCREEN_ONLY not in classes
        and not getattr(node, "hidden", False)
    )


def text_of(node: Any) -> str:
    """Give all the text within a component, one string."""
    if not isinstance(node, Component):
        return str(node)
    return "".join(text_of(child) for child in children_of(node))
