"""Moments as people type them."""

import argparse
from datetime import UTC, date, datetime, time, timedelta, timezone

DAY_S = 86400.0


def moment(text: str) -> float:
    """Read an option's moment, in UTC, as ``typed_moment`` does."""
    from analysis.errors import SettingError

    try:
        return typed_moment(text)
    except SettingError as error:
        raise argparse.ArgumentTypeError(f"{str(error).rstrip('.')}, in UTC") from None


def typed_moment(text: str, offset_min: int = 0) -> float:
    """Read seconds since 1970-01-01 UTC, or since midnight UTC where only the time of day is given.

    It is by a clock so far ahead of UTC unless it names its own zone. Raises SettingError.
    """
    from analysis.errors import SettingError

    of_the_day = False
    try:
        given = datetime.fromisoformat(text.strip())
    except ValueError:
        try:
            given, of_the_day = datetime.combine(date(1970, 1, 2), time.fromisoformat(text.strip())), True
        except ValueError:
            raise SettingError(f"{text!r} is no time; write it as 2026-06-01T12:00 or 12:00.") from None
    clock = timezone(timedelta(minutes=offset_min))
    seconds = (given if given.tzinfo else given.replace(tzinfo=clock)).astimezone(UTC).timestamp()
    return seconds % DAY_S if of_the_day else seconds
