"""Draw a figure of the pages on paper, from the same data: lines, points with their intervals, areas, bars."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from reportlab.lib.colors import Color, HexColor, toColor
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from analysis.passage import Bools, Floats
from app.figures.paper import Figure

from .axes import Axis, axis_of, numbers
from .type import REGULAR, printable

_SMALL = 7.0
_DASHES = {"dot": (1, 2), "dash": (4, 2.5), "dashdot": (4, 2, 1, 2)}
_PX = 0.75  # points of a CSS pixel
_LEGEND_PT = 12.0


class Chart(Flowable):
    """A figure on paper; ``size`` is its width and height in points."""

    def __init__(self, figure: Figure, size: tuple[float, float]) -> None:
        super().__init__()
        self.width, self.height = size
        self._data = [trace for trace in figure["data"] if trace.get("visible", True) is True]
        self._layout = figure["layout"]
        self._ink = _colour(self._layout.get("font", {}).get("color", "#444444"))

    def draw(self) -> None:
        """Draw onto the page."""
        canvas = self.canv
        canvas.saveState()
        self._room = self._margins()
        self._axes = self._laid_out()
        self._grid()
        before = np.empty((0, 2))
        for trace in self._data:
            x, y = (self._axes[trace.get(name, name[0])] for name in ("xaxis", "yaxis"))
            canvas.saveState()
            self._clip(x, y)
            if trace["type"] == "bar":
                self._bars(trace, x, y)
            else:
                before = self._scatter(trace, x, y, before)
            canvas.restoreState()
        self._legend()
        self._colour_bar()
        self._notes()
        canvas.restoreState()

    def _margins(self) -> tuple[float, float, float, float]:
        margin = self._layout.get("margin", {})
        left = min(margin.get("l", 50) * _PX, self.width / 2)
        below = max(margin.get("b", 40) * _PX, 26.0)
        above = (_LEGEND_PT if self._named() else 0) + 8
        right = 14.0
        return left, below, self.width - left - right, self.height - below - above

    def _laid_out(self) -> dict[str, Axis]:
        left, below, width, height = self._room
        axes = {}
        for letter, room, parts in (("x", (left, width), 8), ("y", (below, height), 5)):
            used = {trace.get(f"{letter}axis", letter) for trace in self._data} | {letter}
            for name in sorted(used):
                layout = self._layout.get(f"{letter}axis{name[1:]}", {})
                mine = [t for t in self._data if t.get(f"{letter}axis", letter) == name]
                axes[name] = axis_of(layout, _along(mine, letter), room, parts)
        if self._layout.get("yaxis", {}).get("scaleanchor") == "x":
            axes["x"], axes["y"] = _to_scale(axes["x"], axes["y"])
        return axes

    def _grid(self) -> None:
        canvas = self.canv
        rows = [axis for name, axis in self._axes.items() if name[0] == "y"]
        columns = [axis for name, axis in self._axes.items() if name[0] == "x"]
        canvas.setLineWidth(0.4)
        canvas.setFont(REGULAR, _SMALL)
        for axis in columns:
            for place, text in zip(axis.place(axis.order or axis.ticks), axis.texts, strict=True):
                canvas.setStrokeColor(HexColor("#cbd8d6"))
                for row in rows:
                    canvas.line(place, row.start, place, row.start + row.length)
                self._words(text, place, _lowest(rows) - 9, "middle")
            self._words(axis.title, axis.start + axis.length / 2, 2, "middle")
        for axis in rows:
            for place, text in zip(axis.place(axis.order or axis.ticks), axis.texts, strict=True):
                canvas.setStrokeColor(HexColor("#cbd8d6"))
                for column in columns:
                    canvas.line(column.start, place, column.start + column.length, place)
                lines = _lines(text)
                for number, line in enumerate(lines):
                    shift = (len(lines) - 1) / 2 - number
                    self._words(line, self._room[0] - 4, place - 2.5 + shift * (_SMALL + 1), "end")
            if axis.title:
                canvas.saveState()
                canvas.translate(8, axis.start + axis.length / 2)
                canvas.rotate(90)
                self._words(axis.title, 0, 0, "middle")
                canvas.restoreState()

    def _words(self, text: str, x: float, y: float, anchor: str) -> None:
        self.canv.setFillColor(self._ink)
        self.canv.setFont(REGULAR, _SMALL)
        draw = {"middle": self.canv.drawCentredString, "end": self.canv.drawRightString}.get(
            anchor, self.canv.drawString
        )
        for number, line in enumerate(_lines(text)):
            draw(x, y - number * (_SMALL + 1), printable(line))

    def _clip(self, x: Axis, y: Axis) -> None:
        path = self.canv.beginPath()
        path.rect(x.start - 1, y.start - 1, x.length + 16, y.length + 2)
        self.canv.clipPath(path, stroke=0)

    def _scatter(self, trace: dict[str, Any], x: Axis, y: Axis, before: Floats) -> Floats:
        """Draw a trace, filled to the one ``before`` where it asks for it; return where it lies."""
        places = np.column_stack((x.place(trace["x"]), y.place(trace["y"])))
        if not len(places):
            return places
        self.canv.saveState()
        line, marker = trace.get("line", {}), trace.get("marker", {})
        mode, opacity = trace.get("mode", "lines"), float(trace.get("opacity", 1.0))
        if trace.get("fill") and trace.get("fillcolor"):
            outline = _between(before, places) if trace["fill"] == "tonexty" else places
            self._area(outline, _colour(trace["fillcolor"], opacity))
        self._intervals(trace, x, y)
        if "lines" in mode and line.get("width", 2):
            self._strokes(places, line, opacity)
        if "markers" in mode:
            self._marks(places, marker)
        if "text" in mode:
            for (at, up), text in zip(places, trace.get("text", ()), strict=False):
                self._words(str(text), at, up + 6, "middle")
        self.canv.restoreState()
        return places

    def _strokes(self, places: Floats, line: dict[str, Any], opacity: float = 1.0) -> None:
        self.canv.setStrokeColor(_colour(line.get("color", "#444444"), opacity))
        self.canv.setLineWidth(max(0.5, 0.55 * float(line.get("width", 2))))
        self.canv.setDash(*_dash(line.get("dash", "solid")))
        self.canv.setLineJoin(1)
        for piece in _pieces(places):
            path = self.canv.beginPath()
            path.moveTo(*piece[0])
            for point in piece[1:]:
                path.lineTo(*point)
            self.canv.drawPath(path)
        self.canv.setDash()

    def _area(self, places: Floats, colour: Color) -> None:
        self.canv.setFillColor(colour)
        path = self.canv.beginPath()
        for piece in _pieces(places):
            path.moveTo(*piece[0])
            for point in piece[1:]:
                path.lineTo(*point)
            path.close()
        self.canv.drawPath(path, stroke=0, fill=1)

    def _intervals(self, trace: dict[str, Any], x: Axis, y: Axis) -> None:
        for name, axis, other, level in (("error_x", x, y, True), ("error_y", y, x, False)):
            bar = trace.get(name)
            if not bar or "array" not in bar:
                continue
            along, across = (trace["x"], trace["y"]) if level else (trace["y"], trace["x"])
            values, reach = numbers(along), numbers(bar["array"])
            below = numbers(bar["arrayminus"]) if "arrayminus" in bar else reach
            ends = axis.place(values - below), axis.place(values + reach)
            self.canv.setStrokeColor(_colour(bar.get("color", "#444444")))
            self.canv.setLineWidth(max(0.5, 0.5 * bar.get("thickness", 2)))
            for low, high, at in zip(*ends, other.place(across), strict=True):
                if np.isfinite(low + high + at):
                    self.canv.line(*((low, at, high, at) if level else (at, low, at, high)))

    def _marks(self, places: Floats, marker: dict[str, Any]) -> None:
        count = len(places)
        colours, symbols, sizes = (
            _each(marker.get(name, default), count)
            for name, default in (("color", "#444444"), ("symbol", "circle"), ("size", 6))
        )
        for (at, up), colour, symbol, size in zip(places, colours, symbols, sizes, strict=True):
            if not (np.isfinite(at) and np.isfinite(up)) or not isinstance(colour, str):
                continue
            self._mark(float(at), float(up), str(symbol), max(1.0, float(size) * 0.34), _colour(colour))

    def _mark(self, x: float, y: float, symbol: str, radius: float, colour: Color) -> None:
        canvas = self.canv
        canvas.setStrokeColor(colour)
        canvas.setFillColor(colour)
        canvas.setLineWidth(1.0)
        filled = 0 if symbol.endswith("open") else 1
        corners = {"square": 4, "diamond": 4, "triangle": 3}.get(symbol.split("-")[0])
        if corners is None:
            canvas.circle(x, y, radius, stroke=1, fill=filled)
            return
        turn = np.pi / 4 if symbol.startswith("square") else 0.0
        turn += np.pi if symbol.startswith("triangle-down") else 0.0
        angles = np.pi / 2 + turn + 2 * np.pi * np.arange(corners) / corners
        path = canvas.beginPath()
        path.moveTo(x + 1.2 * radius * np.cos(angles[0]), y + 1.2 * radius * np.sin(angles[0]))
        for angle in angles[1:]:
            path.lineTo(x + 1.2 * radius * np.cos(angle), y + 1.2 * radius * np.sin(angle))
        path.close()
        canvas.drawPath(path, stroke=1, fill=filled)

    def _bars(self, trace: dict[str, Any], x: Axis, y: Axis) -> None:
        level = trace.get("orientation") == "h"
        ends, across = (
            (x.place(trace["x"]), y.place(trace["y"]))
            if level
            else (y.place(trace["y"]), x.place(trace["x"]))
        )
        base = float((x if level else y).place([0.0])[0])
        beside = [
            one for one in self._data if one["type"] == "bar" and one.get("yaxis") == trace.get("yaxis")
        ]
        count = len(beside) if self._layout.get("barmode") == "group" else 1
        along = y if level else x
        share = (
            trace["width"] / abs(along.high - along.low) if "width" in trace else 0.7 / max(len(across), 1)
        )
        thick = share * along.length / count
        if count > 1:
            shift = (beside.index(trace) - (count - 1) / 2) * thick
            across = across + (shift if along.high > along.low else -shift)
        colours = _each(trace.get("marker", {}).get("color", "#444444"), len(across))
        texts = _each(trace.get("text", ""), len(across))
        for end, at, colour, text in zip(ends, across, colours, texts, strict=True):
            self.canv.setFillColor(_colour(colour))
            left, low = (base, at - thick / 2) if level else (at - thick / 2, base)
            wide, high = (end - base, thick) if level else (thick, end - base)
            self.canv.rect(left, low, wide, high, stroke=0, fill=1)
            if text and level:
                self._words(str(text), end + 3, at - 2.5, "start")

    def _named(self) -> list[dict[str, Any]]:
        if not self._layout.get("showlegend"):
            return []
        told: dict[str, dict[str, Any]] = {}
        for trace in self._data:
            if trace.get("name") and trace.get("showlegend", True):
                told.setdefault(trace["name"], trace)
        return list(told.values())

    def _legend(self) -> None:
        at = self.width - 14.0
        up = self.height - 7.0
        for trace in self._named()[::-1]:
            name = printable(trace["name"])
            at -= stringWidth(name, REGULAR, _SMALL)
            self._words(name, at, up - 2.5, "start")
            at -= 20
            line, marker = trace.get("line", {}), trace.get("marker", {})
            if trace["type"] == "bar":
                swatch = {"color": _each(marker["color"], 1)[0], "symbol": "square", "size": 12}
                self._marks(np.array([[at + 10, up]]), swatch)
            elif "lines" in trace.get("mode", "lines"):
                self._strokes(np.array([[at, up], [at + 16, up]]), line)
            else:
                self._marks(np.array([[at + 10, up]]), {**marker, "size": 8} if marker else {})
            at -= 10

    def _colour_bar(self) -> None:
        bar = next(
            (
                t["marker"]
                for t in self._data
                if isinstance(t.get("marker"), dict) and t["marker"].get("showscale")
            ),
            None,
        )
        if bar is None:
            return
        left, _, width, _ = self._room
        steps, low, high = bar["colorscale"], bar["cmin"], bar["cmax"]
        for (start, colour), (end, _) in zip(steps[::2], steps[1::2], strict=False):
            self.canv.setFillColor(_colour(colour))
            self.canv.rect(left + start * width, 12, (end - start) * width, 5, stroke=0, fill=1)
        scale = bar["colorbar"]
        for tick, text in zip(scale["tickvals"], scale["ticktext"], strict=True):
            self._words(str(text), left + (tick - low) / (high - low) * width, 3, "middle")
        self._words(scale["title"]["text"], left + width / 2, 20, "middle")

    def _notes(self) -> None:
        left, below, width, height = self._room
        for note in self._layout.get("annotations", ()):
            self._words(note["text"], left + note["x"] * width, below + note["y"] * height + 2, "start")


def _lowest(rows: list[Axis]) -> float:
    """Find the lowest edge of a figure's rows."""
    return min(row.start for row in rows)


