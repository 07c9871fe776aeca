"""A browser or recording test that is skipped fails where such tests are required, and only there."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CASES = """
import pytest

@pytest.mark.recording
def test_recording(recordings):
    pass

@pytest.mark.browser
def test_browser():
    pytest.skip("no browser")

def test_plain():
    pytest.skip("anything")
"""


@pytest.mark.parametrize(
    ("required", "outcome"),
    [
        ({}, "3 skipped"),
        ({"STERNLOG_REQUIRE_RECORDINGS": "1"}, "2 skipped, 1 error"),
        (
            {"STERNLOG_REQUIRE_RECORDINGS": "1", "STERNLOG_REQUIRE_BROWSER": "1"},
            "1 failed, 1 skipped, 1 error",
        ),
    ],
)
def test_a_required_test_may_not_be_skipped(tmp_path: Path, required: dict[str, str], outcome: str) -> None:
    (tmp_path / "tests").mkdir()
    shutil.copy(ROOT / "tests" / "conftest.py", tmp_path / "tests")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "tests" / "test_cases.py").write_text(CASES)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("STERNLOG_")}
    environment = kept | {"PYTHONPATH": str(ROOT), "STERNLOG_RECORDINGS": str(tmp_path / "none")} | required
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider"]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert outcome in done.stdout
    assert done.returncode == bool(required)
