"""Write components as a PDF: headings, text, tables and charts, in reading order."""

from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    HRFlowable,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
)

from app import cautions

from .chart import Chart
from .tree import children_of, kind_of, props_of, text_of
from .type import BOLD, REGULAR, load_type, printable

PAPERS = {"a4": A4, "letter": LETTER}
MARGIN_PT = 45.0
_INK, _MUTED, _RULE = HexColor("#0e2529"), HexColor("#465d62"), HexColor("#cbd8d6")
_TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=9.5, leading=13, textColor=_INK, spaceAfter=4)
_STYLES = {
    "H1": ParagraphStyle("h1", _TEXT, fontName=BOLD, fontSize=18, leading=22, spaceAfter=6),
    "H2": ParagraphStyle("h2", _TEXT, fontName=BOLD, fontSize=13, leading=17, spaceBefore=10, spaceAfter=4),
    "H3": ParagraphStyle("h3", _TEXT, fontName=BOLD, fontSize=10.5, leading=14, spaceBefore=6, spaceAfter=2),
    "small": ParagraphStyle("small", _TEXT, fontSize=8.5, leading=11.5, textColor=_MUTED),
    "conclusion": ParagraphStyle("conclusion", _TEXT, fontName=BOLD, fontSize=11.5, leading=15, spaceAfter=6),
    "caution": ParagraphStyle("caution", _TEXT, fontName=BOLD, fontSize=9.5, leading=13, spaceAfter=6),
    "cell": ParagraphStyle("cell", _TEXT, fontSize=8.5, leading=11, spaceAfter=0),
    "number": ParagraphStyle("number", _TEXT, fontSize=8.5, leading=11, spaceAfter=0, alignment=2),
    "head": ParagraphStyle("head", _TEXT, fontSize=8.5, leading=11, spaceAfter=0, textColor=_MUTED),
}
_INLINE = {"Span", "A", "Strong", "B", "Em", "Abbr", "Time", "Br", ""}
_BLOCKS = {"P", "H1", "H2", "H3", "H4", "Li", "Figcaption", "Summary"}
_TALL = {"strips": 560.0, "track": 340.0, "polar-diagram": 360.0}
_CHART_PT, _HEADED_PT, _LINE_PT = 190.0, 100.0, 18.0


def pdf_bytes(title: str, content: Sequence[Any], paper: str, assets: Path) -> bytes:
    """Lay the components out on ``paper`` ("a4" or "letter"), numbered, with the caution on every page."""
    load_type(assets)
    size = PAPERS[paper]
    stream = BytesIO()
    document = SimpleDocTemplate(
        stream,
        pagesize=size,
        title=printable(title),
        author="sternlog",
        leftMargin=MARGIN_PT,
        rightMargin=MARGIN_PT,
        topMargin=MARGIN_PT,
        bottomMargin=MARGIN_PT + 10,
    )
    width = size[0] - 2 * MARGIN_PT

    def foot(canvas: Any, page: Any) -> None:
        canvas.setFont(REGULAR, 7.5)
        canvas.setFillColor(_MUTED)
        canvas.drawString(MARGIN_PT, 30, cautions.SHORT)
        canvas.drawRightString(size[0] - MARGIN_PT, 30, f"{printable(title)}, page {page.page}")

    flow = [one for node in content for one in _flow(node, width)]
    document.build(list(_kept_together(flow)), onFirstPage=foot, onLaterPages=foot)
    return stream.getvalue()


def _flow(node: Any, width: float) -> Iterator[Flowable]:
    kind = kind_of(node)
    if kind in _BLOCKS or (kind == "Div" and _only_words(node)) or not kind:
        if text := _marked(node).strip():
            yield Paragraph(f"• {text}" if kind == "Li" else text, _style_of(node))
    elif kind == "Graph":
        props = props_of(node)
        height = _TALL.get(props["id"], _CHART_PT)
        yield Chart(props["figure"], (width, height))
        yield Spacer(0, 6)
    elif kind == "Table":
        yield _table(node, width)
        yield Spacer(0, 6)
    elif kind == "Dl":
        yield from _definitions(node, width)
    elif kind == "Hr":
        yield HRFlowable(width="100%", color=_RULE)
    else:
        if kind in ("Section", "Article"):
            yield CondPageBreak(_HEADED_PT)
        yield from (one for child in children_of(node) for one in _flow(child, width))


