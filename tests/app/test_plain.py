"""Parts of a page that a script lays: everything of them is written, and no component is left behind."""

import json

from dash import html
from dash.development.base_component import Component
from passages import desk_with, spoken, whole_day

from app.dress import Dress
from app.pages.passage import layout
from app.pages.plain import PLAIN, plain, written
from app.pages.shell import shell
from app.view import View


def test_components_are_written_with_their_attributes_and_text_in_order() -> None:
    row = html.Tr([html.Td("<b>", className="number", tabIndex=0), "and", None, html.Td(3)], id="row")
    assert json.loads(written(row)) == [
        ["tr", {"id": "row"}, [["td", {"class": "number", "tabindex": 0}, ["<b>"]], "and", ["td", {}, ["3"]]]]
    ]


def test_a_reader_of_the_page_meets_what_a_script_lays() -> None:
    assert spoken([html.P("a"), html.Div(**plain([html.P(["b ", html.B("c")])]))]) == "a b  c"


def test_the_passage_page_has_few_components_to_keep_up() -> None:
    view = View(desk_with(whole_day()).all()[0], Dress())
    parts = list(shell(view, "", layout(view))._traverse())
    assert sum(isinstance(part, Component) for part in parts) < 250  # judgment: each costs on every change
    assert any(PLAIN in part.to_plotly_json()["props"] for part in parts if isinstance(part, Component))
