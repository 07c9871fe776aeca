"""The report: whole in one file, everything from a log as text, the numbers those of the check."""

import dataclasses
import json
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from reportlab.platypus import KeepTogether, Paragraph
from samples import reviewed_sample

from analysis import Review, WriteError, review
from app.check import check_json
from app.desk import Desk
from app.dress import Dress
from app.own_files import assets
from app.report import write_report
from app.report.axes import axis_of, numbers
from app.report.chart import Chart, _between, _colour, _pieces
from app.report.pdf import _STYLES, _kept_together


def rigger() -> Review:
    return reviewed_sample("riggers-case")


def written(one: Review, target: Path, paper: str = "a4") -> Path:
    write_report(Desk([]).open(one), Dress(), target, paper, assets())
    return target


def test_the_html_asks_nobody_for_anything(tmp_path: Path) -> None:
    text = written(rigger(), tmp_path / "report.html").read_text("utf-8")
    body = re.sub(r"<script>.*?</script>", "", text, flags=re.DOTALL)
    assert not re.findall(r"""(?:src|href)\s*=\s*["']|url\((?!"?data:)|@import""", body)
    assert "default-src 'none'" in text
    figures = json.loads(text.split('id="figures">')[1].split("</script>")[0])
    assert {"track", "strips", "hypotheses", "turns"} <= set(figures)


def test_a_log_that_holds_markup_is_shown_as_text(tmp_path: Path) -> None:
    passage = dataclasses.replace(rigger().passage, files=("<script>alert(1)</script>.log",))
    evil = dataclasses.replace(rigger(), case=dataclasses.replace(rigger().case, passage=passage))
    text = written(evil, tmp_path / "report.html").read_text("utf-8")
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)" in text
    assert written(evil, tmp_path / "report.pdf").stat().st_size > 10_000


@pytest.mark.parametrize(
    "lines",
    ["", "$GPRMC,063000.00,A,3824.0008,N,02912.0004,W,4.64,248.6,120526,8.1,W,A*0C\n", "$SDMTW,18.8,C*05\n"],
    ids=["nothing", "one fix", "no time"],
)
def test_a_poor_log_still_makes_a_report(lines: str, tmp_path: Path) -> None:
    """The sentences stand in the sample passage."""
    log = tmp_path / "poor.log"
    log.write_text(lines + "$SDMTW,18.8,C*05\n")
    one = review(log)
    for name in ("report.html", "report.pdf"):
        assert written(one, tmp_path / name).stat().st_size > 10_000


def test_another_ending_is_one_clear_sentence(tmp_path: Path) -> None:
    with pytest.raises(
        WriteError, match=r"report\.doc ends in \.doc; give a name that ends in \.html or \.pdf"
    ):
        written(rigger(), tmp_path / "report.doc")


@pytest.mark.paper
@pytest.mark.parametrize(("paper", "size"), [("a4", "595 x 842"), ("letter", "612 x 792")])
def test_the_pdf_opens_and_holds_the_numbers_of_the_check(paper: str, size: str, tmp_path: Path) -> None:
    """Sizes of the sheets in points: ISO 216 A4 210 x 297 mm, ANSI Letter 8.5 x 11 in, 72 points an inch."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("no pdftoppm; install poppler-utils")
    target = written(rigger(), tmp_path / "report.pdf", paper)
    told = subprocess.run(["pdfinfo", target], capture_output=True, text=True, check=True).stdout
    wide, high = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", told).groups()
    assert f"{float(wide):.0f} x {float(high):.0f}" == size
    subprocess.run(["pdftoppm", "-r", "20", "-png", target, tmp_path / "page"], check=True)
    assert len(list(tmp_path.glob("page*.png"))) >= 4
    text = subprocess.run(
        ["pdftotext", "-layout", target, "-"], capture_output=True, text=True, check=True
    ).stdout
    checked = json.loads(check_json(rigger()))
    factor = checked["calibration"]["log_factor"]
    assert re.search(rf"Log +× {factor['value']:.3f}.*± {1.96 * factor['sd']:.3f}", text)
    words = re.sub(r"\s+", " ", text)
    for finding in checked["findings"]:
        if finding["severity"] != "note":
            assert finding["title"][:40] in words


def test_axes_place_values_names_and_the_binary_form() -> None:
    axis = axis_of({"range": [0, 10], "domain": [0.5, 1.0]}, [], (100.0, 200.0), 5)
    assert axis.place([0.0, 5.0, 10.0]).tolist() == [200.0, 250.0, 300.0]  # the right half of 100 to 300
    names = axis_of({}, [["tack", "gybe"], ["gybe"]], (0.0, 100.0), 5)
    assert names.place(["tack", "gybe"]).tolist() == [25.0, 75.0]
    assert numbers({"dtype": "f4", "bdata": "AACAPwAAAEA="}).tolist() == [1.0, 2.0]
    assert numbers([None, 3]).tolist()[1] == 3.0


def test_a_review_with_nothing_found_says_so(tmp_path: Path) -> None:
    quiet = dataclasses.replace(rigger(), findings=())
    assert written(quiet, tmp_path / "report.html").stat().st_size > 10_000


def test_what_is_seen_through_on_the_screen_is_on_paper() -> None:
    assert _colour("#0a5ca8", 0.15).alpha == 0.15
    assert _colour("#465d6244").alpha == pytest.approx(0x44 / 255)
    assert _colour("rgba(10, 20, 30, 0.5)", 0.5).alpha == 0.25


def test_a_band_lies_between_its_edges_and_breaks_where_one_is_missing() -> None:
    low = np.array([[0.0, 1.0], [1.0, 1.0], [2.0, np.nan], [3.0, 1.0]])
    pieces = list(_pieces(_between(low, np.array([0.0, 2.0]) + low)))
    assert pieces[0].tolist() == [[0, 1], [1, 1], [1, 3], [0, 3]]  # there and back, by hand
    assert pieces[1].tolist() == [[3, 1], [3, 3]]


def test_a_heading_stays_with_the_chart_it_heads() -> None:
    head, words, chart, after = (
        Paragraph("Log", _STYLES["H2"]), Paragraph("", _STYLES["small"]), Chart({"data": [], "layout": {}}, (9, 9)),
        Paragraph("", _STYLES["small"]),
    )  # fmt: skip
    kept, last = _kept_together([head, words, chart, after])
    assert isinstance(kept, KeepTogether) and kept._content == [head, words, chart]
    assert last is after
