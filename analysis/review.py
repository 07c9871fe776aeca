"""The one road: read, align, derive. Every command and page calls it and only shows what it returns."""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from analysis.alignment import Choices, align
from analysis.derive import derive, mean_current, true_heading
from analysis.errors import LogError, SettingError
from analysis.estimate import Estimate
from analysis.passage import Fact, Passage
from analysis.reading import log
from analysis.summary import summarise

Paths = str | Path | Sequence[str | Path]


@dataclass(frozen=True)
class Settings:
    """What the user may say. ``date`` dates a log without one and exposes a week rollover.

    ``leeway_coefficient`` is k in leeway = k * heel / STW**2 [deg kn2 / deg], None for no leeway.
    ``sources`` names the source to use per channel: talker, formatter, instance.
    """

    date: datetime.date | None = None
    leeway_coefficient: float | None = None
    sources: Choices = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.leeway_coefficient is not None and not 0 <= self.leeway_coefficient <= 60:
            raise SettingError(
                f"leeway coefficient {self.leeway_coefficient:g}: give a value from 0 to 60 deg kn2/deg."
            )


@dataclass(frozen=True)
class Finding:
    """One thing the log shows about an instrument, as data."""

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


@dataclass(frozen=True)
class Review:
    """A passage with everything derived from it."""

    passage: Passage
    frame: pd.DataFrame
    summary: Mapping[str, float | str | None]
    calibration: Mapping[str, Estimate]
    current: Mapping[str, float | None]
    findings: tuple[Finding, ...]


_CALIBRATED = {
    "log_factor": "1",
    "compass_constant_deg": "deg",
    "deviation_B_deg": "deg",
    "deviation_C_deg": "deg",
    "deviation_D_deg": "deg",
    "deviation_E_deg": "deg",
    "vane_offset_deg": "deg",
    "wind_speed_factor": "1",
    "leeway_coefficient": "deg kn2/deg",
    "upwash_deg": "deg",
    "barometer_offset_hpa": "hPa",
}


def read_log(
    paths: Paths, *, date: datetime.date | None = None, progress: log.Progress | None = None
) -> Passage:
    """Read logs and align them as shown.

    ``paths`` are files or folders, plain or compressed, joined in time; ``date`` dates a log that has none.
    Raises LogError where nothing can be read.
    """
    return _read(paths, Settings(date=date), progress)


def review(paths: Paths, settings: Settings | None = None, progress: log.Progress | None = None) -> Review:
    """Read, align and derive a passage.

    Raises LogError where nothing can be read and SettingError where a setting has no meaning.
    """
    settings = settings or Settings()
    passage = _read(paths, settings, progress)
    frame = derive(passage.frame, settings.leeway_coefficient)
    return Review(
        passage=passage,
        frame=frame,
        summary=summarise(frame),
        calibration={name: _undetermined(name, unit) for name, unit in _CALIBRATED.items()},
        current=_mean_current(frame),
        findings=(),
    )


def _read(paths: Paths, settings: Settings, progress: log.Progress | None) -> Passage:
    listed = [paths] if isinstance(paths, str | Path) else list(paths)
    if not listed:
        raise LogError("No log was named; give a file or a folder.")
    decoded = log.read([Path(path) for path in listed], date=settings.date, progress=progress)
    aligned = align(decoded.series, decoded.gaps, settings.sources)
    frame, facts = true_heading(aligned.frame)
    return Passage(
        files=decoded.files,
        counts=decoded.counts,
        facts=(*decoded.facts, *facts, *_missing(frame)),
        series=decoded.series,
        sources=aligned.sources,
        time_basis=decoded.time_basis,
        gaps=decoded.gaps,
        frame=frame,
        age=aligned.age,
        events=decoded.events,
        ais=decoded.ais,
    )


def _missing(frame: pd.DataFrame) -> list[Fact]:
    """Facts on the quantities the log lacks, and what cannot be said for it."""
    lacks = {
        "no-position": ("lat_deg", "no position: no track and no distance over ground"),
        "no-ground-motion": ("sog_kn", "no COG and SOG: no current and no wind over the ground"),
        "no-wind": ("awa_deg", "no apparent wind: no true wind"),
        "no-heading": ("heading_true_deg", "no heading: no wind direction and no current"),
        "no-water-speed": ("stw_kn", "no STW: no current and no wind over the water"),
    }
    return [
        Fact(name, f"The log has {text}.")
        for name, (column, text) in lacks.items()
        if column not in frame or frame[column].isna().all()
    ]


def _undetermined(name: str, unit: str) -> Estimate:
    return Estimate(value=None, sd=None, unit=unit, determined=False, needs=None)


def _mean_current(frame: pd.DataFrame) -> dict[str, float | None]:
    names = ("mean_set_deg", "mean_drift_kn", "mean_drift_sd_kn")
    if "drift_kn" not in frame or frame["drift_kn"].notna().sum() == 0:
        return dict.fromkeys(names)
    values = mean_current(frame)
    return {
        name: (value if math.isfinite(value) else None) for name, value in zip(names, values, strict=True)
    }
