"""The parts beside the instruments, of one invented passage, when a sensor is missing from the recording."""

import base64
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dash import dcc
from dash.development.base_component import Component
from passages import spoken

from analysis import Review, review
from analysis.invent import invent
from analysis.invent.scenario import Leg, Scenario, Sensors, Target
from analysis.passage import NO_ROWS
from analysis.phrasing import with_checksums
from app.check import check_json
from app.check_text import check_text
from app.desk import Desk
from app.dress import Dress
from app.pages.registry import PAGES
from app.view import View

PARTS = ("weather", "polar", "routes", "traffic", "emergencies", "steering", "readiness", "trip")
NO_NUMBER = re.compile(r"\b(nan|NaN|NaT|None|inf)\b|-0\.0\b")
LEAST_POINTS = 2
PASSAGE = Scenario(
    summary="A beat and a run past a ship, with every sensor there is.",
    start_utc="2031-05-03T12:05:00",
    lat_deg=44.0,
    lon_deg=-18.0,
    variation_deg=-3.0,
    legs=tuple(Leg(5, "twa", angle) for angle in (43, -43, 140, -140)),
    sensors=Sensors(
        {
            name: rate_hz / 2 if name == "HDG" else rate_hz
            for name, rate_hz in Sensors().rates_hz.items()
            if name not in ("VTG", "GLL", "VLW")
        }
    ),
    targets=(Target(200000007, "LATE PLOVER", "A", 300, 6, 110, 9.0),),
)
MARKS = ("GPWPL,4405.00,N,01805.00,W,BELL", "GPWPL,4410.00,N,01815.00,W,GONG", "GPRTE,1,1,c,OUT,BELL,GONG")
EVERY_MINUTE = with_checksums(["ERRPM,E,1,0,,A", *MARKS])
OVERBOARD = "IIMOB,00001,A,121000.00,1,030531,121000.00,4400.50,N,01800.50,W,050.0,6.0,201000001,0"

COMPASS = "HDG"
LACKING: dict[str, tuple[tuple[str, ...], tuple[str, ...], dict[str, str]]] = {
    "nothing": (
        (),
        (),
        {
            "weather": "ten minutes by the clock",
            "routes": "BELL bears",
            "traffic": "1 station heard",
            "emergencies": "Current sets",
            "steering": "Make four tacks or turns, and see that the shown rudder goes the way she turns",
            "readiness": "Verified: ",
            "trip": "the strongest gust",
        },
    ),
    "wind": (
        ("MWV", "MWD"),
        ("wind vane", "anemometer"),
        {
            "weather": "gives no wind over the ground",
            "polar": "no apparent wind",
            "routes": "no true wind over the water",
            "emergencies": "no leeway, as no wind is known",
            "steering": "lacks an apparent wind",
            "trip": "No true wind, so the points of sail are not known.",
        },
    ),
    "GNSS": (
        ("RMC", "GGA"),
        ("GNSS receiver",),
        {
            "weather": "gives no wind over the ground",
            "routes": "has no position, so no layline",
            "traffic": "has no own position",
            "emergencies": "no current is known",
            "readiness": "With GNSS recorded too, ",
            "trip": "speed over ground: no SOG",
        },
    ),
    "log": (
        ("VHW",),
        ("log",),
        {
            "polar": "no speed through the water",
            "routes": "no speed through the water",
            "emergencies": "no current is known",
            "steering": "lacks a true wind",
            "readiness": "With the log recorded too, ",
            "trip": "speed through the water: no log",
        },
    ),
    "heading": (
        (COMPASS,),
        ("compass",),
        {
            "weather": "gives no wind over the ground",
            "polar": "no heading",
            "routes": "no heading",
            "emergencies": "no current is known",
            "steering": "not determined. Record the heading as well",
            "readiness": "With heading recorded too, ",
            "trip": "No true wind, so the points of sail are not known.",
        },
    ),
    "heel, barometer, rudder": (
        ("XDR", "RSA"),
        ("heel sensor", "barometer", "rudder sensor"),
        {
            "weather": "has no air pressure",
            "steering": "has no rudder angle",
            "trip": "heel, mean of 3 s: no heel sensor; fall of pressure in 3 h: no barometer",
        },
    ),
    "all that does not steer": (
        ("DPT", "MTW", "RPM", "VDM", "WPL", "RTE", "MOB"),
        ("echo sounder", "water temperature", "own AIS"),
        {
            "routes": "No mark is known",
            "traffic": "no AIS and no radar targets",
            "emergencies": "There is no person-overboard mark",
            "trip": "no engine speed (RPM), so they count as sailed",
        },
    ),
    "time": (
        ("RMC", "GGA", "ZDA"),
        ("GNSS receiver", "clock"),
        {
            "weather": f"{NO_ROWS.capitalize()}.",
            "polar": NO_ROWS,
            "routes": "no layline",
            "traffic": "1 station heard",
            "emergencies": "recorded without a time, so that none can be placed: 1.",
            "steering": f"{NO_ROWS.capitalize()}.",
            "readiness": f"{NO_ROWS.capitalize()}.",
            "trip": NO_ROWS,
        },
    ),
}
"""What is missing: the sentences, or words in them, that go, the instruments without a sensor, what pages say."""


