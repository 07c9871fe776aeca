"""Write a log for a test, read it back, and name what it said."""

import datetime
from pathlib import Path

from analysis import read_log
from analysis.passage import Passage
from analysis.phrasing import with_checksums

Said = dict[str, list[float]]


def sentence(body: str, start: str = "$") -> str:
    return with_checksums([body], start=start)[0]


def read_text(
    folder: Path, text: str | bytes, name: str = "a.log", date: datetime.date | None = None
) -> Passage:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_log(path, date=date)


def said(passage: Passage) -> Said:
    """Every value by "GPRMC sog_kn", the names of transducers behind a slash, in time order."""
    values: Said = {}
    for key, series in passage.series.items():
        name = f"/{key.instance}" if key.formatter == "XDR" and key.instance else ""
        values.setdefault(f"{key.talker}{key.formatter} {key.channel}{name}", []).extend(
            series.value.tolist()
        )
    return values


def times(passage: Passage, channel: str) -> list[float]:
    """Times of all readings of a channel, in seconds since 1970-01-01 UTC, earliest first."""
    return sorted(
        t for key, one in passage.series.items() if key.channel == channel for t in one.time_s.tolist()
    )


def seconds(moment: str) -> float:
    return datetime.datetime.fromisoformat(f"{moment}+00:00").timestamp()


def fact_ids(passage: Passage) -> set[str]:
    return {fact.id for fact in passage.facts}
