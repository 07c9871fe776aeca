"""Sternlog's analysis: from a boat's log to what its instruments were off by.

``read_log`` reads logs into a Passage; ``review`` is the whole road from paths to findings; ``decode_ais``
decodes the AIS messages of a passage.
"""

from analysis.errors import LogError, SettingError, SternlogError, WriteError
from analysis.estimate import Estimate
from analysis.findings import Finding
from analysis.passage import Passage
from analysis.reading.ais import decode as decode_ais
from analysis.review import Review, Settings, read_log, review

__all__ = [
    "Estimate",
    "Finding",
    "LogError",
    "Passage",
    "Review",
    "SettingError",
    "Settings",
    "SternlogError",
    "WriteError",
    "decode_ais",
    "read_log",
    "review",
]
