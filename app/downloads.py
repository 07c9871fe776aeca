"""What can be kept of an open passage, straight from its pages: the report, and the passage as a file."""

import tempfile
from io import BytesIO
from pathlib import Path, PurePath

from dash import html
from flask import Flask, Response, abort, request, send_file

from analysis.writing import WRITERS, write_frame
from analysis.writing.polar_table import polar_text

from .addresses import POLAR_FILE, address
from .own_files import assets
from .report.write import report_bytes
from .view import Views

REPORTS = {
    "report.html": "Report, one HTML file",
    "report.pdf": "Report, PDF on A4",
    "report.pdf?paper=letter": "Report, PDF on Letter",
    "readiness.pdf": "Readiness sheet, PDF on A4",
    "readiness.pdf?paper=letter": "Readiness sheet, PDF on Letter",
}
FORMATS = {
    ".csv": "Passage as CSV",
    ".parquet": "Passage as Parquet",
    ".nc": "Passage as NetCDF",
    ".gpx": "Track as GPX",
    ".geojson": "Track as GeoJSON",
    ".nmea": "Corrected NMEA 0183",
}


def keep_menu(key: str) -> html.Details:
    """Offer everything that can be kept, as links that save a file."""
    files = {f"passage{ending}": label for ending, label in FORMATS.items() if ending in WRITERS}
    links = [
        html.Li(html.A(label, href=f"{address(key)}{name}", download="", target="_self"))
        for name, label in (REPORTS | files).items()
    ]
    links.append(html.Li(html.A("Send it again as NMEA 0183 …", href=f"{address(key)}#send")))
    return html.Details([html.Summary("Keep"), html.Ul(links, className="menu")], className="menu-button")


def route_downloads(server: Flask, views: Views) -> None:
    """Below a passage's address: what ``REPORTS`` names, ``/passage.<ending>`` and ``/polar.csv``."""

    @server.get("/<any(report, readiness):name>.<kind>")
    def report(name: str, kind: str) -> Response:
        view = views()
        paper = request.args.get("paper", "a4")
        if view is None or f"{name}.{kind}" not in REPORTS or paper not in ("a4", "letter"):
            abort(404)
        made = report_bytes(view.opened, view.dress, f".{kind}", paper, assets(), sheet=name == "readiness")
        return _sent(made, f"{_stem(view.opened.name)}-{name}.{kind}")

    @server.get("/passage.<kind>")
    def passage(kind: str) -> Response:
        view = views()
        if view is None or f".{kind}" not in WRITERS:
            abort(404)
        review = view.opened.review
        with tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / f"passage.{kind}"
            write_frame(review.frame, review.passage, target)
            made = target.read_bytes()
        return _sent(made, f"{_stem(view.opened.name)}.{kind}")

    @server.get(f"/{POLAR_FILE}")
    def polar() -> Response:
        view = views()
        sailed = None if view is None else view.opened.review.case.polar.sailed
        if view is None or sailed is None:
            abort(404)
        return _sent(polar_text(sailed.smooth.table).encode(), f"{_stem(view.opened.name)}-polar.csv")


def _sent(made: bytes, name: str) -> Response:
    return send_file(BytesIO(made), as_attachment=True, download_name=name)


def _stem(name: str) -> str:
    return PurePath(name.replace(" ", "-")).name.split(".")[0] or "passage"
