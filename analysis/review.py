"""The one road: read, align, screen, calibrate, correct, derive, find. Every command and page only shows its end."""

import datetime
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import pandas as pd

from analysis.agreement import check_headings, compare_sources, stand_in, weigh
from analysis.alignment import Choices
from analysis.asked import Asked
from analysis.assembly import assembled, between, with_sources
from analysis.calibration import Calibration, CurrentSeries, Evidence, calibrate
from analysis.calibration.barometer import check_barometer
from analysis.calibration.beside import Position, from_company, from_marks, joined
from analysis.calibration.lags import estimate_lags
from analysis.correction import (
    accuracy_as_shown,
    accuracy_of,
    beyond,
    corrected_sensors,
    leeway_of,
    overruled,
    stated,
    uncorrected,
)
from analysis.derive import derive, mean_current
from analysis.emergencies import marks_heard
from analysis.errors import LogError
from analysis.estimate import Estimate
from analysis.findings import Case, Finding, find
from analysis.logged_wind import explain_logged_wind
from analysis.manoeuvres import Manoeuvres, find_manoeuvres
from analysis.passage import Passage
from analysis.reading import log
from analysis.reading.pressure import PressureReference
from analysis.screening import Screened, screen
from analysis.summary import summarise
from analysis.traffic import hear

Paths = str | Path | Sequence[str | Path]
Stage = Callable[[str], None]
"""Called with the name of each step of the road that begins."""


@dataclass(frozen=True)
class Settings:
    """What the user may say. ``date`` dates a log without one and exposes a week rollover.

    ``sources`` names the source to use per channel: talker, formatter, instance. ``corrections`` are set by hand
    under the calibration's names: they overrule the log's, the others are estimated with them, and findings take
    them as entered in the instruments.
    ``as_shown`` applies none. ``pressure`` is what the
    barometer is compared with, ``barometer_height_m`` its height above the sea, 0 where it shows sea level.
    ``marks`` are two positions (latitude, longitude in degrees) between which a distance was run, ``company`` the
    log of a vessel in company whose log and compass are right. ``asked`` is for the parts beside the instruments.
    """

    date: datetime.date | None = None
    sources: Choices = field(default_factory=dict)
    corrections: Mapping[str, float] = field(default_factory=dict)
    as_shown: bool = False
    pressure: PressureReference | None = None
    barometer_height_m: float = 0.0
    marks: tuple[Position, Position] | None = None
    company: Paths | None = None
    asked: Asked = field(default_factory=Asked)


@dataclass(frozen=True)
class Review:
    """A passage with everything worked out about it: the case, and what is said of it."""

    settings: Settings
    case: Case
    summary: Mapping[str, float | str | None]
    calibration: Mapping[str, Estimate]
    current: Mapping[str, float | None]
    findings: tuple[Finding, ...]

    @property
    def passage(self) -> Passage:
        """The passage as shown."""
        return self.case.passage

    @property
    def frame(self) -> pd.DataFrame:
        """The corrected and derived frame, with what the sensors showed in ``_shown``."""
        return self.case.frame

    @cached_property
    def frame_as_shown(self) -> pd.DataFrame:
        """The derived frame with no correction applied."""
        case = self.case
        return _as_shown(case.passage.frame, case.screened, case.calibration)


def read_log(
    paths: Paths, *, date: datetime.date | None = None, progress: log.Progress | None = None
) -> Passage:
    """Read logs and align them as shown.

    ``paths`` are files or folders, plain or compressed, joined in time; ``date`` dates a log that has none.
    Raises LogError where nothing can be read.
    """
    return _read(paths, Settings(date=date), progress)


def review(
    paths: Paths,
    settings: Settings | None = None,
    progress: log.Progress | None = None,
    stage: Stage | None = None,
) -> Review:
    """Read a passage, estimate what its instruments were off by, correct it and judge it.

    ``progress`` and ``stage`` may raise to break off. Raises LogError where nothing can be read and SettingError
    where a setting has no meaning.
    """
    settings = settings or Settings()
    overruled({}, settings.corrections)
    return assess(_read(paths, settings, progress), settings, stage)


def assess(passage: Passage, settings: Settings, stage: Stage | None = None) -> Review:
    """Go the road from a passage as shown: estimate, correct, derive and judge.

    Raises SettingError where a setting has no meaning.
    """
    overruled({}, settings.corrections)
    begin = stage or (lambda _: None)
    begin("screening")
    with ThreadPoolExecutor(1) as aside:
        agreement = aside.submit(compare_sources, passage)
        screened = screen(passage.frame)
        manoeuvres = find_manoeuvres(screened.frame)
        barometer = check_barometer(screened.frame, settings.pressure, settings.barometer_height_m)
        begin("calibrating")
        calibration = _calibrated(screened, manoeuvres, barometer.offset, settings)
        begin("correcting")
        logged_wind = aside.submit(explain_logged_wind, passage.frame, calibration)
        frame, standing = _corrected(passage.frame, screened, calibration, settings)
        ais = hear(passage.ais)
        heard = marks_heard(passage)
    case = Case(
        passage=passage,
        screened=screened,
        manoeuvres=manoeuvres,
        calibration=calibration,
        agreement=weigh(agreement.result(), passage, calibration.estimates),
        headings=check_headings(passage, calibration, agreement.result()),
        stand_in=stand_in(screened.frame),
        logged_wind=logged_wind.result(),
        frame=frame,
        standing=standing,
        barometer=barometer,
        asked=settings.asked,
        ais=ais,
        heard=heard,
    )
    begin("judging")
    return _concluded(case, settings, None if settings.as_shown else calibration.current)


