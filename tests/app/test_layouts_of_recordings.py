"""Every page of every real recording is laid out."""

from pathlib import Path

import pytest

from analysis import review
from analysis.errors import SternlogError
from app.desk import Desk
from app.dress import Dress
from app.pages.registry import PAGES
from app.view import View


@pytest.mark.recording
def test_every_page_of_every_recording_is_laid_out(recordings: Path) -> None:
    laid = 0
    for path in sorted(recordings.iterdir()):
        try:
            view = View(Desk([]).open(review(path)), Dress())
        except SternlogError:
            continue
        for page in PAGES.values():
            assert page.layout(view)
        laid += 1
    assert laid > 10
