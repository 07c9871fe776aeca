"""Write the report of an open passage to a file."""

from pathlib import Path

from analysis.writing import check_target, replacing, suffix_among
from app.desk import Opened
from app.dress import Dress

from .content import report_content, sheet_content

SUFFIXES = (".html", ".pdf")


def report_bytes(
    opened: Opened, dress: Dress, suffix: str, paper: str, assets: Path, sheet: bool = False
) -> bytes:
    """Make the report: ``suffix`` ".html" or ".pdf", ``paper`` "a4" or "letter"; ``sheet`` is the readiness
    sheet alone.
    """
    content = sheet_content(opened, dress) if sheet else report_content(opened, dress)
    title = f"sternlog: {opened.name}"
    if suffix == ".html":
        from .page import page_text

        return page_text(title, content, assets).encode()
    from .pdf import pdf_bytes

    return pdf_bytes(title, content, paper, assets)


def write_report(
    opened: Opened, dress: Dress, target: Path, paper: str, assets: Path, sheet: bool = False
) -> None:
    """Write the report, or the readiness sheet alone, to ``target``, .html or .pdf.

    Raises WriteError where the name ends otherwise or the file cannot be written.
    """
    suffix = suffix_among(target, SUFFIXES)
    check_target(target)
    with replacing(target) as stream:
        stream.write(report_bytes(opened, dress, suffix, paper, assets, sheet))
