"""Invented passages for the tests of the page: a day at sea, a day in one place, a log without time."""

import json
from typing import Any

import numpy as np
import pandas as pd
from dash.development.base_component import Component

from analysis.agreement import stand_in
from analysis.calibration import Calibration
from analysis.correction import SETTABLE, neutral
from analysis.estimate import Estimate
from analysis.findings import Case, Finding
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Counts, Fact, Gap, Passage, Source, SourceKey
from analysis.review import Review, Settings
from analysis.screening import Screened
from app.desk import Desk
from app.pages.plain import PLAIN
from app.server import new_desk

NOTHING_KNOWN = {name: Estimate(None, None, "1" if neutral(name) else "", False) for name in SETTABLE}
START = "2031-05-03T18:00:00"


def day_at_sea(hours: float = 24.0, seed: int = 7) -> pd.DataFrame:
    """A beat west along 50 N with tacks, a turning tide, an hour without GNSS."""
    rng = np.random.default_rng(seed)
    count = int(hours * 3600) + 1
    t = np.arange(count, dtype=float)
    index = pd.date_range(START, periods=count, freq="s", tz="UTC", name="time_utc")
    wind_from = (258 + 15 * np.sin(t / 9000)) % 360
    tack = np.where((t // 5400) % 2 == 0, 1.0, -1.0)
    heading = (wind_from + -45 * tack + rng.normal(0, 2, count)) % 360
    stw = 6.2 + np.sin(t / 1700) + rng.normal(0, 0.15, count)
    set_deg, drift = np.where(np.sin(t / 7116) > 0, 70.0, 250.0), 1.4 * np.abs(np.sin(t / 7116))
    east = stw * np.sin(np.radians(heading)) + drift * np.sin(np.radians(set_deg))
    north = stw * np.cos(np.radians(heading)) + drift * np.cos(np.radians(set_deg))
    tws = 14 + 4 * np.sin(t / 5000) + rng.normal(0, 0.8, count)
    frame = pd.DataFrame(
        {
            "lat_deg": 49.85 + np.cumsum(north) / 3600 / 60,
            "lon_deg": -2.6 + np.cumsum(east) / 3600 / 60 / np.cos(np.radians(50.2)),
            "sog_kn": np.hypot(east, north),
            "cog_deg": np.degrees(np.arctan2(east, north)) % 360,
            "stw_kn": stw,
            "heading_true_deg": heading,
            "awa_deg": 31 * tack + rng.normal(0, 2.5, count),
            "aws_kn": tws + 4.8 + rng.normal(0, 0.5, count),
            "heel_deg": -17 * tack + rng.normal(0, 2, count),
            "depth_m": 82 + 10 * np.sin(t / 8000),
            "twd_water_deg": (wind_from + 4 * np.sin(t / 2000)) % 360,
            "tws_water_kn": tws,
            "twd_ground_deg": (wind_from + 2) % 360,
            "tws_ground_kn": tws + 0.7 * np.sin(t / 7116),
            "logged_twd_deg": (wind_from + 9) % 360,
            "logged_tws_kn": tws * 1.05,
            "set_deg": set_deg,
            "drift_kn": drift,
            "drift_kn_sd": np.full(count, 0.2),
        },
        index=index,
    )
    lost = slice(int(0.6 * count), int(0.64 * count))
    gnss = [
        "lat_deg",
        "lon_deg",
        "sog_kn",
        "cog_deg",
        "twd_ground_deg",
        "tws_ground_kn",
        "set_deg",
        "drift_kn",
    ]
    frame.iloc[lost, [frame.columns.get_loc(name) for name in gnss]] = np.nan
    return frame


def passage_of(frame: pd.DataFrame, **changes: Any) -> Passage:
    sources = tuple(
        Source(SourceKey(name, talker, formatter, ""), len(frame), 1.0, 0.97, talker != "XX")
        for name, talker, formatter in (
            ("lat_deg", "GP", "RMC"),
            ("lon_deg", "GP", "RMC"),
            ("sog_kn", "GP", "RMC"),
            ("sog_kn", "XX", "VTG"),
            ("stw_kn", "VW", "VHW"),
            ("heading_true_deg", "HC", "HDG"),
            ("awa_deg", "WI", "MWV"),
            ("aws_kn", "WI", "MWV"),
        )
        if name in frame.columns
    )
    fields: dict[str, Any] = {
        "files": ("night_beat.log",),
        "counts": Counts(
            bytes=61_000_000,
            lines=1_204_331,
            sentences=1_203_990,
            accepted=1_196_400,
            rejected={"checksum": 212, "malformed": 41},
            ignored={"no channel": 7_337},
            first_lines={
                "checksum": ("night_beat.log:812", "night_beat.log:5120"),
                "malformed": ("night_beat.log:90",),
            },
            out_of_range={"depth_m": 12},
            unknown_formatters={"ZZT": 7_337},
        ),
        "facts": (Fact("day-crossed", "The log runs over midnight UTC once."),),
        "series": {},
        "sources": sources,
        "time_basis": "GNSS time of RMC",
        "gaps": (Gap(1935600000.0, 1935600061.0),),
        "frame": frame,
        "age": frame.iloc[:0],
        "events": pd.DataFrame(),
        "ais": pd.DataFrame(),
    }
    return Passage(**(fields | changes))


def review_of(
    passage: Passage, frame: pd.DataFrame, findings: tuple[Finding, ...] = (), **told: dict[str, Any]
) -> Review:
    """A review of what stands in ``passage``, with nothing estimated; ``told`` are summary, calibration, current."""
    case = Case(
        passage=passage,
        screened=Screened(passage.frame),
        manoeuvres=Manoeuvres((), (), (), ()),
        calibration=Calibration(NOTHING_KNOWN | told.get("calibration", {}), None, (), (), 0),
        agreement=(),
        logged_wind=None,
        frame=frame,
        stand_in=stand_in(passage.frame),
    )
    words = {name: told.get(name, {}) for name in ("summary", "calibration", "current")}
    return Review(settings=Settings(), case=case, findings=findings, **words)


def reviewed(frame: pd.DataFrame, summary: dict[str, Any] | None = None, **changes: Any) -> Review:
    return review_of(passage_of(frame, **changes), frame, summary=summary or {})


def whole_day() -> Review:
    return reviewed(day_at_sea(), {"distance_over_ground_nm": 148.2, "duration_h": 24.0, "max_sog_kn": 8.9})


def desk_with(*reviews: Review) -> Desk:
    """A desk with reviews laid open on it."""
    desk = new_desk()
    for review in reviews:
        desk.open(review)
    return desk


def spoken(parts: Any) -> str:
    """All text of a page's parts as a reader meets it, one space between components."""
    if isinstance(parts, list | tuple):
        return " ".join(text for part in parts if (text := spoken(part)))
    if isinstance(parts, Component) and hasattr(parts, PLAIN):
        return laid_text(json.loads(getattr(parts, PLAIN)))
    children = getattr(parts, "children", None) if isinstance(parts, Component) else parts
    return spoken(children) if isinstance(children, list | tuple | Component) else str(children or "")


def laid_text(parts: list[Any]) -> str:
    """All text of parts that a script lays."""
    return " ".join(part if isinstance(part, str) else laid_text(part[2]) for part in parts)
