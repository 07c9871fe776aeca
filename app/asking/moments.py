"""Moments as people type them."""

import argparse
from datetime import UTC, date, datetime, time


def moment(text: str) -> float:
    """Read seconds since 1970-01-01 UTC, or since midnight where only the time of day is given."""
    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        try:
            given = datetime.combine(date(1970, 1, 1), time.fromisoformat(text))
        except ValueError:
            raise argparse.ArgumentTypeError(
                f"{text!r} is no time; write it as 2026-06-01T12:00 or 12:00, in UTC"
            ) from None
    return (given if given.tzinfo else given.replace(tzinfo=UTC)).timestamp()
