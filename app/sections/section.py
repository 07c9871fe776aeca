"""What a section of the check is."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from analysis import Review


class Section(Protocol):
    """A module of ``app.sections``: one part of a review for JSON and for the terminal."""

    TITLE: str

    def as_json(self, review: Review) -> Mapping[str, Any]:
        """Arrange the part as plain values; what is not known is None, what the log lacks says why."""

    def as_rows(self, review: Review) -> Sequence[Sequence[str]]:
        """Say the part in rows of a name and what is to be said of it; none where there is nothing to say."""
