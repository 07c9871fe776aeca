"""A browser or recording test that is skipped fails where such tests are required, and only there."""

import os
import shutil
from pathlib import Path

import pytest

pytest_plugins = "pytester"

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
def test_a_required_test_may_not_be_skipped(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, required: dict[str, str], outcome: str
) -> None:
    tests = pytester.mkdir("tests")
    shutil.copy(ROOT / "tests" / "conftest.py", tests)
    shutil.copy(ROOT / "pyproject.toml", pytester.path)
    (tests / "test_cases.py").write_text(CASES)
    for name in [name for name in os.environ if name.startswith("STERNLOG_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("STERNLOG_RECORDINGS", str(pytester.path / "none"))
    for name, value in required.items():
        monkeypatch.setenv(name, value)
    done = pytester.runpytest_inprocess("-p", "no:cacheprovider")
    assert outcome in done.stdout.str()
    assert done.ret == bool(required)