def _kept_together(flow: Sequence[Flowable]) -> Iterator[Flowable]:
    """Keep headings, and the words below them, on the page of the chart or the first rows that they head."""
    head: list[Flowable] = []
    for one in flow:
        if isinstance(one, Paragraph) and (head or one.style.name in ("h2", "h3")):
            head.append(one)
            continue
        if head and isinstance(one, CondPageBreak):
            continue
        if head and isinstance(one, Chart):
            yield KeepTogether([*head, one])
        else:
            yield from ([CondPageBreak(_HEADED_PT + _LINE_PT * len(head)), *head] if head else [])
            yield one
        head = []
    yield from head


def _only_words(node: Any) -> bool:
    return all(kind_of(child) in _INLINE for child in children_of(node))


def _style_of(node: Any) -> ParagraphStyle:
    classes = str(getattr(node, "className", "") or "").split()
    return next(
        (_STYLES[name] for name in (*classes, kind_of(node).replace("H4", "H3")) if name in _STYLES), _TEXT
    )


def _marked(node: Any) -> str:
    """Give a component's text with the paragraph marks of the writer: bold and line ends only."""
    kind = kind_of(node)
    if not kind:
        return escape(printable(str(node)))
    if kind == "Br":
        return "<br/>"
    inner, before = "", ""
    for child in children_of(node):
        block = kind_of(child) not in _INLINE
        apart = inner and kind_of(child) and (before or block)
        inner += f"{'<br/>' if block else ' '}{_marked(child)}" if apart else _marked(child)
        before = kind_of(child)
    return f"<b>{inner}</b>" if kind in ("Strong", "B", "Dt") and inner else inner


def _rows(node: Any) -> Iterator[Any]:
    for child in children_of(node):
        if kind_of(child) == "Tr":
            yield child
        else:
            yield from _rows(child)


def _table(node: Any, width: float) -> Table:
    rows: list[list[Any]] = []
    heads, spans = 0, []
    for row in _rows(node):
        cells: list[Any] = []
        for cell in children_of(row):
            classes = str(getattr(cell, "className", "") or "").split()
            is_head = kind_of(cell) == "Th" and getattr(cell, "scope", "") == "col"
            style = _STYLES["head" if is_head else "number" if "number" in classes else "cell"]
            text = _marked(cell)
            cells.append(
                Paragraph(f"<b>{text}</b>" if kind_of(cell) == "Th" and not is_head else text, style)
            )
            extra = int(getattr(cell, "colSpan", 1) or 1) - 1
            if extra:
                spans.append(("SPAN", (len(cells) - 1, len(rows)), (len(cells) - 1 + extra, len(rows))))
            cells += [""] * extra
        heads += all(getattr(cell, "scope", "") == "col" for cell in children_of(row)) and heads == len(rows)
        rows.append(cells)
    columns = max((len(row) for row in rows), default=1)
    rows = [row + [""] * (columns - len(row)) for row in rows] or [[""]]
    lines: list[Any] = [
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 7),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        *spans,
    ]
    return Table(rows, colWidths=_widths(node, columns, width), repeatRows=heads, style=lines, hAlign="LEFT")


def _widths(node: Any, columns: int, width: float) -> list[float]:
    """Share the width by the longest word and the length of the text of each column."""
    longest, length = [3.0] * columns, [4.0] * columns
    for row in _rows(node):
        for number, cell in enumerate(list(children_of(row))[:columns]):
            text = text_of(cell)
            longest[number] = max(longest[number], *(len(word) for word in text.split() or [""]))
            length[number] = max(length[number], len(text))
    letter = 4.9
    least = [letter * one + 9 for one in longest]
    wanted = [letter * one + 9 for one in length]
    spare = width - sum(least)
    if spare <= 0:
        return [width * one / sum(least) for one in least]
    more = [max(want - low, 0.0) for want, low in zip(wanted, least, strict=True)]
    share = min(1.0, spare / (sum(more) or 1.0))
    return [low + share * extra for low, extra in zip(least, more, strict=True)]


def _definitions(node: Any, width: float) -> Iterator[Flowable]:
    pairs, term = [], ""
    for child in _leaves(node):
        if kind_of(child) == "Dt":
            term = _marked(child)
        else:
            pairs.append([Paragraph(term, _STYLES["head"]), Paragraph(_marked(child), _STYLES["cell"])])
    if pairs:
        yield Table(
            pairs,
            colWidths=[0.3 * width, 0.7 * width],
            style=[
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ],
            hAlign="LEFT",
        )
        yield Spacer(0, 4)


def _leaves(node: Any) -> Iterator[Any]:
    for child in children_of(node):
        if kind_of(child) in ("Dt", "Dd"):
            yield child
        else:
            yield from _leaves(child)