def reconsidered(review: Review, corrections: Mapping[str, float]) -> Review:
    """Return the review with other corrections set by hand; nothing is read or estimated again.

    Raises SettingError for a correction that cannot be set.
    """
    overruled({}, corrections)
    settings = replace(review.settings, corrections=dict(corrections))
    case = review.case
    frame, standing = _corrected(case.passage.frame, case.screened, case.calibration, settings)
    case = replace(case, frame=frame, standing=standing)
    return _concluded(case, settings, None if corrections else case.calibration.current)


def asked_again(review: Review, asked: Asked) -> Review:
    """Return the review with other wishes for the parts beside the instruments that wait until they are looked at.

    Nothing is read or estimated again.
    """
    settings = replace(review.settings, asked=asked)
    case = replace(review.case, asked=asked)
    as_estimated = not (settings.corrections or settings.as_shown)
    return _concluded(case, settings, case.calibration.current if as_estimated else None)


def reassessed(
    review: Review,
    sources: Choices | None = None,
    span: tuple[pd.Timestamp, pd.Timestamp] | None = None,
) -> Review:
    """Go the road again with other sources, or over a stretch of the passage only; nothing is read again.

    Raises SettingError for a source the log does not have.
    """
    settings = review.settings if sources is None else replace(review.settings, sources=sources)
    if span is None:
        return assess(with_sources(review.passage, settings.sources), settings)
    return assess(between(review.passage, *span, settings.sources), settings)


def _concluded(case: Case, settings: Settings, current: CurrentSeries | None) -> Review:
    return Review(
        settings=settings,
        case=case,
        summary=summarise(case.frame),
        calibration=overruled(
            stated(case.calibration.estimates, case.screened.mistakes), settings.corrections
        ),
        current=_mean_current(case.frame, current),
        findings=find(case, settings.corrections),
    )


def _calibrated(
    screened: Screened, manoeuvres: Manoeuvres, barometer_offset: Estimate, settings: Settings
) -> Calibration:
    frame, known = screened.frame, beyond(screened.mistakes, settings.corrections)
    calibration = joined(calibrate(frame, manoeuvres, known), _given(frame, settings))
    lags = estimate_lags(frame, manoeuvres)
    estimates = {**calibration.estimates, "barometer_offset_hpa": barometer_offset, **lags}
    return replace(calibration, estimates=estimates)


def _corrected(
    shown: pd.DataFrame, screened: Screened, calibration: Calibration, settings: Settings
) -> tuple[pd.DataFrame, dict[str, Estimate]]:
    """The derived frame, and the estimates it rests on."""
    if settings.as_shown:
        estimates = uncorrected(calibration.estimates, screened.mistakes)
        return _as_shown(shown, screened, calibration), estimates
    frame, estimates = corrected_sensors(shown, screened, calibration, settings.corrections)
    return derive(frame, leeway_of(estimates), accuracy_of(estimates, frame)), estimates


def _as_shown(shown: pd.DataFrame, screened: Screened, calibration: Calibration) -> pd.DataFrame:
    return derive(shown, accuracy=accuracy_as_shown(screened, calibration.estimates, shown))


def _given(frame: pd.DataFrame, settings: Settings) -> Iterator[Evidence]:
    """Evidence that needs something the log does not hold."""
    if settings.marks is not None:
        yield from_marks(frame, settings.marks)
    if settings.company is not None:
        yield from_company(frame, _read(settings.company, Settings(date=settings.date), None).frame)


def _read(paths: Paths, settings: Settings, progress: log.Progress | None) -> Passage:
    listed = [paths] if isinstance(paths, str | Path) else list(paths)
    if not listed:
        raise LogError("No log was named; give a file or a folder.")
    decoded = log.read([Path(path) for path in listed], date=settings.date, progress=progress)
    return assembled(decoded, settings.sources)


def _mean_current(frame: pd.DataFrame, estimated: CurrentSeries | None) -> dict[str, float | None]:
    """Mean current: as estimated with the corrections where the log determines it, else as derived."""
    names = ("mean_set_deg", "mean_drift_kn", "mean_drift_sd_kn")
    if estimated is not None and estimated.determined:
        return dict(zip(names, estimated.mean(), strict=True))
    if "drift_kn" not in frame or frame["drift_kn"].notna().sum() == 0:
        return dict.fromkeys(names)
    values = mean_current(frame)
    return {
        name: (value if math.isfinite(value) else None) for name, value in zip(names, values, strict=True)
    }