def _along(traces: list[dict[str, Any]], letter: str) -> Iterator[Any]:
    for trace in traces:
        values = trace.get(letter)
        if values is None:
            continue
        yield values
        bar = trace.get(f"error_{letter}")
        if bar and "array" in bar:
            middle, reach = numbers(values), numbers(bar["array"])
            yield from ((middle - reach).tolist(), (middle + reach).tolist())


def _to_scale(x: Axis, y: Axis) -> tuple[Axis, Axis]:
    """Give both axes the same scale by widening one."""
    per_x, per_y = abs(x.high - x.low) / x.length, abs(y.high - y.low) / y.length
    if per_x < per_y:
        middle, half = (x.low + x.high) / 2, per_y * x.length / 2
        return replace(x, low=middle - half, high=middle + half), y
    middle, half = (y.low + y.high) / 2, per_x * y.length / 2
    return x, replace(y, low=middle - half, high=middle + half)


def _pieces(places: Floats) -> Iterator[Floats]:
    whole = np.isfinite(places).all(axis=1)
    for piece in np.split(places, np.flatnonzero(~whole)):
        kept = piece[np.isfinite(piece).all(axis=1)]
        if len(kept) > 1:
            yield kept


def _between(one: Floats, other: Floats) -> Floats:
    """Outline what lies between two lines over the same places, piece by piece where either is missing."""
    if one.shape != other.shape:
        return np.empty((0, 2))
    known: Bools = np.isfinite(np.hstack((one, other)).sum(axis=1))
    runs = np.split(np.arange(len(one)), np.flatnonzero(np.diff(known)) + 1)
    gap = np.full((1, 2), np.nan)
    kept = [run for run in runs if known[run[0]]]
    return np.concatenate([gap, *(part for run in kept for part in (one[run], other[run][::-1], gap))])


def _each(value: Any, count: int) -> list[Any]:
    return list(value) if isinstance(value, list | tuple) else [value] * count


def _dash(name: str) -> tuple[Any, ...]:
    if name in _DASHES:
        return (_DASHES[name],)
    lengths = [float(part) * _PX for part in re.findall(r"[\d.]+", name)]
    return (lengths,) if lengths else ()


def _lines(text: str) -> list[str]:
    return [line.strip() for line in re.split(r"<br>|\n", text)]


def _colour(name: str, opacity: float = 1.0) -> Color:
    """Read a colour as the figures write it, #rrggbb, #rrggbbaa or rgb(a), seen through by ``opacity`` besides."""
    found = re.fullmatch(r"rgba?\(([^)]+)\)", name)
    if found:
        red, green, blue, *rest = (float(part) for part in found[1].split(","))
        return Color(red / 255, green / 255, blue / 255, opacity * (rest[0] if rest else 1.0))
    colour = HexColor(name, hasAlpha=True) if re.fullmatch(r"#[0-9a-fA-F]{8}", name) else toColor(name)
    return colour.clone(alpha=opacity * colour.alpha)
