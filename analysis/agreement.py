"""Sources of one channel against each other."""

from dataclasses import dataclass

from analysis.passage import Passage, SourceKey


@dataclass(frozen=True)
class Agreement:
    """How two sources of one channel agree."""

    channel: str
    first: SourceKey
    second: SourceKey


def compare_sources(passage: Passage) -> tuple[Agreement, ...]:
    """Compare every pair of sources of one channel."""
    return ()