@cache
def lines() -> list[str]:
    """The passage with engine speed, marks of a route and a person overboard."""
    told, minute = [], ""
    for line in invent(PASSAGE).lines:
        told.append(line)
        if line.startswith("$GPRMC") and line[7:11] != minute:
            minute = line[7:11]
            told += EVERY_MINUTE
            if minute == "1210":
                told += with_checksums([OVERBOARD])
    return told


def without(gone: tuple[str, ...]) -> list[str]:
    """The lines without those that hold one of the words; a log's heading goes with the compass."""
    kept = [line for line in lines() if not any(word in line for word in gone)]
    if COMPASS not in gone:
        return kept
    return [
        with_checksums([re.sub(r"VHW,[^,]*,T,[^,]*,M", "VHW,,T,,M", line[1:-3])])[0]
        if "VHW" in line
        else line
        for line in kept
    ]


def reviewed_of(told: list[str], folder: Path) -> Review:
    path = folder / "plover.nmea"
    path.write_text("\n".join(told) + "\n")
    return review(path)


def graphs(parts: Any) -> Iterator[dcc.Graph]:
    if isinstance(parts, dcc.Graph):
        yield parts
    elif isinstance(parts, Component):
        if not getattr(parts, "hidden", False):
            yield from graphs(getattr(parts, "children", None))
    elif isinstance(parts, list | tuple):
        for part in parts:
            yield from graphs(part)


def points(trace: dict[str, Any]) -> int:
    values = trace.get("y", trace.get("r", ()))
    if isinstance(values, dict):
        values = np.frombuffer(base64.b64decode(values["bdata"]), values["dtype"])
    return sum(one is not None and one == one for one in values)


def pages_of(one: Review) -> dict[str, str]:
    """What every page says, having looked that no chart on it is empty."""
    view = View(Desk([]).open(one), Dress())
    told = {}
    for part in PARTS:
        laid = PAGES[part].layout(view)
        told[part] = spoken(laid)
        for graph in graphs(laid):
            drawn = [points(trace) for trace in graph.figure["data"]]
            assert max(drawn, default=0) >= LEAST_POINTS, f"{part}: {graph.id} draws {drawn}"
    return told


@pytest.mark.parametrize("missing", LACKING)
def test_each_part_says_what_is_missing_and_draws_no_empty_chart(missing: str, tmp_path: Path) -> None:
    gone, instruments, says = LACKING[missing]
    one = reviewed_of(without(gone), tmp_path)
    told = pages_of(one)
    for page, text in {**told, "check": check_text(one)}.items():
        assert not NO_NUMBER.search(text), f"{page}: {text}"
    object_ = json.loads(check_json(one))
    states = {line["instrument"]: line["state"] for line in object_["readiness"]["instruments"]}
    assert {name for name, state in states.items() if state == "no sensor"} == set(instruments)
    for page, words in says.items():
        assert words in told[page], told[page]
