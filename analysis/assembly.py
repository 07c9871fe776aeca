"""From decoded readings to a passage as shown: assembled, with other sources chosen, or cut to a stretch."""

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.alignment import Choices, align
from analysis.derive import true_heading
from analysis.passage import Fact, Gap, Passage, Series
from analysis.reading.log import Decoded

_LACKS = {
    "no-position": ("lat_deg", "no position: no track and no distance over ground"),
    "no-ground-motion": ("sog_kn", "no COG and SOG: no current and no wind over the ground"),
    "no-wind": ("awa_deg", "no apparent wind: no true wind"),
    "no-heading": ("heading_true_deg", "no heading: no wind direction and no current"),
    "no-water-speed": ("stw_kn", "no STW: no current and no wind over the water"),
}
_ALIGNED_FACTS = {*_LACKS, "variation-differs"}


def assembled(decoded: Decoded, choices: Choices) -> Passage:
    """Align a decoded log's chosen sources and note what it lacks."""
    return _aligned(
        Passage(
            files=decoded.files,
            counts=decoded.counts,
            facts=decoded.facts,
            series=decoded.series,
            sources=(),
            time_basis=decoded.time_basis,
            gaps=decoded.gaps,
            frame=pd.DataFrame(),
            age=pd.DataFrame(),
            events=decoded.events,
            ais=decoded.ais,
            waypoints=decoded.waypoints,
        ),
        choices,
    )


def with_sources(passage: Passage, choices: Choices) -> Passage:
    """Return the passage aligned from other sources: per channel the talker, formatter and instance.

    Raises SettingError for a source the log does not have.
    """
    return _aligned(passage, choices)


def between(passage: Passage, start: pd.Timestamp, end: pd.Timestamp, choices: Choices) -> Passage:
    """Return the stretch of a passage from ``start`` to ``end`` (UTC), both included, as a passage of its own.

    The account of the sentences stays that of the whole log.
    """
    first_s, last_s = start.timestamp(), end.timestamp()
    series = {key: cut for key, one in passage.series.items() if len((cut := _cut(one, first_s, last_s)).row)}
    gaps = tuple(
        Gap(max(gap.start_s, first_s), min(gap.end_s, last_s))
        for gap in passage.gaps
        if gap.start_s < last_s and gap.end_s > first_s
    )
    events = passage.events
    if "time_utc" in events:
        events = events[events["time_utc"].between(start, end)]
    ais = passage.ais
    if "time_s" in ais:
        ais = ais[ais["time_s"].between(first_s, last_s)]
    return _aligned(replace(passage, series=series, gaps=gaps, events=events, ais=ais), choices)


def _cut(one: Series, first_s: float, last_s: float) -> Series:
    time_s = one.time_s
    inside = (time_s >= first_s) & (time_s <= last_s)
    return replace(one, row=one.row[inside], value=one.value[inside])


def _aligned(passage: Passage, choices: Choices) -> Passage:
    aligned = align(passage.series, passage.gaps, choices)
    as_logged = "heading_true_deg" in choices and "heading_mag_deg" not in choices
    frame, noted = true_heading(aligned.frame, as_logged)
    read = tuple(fact for fact in passage.facts if fact.id not in _ALIGNED_FACTS)
    return replace(
        passage,
        facts=(*read, *noted, *_missing(frame)),
        sources=aligned.sources,
        frame=frame,
        age=aligned.age,
    )


def _missing(frame: pd.DataFrame) -> list[Fact]:
    """Facts on the quantities the log lacks, and what cannot be said for it."""
    return [
        Fact(name, f"The recording has {text}.")
        for name, (column, text) in _LACKS.items()
        if column not in frame or not np.isfinite(frame[column].to_numpy(float)).any()
    ]
