"""What a finding is."""

from collections.abc import Mapping
from dataclasses import dataclass

SEVERITIES = ("fault", "advice", "note")


@dataclass(frozen=True)
class Finding:
    """One thing the log shows about an instrument, as data.

    ``severity`` is ``fault`` where an instrument told something wrong that matters, ``advice`` where a
    correction is worth entering, ``note`` where there is something to know. ``title`` is one sentence with
    the number; ``value`` and ``sd`` are in ``unit``; ``evidence`` holds plain numbers, words and ISO times.
    """

    id: str
    subject: str
    severity: str
    title: str
    value: float | None
    sd: float | None
    unit: str
    determined: bool
    evidence: Mapping[str, object]
    action: str
    verify: str
    caution: str
