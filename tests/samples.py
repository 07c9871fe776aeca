"""The sample logs, and the review of each, worked out once in a process."""

from functools import cache
from pathlib import Path

from analysis import Review, review

SAMPLES = Path(__file__).resolve().parent.parent / "sample_logs"


@cache
def reviewed_sample(name: str) -> Review:
    return review(SAMPLES / f"{name}.nmea.gz")
