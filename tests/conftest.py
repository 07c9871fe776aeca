"""Shared fixtures, and the rule that a required test may not be skipped."""

import os
import shutil
from collections.abc import Generator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.channels import unit_of
from analysis.passage import Counts, Fact, Gap, Passage, Series, Source, SourceKey

ROOT = Path(__file__).resolve().parent.parent
REQUIRED = {
    "browser": "STERNLOG_REQUIRE_BROWSER",
    "recording": "STERNLOG_REQUIRE_RECORDINGS",
    "gpsd": "STERNLOG_REQUIRE_GPSD",
    "paper": "STERNLOG_REQUIRE_PAPER",
}
START = pd.Timestamp("2026-06-01T08:00:00Z")


def pytest_configure(config: pytest.Config) -> None:
    """Let several processes of tests not each take all cores for the algebra of small matrices."""
    if config.getoption("numprocesses", None):
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn the skip of a browser, recording, gpsd or paper test into a failure where such tests are required."""
    report = yield
    for marker, variable in REQUIRED.items():
        required = os.environ.get(variable) == "1" and item.get_closest_marker(marker)
        if required and report.skipped and not hasattr(report, "wasxfail"):
            report.outcome = "failed"
            report.longrepr = f"skipped although {variable}=1: {report.longreprtext}"
    return report


@pytest.fixture(scope="session")
def recordings() -> Path:
    """The folder of real recordings; skips where it is absent."""
    folder = Path(os.environ.get("STERNLOG_RECORDINGS") or ROOT.parent / "shared" / "recordings")
    if not folder.is_dir():
        pytest.skip(f"no folder of recordings at {folder}; name one with STERNLOG_RECORDINGS")
    return folder


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of a Chromium; skips where there is none."""
    names = [os.environ.get("STERNLOG_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome"]
    path = next((found for name in names if name and (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no Chromium found; install one or name it with STERNLOG_CHROMIUM")
    return path


@pytest.fixture
def small_passage() -> Passage:
    """Ten seconds of an invented passage: a position gap at seconds 4 and 5, one mark, two sources."""
    index = pd.date_range(START, periods=10, freq="s", name="time_utc")
    lat = 50.0 + np.arange(10) * 0.001
    lon = -1.0 + np.arange(10) * 0.002
    lat[4:6] = lon[4:6] = np.nan
    frame = pd.DataFrame({"lat_deg": lat, "lon_deg": lon, "sog_kn": np.arange(10) * 0.5}, index=index)
    frame["stw_kn"] = [np.nan, *np.linspace(4.1, 4.9, 9)]
    seconds = START.timestamp() + np.arange(10.0)
    rows = np.arange(10, dtype=np.int64)

    def series(key: SourceKey, value: np.ndarray, line: np.ndarray) -> Series:
        return Series.alone(
            key,
            unit_of(key.channel),
            seconds,
            value.astype(float),
            rows % 3 != 0,
            line,
            np.zeros(10, np.int64),
        )

    made = [
        series(SourceKey("sog_kn", "GP", "RMC", ""), rows * 0.5, 2 * rows + 1),
        series(SourceKey("lat_deg", "GP", "RMC", ""), 50.0 + rows * 0.001, 2 * rows + 1),
        series(SourceKey("stw_kn", "II", "VHW", ""), 4.0 + rows * 0.1, 2 * rows + 2),
    ]
    events = pd.DataFrame(
        {
            "time_utc": [START + pd.Timedelta("3s"), pd.NaT],
            "kind": ["mark", "call"],
            "text": ["Bell & <Whistle>\x07", "unplaced"],
            "lat_deg": [50.0031, np.nan],
            "lon_deg": [-0.9941, np.nan],
        }
    )
    return Passage(
        files=("morning.log",),
        counts=Counts(
            bytes=812,
            lines=24,
            sentences=24,
            accepted=20,
            rejected={"checksum": 2, "malformed": 1},
            ignored={"proprietary": 1},
            first_lines={"checksum": ("morning.log:7", "morning.log:9"), "malformed": ("morning.log:21",)},
            out_of_range={"stw_kn": 1},
            unknown_formatters={"PXYZ": 1},
        ),
        facts=(Fact("one-date", "The date comes from RMC.", {"dates": 1.0}),),
        series={one.key: one for one in made},
        sources=(
            Source(made[0].key, 10, 1.0, 1.0, chosen=True),
            Source(made[2].key, 10, None, None, chosen=False),
        ),
        time_basis="GNSS time in RMC",
        gaps=(Gap(START.timestamp() + 4, START.timestamp() + 6),),
        frame=frame,
        age=frame * 0.0,
        events=events,
        ais=pd.DataFrame(),
    )
