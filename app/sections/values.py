"""What the check's JSON is made of: estimates, moments, numbers that may not be known."""

import math
from datetime import UTC, datetime
from typing import Any

from analysis import Estimate


def estimate_object(one: Estimate | None) -> dict[str, Any] | None:
    """Arrange an estimate by the check's contract."""
    if one is None:
        return None
    return {
        "value": one.value,
        "sd": one.sd,
        "unit": one.unit,
        "determined": one.determined,
        "needs": one.needs,
    }


def known(value: Any) -> Any:
    """Return a value, None in the place of a number that is not finite."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def iso(moment: datetime | float, timespec: str = "milliseconds") -> str:
    """Write a moment, or seconds since 1970-01-01 UTC, for a machine."""
    time = moment if isinstance(moment, datetime) else datetime.fromtimestamp(moment, UTC)
    return time.isoformat(timespec=timespec).replace("+00:00", "Z")
